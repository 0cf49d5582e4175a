package words_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func brokenLimit(key, unit string, value, most float64) analyze.BrokenLimits {
	v := analyze.MetricValue{Key: key, Unit: unit}
	v.Low, v.Best, v.High = value, value, value
	return analyze.BrokenLimits{{Value: v, Limit: decode.Limit{Metric: key, HasMax: true, Max: most}}}
}

// Two findings that refer to different things are two, however alike their names are.
func TestFindingsOfDifferentThingsAreNotOne(t *testing.T) {
	finding := func(about analyze.About) analyze.Finding {
		return analyze.Finding{Code: "c", Severity: analyze.Attention, About: about, Evidence: []string{}}
	}
	silent := func(id, bus string, seconds int64) analyze.About {
		return analyze.SilentModules{Silences: []analyze.Silence{{ID: id, Bus: bus, Module: "body unit", Duration: seconds * 1e9}}}
	}
	for _, different := range [][2]analyze.About{
		{silent("0x310", "can0", 1), silent("0x420", "can0", 1)},
		{silent("0x310", "can0", 1), silent("0x310", "can1", 3)},
		{analyze.DoubtedRequests{Conditions: []string{"brake 1"}}, analyze.DoubtedRequests{Conditions: []string{"brake 2"}}},
		{analyze.DoubtedRequests{Conditions: []string{"brake"}}, analyze.DoubtedInhibits{Conditions: []string{"brake"}}},
		{analyze.ImplausibleSignal{Signal: "volt1", Reads: 300}, analyze.ImplausibleSignal{Signal: "volt2", Reads: 300}},
		{brokenLimit("restart_latency", "s", 0.7, 0.6), brokenLimit("crank_to_run", "s", 0.7, 0.6)},
		{analyze.FailedStart{Ended: analyze.NoStart}, analyze.FailedStart{Ended: analyze.NoStart, Tries: 2}},
		{analyze.UnexplainedStandstill{SilentCode: "code"}, analyze.UnexplainedStandstill{}},
		{analyze.UnexplainedStandstill{Covered: 0.2}, analyze.UnexplainedStandstill{}},
		{analyze.Gap{}, analyze.FurtherGaps(3)},
	} {
		lines := words.FindingLines([]analyze.Finding{finding(different[0]), finding(different[1])})
		if len(lines) != 2 {
			t.Errorf("%+v and %+v are told as %+v", different[0], different[1], lines)
		}
	}
}

func TestFindingsOfOneKindAreGathered(t *testing.T) {
	finding := func(code string, about analyze.About, evidence ...string) analyze.Finding {
		return analyze.Finding{Code: code, Severity: analyze.Attention, About: about, Evidence: evidence}
	}
	got := words.FindingLines([]analyze.Finding{
		finding("limit_broken", brokenLimit("restart_latency", "s", 0.7, 0.6), "episode 1"),
		finding("gap", analyze.Gap{Start: 1e9, End: 2e9}),
		finding("limit_broken", brokenLimit("restart_latency", "s", 0.8, 0.6), "episode 2"),
		finding("limit_broken", brokenLimit("voltage_before", "V", 12, 11), "episode 3"),
		finding("limit_broken", brokenLimit("restart_latency", "s", 0.75, 0.6), "episode 5"),
		finding("gap", analyze.Gap{Start: 4e9, End: 7e9}),
		finding("dip_undersampled", analyze.SeldomVoltage{Period: 25e6}, "episode 1", "start 2"),
	})
	want := []words.FindingLine{
		{Severity: analyze.Attention, About: []string{"restart latency"}, Text: "episodes 1, 2 and 5: restart latency at worst 0.8 s (limit: at most 0.6 s) in episode 2"},
		{Severity: analyze.Attention, About: []string{"the gaps in the recording"}, Text: "the recording has a gap of 1.00 s at 1.00 s; the same once more"},
		{Severity: analyze.Attention, About: []string{"voltage before the start"}, Text: "episode 3: voltage before the start 12.00 V (limit: at most 11 V)"},
		{Severity: analyze.Attention, About: []string{"how seldom the battery voltage comes"}, Text: "the battery voltage comes only every 25 ms: it may have fallen lower than was seen (episode 1, start 2)"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
