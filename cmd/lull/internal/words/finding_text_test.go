package words_test

import (
	"testing"

	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
)

func TestTheSentencesOfTheDemonstrationAreThoseOfTheAnalysis(t *testing.T) {
	n := 0
	for _, d := range scenario.Drives() {
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		run := onelog.NewRun(m)
		d.Play(func(f *decode.Frame) { run.Push(f) })
		res := run.Finish(decode.Info{Accepted: 1})
		for i := range res.Findings {
			n++
			if got := words.FindingText(&res.Findings[i]); got != res.Findings[i].Text {
				t.Errorf("%q, want %q", got, res.Findings[i].Text)
			}
		}
	}
	if n < 30 {
		t.Errorf("%d findings", n)
	}
}
