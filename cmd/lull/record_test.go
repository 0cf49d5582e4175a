//go:build unix

package main

import (
	"bytes"
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
	"lull/decode/logfile"
	"lull/pkg/source"
)

// Eight thousand frames a second for a minute, played at twenty times that, come
// through without a loss.
func TestAFullBusIsRecordedWithoutLoss(t *testing.T) {
	const frames, perSecond = 480_000, 8000
	address := driven.PlayTo(t, func(w *live.Writer) error {
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

// killOne kills one recording and returns how many frames had to be in it.
func killOne(t *testing.T, k int) int64 {
	var sent sync.Map // frame number to when it was sent
	var count atomic.Int64
	address := driven.PlayTo(t, func(w *live.Writer) error {
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
	if k%4 == 3 { // on a slow machine too, some are killed late enough to have kept something
		for began := time.Now(); time.Since(began) < time.Minute; time.Sleep(10 * time.Millisecond) {
			if first, ok := sent.Load(int64(0)); ok && time.Since(first.(time.Time)) > 1200*time.Millisecond {
				break
			}
		}
	}
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
	f, err := j.Scan(context.Background(), in, logfile.Visitor{Frame: func(*decode.Frame, logfile.Reader) error { got++; return nil }})
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
	m, d := driven.Drive(t, "town.log")
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "map.yaml"), scenario.Map(d.Map), 0o600); err != nil {
		t.Fatal(err)
	}
	played := make(chan struct{})
	var once sync.Once
	address := driven.PlayTo(t, func(w *live.Writer) error {
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
