//go:build unix

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/scenario"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/serve"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
	"lull/pkg/source"
)

// The same frames give the same result live and from the log, counts and remarks
// included, in lots of any size, with frames dropped and error frames among them.
func TestLiveAndOfflineAreTheSame(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	m, d := demoDrive(t, "kept-running.log")
	for range 3 {
		c, _, _ := still()
		log := &memoryLog{}
		r := newRecorder(c, &recordFlags{quiet: true}, m, "drive.log", log)
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
		run := analyze.NewRun(m)
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

// Eight thousand frames a second for a minute, played at twenty times that, come
// through without a loss.
func TestAFullBusIsRecordedWithoutLoss(t *testing.T) {
	const frames, perSecond = 480_000, 8000
	address := playTo(t, func(w *live.Writer) error {
		began := time.Now()
		f := decode.Frame{Bus: "can0", Len: 8}
		for n := range frames {
			f.Time = 1_700_000_000e9 + int64(n)*1e9/perSecond
			f.ID = uint32(n) & 0x7FF
			f.Data[0], f.Data[1], f.Data[2] = byte(n), byte(n>>8), byte(n>>16)
			if err := w.Frame(&f); err != nil {
				return err
			}
			if n%(perSecond/5) == 0 {
				w.Flush()
				time.Sleep(time.Until(began.Add(time.Duration(n) * time.Second / (20 * perSecond))))
			}
		}
		return w.End()
	})
	folder := t.TempDir()
	if text, err := lullCommand(t, folder, "record", address, "-o", "drive.log").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	log, err := os.ReadFile(filepath.Join(folder, "drive.log"))
	if err != nil {
		t.Fatal(err)
	}
	r := candump.NewReader(bytes.NewReader(log), candump.Options{})
	n := 0
	for ; r.Scan(); n++ {
		d := r.Frame().Data
		if got := int(d[0]) | int(d[1])<<8 | int(d[2])<<16; got != n {
			t.Fatalf("frame %d is %d", n, got)
		}
	}
	if info := r.Info(); n != frames || info.Rejected > 0 {
		t.Errorf("%d frames of %d, %d rejected", n, frames, info.Rejected)
	}
}

// Killed at any moment, a recording keeps all but its last second, and reads.
// LULL_KILLS sets how often.
func TestAKilledRecordingLosesAtMostItsLastSecond(t *testing.T) {
	kills := 200
	if n, err := strconv.Atoi(os.Getenv("LULL_KILLS")); err == nil {
		kills = n
	}
	if testing.Short() {
		kills = min(kills, 20)
	}
	const atOnce = 20
	var working sync.WaitGroup
	var kept atomic.Int64
	gate := make(chan struct{}, atOnce)
	for k := range kills {
		gate <- struct{}{}
		working.Go(func() {
			defer func() { <-gate }()
			kept.Add(killOne(t, k))
		})
	}
	working.Wait()
	if kept.Load() == 0 {
		t.Error("no recording was killed late enough to have kept anything")
	}
}

// killOne kills one recording and tells how many frames had to be in it.
func killOne(t *testing.T, k int) int64 {
	var sent sync.Map // frame number to when it was sent
	var count atomic.Int64
	address := playTo(t, func(w *live.Writer) error {
		for n := int64(0); ; n++ {
			now := time.Now()
			f := decode.Frame{Bus: "can0", ID: 0x123, Len: 8, Time: now.UnixNano() / 1000 * 1000}
			if err := w.Frame(&f); err != nil {
				return err
			}
			if err := w.Flush(); err != nil {
				return err
			}
			sent.Store(n, time.Now())
			count.Store(n + 1)
			time.Sleep(5 * time.Millisecond)
		}
	})
	folder := t.TempDir()
	name := "drive.log"
	if k%3 == 0 {
		name += ".zst"
	}
	cmd := lullCommand(t, folder, "record", address, "-o", name, "--quiet")
	if err := cmd.Start(); err != nil {
		t.Error(err)
		return 0
	}
	time.Sleep(time.Duration(rand.Int64N(int64(2500 * time.Millisecond))))
	killed := time.Now()
	cmd.Process.Kill()
	cmd.Wait()
	must := int64(0)
	for n := range count.Load() {
		at, ok := sent.Load(n)
		if ok && killed.Sub(at.(time.Time)) > time.Second {
			must = n + 1
		}
	}
	c, _, warn := still()
	j := &measuring.Logs{Order: c.order(true, measuring.Order{})}
	got := int64(0)
	in := source.Input{Path: filepath.Join(folder, name), Name: name}
	f, err := j.Scan(context.Background(), in, measuring.Visitor{Frame: func(*decode.Frame, measuring.Reader) error { got++; return nil }})
	if must == 0 {
		return 0 // killed before a second was over: there may be nothing yet
	}
	if err != nil || got < must || f.Info.Rejected > 1 {
		t.Errorf("%s, killed after %d frames were sent for more than a second: %d are there, %d lines rejected, %v %s", name, must, got, f.Info.Rejected, err, warn)
	}
	return must
}

// Ctrl-C ends the log properly and prints the summary.
func TestAnInterruptEndsTheLogAndPrintsTheSummary(t *testing.T) {
	m, d := demoDrive(t, "town.log")
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "map.yaml"), scenario.Map(d.Map), 0o600); err != nil {
		t.Fatal(err)
	}
	played := make(chan struct{})
	var once sync.Once
	address := playTo(t, func(w *live.Writer) error {
		for f := range d.Frames {
			if err := w.Frame(f); err != nil {
				return err
			}
		}
		w.Flush()
		once.Do(func() { close(played) })
		time.Sleep(time.Minute)
		return nil
	})
	cmd := lullCommand(t, folder, "record", address)
	var out, warn bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &warn
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	<-played
	time.Sleep(300 * time.Millisecond)
	cmd.Process.Signal(syscall.SIGINT)
	if err := cmd.Wait(); err != nil {
		t.Fatalf("%v\n%s", err, warn.String())
	}
	if !strings.Contains(out.String(), "The engine was stopped in 5 of 5 standstills.") {
		t.Errorf("no summary of %s:\n%s", m.Vehicle, out.String())
	}
	logs, err := filepath.Glob(filepath.Join(folder, "lull-*.log"))
	if err != nil || len(logs) != 1 {
		t.Fatalf("%v %v", logs, err)
	}
	var want bytes.Buffer
	if err := d.WriteLog(&want); err != nil {
		t.Fatal(err)
	}
	if got, err := os.ReadFile(logs[0]); err != nil || !bytes.Equal(got, want.Bytes()) {
		t.Errorf("the log is not the drive: %d bytes of %d, %v", len(got), want.Len(), err)
	}
}

