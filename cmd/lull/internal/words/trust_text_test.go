package words_test

import (
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func TestEveryDoubtSaysWhatToDo(t *testing.T) {
	look := "look at its start, length, order and factor"
	var types []string
	for _, c := range []struct {
		code  string
		cause analyze.Cause
		want  string
	}{
		{analyze.DoubtBeyond, analyze.ImplausibleSignal{Signal: "rpm", Role: decode.EngineSpeed, Reads: 10420, Slip: analyze.Slip{Factors: []float64{0.25, 0.1}}},
			"rpm reads up to 10420 rpm, which no engine reaches: look at its factor; divided by 4 or 10 it would fit"},
		{analyze.DoubtBeyond, analyze.ImplausibleSignal{Signal: "volt", Role: decode.BatteryVoltage, Reads: 141.49, SystemVoltage: 12}, "volt reads up to 141.49 V, which a system of 12 V does not have: " + look},
		{analyze.DoubtBeyond, analyze.ImplausibleSignal{Signal: "kmh", Role: decode.VehicleSpeed, Reads: 652.89, Slip: analyze.Slip{Order: "big", HasStart: true, Start: 7, High: 34.86}},
			"kmh reads up to 652.89 km/h, which no car reaches: try order: big and start: 7 (it would then read 0 to 34.86 km/h)"},
		{analyze.DoubtStuck, analyze.ImplausibleSignal{Signal: "volt", Role: decode.BatteryVoltage, Reads: 12.6, Throughout: true}, "volt reads 12.6 V all the time, although the engine both ran and rested: " + look},
		{analyze.DoubtAgainst, analyze.ImplausibleCommand{Signal: "stop", RanWhileOn: 108e9, RestedOff: 27e9}, "stop was on for 108 s while the engine ran and off for 27 s while it rested: look at its bit and its active values"},
		{analyze.DoubtJumps, analyze.JumpingSignal{Signal: "rpm", Role: decode.EngineSpeed, From: 800, To: 4100, Jumps: 90, Changes: 200}, "rpm jumps as no engine does, from 800 rpm to 4100 rpm in one step: " + look},
		{analyze.DoubtJumps, analyze.JumpingSignal{Signal: "kmh", Role: decode.VehicleSpeed, From: 10, To: 90, Jumps: 90, Changes: 200}, "kmh jumps as no vehicle does, from 10 km/h to 90 km/h in one step: " + look},
		{analyze.DoubtStuck, analyze.StillEngine{Signal: "rpm", High: 104.2, Km: 0.42}, "the vehicle went 0.4 km and rpm never read more than 104.2 rpm, so it is mapped wrongly: " + look},
		{analyze.DoubtStuck, analyze.StillEngine{Signal: "rpm", Low: 819, High: 819, Km: 3.21}, "the vehicle went 3.2 km and rpm read 819 rpm all the time, so it is mapped wrongly: " + look},
		{analyze.DoubtEngineOff, analyze.EngineOff{Signal: "rpm"}, "the engine was off all the time, or rpm is mapped wrongly: record again with the engine running, and see with `lull samples` whether it then reads 600 to 1000 rpm"},
		{analyze.DoubtIdleSpeed, analyze.OddIdle{Signal: "rpm", Idle: 1518}, "rpm reads 1518 rpm while the vehicle stands, faster than a warm engine idles: look at its factor, start and length"},
		{analyze.DoubtIdleSpeed, analyze.OddIdle{Signal: "rpm", Idle: 380}, "rpm reads 380 rpm while the vehicle stands, slower than an engine idles: look at its factor, start and length"},
		{analyze.DoubtNeverOn, analyze.SilentCommand{Signal: "stop", Role: decode.StopCommand, Times: 5}, "the engine stopped 5 times and stop never came on: look at its bit"},
		{analyze.DoubtNeverOn, analyze.SilentCommand{Signal: "relay", Role: decode.StarterCommand, Times: 2}, "the engine was started twice and relay never came on: look at its bit, unless this car starts without it"},
		{analyze.DoubtNeverSeen, analyze.UnseenSignal{Signal: "kmh", Role: decode.VehicleSpeed, Frame: "0x0D2"}, "no standstill can be judged, as kmh was not in the log: its frame 0x0D2 never came"},
		{analyze.DoubtNeverSeen, analyze.UnseenSignal{Signal: "rpm", Role: decode.EngineSpeed, Frame: "0x1A0", Frames: true}, "rpm was not in the log: its frame 0x1A0 came without a valid value"},
		{analyze.DoubtBeyondFrame, analyze.ShortFrame{Signal: "wheel", Frame: "0x0D6", Needs: 9, Bytes: 4}, "wheel reaches past the end of its frame 0x0D6, which has 4 bytes where it would need 9: look at its start and length"},
		{analyze.DoubtIgnition, analyze.DeadIgnition{Signal: "key", Ran: 111e9}, "the engine ran for 111 s while key was off: look at its bit and its active values"},
		{analyze.DoubtLinesLost, analyze.LostShare{Lost: 40, Of: 100}, "40 % of the log's lines could not be read"},
		{analyze.DoubtRecordingGap, analyze.LostShare{Lost: 30, Of: 100}, "nothing was recorded for 30 % of the time"},
	} {
		if got := words.DoubtText(&analyze.Doubt{Code: c.code, Cause: c.cause}); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.code, got, c.want)
		}
		types = append(types, typeName(c.cause))
	}
	none(t, missing(typesWith(t, "../../../../analyze", "cause"), types))
}

