package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lull/analyze"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/watch"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
	"lull/pkg/source"
)

const (
	newsEvery = int64(100e6) // of frame time, so that what is shown does not hang on the clock
	diskEvery = 5 * time.Second
	// littleDisk and littleTime are when the free space is worth a word.
	littleDisk = 200 << 20
	littleTime = 15 * time.Minute
)

// logFile is what is recorded into.
type logFile interface {
	io.Writer
	Err() error
	Close() error
}

// recorder takes frames as they come: into the log first, then to the analysis and
// to what is shown.
type recorder struct {
	c       *console
	flags   *recordFlags
	m       *decode.Map // nil: none
	mapPath string
	path    string
	file    logFile
	now     func() time.Time
	free    func(folder string) (int64, error)
	shown   []audience
	report  *words.Report
	folder  string // whose disk the log lies on; "" where it is no file

	sources []live.Address
	rate    float64 // bit/s of every bus; 0: as the interfaces are set

	watch *watch.Watch
	analysis
	info    decode.Info
	dropped decode.Remark

	line     []byte
	began    time.Time
	measured time.Time // the disk's free space
	room     int64
	warned   bool // of little room
	whole    bool // nothing comes any more
	failed   bool // it is not what it was meant to be
	rates    map[string]int64
	away     []string // sources that are waited for
	attended int      // findings told that need attention
}

// analysis is what there is with a map alone.
type analysis struct {
	episodes *analyze.Run
	cast     *analyze.Newscast
	newsDue  int64
	found    analyze.Result // episodes that were shown
	stood    int            // standstills that were
}

func newRecorder(c *console, flags *recordFlags, m *decode.Map, path string, file logFile) *recorder {
	r := &recorder{c: c, flags: flags, m: m, path: path, file: file, now: time.Now, free: source.Free, folder: folderOf(path), rates: map[string]int64{}}
	out := c.out
	if path == "-" {
		out = c.err
	}
	r.began = r.now()
	r.shown = []audience{newTerminal(c, flags.quiet, newScreen(out, c.err), r.began)}
	r.info.Stamps, r.info.StampDigits = decode.StampsAbsolute, 6
	r.watch = watch.New(m, func(bus string) int64 { return r.rates[bus] }, r.began)
	if m != nil {
		r.report = &words.Report{Version: version(), Map: m}
		r.episodes = analyze.NewRun(m)
		r.cast = analyze.NewNewscast(r.episodes)
	}
	return r
}

// setUp looks at how the interfaces are set.
func (r *recorder) setUp() {
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
	if r.rate > 0 {
		clear(r.rates)
		r.watch = watch.New(r.m, func(string) int64 { return int64(r.rate) }, r.began)
	}
	if r.m == nil {
		r.warn("no map: frames are recorded, episodes are not shown; name one with --map")
	}
}

// tell shows everybody what there is to say once.
func (r *recorder) tell(news words.News) {
	for _, a := range r.shown {
		a.tell(news)
	}
}

// remark says something of the recording; warn what needs a hand; fail that it is
// not what it was meant to be.
func (r *recorder) remark(format string, args ...any) {
	r.tell(words.News{Kind: words.NewsRemark, Text: fmt.Sprintf(format, args...)})
}

func (r *recorder) warn(format string, args ...any) {
	r.tell(words.News{Kind: words.NewsWarning, Tone: words.Bad, Text: fmt.Sprintf(format, args...)})
}

func (r *recorder) fail(text string) {
	r.failed = true
	r.tell(words.News{Kind: words.NewsFailure, Tone: words.Bad, Text: text})
}

// run records until all sources ended, the log cannot be written, or the user ends
// it.
func (r *recorder) run(ctx context.Context, receiver *live.Receiver) error {
	r.setUp()
	for {
		lot, more := receiver.Next(100 * time.Millisecond)
		r.take(&lot)
		r.look()
		if r.file.Err() != nil || !more {
			break
		}
		if ctx.Err() != nil {
			receiver.Close() // and take what is left
		}
	}
	receiver.Close()
	return r.finish()
}

// take writes and analyses what came.
func (r *recorder) take(lot *live.Lot) {
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
		r.file.Write(r.line) // its fault is asked for after each lot
		r.info.Bytes += int64(len(r.line))
	}
	for i := range lot.Frames {
		r.watch.Push(&lot.Frames[i], now)
		r.analyse(&lot.Frames[i])
	}
}

