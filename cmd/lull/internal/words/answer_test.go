package words_test

import (
	"strconv"
	"strings"
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// answerSentences are the answers to whatever may happen.
func answerSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	latency := decode.Limit{Metric: "restart_latency", HasMin: true, Min: 0.2, HasMax: true, Max: 0.6}
	restart := func(n int, v bounds.Value, verdict analyze.Verdict) analyze.Episode {
		return analyze.Episode{N: n, Outcome: analyze.Restarted, Running: &bounds.Instant{},
			Metrics: []analyze.MetricValue{{Key: "restart_latency", Unit: "s", Value: v}},
			Limits:  []analyze.LimitVerdict{{Limit: latency, Verdict: verdict}}}
	}
	early := func(e analyze.Episode) analyze.Episode {
		e.Outcome = analyze.ChangeOfMind
		return e
	}
	itself := func(e analyze.Episode) analyze.Episode {
		e.Request = &analyze.Request{Condition: 1} // the sample's second request is the car's own
		return e
	}
	absent := analyze.Episode{N: 1, Outcome: analyze.Restarted, Running: &bounds.Instant{},
		Metrics: []analyze.MetricValue{{Key: "restart_latency", Absent: analyze.NoRequest}}}
	for _, c := range []struct {
		name string
		logs []analyze.Result
	}{
		{"nothing", []analyze.Result{{}}},
		{"never stopped", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1}, Standstills: []analyze.Standstill{{N: 3, Opportunity: true, Unexplained: true}}}}},
		{"no road speed", []analyze.Result{{Episodes: []analyze.Episode{restart(1, bounds.Value{Low: 0.5, Best: 0.51, High: 0.52}, analyze.Inside)}}}},
		{"two logs", []analyze.Result{
			{Summary: analyze.Summary{Opportunities: 2, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Value{Low: 0.58, Best: 0.6, High: 0.62}, analyze.Borderline)}},
			{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Exactly(0.4), analyze.Inside), {N: 2, Outcome: analyze.Stalled}, {N: 3, Outcome: analyze.Aborted}, {N: 4, Outcome: analyze.Aborted}}},
		}},
		{"broken on either side, the worst told", []analyze.Result{{Summary: analyze.Summary{Opportunities: 4, Stops: 4}, Episodes: []analyze.Episode{
			restart(1, bounds.Exactly(0.05), analyze.Outside), restart(2, bounds.Exactly(0.7), analyze.Outside), restart(3, bounds.Exactly(0.65), analyze.Outside), restart(4, bounds.Exactly(0.3), analyze.Inside)}}}},
		{"nothing wrong", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Exactly(0.4), analyze.Inside)}}}},
		{"slow where the driver asked early, and only there", []analyze.Result{{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, Episodes: []analyze.Episode{
			early(restart(1, bounds.Exactly(0.9), analyze.Outside)), restart(2, bounds.Exactly(0.4), analyze.Inside)}}}},
		{"early in one, slow in another", []analyze.Result{{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, Episodes: []analyze.Episode{
			restart(1, bounds.Exactly(0.9), analyze.Outside), early(restart(2, bounds.Exactly(0.4), analyze.Inside))}}}},
		{"no latency", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{absent}}}},
		{"cannot tell, three reasons", []analyze.Result{{Summary: analyze.Summary{Opportunities: 5, Stops: 0}, Standstills: []analyze.Standstill{
			{Opportunity: true, Reason: "coolant cold"}, {Opportunity: true, Reason: "cabin demand"}, {Opportunity: true, Reason: "coolant cold"},
			{Opportunity: true, Reason: "switched off"}, {Opportunity: true, CannotTell: []string{"x"}}, {Opportunity: true, Open: true}, {Opportunity: true}}}}},
		{"two open", []analyze.Result{{Summary: analyze.Summary{Opportunities: 3, Stops: 1}, Standstills: []analyze.Standstill{
			{Opportunity: true, Open: true}, {Opportunity: true, Open: true, Stopped: true}, {Opportunity: true, Open: true, Reason: "coolant cold"}}}}},
		{"two logs, one of them without engine speed", []analyze.Result{
			{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, EngineSpeedSeen: true}, {}}},
		{"silent modules, one of them without a name", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 3, Stops: 3}, Episodes: []analyze.Episode{{N: 1}, {N: 2}, {N: 3}},
			Silences: []analyze.Silence{{ID: "0x99", Module: "between the stops"}, {ID: "0x3A0", Module: "body unit", Episode: 1},
				{ID: "0x4E0", Episode: 1}, {ID: "0x3A0", Module: "body unit", Episode: 3}}}}},
		{"six silent modules", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{{N: 1}},
			Silences: []analyze.Silence{{ID: "1", Episode: 1}, {ID: "2", Episode: 1}, {ID: "3", Episode: 1}, {ID: "4", Episode: 1}, {ID: "5", Episode: 1}, {ID: "6", Episode: 1}}}}},
		{"findings of one kind count as the line that they are", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Findings: []analyze.Finding{
				{Code: analyze.CodeGap, Severity: analyze.Attention, About: analyze.Gap{End: 7e8}}, {Code: analyze.CodeGap, Severity: analyze.Attention, About: analyze.Gap{End: 8e8}},
				{Code: analyze.CodeNoRestartRequest, Severity: analyze.Attention, About: analyze.UnaskedRestart{}}, {Code: "c", Severity: analyze.Note, About: analyze.UnaskedRestart{}}}}}},
		{"what a sentence of its own tells is not named again", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Exactly(0.7), analyze.Outside)}, Findings: []analyze.Finding{
				{Code: analyze.CodeLimitBroken, Severity: analyze.Attention, Evidence: []string{"episode 1"}, About: brokenLimit("restart_latency", "s", 0.7, 0.6)},
				{Code: analyze.CodeCounterReset, Severity: analyze.Attention, About: analyze.CounterFell{From: 9, To: 1}}}}}},
		{"the car asked by itself", []analyze.Result{{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, Episodes: []analyze.Episode{
			restart(1, bounds.Exactly(0.4), analyze.Inside), itself(restart(2, bounds.Exactly(0.4), analyze.Inside))}}}},
		{"... and that is not all", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{itself(restart(1, bounds.Exactly(0.9), analyze.Outside))}}}},
		{"only too close to call", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{
			restart(1, bounds.Value{Low: 0.58, Best: 0.6, High: 0.62}, analyze.Borderline)}}}},
		{"never stopped, and the map is a draft without inhibits", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1},
			Standstills: []analyze.Standstill{{N: 1, Opportunity: true, Unexplained: true}}}}},
		{"nothing, and no road speed", []analyze.Result{{}}},
	} {
		r := &words.Report{Map: sample.Map()}
		if strings.HasSuffix(c.name, "no road speed") {
			r.Map.Role[decode.VehicleSpeed] = -1
		}
		if strings.Contains(c.name, "draft") {
			r.Map.Notes, r.Map.Inhibits, r.Map.Role[decode.InhibitCode] = "drafted by lull from a.log; yours to check", nil, -1
		}
		for i := range c.logs {
			if !strings.Contains(c.name, "without engine speed") {
				c.logs[i].EngineSpeedSeen = true
			}
			r.Logs = append(r.Logs, words.Log{Name: "log " + strconv.Itoa(i+1), Result: &c.logs[i]})
		}
		list = append(list, said{c.name, r.Answer()})
	}
	return list
}

