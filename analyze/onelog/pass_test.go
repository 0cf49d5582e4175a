package onelog_test

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/sigmap"
)

// Passing over runs of frames must come to the same as pushing them all, also
// where stamps jump, lines are lost and damaged, and whatever pieces the log is
// read in.
func TestAnyNumberOfWorkersGivesTheSameResult(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	passed := int64(0)
	for round, d := range scenario.Drives() {
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		var whole bytes.Buffer
		if err := d.WriteLog(&whole); err != nil {
			t.Fatal(err)
		}
		lines := bytes.SplitAfter(whole.Bytes(), []byte("\n"))
		var log []byte
		for i := 0; i < len(lines); i++ {
			switch rng.IntN(4000) {
			case 0:
				i += rng.IntN(400) // a piece is missing
			case 1:
				i = max(0, i-rng.IntN(300)) // time runs back
			case 2:
				log = append(log, "damaged "...)
			}
			if i < len(lines) {
				log = append(log, lines[i]...)
			}
		}
		one := onelog.NewRun(m)
		one.PushAll()
		r := candump.NewReader(bytes.NewReader(log), candump.Options{})
		for r.Scan() {
			one.Push(r.Frame())
		}
		want := one.Finish(r.Info())
		for workers := range 4 {
			run := onelog.NewRun(m)
			b := candump.NewBlockReader(bytes.NewReader(log), candump.Options{}, decode.NewFilter(m), workers)
			for b.Scan() {
				if f := b.Frame(); f != nil {
					passed += int64(f.Skipped)
					run.Push(f)
				} else {
					passed += b.Passed().Count
					run.Pass(b.Passed())
				}
			}
			if diff := cmp.Diff(want, run.Finish(b.Info())); diff != "" {
				t.Fatalf("%s (%d), %d workers: %s", d.Name, round, workers, diff)
			}
		}
	}
	if passed == 0 {
		t.Error("no frame was passed over")
	}
}