// stuck is a terminal that takes nothing.
type stuck struct{ release chan struct{} }

func (s stuck) Write(p []byte) (int, error) {
	<-s.release
	return len(p), nil
}

// A terminal that takes nothing holds up no frame.
func TestASlowTerminalHoldsNothingUp(t *testing.T) {
	m, d := demoDrive(t, "town.log")
	terminal := stuck{make(chan struct{})}
	log := &memoryLog{}
	r := newRecorder(&console{out: terminal, err: terminal, errTerminal: true, width: 80}, &recordFlags{}, m, "drive.log", log)
	began := time.Now()
	var lot live.Lot
	n := 0
	for f := range d.Frames {
		n++
		lot.Frames = append(lot.Frames[:0], *f)
		r.take(&lot)
		r.look()
	}
	for range 2 * mostLines {
		r.remark("a line")
	}
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("took %v", took)
	}
	if got := bytes.Count(log.Bytes(), []byte("\n")); got != n {
		t.Errorf("%d lines of %d frames", got, n)
	}
	if waiting := len(terminalOf(r).screen.queue); waiting > mostLines {
		t.Errorf("%d lines wait", waiting)
	}
	close(terminal.release)
	if err := r.finish(); err != nil {
		t.Error(err)
	}
}

// A log that cannot be written ends the recording, and what was measured is printed.
func TestAFaultOfTheDiskEndsTheRecording(t *testing.T) {
	m, d := demoDrive(t, "town.log")
	c, out, warn := still()
	log := &memoryLog{}
	r := newRecorder(c, &recordFlags{}, m, "drive.log", log)
	var lot live.Lot
	for f := range d.Frames {
		lot.Frames = append(lot.Frames, *f)
	}
	r.take(&lot)
	log.fault = errors.New("drive.log: the disk is full")
	address := playTo(t, func(w *live.Writer) error { time.Sleep(time.Minute); return nil })
	a, _ := live.ParseAddress(address)
	if err := r.run(t.Context(), live.Listen(t.Context(), []live.Address{a})); !errors.Is(err, words.ErrTold) {
		t.Error(err)
	}
	if !strings.Contains(warn.String(), "the disk is full") || !strings.Contains(out.String(), "5 of 5 standstills") {
		t.Errorf("said %s\n%s", warn, out)
	}
}

