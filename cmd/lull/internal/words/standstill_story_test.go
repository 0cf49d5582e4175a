package words_test

import (
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// standstillSentences are the stories of standstills, in order of time, with what was
// measured and why they were as they were.
func standstillSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	const s = sample.Second
	stand := func(change func(*analyze.Standstill)) analyze.Standstill {
		v := analyze.Standstill{N: 4, Start: sample.Around(9990, 10000, 10010), End: sample.Around(19990, 20000, 20010), Until: 20 * s, Opportunity: true}
		change(&v)
		return v
	}
	coolant := func(value float64) []analyze.Measured {
		return []analyze.Measured{{Signal: 0, Value: analyze.Reading{Value: value, Seen: true}, Against: "below 40"}}
	}
	delay := sample.Valued("stop_delay", "s", 0.99, 1, 1.01)
	running := sample.Around(17990, 18000, 18010)
	rest := sample.Around(11590, 11600, 11610)
	episode := func(outcome analyze.Outcome, from decode.Role) analyze.Episode {
		e := analyze.Episode{N: 2, Outcome: outcome, Stop: analyze.Event{Instant: sample.Around(10990, 11000, 11010), From: from}}
		if outcome == analyze.Restarted {
			e.Rest, e.Running = &rest, &running
		}
		return e
	}
	keyed := sample.Around(13690, 13700, 13710)
	key := analyze.Start{Kind: analyze.KeyStart, Crank: analyze.Event{Instant: sample.Around(12990, 13000, 13010)}, Running: &keyed}
	var excluded []string
	for _, c := range []struct {
		name   string
		stand  analyze.Standstill
		result analyze.Result
	}{
		{"an inhibit for all of it",
			stand(func(v *analyze.Standstill) {
				v.Reason, v.Covered = "coolant cold", 1
				v.Inhibits = []analyze.InhibitShare{{Share: 1, Intervals: [][2]int64{{10 * s, 20 * s}}, Measured: coolant(34)}}
			}), analyze.Result{}},
		{"an inhibit and a code that come and go",
			stand(func(v *analyze.Standstill) {
				v.Reason, v.Covered = "code 7", 0.8
				v.Inhibits = []analyze.InhibitShare{{Share: 0.3, Intervals: [][2]int64{{11 * s, 12 * s}, {14 * s, 16 * s}}, Measured: coolant(39)}}
				v.Codes = []analyze.CodeShare{{Name: "code 7", Share: 0.5, Intervals: [][2]int64{{10 * s, 11 * s}, {12 * s, 13 * s}, {14 * s, 15 * s}, {17 * s, 19 * s}}}}
			}), analyze.Result{}},
		{"no reason found",
			stand(func(v *analyze.Standstill) {
				v.Unexplained, v.Covered = true, 0.1
				v.Inhibits = []analyze.InhibitShare{{State: "false", Measured: coolant(61)}, {Condition: 1, State: "mixed", Share: 0.1, Intervals: [][2]int64{{19 * s, 20 * s}}}}
			}), analyze.Result{}},
		{"the key ended it",
			stand(func(v *analyze.Standstill) {
				v.Reason, v.Covered, v.Until = "coolant cold", 1, 15*s
				v.Inhibits = []analyze.InhibitShare{{Share: 1, Intervals: [][2]int64{{10 * s, 15 * s}}}}
			}), analyze.Result{}},
		{"what cannot be told",
			stand(func(v *analyze.Standstill) {
				v.CannotTell = []string{"coolant cold"}
				v.Inhibits = []analyze.InhibitShare{{State: "unknown", Measured: []analyze.Measured{{Signal: 0, Against: "below 40"}}}}
			}), analyze.Result{}},
		{"the engine is stopped",
			stand(func(v *analyze.Standstill) {
				v.Stopped, v.Episode, v.StopDelay, v.Until = true, 2, &delay, 11*s
			}), analyze.Result{Episodes: []analyze.Episode{episode(analyze.Restarted, decode.StopCommand)}}},
		{"the engine is stopped and does not start",
			stand(func(v *analyze.Standstill) { v.Stopped, v.Episode, v.Until = true, 2, 11*s }),
			analyze.Result{Episodes: []analyze.Episode{episode(analyze.NoStart, decode.EngineSpeed)}}},
		{"the engine stalls",
			stand(func(v *analyze.Standstill) { v.Until = 11 * s }),
			analyze.Result{Episodes: []analyze.Episode{episode(analyze.Stalled, decode.EngineSpeed)}}},
		{"a stop is called off",
			stand(func(*analyze.Standstill) {}),
			analyze.Result{Episodes: []analyze.Episode{episode(analyze.Aborted, decode.StopCommand)}}},
		{"the engine was off",
			stand(func(v *analyze.Standstill) {
				v.Opportunity, v.NotCounted, v.Start = false, analyze.EngineWasOff, bounds.At(10*s)
			}), analyze.Result{Starts: []analyze.Start{key}}},
		{"the log begins in it",
			stand(func(v *analyze.Standstill) { v.Opportunity, v.NotCounted = false, analyze.EngineNotSeen }),
			analyze.Result{}},
		{"too short",
			stand(func(v *analyze.Standstill) { v.Opportunity, v.NotCounted = false, analyze.TooShort }), analyze.Result{}},
		{"the key is turned off at once",
			stand(func(v *analyze.Standstill) { v.Opportunity, v.NotCounted, v.Until = false, analyze.KeyTurnedOff, 11*s }), analyze.Result{}},
		{"the recording ends",
			stand(func(v *analyze.Standstill) { v.Open, v.End = true, bounds.At(20*s) }),
			analyze.Result{}},
		{"the recording has a gap",
			stand(func(v *analyze.Standstill) {
				v.Open, v.End, v.Opportunity, v.NotCounted = true, bounds.At(20*s), false, analyze.RecordingEnded
			}), analyze.Result{Gaps: []analyze.Gap{{Start: 20 * s, End: 30 * s}}}},
	} {
		m := sample.Map()
		list = append(list, said{c.name, words.StandstillWord(m, &c.result, &c.stand).Text})
		for _, v := range words.StandstillStory(m, &c.result, &c.stand) {
			list = append(list, said{"  " + v.Term, v.Text})
		}
		if c.stand.NotCounted != "" {
			excluded = append(excluded, string(c.stand.NotCounted))
		}
	}
	none(t, missing(constantsOf(t, "../../../../analyze", "Exclusion"), excluded))
	return list
}

