//go:build unix

package recording

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/onelog"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/serve"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/watch"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
	"lull/pkg/oracle"
)

// memoryLog is a log that is recorded into memory.
type memoryLog struct {
	bytes.Buffer
	fault error
}

func (m *memoryLog) Write(p []byte) (int, error) {
	if m.fault != nil {
		return 0, m.fault
	}
	return m.Buffer.Write(p)
}

func (m *memoryLog) Err() error { return m.fault }

func (m *memoryLog) Close() error { return m.fault }

// discard is a log that is not kept.
type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }

func (discard) Err() error { return nil }

func (discard) Close() error { return nil }

// still is a screen that nobody looks at.
func still() (Screen, *bytes.Buffer, *bytes.Buffer) {
	out, warn := &bytes.Buffer{}, &bytes.Buffer{}
	return Screen{Out: out, Err: warn, Style: table.Style{Width: 80}}, out, warn
}

// The same frames give the same result live and from the log, counts and remarks
// included, in lots of any size, with frames dropped and error frames among them.
func TestLiveAndOfflineAreTheSame(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	m, d := driven.Drive(t, "kept-running.log")
	for range 3 {
		c, _, _ := still()
		log := &memoryLog{}
		r := newRecorder(Options{Quiet: true, Screen: c}, m, "drive.log", log)
		lot := live.Lot{}
		size, dropped := 1, int64(0)
		for f := range d.Frames {
			one := *f
			one.Time -= one.Time % 1000
			one.Line = 0
			lot.Frames = append(lot.Frames, one)
			if rng.IntN(5000) == 0 {
				failure := decode.Frame{Time: one.Time, Bus: "can0", ID: 4, Flags: decode.Error, Len: 8}
				lot.Frames = append(lot.Frames, failure)
			}
			if len(lot.Frames) < size {
				continue
			}
			if rng.IntN(300) == 0 {
				dropped += 3
				lot.Events = append(lot.Events, live.Event{Kind: live.Dropped, Source: "can0", Count: 3, Total: dropped})
			}
			r.take(&lot)
			r.look()
			lot = live.Lot{}
			size = 1 + rng.IntN(400)
		}
		r.take(&lot)
		if err := r.finish(); err != nil {
			t.Fatal(err)
		}
		got := r.report.Logs[0].Result
		run := onelog.NewRun(m)
		reader := candump.NewReader(bytes.NewReader(log.Bytes()), candump.Options{})
		for reader.Scan() {
			run.Push(reader.Frame())
		}
		if diff := cmp.Diff(run.Finish(reader.Info()), got); diff != "" {
			t.Fatalf("offline and live:\n%s", diff)
		}
		if dropped > 0 && got.Info.Remarked == 0 {
			t.Error("dropped frames are not remarked")
		}
	}
}

// A log that cannot be written ends the recording, and what was measured is printed.
func TestAFaultOfTheDiskEndsTheRecording(t *testing.T) {
	m, d := driven.Drive(t, "town.log")
	c, out, warn := still()
	log := &memoryLog{}
	r := newRecorder(Options{Screen: c}, m, "drive.log", log)
	var lot live.Lot
	for f := range d.Frames {
		lot.Frames = append(lot.Frames, *f)
	}
	r.take(&lot)
	log.fault = errors.New("drive.log: the disk is full")
	address := driven.PlayTo(t, func(w *live.Writer) error { time.Sleep(time.Minute); return nil })
	a, _ := live.ParseAddress(address)
	r.receiver = live.Listen(t.Context(), []live.Address{a})
	if err := r.Run(t.Context()); !errors.Is(err, words.ErrTold) {
		t.Error(err)
	}
	if !strings.Contains(warn.String(), "the disk is full") || !strings.Contains(out.String(), "5 of 5 standstills") {
		t.Errorf("said %s\n%s", warn, out)
	}
}

