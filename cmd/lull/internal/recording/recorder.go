package recording

import (
	"context"
	"io"
	"slices"
	"time"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/cmd/lull/internal/watch"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
	"lull/pkg/source"
)

// newsEvery is the interval between looks for news, in ns of frame time, so that what is
// shown does not depend on the clock.
const newsEvery = int64(100e6)

// logFile is what is recorded into.
type logFile interface {
	io.Writer
	Err() error
	Close() error
}

// Recorder takes frames as they come: into the log first, then to the analysis and
// to what is shown.
type Recorder struct {
	Options
	Map    *decode.Map // nil: none
	Path   string      // of the log
	file   logFile
	now    func() time.Time
	free   func(folder string) (int64, error)
	shown  []Audience
	report *words.Report
	folder string // whose disk the log lies on; "" if it is not a file

	receiver *live.Receiver
	sources  []live.Address

	marks    *marker   // nil: nothing is marked
	keyboard *keyboard // nil: no single keys are read

	watch *watch.Watch
	analysis
	info    decode.Info
	dropped decode.Remark

	line     []byte
	began    time.Time
	measured time.Time // when the free space was last measured
	room     int64
	warned   bool // that there is little room
	whole    bool // the recording has ended
	failed   bool // it is not what it was meant to be
	rates    map[string]int64
	away     []string // notes on sources that are waited for
	attended int      // number of findings told that need attention
}

// analysis is the part of a Recorder that needs a map.
type analysis struct {
	episodes *onelog.Run
	cast     *onelog.Newscast
	newsDue  int64
	found    analyze.Result // episodes that were shown
	stood    int            // number of standstills shown
}

func newRecorder(o Options, m *decode.Map, path string, file logFile) *Recorder {
	r := &Recorder{Options: o, Map: m, Path: path, file: file, now: time.Now, free: source.Free, folder: folderOf(path), rates: map[string]int64{}}
	r.began = r.now()
	r.shown = []Audience{newTerminal(o.Screen, o.Quiet, path == "-", r.began)}
	r.info.Stamps, r.info.StampDigits = decode.StampsAbsolute, 6
	r.watch = watch.New(m, func(bus string) int64 { return r.rates[bus] }, r.began)
	if m != nil {
		r.report = &words.Report{Version: o.Version, Map: m}
		r.episodes = onelog.NewRun(m)
		r.cast = onelog.NewNewscast(r.episodes)
	}
	return r
}

// Show adds an audience. It is shown everything before the others, as a terminal may be
// slow to take its last lines.
func (r *Recorder) Show(a Audience) { r.shown = append([]Audience{a}, r.shown...) }

// Close abandons a recording that was never run.
func (r *Recorder) Close() {
	r.receiver.Close()
	_ = r.file.Close() // nothing was written
	if r.marks != nil {
		_, _ = r.marks.close(r.now()) // the same
	}
}

// setUp reads how the interfaces are set.
func (r *Recorder) setUp() {
	links, err := live.Links()
	if err != nil {
		links = nil // then nothing is known of them
	}
	for i := range links {
		l := &links[i]
		r.rates[l.Name] = int64(l.Bitrate)
		if slices.Contains(r.sources, live.Address{Network: live.CAN, Name: l.Name}) && l.Acknowledges() {
			r.warn("%s is not set listen-only: its controller acknowledges frames, and with a wrong bit rate disturbs the bus; set it with: ip link set %s down; ip link set %s up type can bitrate %d listen-only on",
				l.Name, l.Name, l.Name, l.Bitrate)
		}
	}
	if r.Bitrate > 0 {
		clear(r.rates)
		r.watch = watch.New(r.Map, func(string) int64 { return int64(r.Bitrate) }, r.began)
	}
	r.watch.Played = r.played()
	if r.Map == nil {
		r.warn("no map: frames are recorded, episodes are not shown; name one with --map, or draft one from the recording: lull draft --how says what to do in the car")
	}
}

