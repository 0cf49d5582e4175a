package words_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

func TestALogInALineSaysTheWorstOfIt(t *testing.T) {
	latency := decode.Limit{Metric: "restart_latency", HasMax: true, Max: 0.6}
	restart := func(n int, v float64, verdict analyze.Verdict) analyze.Episode {
		return analyze.Episode{N: n, Outcome: analyze.Restarted, Running: &bounds.Instant{},
			Metrics: []analyze.MetricValue{{Key: "restart_latency", Unit: "s", Value: bounds.Exactly(v)}},
			Limits:  []analyze.LimitVerdict{{Limit: latency, Verdict: verdict}}}
	}
	r := &words.Report{Map: sample.Map(), Logs: []words.Log{
		{Name: "good\x1b.log", Result: &analyze.Result{EngineSpeedSeen: true, Summary: analyze.Summary{Opportunities: 2, Stops: 2},
			Episodes: []analyze.Episode{restart(1, 0.4, analyze.Inside), restart(2, 0.5, analyze.Inside)}}},
		{Name: "bad.log", Result: &analyze.Result{EngineSpeedSeen: true,
			Episodes: []analyze.Episode{restart(1, 0.7, analyze.Outside), {N: 2, Outcome: analyze.Stalled}, {N: 3, Outcome: analyze.NoStart}}}},
		{Name: "idle.log", Result: &analyze.Result{EngineSpeedSeen: true}},
		{Name: "blind.log", Result: &analyze.Result{}},
	}}
	none := words.Word{Text: "-"}
	want := []words.Overview{
		{Name: words.Word{Text: `good\x1b.log`}, Stopped: words.Word{Text: "2 of 2"}, Slowest: words.Word{Text: "0.5"}, Broken: words.Word{Text: "0 of 2", Tone: words.Good}, Findings: none},
		{Name: words.Word{Text: "bad.log"}, Stopped: words.Word{Text: "3 times"}, Slowest: words.Word{Text: "0.7"}, Broken: words.Word{Text: "1 of 3", Tone: words.Bad},
			Findings: words.Word{Text: "did not start, stalled", Tone: words.Bad}},
		{Name: words.Word{Text: "idle.log"}, Stopped: none, Slowest: none, Broken: none, Findings: none},
		{Name: words.Word{Text: "blind.log"}, Stopped: none, Slowest: none, Broken: none, Findings: words.Word{Text: "cannot be used", Tone: words.Bad}},
	}
	if diff := cmp.Diff(want, r.Overviews()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
