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
	"lull/cmd/lull/internal/output"
	"lull/cmd/lull/internal/watch"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
	"lull/pkg/source"
)

const (
	newsEvery   = int64(100e6) // of frame time, so that what is shown does not hang on the clock
	blockEvery  = 200 * time.Millisecond
	statusEvery = 10 * time.Second
	diskEvery   = 5 * time.Second
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
	c      *console
	flags  *recordFlags
	m      *decode.Map // nil: none
	path   string
	file   logFile
	now    func() time.Time
	free   func(folder string) (int64, error)
	screen *screen
	report *output.Report
	folder string // whose disk the log lies on; "" where it is no file

	watch *watch.Watch
	analysis
	info    decode.Info
	dropped decode.Remark

	line     []byte
	began    time.Time
	drawn    time.Time
	told     time.Time // the last status line
	measured time.Time // the disk's free space
	room     int64
	warned   bool // of little room
	failed   bool // a source could not be read
	rates    map[string]int64
}

// analysis is what there is with a map alone.
type analysis struct {
	episodes *analyze.Run
	cast     *analyze.Newscast
	newsDue  int64
	found    analyze.Result // what was shown
}

func newRecorder(c *console, flags *recordFlags, m *decode.Map, path string, file logFile) *recorder {
	r := &recorder{c: c, flags: flags, m: m, path: path, file: file, now: time.Now, free: source.Free, folder: folderOf(path), rates: map[string]int64{}}
	out := c.out
	if path == "-" {
		out = c.err
	}
	r.screen = newScreen(out, c.err)
	r.began = r.now()
	r.told = r.began
	r.info.Stamps, r.info.StampDigits = decode.StampsAbsolute, 6
	r.watch = watch.New(m, func(bus string) int64 { return r.rates[bus] }, r.began)
	if m != nil {
		r.report = &output.Report{Version: version(), Map: m}
		r.episodes = analyze.NewRun(m)
		r.cast = analyze.NewNewscast(r.episodes)
	}
	return r
}

// setUp looks at how the interfaces are set.
func (r *recorder) setUp(sources []live.Address, rate float64) {
	links, err := live.Links()
	if err != nil {
		links = nil // then nothing is known of them
	}
	for i := range links {
		l := &links[i]
		r.rates[l.Name] = int64(l.Bitrate)
		if slices.Contains(sources, live.Address{Network: live.CAN, Name: l.Name}) && l.Acknowledges() {
			r.tell("%s is not set listen-only: its controller acknowledges frames, and with a wrong bit rate disturbs the bus; set it with: ip link set %s down; ip link set %s up type can bitrate %d listen-only on",
				l.Name, l.Name, l.Name, l.Bitrate)
		}
	}
	if rate > 0 {
		rates := r.rates
		clear(rates)
		r.watch = watch.New(r.m, func(string) int64 { return int64(rate) }, r.began)
	}
	if r.m == nil {
		r.tell("no map: frames are recorded, episodes are not shown; name one with --map")
	}
}

// tell says something on standard error, unless --quiet.
func (r *recorder) tell(format string, args ...any) {
	if !r.flags.quiet {
		r.screen.note(fmt.Sprintf(format, args...))
	}
}

// run records until all sources ended, the log cannot be written, or the user ends
// it.
func (r *recorder) run(ctx context.Context, receiver *live.Receiver) error {
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

// show prints what is new.
func (r *recorder) show(news analyze.News) {
	for i := range news.Episodes {
		r.screen.line(r.report.EpisodeLine(&news.Episodes[i]))
	}
	r.found.Episodes = append(r.found.Episodes, news.Episodes...)
	for i := range news.Standstills {
		r.screen.line(r.report.StandstillLine(&r.found, &news.Standstills[i]))
	}
	for i := range news.Findings {
		r.screen.line(output.FindingLine(&news.Findings[i]))
	}
}

// event tells what happened to a source.
func (r *recorder) event(e *live.Event) {
	switch e.Kind {
	case live.Connected:
		r.tell("%s: recording into %s%s", e.Source, r.name(), r.spaceText())
	case live.Waiting:
		r.tell("%v", e.Err)
	case live.Lost:
		r.tell("%s went away (%v); waiting for it to come back, Ctrl-C ends the recording", e.Source, e.Err)
	case live.Ended:
		r.tell("%s: the log is over", e.Source)
	case live.Failed:
		r.failed = true
		r.screen.note(e.Err.Error())
	case live.Dropped:
		r.info.Lines++
		r.info.Remarked++
		if r.dropped.Count == 0 {
			r.dropped.Line = r.info.Lines
		}
		r.dropped.Count += e.Count
		r.line = candump.AppendDropped(r.line, e.Source, e.Count, e.Total)
		r.tell("%s: %s before they could be read; close other programs", e.Source, decode.Counted(e.Count, "frame was lost", "frames were lost"))
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
	for _, text := range r.watch.Check(now, false) {
		r.tell("%s", text)
	}
	if now.Sub(r.measured) >= diskEvery && r.folder != "" {
		r.weigh()
		if left, ok := r.timeLeft(now); !r.warned && r.room > 0 && (r.room < littleDisk || ok && left < littleTime) {
			r.warned = true
			text := fmt.Sprintf("only %s free where the log is written", bytesText(r.room))
			if ok && left < 24*time.Hour {
				text += fmt.Sprintf(", enough for about %d min", int(left.Minutes()))
			}
			r.tell("%s; make room, or end the recording in time", text)
		}
	}
	switch {
	case r.flags.quiet:
	case r.c.errTerminal && !r.c.dumb:
		if now.Sub(r.drawn) >= blockEvery {
			r.drawn = now
			r.screen.draw(r.block(now))
		}
	case now.Sub(r.told) >= statusEvery:
		r.told = now
		r.tell("%s", strings.Join(r.status(now), "; "))
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
	for _, text := range r.watch.Check(r.now(), true) {
		r.tell("%s", text)
	}
	err := r.file.Close()
	var result *analyze.Result
	if r.episodes != nil && r.info.Accepted > 0 {
		info := r.info
		if r.dropped.Count > 0 {
			info.Remarks = append(info.Remarks, candump.DroppedRemark(r.dropped.Line, r.dropped.Count, info.Remarked))
		}
		result = r.episodes.Finish(info)
		r.show(r.cast.Next())
	}
	r.tell("%s: %s, %s", r.name(), decode.Counted(r.info.Accepted, "frame", "frames"), bytesText(r.info.Bytes))
	r.screen.close()
	if err != nil {
		report(r.c.err, err)
		r.failed = true
	}
	if result != nil && result.EngineSpeedSeen {
		r.report.Logs = []output.Log{{Name: filepath.Base(r.path), Result: result}}
		style := r.c.style()
		w := r.c.out
		if r.path == "-" {
			w, style.Colour, style.Unicode = r.c.err, false, false
		}
		fmt.Fprintln(w)
		if err := r.report.WriteTable(w, output.Episodes, style); err != nil {
			return err
		}
	} else if result != nil {
		say(r.c.err, fmt.Sprintf("%s: the engine speed was never seen, so there is nothing to measure; check the map", r.name()))
		r.failed = true
	}
	switch {
	case r.failed || r.info.Accepted == 0:
		if r.info.Accepted == 0 && !r.failed {
			say(r.c.err, r.name()+": no frame was recorded; switch the ignition on and check the interface")
		}
		return errReported
	case r.flags.check && result != nil && broken(r.report):
		return errLimitBroken
	}
	return nil
}