// What is shown on a terminal: rates, state, every signal with its age.
func TestTheBlockShowsBusCarAndSignals(t *testing.T) {
	m, d := demoDrive(t, "town.log")
	c, _, warn := still()
	now := time.Unix(1_800_000_000, 0)
	r := newRecorder(c, &recordFlags{}, m, "drive.log", &memoryLog{})
	r.now = func() time.Time { return now }
	r.began = now
	r.free = func(string) (int64, error) { return 100e6, nil }
	if got := strings.Join(blockOf(r, now), "\n"); !strings.Contains(got, "no frame yet\nengine speed not seen yet") || !strings.Contains(got, "engine_speed not seen yet") {
		t.Errorf("before the first frame:\n%s", got)
	}
	r.rates["can0"] = 500_000
	first := int64(0)
	var lot live.Lot
	for f := range d.Frames {
		if first == 0 {
			first = f.Time
		}
		if f.Time-first > 24e9 {
			break
		}
		lot.Frames = append(lot.Frames[:0], *f)
		r.take(&lot)
	}
	now = now.Add(10 * time.Second)
	r.look()
	block := blockOf(r, now.Add(-9*time.Second))
	text := strings.Join(block, "\n")
	for _, want := range []string{"can0: 20", " frames/s, load ", "engine stopped for 3.4 s, standing for ", "MB recorded, 100 MB free", "engine_speed 0 rpm (", "brake pressed ("} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing:\n%s", want, text)
		}
	}
	for _, line := range block {
		if len(line) > 80 {
			t.Errorf("too wide: %q", line)
		}
	}
	if len(block) > mostBlock {
		t.Errorf("%d lines", len(block))
	}
	screen := terminalOf(r).screen
	screen.draw(block)
	for drawn := false; !drawn; time.Sleep(time.Millisecond) {
		screen.mutex.Lock()
		drawn = screen.height > 0
		screen.mutex.Unlock()
	}
	screen.close()
	for _, want := range []string{"only 100 MB free where the log is written", "min; make room", fmt.Sprintf("\x1b[%dA\r\x1b[J", len(block))} {
		if !strings.Contains(warn.String(), want) {
			t.Errorf("%q was not said:\n%s", want, warn)
		}
	}
}

// Eight hours of driving take no more memory than one does, but for what was found.
func TestMemoryStaysFlatOverEightHours(t *testing.T) {
	if raceDetector {
		t.Skip("memory is not lull's own under the race detector")
	}
	m, d := demoDrive(t, "kept-running.log")
	var frames []decode.Frame
	for f := range d.Frames {
		if f.Flags == 0 && len(frames) < 40_000 {
			frames = append(frames, *f)
		}
	}
	c, _, _ := still()
	r := newRecorder(c, &recordFlags{quiet: true}, m, "drive.log", discard{})
	shown := &onPage{recorder: r, whole: t.Context(), ctx: t.Context(), live: serve.NewLive(serve.About{})}
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
			shown.live.Show(r.state(r.began))
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
