//go:build unix

package recording

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/table"
	"lull/decode/live"
)

func terminalOf(r *Recorder) *terminal { return r.shown[0].(*terminal) }

// blockOf is what a terminal would show at now.
func blockOf(r *Recorder, now time.Time) []string {
	s := r.state(now)
	return terminalOf(r).block(&s)
}

// stuck is a terminal that takes nothing.
type stuck struct{ release chan struct{} }

func (s stuck) Write(p []byte) (int, error) {
	<-s.release
	return len(p), nil
}

// A terminal that takes nothing holds up no frame.
func TestASlowTerminalHoldsNothingUp(t *testing.T) {
	m, d := driven.Drive(t, "town.log")
	terminal := stuck{make(chan struct{})}
	log := &memoryLog{}
	r := newRecorder(Options{Screen: Screen{Out: terminal, Err: terminal, Drawn: true, Style: table.Style{Width: 80}}}, m, "drive.log", log)
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

// What is shown on a terminal: rates, state, every signal with its age.
func TestTheBlockShowsBusCarAndSignals(t *testing.T) {
	m, d := driven.Drive(t, "town.log")
	c, _, warn := still()
	now := time.Unix(1_800_000_000, 0)
	r := newRecorder(Options{Screen: c}, m, "drive.log", &memoryLog{})
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
