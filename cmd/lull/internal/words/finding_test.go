package words_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
)

// Two findings that name different things are two, however alike their names are.
func TestFindingsOfDifferentThingsAreNotOne(t *testing.T) {
	finding := func(text string) analyze.Finding {
		return analyze.Finding{Code: "c", Severity: analyze.Attention, Text: text, Evidence: []string{}}
	}
	for _, different := range [][2]string{
		{"0x310 on can0 was silent for 1.2 s", "0x420 on can1 was silent for 1.2 s"},
		{"body unit (0x310) on can0 was silent for 1.2 s", "body unit (0x310) on can1 was silent for 3 s"},
		{`cannot tell whether "brake 1" asked for it`, `cannot tell whether "brake 2" asked for it`},
		{"volt1 reads 300 V", "volt2 reads 300 V"},
	} {
		lines := words.FindingLines([]analyze.Finding{finding(different[0]), finding(different[1])})
		if len(lines) != 2 {
			t.Errorf("%q and %q are told as %+v", different[0], different[1], lines)
		}
	}
}

func TestFindingsOfOneKindAreGathered(t *testing.T) {
	finding := func(code, text string, evidence ...string) analyze.Finding {
		return analyze.Finding{Code: code, Severity: analyze.Attention, Text: text, Evidence: evidence}
	}
	got := words.FindingLines([]analyze.Finding{
		finding("limit_broken", "episode 1: 0.7 s", "episode 1"),
		finding("gap", "a gap"),
		finding("limit_broken", "episode 2: 0.8 s", "episode 2"),
		finding("limit_broken", "episode 3: 12 V", "episode 3"),
		finding("limit_broken", "episode 5: 0.75 s", "episode 5"),
		finding("gap", "a gap"),
		finding("other", "mixed", "episode 1", "standstill 2"),
	})
	want := []words.FindingLine{
		{Severity: analyze.Attention, Text: "episode 1: 0.7 s; 2 more like it: episodes 2, 5"},
		{Severity: analyze.Attention, Text: "a gap; 1 more like it"},
		{Severity: analyze.Attention, Text: "episode 3: 12 V"},
		{Severity: analyze.Attention, Text: "mixed (episode 1, standstill 2)"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