// Names from maps and logs cannot steer a terminal, and a map without inhibits is named as
// the reason why none was found.
func TestStandstillStoriesAreHarmless(t *testing.T) {
	m := sample.Map()
	for i := range m.Inhibits {
		m.Inhibits[i].Name = "evil\x1b[31m"
	}
	m.Signals[0].Name = "evil\u202e"
	r := sample.Report()
	res := r.Logs[0].Result
	for i := range res.Standstills {
		s := &res.Standstills[i]
		if s.Reason != "" {
			s.Reason = "evil\x1b[31m"
		}
		for k := range s.Codes {
			s.Codes[k].Name = "evil\x1b[31m"
		}
		for _, v := range append(words.StandstillStory(m, res, s), words.BriefStandstillStory(m, res, s)...) {
			if words.Visible(v.Text) != v.Text || words.Visible(v.Term) != v.Term {
				t.Errorf("%q: %q", v.Term, v.Text)
			}
		}
	}
	m.Inhibits = nil
	got := words.StandstillStory(m, &analyze.Result{}, &analyze.Standstill{Opportunity: true, Unexplained: true})
	if last := got[len(got)-1].Text; last != "no reason found; the signal map names no inhibits that could explain it" {
		t.Errorf("without inhibits: %q", last)
	}
}