// What could not be judged is said, and never counts as kept.
func TestALimitThatWasNotSeenIsNotSaidToBeKept(t *testing.T) {
	limit := decode.Limit{Metric: "voltage_min", HasMin: true, Min: 8.5}
	seen := analyze.Episode{N: 1, Outcome: analyze.Restarted, Metrics: sample.AllMetrics(sample.Valued("voltage_min", "V", 9, 9, 9)),
		Limits: []analyze.LimitVerdict{{Limit: limit, Verdict: analyze.Inside}}}
	unseen := analyze.Episode{N: 2, Outcome: analyze.Restarted, Metrics: sample.AllMetrics(sample.Valued("voltage_min", "V", 9, 9, 9)),
		Limits: []analyze.LimitVerdict{{Limit: limit, Verdict: analyze.Unseen}}}
	gone := analyze.MetricValue{Key: "voltage_min", Absent: analyze.NoSample{Role: decode.BatteryVoltage, Window: 1.1e9, Gap: 0.4e9}, Unseen: 0.4}
	absent := analyze.Episode{N: 3, Outcome: analyze.Restarted, Metrics: sample.AllMetrics(gone)}
	for _, c := range []struct {
		episodes []analyze.Episode
		answer   string
		cells    []string
	}{
		{[]analyze.Episode{seen}, "All values are within limits.", []string{"within"}},
		{[]analyze.Episode{seen, unseen, absent}, "Not enough was seen to judge the limits of: lowest voltage twice.", []string{"within", "unseen", "unseen"}},
		{[]analyze.Episode{absent}, "Not enough was seen to judge the limits of: lowest voltage once.", []string{"unseen"}},
	} {
		r := &words.Report{Map: sample.Map(), Logs: []words.Log{{Name: "a.log", Result: &analyze.Result{EngineSpeedSeen: true, Episodes: c.episodes}}}}
		r.Map.Limits = []decode.Limit{limit}
		answer := r.Answer()
		if !strings.Contains(answer, c.answer) || strings.Contains(answer, "are within") != (len(c.episodes) == 1 && c.cells[0] == "within") {
			t.Errorf("%s, want %s", answer, c.answer)
		}
		for i := range c.episodes {
			if got := r.VerdictWord(&c.episodes[i]); got.Text != c.cells[i] {
				t.Errorf("episode %d: %q, want %q", i+1, got.Text, c.cells[i])
			}
		}
	}
}
