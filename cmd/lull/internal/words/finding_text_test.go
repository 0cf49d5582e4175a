package words_test

import (
	"slices"
	"strings"
	"testing"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
)

// findingSentences are all that a finding may be, with its name.
func findingSentences(t *testing.T) []said {
	t.Helper()
	judged := func(v analyze.MetricValue, limit decode.Limit) analyze.Judged {
		limit.Metric = v.Key
		return analyze.Judged{Value: v, Limit: limit}
	}
	most := func(v float64) decode.Limit { return decode.Limit{HasMax: true, Max: v} }
	least := func(v float64) decode.Limit { return decode.Limit{HasMin: true, Min: v} }
	exactly := func(key, unit string, v float64) analyze.MetricValue { return sample.Valued(key, unit, v, v, v) }
	late := analyze.BrokenLimits{
		judged(sample.Valued("restart_latency", "s", 5.72, 5.727, 5.74), most(0.6)),
		judged(sample.Valued("take_off_delay", "s", 8.12, 8.13, 8.14), most(1.2)),
	}
	straddled := func(by analyze.Decider, role decode.Role, figure float64) analyze.StraddledLimit {
		return analyze.StraddledLimit{Judged: judged(sample.Valued("restart_latency", "s", 0.36, 0.372, 0.38), most(0.375)), By: by, Role: role, Least: figure}
	}
	body := analyze.Silence{ID: "0x111", Bus: "can0", Module: "body unit", Start: 20.14e9, Duration: 0.48e9}
	other := analyze.Silence{ID: "0x110", Bus: "can1", Start: 20.18e9, Duration: 0.54e9}
	silent := func(when analyze.Order, silences ...analyze.Silence) analyze.SilentModules {
		m := analyze.SilentModules{Silences: silences, When: when}
		if when != "" {
			m.Dip = exactly("voltage_min", "V", 7)
		}
		return m
	}
	implausible := func(role decode.Role, reads float64, slip analyze.Slip) analyze.ImplausibleSignal {
		return analyze.ImplausibleSignal{Signal: "x", Role: role, Reads: reads, SystemVoltage: 12, Slip: slip}
	}
	disagrees := analyze.CounterDisagrees{From: 7, To: 10, Step: 3, Seen: 2, Gaps: 1, GapsLength: 2e9}
	between := analyze.CounterBetween{Last: "a", Next: "b", From: 13, To: 17, Step: 4, Seen: 1}

	const episode, standstill = "episode 1", "standstill 1"
	var list []said
	var types, codes []string
	for _, c := range []struct {
		code, where string
		about       analyze.About
	}{
		{"pressure_lost", episode, analyze.BrokenLimits{judged(exactly("hold_pressure_min", "kPa", 200), least(300))}},
		{"limit_broken", episode, analyze.BrokenLimits{judged(exactly("voltage_min", "V", 8), least(8.5))}},
		{"limit_broken", episode, late},
		{"limit_broken", episode, analyze.BrokenLimits{judged(exactly("voltage_before", "V", 16), decode.Limit{HasMin: true, Min: 11, HasMax: true, Max: 15})}},
		{"limit_borderline", episode, straddled(analyze.ByPeriod, decode.NoRole, 0.0041667)},
		{"limit_borderline", episode, straddled(analyze.ByNothing, decode.NoRole, 0)},
		{"limit_borderline", episode, straddled(analyze.ByMore, decode.NoRole, 3)},
		{"limit_borderline", episode, straddled(analyze.ByError, decode.NoRole, 0.003)},
		{"limit_borderline", episode, straddled(analyze.ByCommand, decode.EngineSpeed, 0)},
		{"failed_start", episode, analyze.FailedStart{Tries: 2}},
		{"failed_start", episode, analyze.FailedStart{Tries: 2, Late: late}},
		{"failed_start", episode, analyze.FailedStart{Ended: analyze.NoStart}},
		{"failed_start", episode, analyze.FailedStart{Tries: 1, Ended: analyze.NoStart}},
		{"failed_start", episode, analyze.FailedStart{Tries: 2, Ended: analyze.NoStart}},
		{"failed_start", episode, analyze.FailedStart{Tries: 2, Ended: analyze.IgnitionOff}},
		{"failed_start", "start 2", analyze.RetriedStart{At: 8.095e9}},
		{"stalled", episode, analyze.FailedStart{}},
		{"stalled", episode, analyze.FailedStart{Tries: 2}},
		{"no_restart_request", episode, analyze.UnaskedRestart{}},
		{"cannot_tell", episode, analyze.UndecidedRestart{}},
		{"cannot_tell", episode, analyze.DoubtedRequests{Conditions: []string{"brake"}, Why: analyze.NotSeen{Signals: []string{"brake"}}}},
		{"cannot_tell", episode, analyze.DoubtedRequests{Conditions: []string{"brake"}, Why: analyze.NotSeen{Gap: 250e6}}},
		{"cannot_tell", standstill, analyze.DoubtedInhibits{Start: 53.58e9, Conditions: []string{"cold", "cabin"}, Why: analyze.NotSeen{Signals: []string{"coolant", "ac"}, Never: true}}},
		{"cannot_tell", standstill, analyze.DoubtedInhibits{Start: 53.58e9, Conditions: []string{"code"}}},
		{"cannot_tell", standstill, analyze.HiddenStop{Start: 53.58e9, Length: 1.5e9}},
		{"cannot_tell", "", analyze.HiddenStart{At: 2.608e9}},
		{"module_silent", episode, silent("", body)},
		{"module_silent", episode, silent(analyze.Before, body)},
		{"module_silent", episode, silent(analyze.During, other, body)},
		{"module_silent", episode, silent(analyze.After, other)},
		{"module_silent", episode, silent("", other, other, other, other, other, other)},
		{"unexplained_standstill", standstill, analyze.UnexplainedStandstill{Start: 1.95e9, Length: 6.3e9, KeyOff: true, NoInhibits: true}},
		{"unexplained_standstill", standstill, analyze.UnexplainedStandstill{Start: 5.975e9, Length: 10.05e9, Covered: 0.2, SilentCode: "code", Measured: []analyze.HeldAgainst{
			{Condition: "cold", Against: "below 40", Signal: "coolant", Unit: "degC", Value: analyze.Reading{Value: 80, Seen: true}},
			{Condition: "cabin", Against: "is on", Signal: "ac", Value: analyze.Reading{Seen: true}, Label: "off"},
			{Condition: "weak", Against: "below 9", Signal: "charge", Value: analyze.Reading{Value: 12.5, Seen: true}},
			{Condition: "wheel", Against: "moves 15", Signal: "steer", Unit: "deg"},
		}}},
		{"implausible_signal", "x", implausible(decode.EngineSpeed, 10420, analyze.Slip{Factors: []float64{0.25, 0.125, 2}})},
		{"implausible_signal", "x", implausible(decode.VehicleSpeed, 652.89, analyze.Slip{Order: "big", HasStart: true, Start: 7, High: 34.86})},
		{"implausible_signal", "x", implausible(decode.BatteryVoltage, 141.49, analyze.Slip{Factors: []float64{0.1}, Low: 9.554, High: 14.149})},
		{"implausible_signal", "x", analyze.ImplausibleSignal{Signal: "x", Role: decode.BatteryVoltage, Reads: 12.6, Throughout: true}},
		{"implausible_signal", "x", analyze.ImplausibleCommand{Signal: "x", RanWhileOn: 108e9, RestedOff: 27e9}},
		{"counter_reset", "", analyze.CounterFell{From: 201, Time: 25e9}},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 8, Step: 1, Seen: 2}},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 7, Seen: 1}},
		{"counter_disagrees", "", disagrees},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 10, Step: 3, Seen: 2, Pauses: 2, Lines: 1}},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 10, Step: 3, Seen: 2, Silences: 1}},
		{"dip_undersampled", episode, analyze.SeldomVoltage{Period: 25e6}},
		{"log_damaged", "", analyze.LinesLost(1)},
		{"log_damaged", "", analyze.LinesLost(2)},
		{"log_damaged", "", analyze.Remarked{Text: "unpacking ended early"}},
		{"gap", "", analyze.Gap{Start: 13e9, End: 19e9}},
		{"gap", "", analyze.FurtherGaps(4)},
		{"operations_unrecorded", "", between},
		{"counter_disagrees", "", between},
		{"counter_reset", "", between},
		{"counter_disagrees", "a", analyze.OfLog{Log: "a", Finding: analyze.Finding{Code: analyze.CodeLogDamaged, About: analyze.LinesLost(1)}}},
		{"log_twice", "", analyze.AmongLogs{Logs: []string{"copy"}, Others: []string{"a"}}},
		{"order_by_start", "", analyze.AmongLogs{Logs: []string{"a", "b"}}},
		{"start_unknown", "", analyze.AmongLogs{Logs: []string{"u"}}},
		{"start_unknown", "", analyze.AmongLogs{Logs: []string{"a", "b"}}},
		{"zone_unknown", "", analyze.AmongLogs{Logs: []string{"b"}, Others: []string{"a", "c"}}},
		{"logs_overlap", "", analyze.AmongLogs{Logs: []string{"a", "b"}, Overlap: 50e9}},
		{"counter_not_seen", "", analyze.AmongLogs{Logs: []string{"c"}, Others: []string{"a"}, Seen: 2}},
	} {
		f := analyze.Finding{Code: c.code, Evidence: []string{c.where}, About: c.about}
		list = append(list, said{c.code, words.FindingText(&f)})
		if name := strings.Join(words.FindingAbout(&f), ", "); !slices.ContainsFunc(list, func(s said) bool { return s.text == name }) {
			list = append(list, said{"  in the answer", name})
		}
		types, codes = append(types, typeName(c.about)), append(codes, c.code)
	}
	none(t, missing(typesWith(t, "../../../../analyze", "Names"), types))
	none(t, missing(constantsNamed(t, "../../../../analyze", "Code"), codes))
	return list
}

// No kind of finding is forgotten: of one that has no sentence the code alone would be said.
func TestTheFindingsOfTheDemonstrationHaveSentences(t *testing.T) {
	n := 0
	for _, d := range scenario.Drives() {
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		run := onelog.NewRun(m)
		d.Play(func(f *decode.Frame) { run.Push(f) })
		for _, f := range run.Finish(decode.Info{Accepted: 1}).Findings {
			n++
			if text := words.FindingText(&f); text == words.Spoken(f.Code) || strings.Contains(text, "%!") {
				t.Errorf("%s: %q of %+v", d.Name, text, f)
			}
		}
	}
	if n < 30 {
		t.Errorf("%d findings", n)
	}
}