// Eight hours of driving take no more memory than one does, but for what was found.
func TestMemoryStaysFlatOverEightHours(t *testing.T) {
	if oracle.RaceDetector {
		t.Skip("memory is not lull's own under the race detector")
	}
	m, d := driven.Drive(t, "kept-running.log")
	var frames []decode.Frame
	for f := range d.Frames {
		if f.Flags == 0 && len(frames) < 40_000 {
			frames = append(frames, *f)
		}
	}
	c, _, _ := still()
	r := newRecorder(Options{Quiet: true, Screen: c}, m, "drive.log", discard{})
	shown := serve.NewLive(serve.About{Served: t.Context(), Recorded: t.Context()})
	r.shown = append(r.shown, shown)
	length := frames[len(frames)-1].Time - frames[0].Time + 10e6
	var lot live.Lot
	heap := func() uint64 {
		runtime.GC()
		var s runtime.MemStats
		runtime.ReadMemStats(&s)
		return s.HeapAlloc
	}
	after := uint64(0)
	for passed := int64(0); passed < 8*3600e9; passed += length {
		for i := 0; i < len(frames); i += 200 {
			lot.Frames = append(lot.Frames[:0], frames[i:min(i+200, len(frames))]...)
			for k := range lot.Frames {
				lot.Frames[k].Time += passed
			}
			r.take(&lot)
			r.remark("a source that comes and goes")
			shown.Show(r.state(r.began))
		}
		if after == 0 && passed > 3600e9 {
			after = heap()
		}
	}
	found := len(r.found.Episodes)
	// An episode and what belongs to it is some kilobytes.
	if end := heap(); end > after+uint64(found+500)*12_000 {
		t.Errorf("%d bytes after one hour, %d after eight, with %d episodes", after, end, found)
	}
	if err := r.finish(); err != nil {
		t.Error(err)
	}
}

// What may pass, such as an ignition that is not switched on yet, is shown as long as it
// is so; what was said of it stays among the remarks, and needs no attention for ever.
func TestALackIsShownWhileItLasts(t *testing.T) {
	m, d := driven.Drive(t, "town.log")
	c, _, warn := still()
	now := time.Unix(1_800_000_000, 0)
	r := newRecorder(Options{Screen: c}, m, "drive.log", discard{})
	r.now = func() time.Time { return now }
	r.began, r.watch = now, watch.New(m, func(string) int64 { return 0 }, now)
	kinds := &kindsOnly{}
	r.shown = append(r.shown, kinds)
	now = now.Add(7 * time.Second)
	r.look()
	if s := r.state(now); len(s.Lacks) != 1 || !strings.HasPrefix(s.Lacks[0], "no frame has come; switch the ignition on") {
		t.Errorf("before the first frame: %q", s.Lacks)
	}
	for f := range d.Frames {
		r.take(&live.Lot{Frames: []decode.Frame{*f}})
		break
	}
	r.look()
	if s := r.state(now); len(s.Lacks) != 0 {
		t.Errorf("after it: %q", s.Lacks)
	}
	now = now.Add(20 * time.Second) // of the map much did not come, which stays worth a look
	r.look()
	if diff := cmp.Diff([]words.NewsKind{words.NewsRemark, words.NewsWarning}, slices.Compact(kinds.list)); diff != "" {
		t.Error(diff)
	}
	terminalOf(r).Close(words.LiveState{}, false)
	if said := warn.String(); !strings.HasPrefix(said, "lull: no frame has come") {
		t.Errorf("said %s", said)
	}
}

// kindsOnly is shown a recording and keeps of what kinds the news were.
type kindsOnly struct{ list []words.NewsKind }

func (k *kindsOnly) Tell(n words.News) { k.list = append(k.list, n.Kind) }

func (k *kindsOnly) Look(time.Time, func() words.LiveState) {}

func (k *kindsOnly) Close(words.LiveState, bool) {}

// Recordings that begin in the same second in one process come closer together than those
// of several, and each has a name of its own.
func TestANameOfDateAndTimeIsTakenOnce(t *testing.T) {
	t.Chdir(t.TempDir())
	const rounds, atOnce = 50, 8
	for round := range rounds {
		var taken sync.Map
		var started sync.WaitGroup
		for range atOnce {
			started.Go(func() {
				path, file, err := createLog("", time.Unix(int64(round), 0))
				if err != nil {
					t.Error(err)
					return
				}
				if _, twice := taken.LoadOrStore(path, true); twice {
					t.Errorf("%s is recorded into twice", path)
				}
				file.Write([]byte("line\n"))
				if err := file.Close(); err != nil {
					t.Error(err)
				}
			})
		}
		started.Wait()
	}
}