// What cannot be believed is said first, once, and of which logs; nothing else is said of
// logs that cannot be used.
func TestTheAnswerBeginsWithWhatCannotBeBelieved(t *testing.T) {
	stuck := analyze.Doubt{Code: analyze.DoubtStuck, Grave: true, Signal: "rpm", Cause: analyze.StillEngine{Signal: "rpm", High: 104, Km: 1}}
	unseen := analyze.Doubt{Code: analyze.DoubtNeverSeen, Signal: "kmh", Cause: analyze.UnseenSignal{Signal: "kmh", Role: decode.VehicleSpeed, Frame: "0x0D2"}}
	result := func(credence analyze.Credence, doubts ...analyze.Doubt) *analyze.Result {
		return &analyze.Result{EngineSpeedSeen: true, Trust: analyze.Trust{Credence: credence, Doubts: doubts}, Summary: analyze.Summary{Opportunities: 2, Stops: 1}}
	}
	unusable, doubtful, sound := result(analyze.Unusable, stuck, unseen), result(analyze.Doubtful, unseen), result(analyze.Sound)
	why := "the vehicle went 1.0 km and rpm never read more than 104 rpm, so it is mapped wrongly: look at its start, length, order and factor"
	for _, c := range []struct {
		name    string
		results []*analyze.Result
		want    string
		trust   analyze.Credence
	}{
		{"one that cannot be used", []*analyze.Result{unusable}, "Do not use these figures: " + why + ".", analyze.Unusable},
		{"two that cannot be used, for one reason", []*analyze.Result{unusable, unusable}, "Do not use these figures: " + why + ".", analyze.Unusable},
		{"one of three that cannot be used", []*analyze.Result{sound, unusable, sound},
			"1 of 3 logs cannot be used and is left out of what follows: " + why + " (log 2). The engine was stopped in 2 of 4 standstills over 2 logs.", analyze.Doubtful},
		{"one to be taken with care", []*analyze.Result{doubtful},
			"Take care: no standstill can be judged, as kmh was not in the log: its frame 0x0D2 never came. The engine was stopped in 1 of 2 standstills.", analyze.Doubtful},
		{"all of them sound", []*analyze.Result{sound, sound}, "The engine was stopped in 2 of 4 standstills over 2 logs.", analyze.Sound},
	} {
		r := &words.Report{Map: sample.Map()}
		for i, res := range c.results {
			r.Logs = append(r.Logs, words.Log{Name: []string{"log 1", "log 2", "log 3"}[i], Result: res})
		}
		if got := r.Answer(); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, got, c.want)
		}
		if got := r.Credence(); got != c.trust {
			t.Errorf("%s: %s, want %s", c.name, got, c.trust)
		}
	}
}
