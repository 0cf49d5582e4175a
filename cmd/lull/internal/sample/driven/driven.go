// Package driven gives tests the drives of the demonstration: as frames, played to a
// socket, or measured, each with the samples behind its pictures. Only tests import it.
// Start with Drive.
package driven

import (
	"bytes"
	"io"
	"net"
	"path/filepath"
	"slices"
	"testing"

	"lull/analyze/compare"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/live"
	"lull/decode/sigmap"
)

// Drive returns one drive by the name of its log, and its map.
func Drive(t testing.TB, name string) (*decode.Map, scenario.Drive) {
	t.Helper()
	drives := scenario.Drives()
	i := slices.IndexFunc(drives, func(d scenario.Drive) bool { return d.Name == name })
	if i < 0 {
		t.Fatalf("the demonstration has no %s", name)
	}
	m, err := sigmap.Parse(drives[i].Map, scenario.Map(drives[i].Map))
	if err != nil {
		t.Fatal(err)
	}
	return m, drives[i]
}

// PlayTo returns an address; whoever connects to it reads what feed writes.
func PlayTo(t testing.TB, feed func(*live.Writer) error) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "car.sock")
	listener, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { listener.Close() })
	go func() {
		for {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			feed(live.NewWriter(c)) // it ends when the reader leaves
			c.Close()
		}
	}()
	return "unix:" + path
}

// Side measures drives of the demonstration and traces what their pictures need;
// change may alter the map.
func Side(t testing.TB, change func(*decode.Map), names ...string) *page.Side {
	t.Helper()
	s := &page.Side{Report: &words.Report{Version: "1.0"}}
	for _, name := range names {
		m, d := Drive(t, name+".log")
		if change != nil {
			change(m)
		}
		s.Map = m
		run := onelog.NewRun(m)
		d.Play(func(f *decode.Frame) { run.Push(f) })
		res := run.Finish(decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6, Interfaces: []string{"can0"}})
		drawn := page.Everything(res)
		tracer := trace.New(m, res, drawn.Windows(res))
		d.Play(func(f *decode.Frame) { tracer.Push(f) })
		s.Logs = append(s.Logs, words.Log{Name: d.Name, SHA256: "ab", Bytes: 1, Result: res})
		s.Traces = append(s.Traces, drawn.Traces(res, tracer.Finish()))
	}
	return s
}

// Compared compares two sides.
func Compared(before, after *page.Side) *words.CompareReport {
	return &words.CompareReport{Before: before.Map, After: after.Map,
		Comparison: compare.New(words.SideOf(before.Report), words.SideOf(after.Report), compare.ByNothing)}
}

// Written returns what write writes.
func Written(t testing.TB, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Hostile returns a drive whose map and log have the text in every name.
func Hostile(t *testing.T, hostile string) *page.Side {
	t.Helper()
	s := Side(t, func(m *decode.Map) {
		m.Name, m.Vehicle, m.Notes = "map"+hostile, "vehicle"+hostile, "notes"+hostile
		for i := range m.Requests {
			m.Requests[i].Name += hostile
		}
		for i := range m.Inhibits {
			m.Inhibits[i].Name += hostile
		}
		for i := range m.Signals {
			m.Signals[i].Name += hostile
			m.Signals[i].Unit += hostile
		}
		for i := range m.Entries {
			m.Entries[i].Module += hostile
		}
	}, "slow-to-go-before")
	s.Logs[0].Name = "log" + hostile
	return s
}
