package words_test

import (
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

// Every sentence that a finding may be.
func TestEveryFindingIsASentence(t *testing.T) {
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
	const onWhichSide = "episode 1: restart latency 0.372 s (0.360 to 0.380) is too close to the limit of at most 0.375 s to call: "
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
	const check = "check its start, length, order and factor against where they come from"
	disagrees := analyze.CounterDisagrees{From: 7, To: 10, Step: 3, Seen: 2, Gaps: 1, GapsLength: 2e9}
	between := analyze.CounterBetween{Last: "a", Next: "b", From: 13, To: 17, Step: 4, Seen: 1}

	const episode, standstill = "episode 1", "standstill 1"
	var types []string
	for _, c := range []struct {
		code, where string
		about       analyze.About
		want        string
	}{
		{"pressure_lost", episode, analyze.BrokenLimits{judged(exactly("hold_pressure_min", "kPa", 200), least(300))},
			"episode 1: the hydraulic pressure fell to 200 kPa while the engine rested; at least 300 kPa is wanted"},
		{"limit_broken", episode, analyze.BrokenLimits{judged(exactly("voltage_min", "V", 8), least(8.5))}, "episode 1: lowest voltage 8 V (at least 8.5 V is wanted)"},
		{"limit_broken", episode, late, "episode 1: restart latency 5.727 s (5.720 to 5.740; at most 0.6 s is wanted) and take-off delay 8.130 s (8.120 to 8.140; at most 1.2 s is wanted)"},
		{"limit_broken", episode, analyze.BrokenLimits{judged(exactly("voltage_before", "V", 16), decode.Limit{HasMin: true, Min: 11, HasMax: true, Max: 15})},
			"episode 1: voltage before the start 16 V (11 to 15 V is wanted)"},
		{"limit_borderline", episode, straddled(analyze.ByPeriod, decode.NoRole, 0.0041667), onWhichSide + "it needs samples at least every 4 ms to be decided, if the likeliest value is right"},
		{"limit_borderline", episode, straddled(analyze.ByNothing, decode.NoRole, 0), onWhichSide + "it lies too near for any sampling of a bus to decide"},
		{"limit_borderline", episode, straddled(analyze.ByMore, decode.NoRole, 3), onWhichSide + "it needs samples about 3 times as often to be decided, if the likeliest value is right"},
		{"limit_borderline", episode, straddled(analyze.ByError, decode.NoRole, 0.003), onWhichSide + "a standard error below 0.003 s would decide it if 0.372 s is right"},
		{"limit_borderline", episode, straddled(analyze.ByCommand, decode.EngineSpeed, 0),
			onWhichSide + "no sampling narrows an onset that is read off the engine speed; the car's own command on the bus and in the map would"},
		{"failed_start", episode, analyze.FailedStart{Tries: 2}, "episode 1: the engine started only at the second attempt"},
		{"failed_start", episode, analyze.FailedStart{Tries: 2, Late: late},
			"episode 1: the engine started only at the second attempt; restart latency 5.727 s (5.720 to 5.740; at most 0.6 s is wanted) and take-off delay 8.130 s (8.120 to 8.140; at most 1.2 s is wanted)"},
		{"failed_start", episode, analyze.FailedStart{Ended: analyze.NoStart}, "episode 1: the engine did not start: the starter was never seen to engage"},
		{"failed_start", episode, analyze.FailedStart{Tries: 1, Ended: analyze.NoStart}, "episode 1: one attempt; the engine did not start"},
		{"failed_start", episode, analyze.FailedStart{Tries: 2, Ended: analyze.NoStart}, "episode 1: 2 attempts; the engine did not start"},
		{"failed_start", episode, analyze.FailedStart{Tries: 2, Ended: analyze.IgnitionOff}, "episode 1: the engine had to be cranked again, and the ignition was switched off before the engine ran again"},
		{"failed_start", "start 2", analyze.RetriedStart{At: 8.095e9}, "start 2 at 8.1 s: the engine had to be cranked again"},
		{"stalled", episode, analyze.FailedStart{}, "episode 1: the engine stalled: it came to rest without a stop command"},
		{"stalled", episode, analyze.FailedStart{Tries: 2}, "episode 1: the engine stalled: it came to rest without a stop command, and started again only at the second attempt"},
		{"no_restart_request", episode, analyze.UnaskedRestart{}, "episode 1: no request of the map explains this restart"},
		{"cannot_tell", episode, analyze.UndecidedRestart{}, "episode 1: cannot tell what asked for the restart: the decision to restart was not seen"},
		{"cannot_tell", episode, analyze.DoubtedRequests{Conditions: []string{"brake"}, Why: analyze.NotSeen{Signals: []string{"brake"}}},
			`episode 1: cannot tell whether "brake" asked for the restart, and no other request explains it: brake was not seen for too long`},
		{"cannot_tell", episode, analyze.DoubtedRequests{Conditions: []string{"brake"}, Why: analyze.NotSeen{Gap: 250e6}},
			`episode 1: cannot tell whether "brake" asked for the restart, and no other request explains it: the recording has a gap of 250 ms in this episode`},
		{"cannot_tell", standstill, analyze.DoubtedInhibits{Conditions: []string{"cold", "cabin"}, Why: analyze.NotSeen{Signals: []string{"coolant", "ac"}, Never: true}},
			`standstill 1: cannot tell whether "cold" or "cabin" kept the engine running: coolant, ac were never seen`},
		{"cannot_tell", standstill, analyze.DoubtedInhibits{Conditions: []string{"code"}}, `standstill 1: cannot tell whether "code" kept the engine running: it was not seen`},
		{"cannot_tell", standstill, analyze.HiddenStop{Length: 1.5e9}, "standstill 1: cannot tell whether the engine was stopped: it was not seen for 1.50 s of this standstill"},
		{"cannot_tell", "", analyze.HiddenStart{At: 2.608e9}, "the engine came to run at 2.6 s while starter_command was not seen: a starter operation may be missing from the count"},
		{"module_silent", episode, silent("", body), "episode 1: body unit (0x111) on can0 was silent for 0.48 s from 20.14 s on; a log cannot tell the cause"},
		{"module_silent", episode, silent(analyze.Before, body), "episode 1: body unit (0x111) on can0 was silent for 0.48 s from 20.14 s on, before the battery voltage fell to 7 V; a log cannot tell the cause"},
		{"module_silent", episode, silent(analyze.During, other, body),
			"episode 1: 0x110 on can1 was silent for 0.54 s from 20.18 s on and body unit (0x111) on can0 for 0.48 s from 20.14 s on, while the battery voltage fell to 7 V; a log cannot tell whether that was the cause"},
		{"module_silent", episode, silent(analyze.After, other), "episode 1: 0x110 on can1 was silent for 0.54 s from 20.18 s on; the battery voltage had fallen to 7 V before; a log cannot tell the cause"},
		{"module_silent", episode, silent("", other, other, other, other, other, other), "episode 1: 0x110 on can1 was silent for 0.54 s from 20.18 s on" +
			strings.Repeat(", 0x110 on can1 for 0.54 s from 20.18 s on", 3) + " and 2 further identifiers; a log cannot tell the cause"},
		{"unexplained_standstill", standstill, analyze.UnexplainedStandstill{Start: 1.95e9, Length: 6.3e9, KeyOff: true, NoInhibits: true},
			"standstill 1 (6.3 s from 1.9 s on, until the ignition was switched off): the engine was not stopped, and the map names no inhibits that could explain it"},
		{"unexplained_standstill", standstill, analyze.UnexplainedStandstill{Start: 5.975e9, Length: 10.05e9, Covered: 0.2, SilentCode: "code", Measured: []analyze.HeldAgainst{
			{Condition: "cold", Against: "below 40", Signal: "coolant", Unit: "degC", Value: analyze.Reading{Value: 80, Seen: true}},
			{Condition: "cabin", Against: "is on", Signal: "ac", Value: analyze.Reading{Seen: true}, Label: "off"},
			{Condition: "weak", Against: "below 9", Signal: "charge", Value: analyze.Reading{Value: 12.5, Seen: true}},
			{Condition: "wheel", Against: "moves 15", Signal: "steer", Unit: "deg"},
		}}, "standstill 1 (10.1 s from 6.0 s on): the engine was not stopped, and no reason was found; measured: coolant 80 degC (cold: below 40), ac off (cabin: is on), " +
			"charge 12.5 (weak: below 9), steer not seen (wheel: moves 15); inhibits explain only 20 % of it; the car's own code (code) named nothing"},
		{"implausible_signal", "x", implausible(decode.EngineSpeed, 10420, analyze.Slip{Factors: []float64{0.25, 0.125, 2}}),
			"x cannot be the engine speed that the map says: it reads 10420 rpm, which no engine reaches; with a factor divided by 4 or 8 or times 2 it could be one, so that may be the mistake"},
		{"implausible_signal", "x", implausible(decode.VehicleSpeed, 652.89, analyze.Slip{Order: "big", HasStart: true, Start: 7, High: 34.86}),
			"x cannot be the vehicle speed that the map says: it reads 652.89 km/h, which no car reaches; with order: big and start: 7 it would read 0 km/h to 34.86 km/h, so that may be the mistake"},
		{"implausible_signal", "x", implausible(decode.BatteryVoltage, 141.49, analyze.Slip{Factors: []float64{0.1}, Low: 9.554, High: 14.149}),
			"x cannot be the battery voltage that the map says: it reads 141.49 V, which a system of 12 V does not have; with a factor divided by 10 it would read 9.554 V to 14.149 V, so that may be the mistake"},
		{"implausible_signal", "x", analyze.ImplausibleSignal{Signal: "x", Role: decode.BatteryVoltage, Reads: 12.6, Throughout: true},
			"x cannot be the battery voltage that the map says: it reads 12.6 V throughout, although the engine both ran and rested; " + check},
		{"implausible_signal", "x", analyze.ImplausibleCommand{Signal: "x", RanWhileOn: 108e9, RestedOff: 27e9},
			"x cannot be the stop command that the map says: with the key on the engine ran for 108 s while it was on and rested for 27 s while it was off; check its start bit and its active values"},
		{"counter_reset", "", analyze.CounterFell{From: 201, Time: 25e9}, "the starter-operation counter fell from 201 to 0 at 25.0 s: starter or module was replaced or reset"},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 8, Step: 1, Seen: 2}, "the starter-operation counter stepped by 1 from 7 to 8, but 2 operations were seen in all"},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 7, Seen: 1}, "the starter-operation counter stood still at 7, but 1 operation was seen in all"},
		{"counter_disagrees", "", disagrees,
			"the starter-operation counter stepped by 3 from 7 to 10, but 2 operations were seen in all; starts may be hidden in 1 gap of the recording, 2.00 s in all"},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 10, Step: 3, Seen: 2, Pauses: 2, Lines: 1},
			"the starter-operation counter stepped by 3 from 7 to 10, but 2 operations were seen in all; starts may be hidden in 2 times in which starter_command was not seen and 1 line that could not be read"},
		{"counter_disagrees", "", analyze.CounterDisagrees{From: 7, To: 10, Step: 3, Seen: 2, Silences: 1},
			"the starter-operation counter stepped by 3 from 7 to 10, but 2 operations were seen in all; starts may be hidden in 1 silence of modules"},
		{"dip_undersampled", episode, analyze.SeldomVoltage{Period: 25e6}, "the battery voltage comes only every 25 ms: the true minimum may be lower than voltage_min says"},
		{"log_damaged", "", analyze.LinesLost(1), "1 line of the log could not be read and was left out"},
		{"log_damaged", "", analyze.LinesLost(2), "2 lines of the log could not be read and were left out"},
		{"log_damaged", "", analyze.Remarked{Text: "unpacking ended early"}, "unpacking ended early"},
		{"gap", "", analyze.Gap{Start: 13e9, End: 19e9}, "the recording has a gap of 6.00 s at 13.00 s"},
		{"gap", "", analyze.FurtherGaps(4), "4 further gaps"},
		{"operations_unrecorded", "", between, "between a and b the starter-operation counter went from 13 to 17, which is 3 more than was recorded"},
		{"counter_disagrees", "", between, "between a and b the starter-operation counter went from 13 to 17, but 1 operation was seen in that time"},
		{"counter_reset", "", between, "between a and b the starter-operation counter fell from 13 to 17: starter or module was replaced or reset; " +
			"a module that was not given the old count hides at least 13 operations of a starter that stayed"},
		{"counter_disagrees", "a", analyze.OfLog{Log: "a", Finding: analyze.Finding{About: analyze.LinesLost(1)}}, "a: 1 line of the log could not be read and was left out"},
		{"log_twice", "", analyze.AmongLogs{Logs: []string{"copy"}, Others: []string{"a"}}, "copy is the same drive as a: it is counted once"},
		{"order_by_start", "", analyze.AmongLogs{Logs: []string{"a", "b"}}, "the logs are taken in the order of their starts, not as they were given: a, b"},
		{"start_unknown", "", analyze.AmongLogs{Logs: []string{"u"}}, "when u began is not known, as time stamps without a date do not tell; it stays at the place given among the logs"},
		{"start_unknown", "", analyze.AmongLogs{Logs: []string{"a", "b"}}, "when a, b began is not known, as time stamps without a date do not tell; they stay at the place given among the logs"},
		{"zone_unknown", "", analyze.AmongLogs{Logs: []string{"b"}, Others: []string{"a", "c"}}, "the stamps of b carry no zone and are taken as UTC, as those of a, c are: if that is wrong, so may be the order"},
		{"logs_overlap", "", analyze.AmongLogs{Logs: []string{"a", "b"}, Overlap: 50e9}, "a and b overlap by 50.0 s: one drive in two files, two vehicles or a wrong clock; operations may be counted twice"},
		{"counter_not_seen", "", analyze.AmongLogs{Logs: []string{"c"}, Others: []string{"a"}, Seen: 2}, "the last reading is of a; 2 operations were seen after it in the logs without a reading"},
	} {
		if got := words.FindingText(&analyze.Finding{Code: c.code, Evidence: []string{c.where}, About: c.about}); got != c.want {
			t.Errorf("%s %+v:\n%s\nwant\n%s", c.code, c.about, got, c.want)
		}
		types = append(types, typeName(c.about))
	}
	none(t, missing(typesWith(t, "../../../../analyze", "Names"), types))
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
