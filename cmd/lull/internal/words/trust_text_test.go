package words_test

import (
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// doubtSentences are all that say why a result is doubted, and what to do about it.
func doubtSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	var types, codes []string
	for _, c := range []struct {
		code  string
		cause analyze.Cause
	}{
		{analyze.DoubtBeyond, analyze.ImplausibleSignal{Signal: "rpm", Role: decode.EngineSpeed, Reads: 10420, Slip: analyze.Slip{Factors: []float64{0.25, 0.1}}}},
		{analyze.DoubtBeyond, analyze.ImplausibleSignal{Signal: "volt", Role: decode.BatteryVoltage, Reads: 141.49, SystemVoltage: 12}},
		{analyze.DoubtBeyond, analyze.ImplausibleSignal{Signal: "kmh", Role: decode.VehicleSpeed, Reads: 652.89, Slip: analyze.Slip{Order: "big", HasStart: true, Start: 7, High: 34.86}}},
		{analyze.DoubtStuck, analyze.ImplausibleSignal{Signal: "volt", Role: decode.BatteryVoltage, Reads: 12.6, Throughout: true}},
		{analyze.DoubtAgainst, analyze.ImplausibleCommand{Signal: "stop", RanWhileOn: 108e9, RestedOff: 27e9}},
		{analyze.DoubtJumps, analyze.JumpingSignal{Signal: "rpm", Role: decode.EngineSpeed, From: 800, To: 4100, Jumps: 90, Changes: 200}},
		{analyze.DoubtJumps, analyze.JumpingSignal{Signal: "kmh", Role: decode.VehicleSpeed, From: 10, To: 90, Jumps: 90, Changes: 200}},
		{analyze.DoubtStuck, analyze.StillEngine{Signal: "rpm", High: 104.2, Km: 0.42}},
		{analyze.DoubtStuck, analyze.StillEngine{Signal: "rpm", Low: 819, High: 819, Km: 3.21}},
		{analyze.DoubtEngineOff, analyze.EngineOff{Signal: "rpm"}},
		{analyze.DoubtIdleSpeed, analyze.OddIdle{Signal: "rpm", Idle: 1518}},
		{analyze.DoubtIdleSpeed, analyze.OddIdle{Signal: "rpm", Idle: 380}},
		{analyze.DoubtNeverOn, analyze.SilentCommand{Signal: "stop", Role: decode.StopCommand, Times: 5}},
		{analyze.DoubtNeverOn, analyze.SilentCommand{Signal: "relay", Role: decode.StarterCommand, Times: 2}},
		{analyze.DoubtNeverSeen, analyze.UnseenSignal{Signal: "kmh", Role: decode.VehicleSpeed, Frame: "0x0D2"}},
		{analyze.DoubtNeverSeen, analyze.UnseenSignal{Signal: "rpm", Role: decode.EngineSpeed, Frame: "0x1A0", Frames: true}},
		{analyze.DoubtBeyondFrame, analyze.ShortFrame{Signal: "wheel", Frame: "0x0D6", Needs: 9, Bytes: 4}},
		{analyze.DoubtIgnition, analyze.DeadIgnition{Signal: "key", Ran: 111e9}},
		{analyze.DoubtLinesLost, analyze.LostShare{Lost: 40, Of: 100}},
		{analyze.DoubtRecordingGap, analyze.LostShare{Lost: 30, Of: 100}},
	} {
		list = append(list, said{c.code, words.DoubtText(&analyze.Doubt{Code: c.code, Cause: c.cause})})
		types, codes = append(types, typeName(c.cause)), append(codes, c.code)
	}
	none(t, missing(typesWith(t, "../../../../analyze", "cause"), types))
	none(t, missing(constantsNamed(t, "../../../../analyze", "Doubt"), codes))
	return list
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
