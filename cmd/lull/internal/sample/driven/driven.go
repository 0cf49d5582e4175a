// Package driven gives tests measured drives of the demonstration, each with the samples
// behind its pictures. Nothing but tests imports it. Start with Side.
package driven

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"

	"lull/analyze/compare"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
)

// Side measures drives of the demonstration and traces what their pictures need;
// change may alter the map.
func Side(t testing.TB, change func(*decode.Map), names ...string) *page.Side {
	t.Helper()
	s := &page.Side{Report: &words.Report{Version: "1.0"}}
	for _, d := range scenario.Drives() {
		if !slices.Contains(names, strings.TrimSuffix(d.Name, ".log")) {
			continue
		}
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		if change != nil {
			change(m)
		}
		s.Map = m
		run := onelog.NewRun(m)
		d.Play(func(f *decode.Frame) { run.Push(f) })
		res := run.Finish(decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6, Interfaces: []string{"can0"}})
		tracer := trace.New(m, res, page.Windows(res))
		d.Play(func(f *decode.Frame) { tracer.Push(f) })
		s.Logs = append(s.Logs, words.Log{Name: d.Name, SHA256: "ab", Bytes: 1, Result: res})
		s.Traces = append(s.Traces, page.TracesOf(res, tracer.Finish()))
	}
	if len(s.Logs) != len(names) {
		t.Fatalf("%d drives of %v", len(s.Logs), names)
	}
	return s
}

// Compared holds one side against the other.
func Compared(before, after *page.Side) *words.CompareReport {
	return &words.CompareReport{Before: before.Map, After: after.Map,
		Comparison: compare.New(words.SideOf(before.Report), words.SideOf(after.Report), compare.ByNothing)}
}

// Written is what was written.
func Written(t testing.TB, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Hostile is a drive whose map and log have a text in every name.
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