// count keeps what a reader of the log would count.
func (r *recorder) count(f *decode.Frame) {
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

// analyse hands a frame on and shows what it brought.
func (r *recorder) analyse(f *decode.Frame) {
	if r.episodes == nil {
		return
	}
	r.episodes.Push(f)
	if f.Time >= r.newsDue || f.Time < r.newsDue-2*newsEvery {
		r.newsDue = f.Time + newsEvery
		r.show(r.cast.Next())
	}
}

// show tells what is new.
func (r *recorder) show(news analyze.News) {
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

// event tells what happened to a source.
func (r *recorder) event(e *live.Event) {
	r.away = slices.DeleteFunc(r.away, func(text string) bool { return strings.HasPrefix(text, e.Source+" ") })
	switch e.Kind {
	case live.Connected:
		r.remark("%s: recording into %s%s", e.Source, r.name(), r.spaceText())
	case live.Waiting:
		r.away = append(r.away, e.Source+" is waited for")
		r.remark("%v", e.Err)
	case live.Lost:
		r.away = append(r.away, e.Source+" went away; it is waited for")
		r.remark("%s went away (%v); waiting for it to come back, Ctrl-C ends the recording", e.Source, e.Err)
	case live.Ended:
		r.remark("%s: the log is over", e.Source)
	case live.Failed:
		r.fail(e.Err.Error())
	case live.Dropped:
		r.info.Lines++
		r.info.Remarked++
		if r.dropped.Count == 0 {
			r.dropped.Line = r.info.Lines
		}
		r.dropped.Count += e.Count
		r.line = candump.AppendDropped(r.line, e.Source, e.Count, e.Total)
		r.warn("%s: %s before they could be read; close other programs", e.Source, decode.Counted(e.Count, "frame was lost", "frames were lost"))
	}
}

func (r *recorder) name() string {
	if r.path == "-" {
		return "standard output"
	}
	return r.path
}

// spaceText tells how much room there is.
func (r *recorder) spaceText() string {
	r.weigh()
	if r.folder == "" || r.room == 0 {
		return ""
	}
	return fmt.Sprintf(" (%s free)", bytesText(r.room))
}

// weigh asks for the free space.
func (r *recorder) weigh() {
	r.measured = r.now()
	if r.folder == "" {
		return
	}
	if room, err := r.free(r.folder); err == nil {
		r.room = room
	}
}

// bytesText writes an amount of data.
func bytesText(n int64) string {
	switch {
	case n >= 10e9:
		return fmt.Sprintf("%d GB", n/1e9)
	case n >= 1e9:
		return fmt.Sprintf("%.1f GB", float64(n)/1e9)
	}
	return fmt.Sprintf("%d MB", n/1e6)
}

// look does what hangs on the clock: checks, free space, what is shown.
func (r *recorder) look() {
	now := r.now()
	r.check(now)
	if now.Sub(r.measured) >= diskEvery && r.folder != "" {
		r.weigh()
		if left, ok := r.timeLeft(now); !r.warned && r.room > 0 && (r.room < littleDisk || ok && left < littleTime) {
			r.warned = true
			text := fmt.Sprintf("only %s free where the log is written", bytesText(r.room))
			if ok && left < 24*time.Hour {
				text += fmt.Sprintf(", enough for about %d min", int(left.Minutes()))
			}
			r.warn("%s; make room, or end the recording in time", text)
		}
	}
	for _, a := range r.shown {
		a.look(now, func() words.LiveState { return r.state(now) })
	}
}

// check says what is wrong with the recording. What may pass is part of its state, too.
func (r *recorder) check(now time.Time) {
	lack := r.watch.Lack(now, r.whole)
	for _, text := range r.watch.Check(now, r.whole) {
		if text == lack {
			r.remark("%s", text)
		} else {
			r.warn("%s", text)
		}
	}
}

// timeLeft is how long the room lasts at the rate so far.
func (r *recorder) timeLeft(now time.Time) (time.Duration, bool) {
	took := now.Sub(r.began)
	if r.info.Bytes == 0 || took < diskEvery {
		return 0, false
	}
	seconds := float64(r.room) / (float64(r.info.Bytes) / took.Seconds())
	return time.Duration(min(seconds, 1e9)) * time.Second, true
}

// finish closes the log and prints what came of the drive.
func (r *recorder) finish() error {
	r.whole = true
	unopened := r.failed && r.info.Accepted == 0 // why nothing came is already said
	if !unopened {
		r.check(r.now())
	}
	fault := r.file.Close()
	var result *analyze.Result
	if r.episodes != nil && r.info.Accepted > 0 {
		info := r.info
		if r.dropped.Count > 0 {
			info.Remarks = append(info.Remarks, candump.DroppedRemark(r.dropped.Line, r.dropped.Count, info.Remarked))
		}
		result = r.episodes.Finish(info)
		r.show(r.cast.Next())
	}
	if !unopened {
		r.remark("%s: %s, %s", r.name(), decode.Counted(r.info.Accepted, "frame", "frames"), bytesText(r.info.Bytes))
	}
	if fault != nil {
		r.fail(fault.Error())
	}
	switch {
	case result != nil && !result.EngineSpeedSeen:
		result = nil
		r.fail(r.name() + ": the engine speed was never seen, so there is nothing to measure; check the map")
	case r.info.Accepted == 0 && !r.failed:
		r.fail(r.name() + ": no frame was recorded; switch the ignition on and check the interface")
	}
	for _, a := range r.shown {
		a.close()
	}
	if result != nil {
		r.report.Logs = []words.Log{{Name: filepath.Base(r.path), Result: result}}
		if err := r.summarise(); err != nil && !r.failed { // a reader that left hides no fault
			return err
		}
	}
	switch {
	case r.failed:
		return words.ErrTold
	case r.flags.check && result != nil && measuring.Broken(r.report):
		return errLimitBroken
	}
	return nil
}

// summarise prints what lull episodes prints.
func (r *recorder) summarise() error {
	style := r.c.style()
	w := r.c.out
	if r.path == "-" {
		w, style.Colour, style.Unicode = r.c.err, false, false
	}
	fmt.Fprintln(w)
	return table.Write(w, r.report, words.Episodes, style)
}
