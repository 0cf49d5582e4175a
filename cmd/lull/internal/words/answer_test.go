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

func TestTheAnswerCanBeSaidWhateverHappened(t *testing.T) {
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
	absent := analyze.Episode{N: 1, Outcome: analyze.Restarted, Running: &bounds.Instant{},
		Metrics: []analyze.MetricValue{{Key: "restart_latency", Absent: analyze.NoRequest}}}
	for _, c := range []struct {
		name string
		logs []analyze.Result
		want string
	}{
		{"nothing", []analyze.Result{{}},
			"The engine was never stopped, and there was no standstill of at least 3 s in which it could have been."},
		{"never stopped", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1}, Standstills: []analyze.Standstill{{N: 3, Opportunity: true, Unexplained: true}}}},
			"The engine was never stopped in 1 standstill. Once it kept running and no reason was found (standstill 3)."},
		{"no road speed", []analyze.Result{{Episodes: []analyze.Episode{restart(1, bounds.Value{Low: 0.5, Best: 0.51, High: 0.52}, analyze.Inside)}}},
			"The engine was stopped once. The restart took 0.510 s (0.500 to 0.520), within the limit of 0.2 to 0.6 s, in episode 1. All values are within limits."},
		{"two logs", []analyze.Result{
			{Summary: analyze.Summary{Opportunities: 2, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Value{Low: 0.58, Best: 0.6, High: 0.62}, analyze.Borderline)}},
			{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Exactly(0.4), analyze.Inside), {N: 2, Outcome: analyze.Stalled}, {N: 3, Outcome: analyze.Aborted}, {N: 4, Outcome: analyze.Aborted}}},
		},
			"The engine stalled in episode 2 of log 2. The engine was stopped in 2 of 3 standstills over 2 logs. The slowest restart took 0.600 s (0.580 to 0.620), in episode 1 of log 1. 2 stops were cancelled. Too close to the limit to call: restart latency once."},
		{"broken on either side, the worst told", []analyze.Result{{Summary: analyze.Summary{Opportunities: 4, Stops: 4}, Episodes: []analyze.Episode{
			restart(1, bounds.Exactly(0.05), analyze.Outside), restart(2, bounds.Exactly(0.7), analyze.Outside), restart(3, bounds.Exactly(0.65), analyze.Outside), restart(4, bounds.Exactly(0.3), analyze.Inside)}}},
			"Out of limits: restart latency in 3 of 4 episodes (at worst 0.05 s in episode 1; 0.2 to 0.6 s is wanted). The engine was stopped in 4 of 4 standstills."},
		{"nothing wrong", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Exactly(0.4), analyze.Inside)}}},
			"Nothing wrong was found. The engine was stopped in 1 of 1 standstill. The restart took 0.4 s (0.4 to 0.4), within the limit of 0.2 to 0.6 s, in episode 1. All values are within limits."},
		{"slow where the driver asked early, and only there", []analyze.Result{{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, Episodes: []analyze.Episode{
			early(restart(1, bounds.Exactly(0.9), analyze.Outside)), restart(2, bounds.Exactly(0.4), analyze.Inside)}}},
			"Out of limits: restart latency in 1 of 2 episodes (0.9 s in episode 1; 0.2 to 0.6 s is wanted). The engine was stopped in 2 of 2 standstills. Where it took too long, the restart was asked for before the engine had stopped turning (episode 1)."},
		{"early in one, slow in another", []analyze.Result{{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, Episodes: []analyze.Episode{
			restart(1, bounds.Exactly(0.9), analyze.Outside), early(restart(2, bounds.Exactly(0.4), analyze.Inside))}}},
			"Out of limits: restart latency in 1 of 2 episodes (0.9 s in episode 1; 0.2 to 0.6 s is wanted). The engine was stopped in 2 of 2 standstills. Once a restart was asked for before the engine had stopped turning (episode 2)."},
		{"no latency", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{absent}}},
			"The engine was stopped in 1 of 1 standstill. How long a restart took cannot be said: no mapped restart request became true before the decision."},
		{"cannot tell, three reasons", []analyze.Result{{Summary: analyze.Summary{Opportunities: 5, Stops: 0}, Standstills: []analyze.Standstill{
			{Opportunity: true, Reason: "coolant cold"}, {Opportunity: true, Reason: "cabin demand"}, {Opportunity: true, Reason: "coolant cold"},
			{Opportunity: true, Reason: "switched off"}, {Opportunity: true, CannotTell: []string{"x"}}, {Opportunity: true, Open: true}, {Opportunity: true}}}},
			"The engine was never stopped in 5 standstills. It was kept running by coolant cold (twice), cabin demand (once) and switched off (once). Why it kept running cannot be told for 1 standstill. 1 standstill was not recorded to its end."},
		{"two open", []analyze.Result{{Summary: analyze.Summary{Opportunities: 3, Stops: 1}, Standstills: []analyze.Standstill{
			{Opportunity: true, Open: true}, {Opportunity: true, Open: true, Stopped: true}, {Opportunity: true, Open: true, Reason: "coolant cold"}}}},
			"The engine was stopped in 1 of 3 standstills. 2 standstills were not recorded to their ends."},
		{"two logs, one of them without engine speed", []analyze.Result{
			{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, EngineSpeedSeen: true}, {}},
			"The engine was stopped in 2 of 2 standstills."},
		{"silent modules, one of them without a name", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 3, Stops: 3}, Episodes: []analyze.Episode{{N: 1}, {N: 2}, {N: 3}},
			Silences: []analyze.Silence{{ID: "0x99", Module: "between the stops"}, {ID: "0x3A0", Module: "body unit", Episode: 1},
				{ID: "0x4E0", Episode: 1}, {ID: "0x3A0", Module: "body unit", Episode: 3}}}},
			"Body unit and 0x4E0 dropped off the bus in 2 of 3 episodes (episodes 1 and 3). The engine was stopped in 3 of 3 standstills."},
		{"six silent modules", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{{N: 1}},
			Silences: []analyze.Silence{{ID: "1", Episode: 1}, {ID: "2", Episode: 1}, {ID: "3", Episode: 1}, {ID: "4", Episode: 1}, {ID: "5", Episode: 1}, {ID: "6", Episode: 1}}}},
			"1, 2, 3, 4 and 2 more dropped off the bus in 1 of 1 episode. The engine was stopped in 1 of 1 standstill."},
		{"findings of one kind count as the line that they are", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Findings: []analyze.Finding{
				{Code: "a", Severity: analyze.Attention, About: analyze.Gap{End: 7e8}}, {Code: "a", Severity: analyze.Attention, About: analyze.Gap{End: 8e8}},
				{Code: "b", Severity: analyze.Attention, About: analyze.UnaskedRestart{}}, {Code: "c", Severity: analyze.Note, About: analyze.UnaskedRestart{}}}}},
			"The engine was stopped in 1 of 1 standstill. 2 findings need attention below."},
		{"nothing, and no road speed", []analyze.Result{{}},
			"The engine was never stopped. No signal has the role vehicle_speed, so nothing can be said of standstills."},
	} {
		r := &words.Report{Map: sample.Map()}
		if strings.HasSuffix(c.name, "no road speed") {
			r.Map.Role[decode.VehicleSpeed] = -1
		}
		for i := range c.logs {
			if !strings.Contains(c.name, "without engine speed") {
				c.logs[i].EngineSpeedSeen = true
			}
			r.Logs = append(r.Logs, words.Log{Name: "log " + strconv.Itoa(i+1), Result: &c.logs[i]})
		}
		if got := r.Answer(); got != c.want {
			t.Errorf("%s: %q, but it says %q", c.name, c.want, got)
		}
	}
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
