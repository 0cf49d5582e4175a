package document

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"testing"

	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/sigmap"
)

// From the text of any log to the documents: nothing panics, and what comes out
// keeps the schemas.
func FuzzAnyLogGivesValidDocuments(f *testing.F) {
	var logs [][]byte
	for _, d := range scenario.Drives() {
		var whole bytes.Buffer
		if err := d.WriteLog(&whole); err != nil {
			f.Fatal(err)
		}
		lines := bytes.SplitAfter(whole.Bytes(), []byte("\n"))
		// Pieces of a drive are short enough to be mutated, and have frames of
		// every kind of their car.
		for from := 0; from+60 < len(lines) && from < 60_000; from += 20_000 {
			logs = append(logs, bytes.Join(lines[from:from+60], nil))
		}
	}
	for i, log := range logs {
		f.Add(uint8(i), log)
	}
	f.Add(uint8(0), []byte("(1.0) can0 1A0#08\n 1A0#\n(1700000000.000000) can0 1A0#0000FFFF00000000\n(0000000000.000000) can0 1A0#0800000000000000\n"))
	var maps []*decode.Map
	for _, name := range []string{"map.yaml", "van/map.yaml", "truck/map.yaml"} {
		m, err := sigmap.Parse(name, scenario.Map(name))
		if err != nil {
			f.Fatal(err)
		}
		maps = append(maps, m)
	}
	f.Fuzz(func(t *testing.T, which uint8, log []byte) {
		documentsAreValid(t, maps[int(which)%len(maps)], log)
	})
}

// documentsAreValid analyses a log and holds all documents against their schemas.
func documentsAreValid(t *testing.T, m *decode.Map, log []byte) {
	t.Helper()
	run := onelog.NewRun(m)
	r := candump.NewReader(bytes.NewReader(log), candump.Options{})
	for r.Scan() {
		run.Push(r.Frame())
	}
	report := &words.Report{Version: "test", Map: m, Logs: []words.Log{{
		Name: "drive.log", SHA256: fmt.Sprintf("%x", sha256.Sum256(log)),
		Bytes: int64(len(log)), Result: run.Finish(r.Info()),
	}}}
	for _, kind := range []words.Kind{words.Episodes, words.Standstills} {
		var document bytes.Buffer
		if err := WriteJSON(&document, report, kind); err != nil {
			t.Fatal(err)
		}
		valid(t, schemaOf(t, kindNames[kind]), document.Bytes())
	}
	// The starter of two logs, the second of which is the first one a day later.
	later := *report.Logs[0].Result
	later.Start += 24 * 3600 * sample.Second
	report.Logs = append(report.Logs, words.Log{Name: "later.log", Result: &later})
	valid(t, schemaOf(t, "starter"), starterJSONOf(t, report))
	if err := table.WriteStarter(io.Discard, words.NewStarterReport(report), table.Style{Width: 80}); err != nil {
		t.Fatal(err)
	}
}

// The bundled drives, whole, keep the schemas too.
func TestEveryBundledDriveGivesValidDocuments(t *testing.T) {
	for _, d := range scenario.Drives() {
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		var whole bytes.Buffer
		if err := d.WriteLog(&whole); err != nil {
			t.Fatal(err)
		}
		documentsAreValid(t, m, whole.Bytes())
	}
}