// played reports whether every source is a log played to a socket.
func (r *Recorder) played() bool {
	return len(r.sources) > 0 && !slices.ContainsFunc(r.sources, func(a live.Address) bool { return a.Network == live.CAN })
}

// Run records until all sources have ended, the log cannot be written, or the context ends.
func (r *Recorder) Run(ctx context.Context) error {
	defer r.receiver.Close()
	unlisten, err := r.listen(ctx)
	if err != nil {
		r.Close()
		return err
	}
	defer unlisten()
	r.setUp()
	for {
		lot, more := r.receiver.Next(100 * time.Millisecond)
		r.take(&lot)
		r.look()
		if r.file.Err() != nil || !more {
			break
		}
		if ctx.Err() != nil {
			r.receiver.Close() // and take what has arrived
		}
	}
	r.receiver.Close()
	unlisten()
	return r.finish()
}

// take writes and analyses what has arrived.
func (r *Recorder) take(lot *live.Lot) {
	r.line = r.line[:0]
	for i := range lot.Events {
		r.event(&lot.Events[i])
	}
	now := r.now()
	for i := range lot.Frames {
		f := &lot.Frames[i]
		r.info.Lines++
		f.Line = r.info.Lines
		r.count(f)
		r.line = candump.AppendFrame(r.line, f)
	}
	if len(r.line) > 0 {
		r.file.Write(r.line) // Run asks for its error after each lot
		r.info.Bytes += int64(len(r.line))
	}
	if r.marks != nil {
		r.marks.see(lot.Frames, now)
	}
	for i := range lot.Frames {
		r.watch.Push(&lot.Frames[i], now)
		r.analyse(&lot.Frames[i])
	}
}

// count counts a frame as a reader of the log would.
func (r *Recorder) count(f *decode.Frame) {
	r.info.Accepted++
	switch {
	case f.Flags.Has(decode.Error):
		r.info.ErrorFrames++
	case f.Flags.Has(decode.Remote):
		r.info.RemoteFrames++
	}
	if f.Time%1000 != 0 {
		r.info.StampDigits = 9
	}
	if !slices.Contains(r.info.Interfaces, f.Bus) && len(r.info.Interfaces) < 1024 {
		r.info.Interfaces = append(r.info.Interfaces, f.Bus)
	}
}

// analyse passes a frame to the analysis and shows what is new.
func (r *Recorder) analyse(f *decode.Frame) {
	if r.episodes == nil {
		return
	}
	r.episodes.Push(f)
	if f.Time >= r.newsDue || f.Time < r.newsDue-2*newsEvery {
		r.newsDue = f.Time + newsEvery
		r.show(r.cast.Next())
	}
}

// show tells the news of the analysis.
func (r *Recorder) show(news analyze.News) {
	for i := range news.Doubts {
		r.tell(words.DoubtNews(&news.Doubts[i]))
	}
	for i := range news.Episodes {
		r.tell(r.report.EpisodeNews(&news.Episodes[i]))
	}
	r.found.Episodes = append(r.found.Episodes, news.Episodes...)
	for i := range news.Standstills {
		r.tell(r.report.StandstillNews(&r.found, &news.Standstills[i]))
	}
	r.stood += len(news.Standstills)
	for i := range news.Findings {
		n := words.FindingNews(&news.Findings[i])
		if n.Kind == words.NewsAttention {
			r.attended++
		}
		r.tell(n)
	}
}

// look does what depends on the clock: checks, free space, the state shown.
func (r *Recorder) look() {
	now := r.now()
	r.check(now)
	r.lookAtRoom(now)
	for _, a := range r.shown {
		a.Look(now, func() words.LiveState { return r.state(now) })
	}
}

// check tells what is wrong with the recording. What may yet pass is only a remark, as it
// is part of the state too.
func (r *Recorder) check(now time.Time) {
	lack := r.watch.Lack(now, r.whole)
	for _, text := range r.watch.Check(now, r.whole) {
		if text == lack {
			r.remark("%s", text)
		} else {
			r.warn("%s", text)
		}
	}
}
