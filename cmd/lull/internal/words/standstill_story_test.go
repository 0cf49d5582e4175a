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

// A standstill is told in order of time, with what was measured and why it was as it was.
func TestStandstillsAreStories(t *testing.T) {
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
	for name, c := range map[string]struct {
		stand  analyze.Standstill
		result analyze.Result
		word   string
		want   []words.Entry
	}{
		"an inhibit for all of it": {
			stand(func(v *analyze.Standstill) {
				v.Reason, v.Covered = "coolant cold", 1
				v.Inhibits = []analyze.InhibitShare{{Share: 1, Intervals: [][2]int64{{10 * s, 20 * s}}, Measured: coolant(34)}}
			}), analyze.Result{}, "not stopped: coolant cold",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "10.00 s", Text: "coolant cold stands in the way already, for 100 % of the standstill; measured: coolant 34 degC (the map says: below 40)"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "why", Text: "coolant cold; share of the standstill explained: 100 %"},
			},
		},
		"an inhibit and a code that come and go": {
			stand(func(v *analyze.Standstill) {
				v.Reason, v.Covered = "code 7", 0.8
				v.Inhibits = []analyze.InhibitShare{{Share: 0.3, Intervals: [][2]int64{{11 * s, 12 * s}, {14 * s, 16 * s}}, Measured: coolant(39)}}
				v.Codes = []analyze.CodeShare{{Name: "code 7", Share: 0.5, Intervals: [][2]int64{{10 * s, 11 * s}, {12 * s, 13 * s}, {14 * s, 15 * s}, {17 * s, 19 * s}}}}
			}), analyze.Result{}, "not stopped: code 7",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "10.00 s", Text: "code 7, the car's own code, stands in the way 4 times, the last time until 19.00 s, for 50 % of the standstill in all"},
				{Term: "11.00 s", Text: "coolant cold stands in the way, for 30 % of the standstill in all; measured: coolant 39 degC (the map says: below 40)"},
				{Term: "12.00 s", Text: "coolant cold no longer stands in the way"},
				{Term: "14.00 s", Text: "coolant cold stands in the way again"},
				{Term: "16.00 s", Text: "coolant cold no longer stands in the way"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "why", Text: "code 7; share of the standstill explained: 80 %"},
			},
		},
		"no reason found": {
			stand(func(v *analyze.Standstill) {
				v.Unexplained, v.Covered = true, 0.1
				v.Inhibits = []analyze.InhibitShare{{State: "false", Measured: coolant(61)}, {Condition: 1, State: "mixed", Share: 0.1, Intervals: [][2]int64{{19 * s, 20 * s}}}}
			}), analyze.Result{}, "no reason found",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "19.00 s", Text: "cabin demand stands in the way, for 10 % of the standstill"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "why", Text: "no reason found; share of the standstill explained: 10 %"},
				{Term: "measured", Text: "coolant cold: coolant 61 degC (the map says: below 40)"},
			},
		},
		"the key ended it": {
			stand(func(v *analyze.Standstill) {
				v.Reason, v.Covered, v.Until = "coolant cold", 1, 15*s
				v.Inhibits = []analyze.InhibitShare{{Share: 1, Intervals: [][2]int64{{10 * s, 15 * s}}}}
			}), analyze.Result{}, "not stopped: coolant cold",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "10.00 s", Text: "coolant cold stands in the way already, for 100 % of the time up to 15.00 s"},
				{Term: "15.00 s", Text: "the key is turned off: from here on the car could not have stopped the engine"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "why", Text: "coolant cold; share of the standstill explained: 100 %"},
			},
		},
		"what cannot be told": {
			stand(func(v *analyze.Standstill) {
				v.CannotTell = []string{"coolant cold"}
				v.Inhibits = []analyze.InhibitShare{{State: "unknown", Measured: []analyze.Measured{{Signal: 0, Against: "below 40"}}}}
			}), analyze.Result{}, "not stopped: cannot tell why",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "why", Text: "cannot tell; not known: coolant cold"},
				{Term: "measured", Text: "coolant cold: coolant not seen (the map says: below 40)"},
			},
		},
		"the engine is stopped": {
			stand(func(v *analyze.Standstill) {
				v.Stopped, v.Episode, v.StopDelay, v.Until = true, 2, &delay, 11*s
			}), analyze.Result{Episodes: []analyze.Episode{episode(analyze.Restarted, decode.StopCommand)}}, "engine stopped, episode 2",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "11.000 (10.990 to 11.010) s", Text: "the engine is told to stop, 1.000 s (0.990 to 1.010) after the vehicle stopped (episode 2)"},
				{Term: "11.600 (11.590 to 11.610) s", Text: "the engine comes to rest (episode 2)"},
				{Term: "18.000 (17.990 to 18.010) s", Text: "the engine runs again (episode 2)"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
			},
		},
		"the engine is stopped and does not start": {
			stand(func(v *analyze.Standstill) { v.Stopped, v.Episode, v.Until = true, 2, 11*s }),
			analyze.Result{Episodes: []analyze.Episode{episode(analyze.NoStart, decode.EngineSpeed)}}, "engine stopped, episode 2",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "11.000 (10.990 to 11.010) s", Text: "the engine speed begins to fall (episode 2)"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "then", Text: "it did not start (episode 2)"},
			},
		},
		"the engine stalls": {
			stand(func(v *analyze.Standstill) { v.Until = 11 * s }),
			analyze.Result{Episodes: []analyze.Episode{episode(analyze.Stalled, decode.EngineSpeed)}}, "not stopped: the engine stalled (episode 2)",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "11.000 (10.990 to 11.010) s", Text: "the engine stalls (episode 2)"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "why", Text: "the engine stalled (episode 2)"},
			},
		},
		"a stop is called off": {
			stand(func(*analyze.Standstill) {}),
			analyze.Result{Episodes: []analyze.Episode{episode(analyze.Aborted, decode.StopCommand)}}, "not stopped: a stop was begun and cancelled",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "11.000 (10.990 to 11.010) s", Text: "a stop is begun and cancelled: the engine runs on (episode 2)"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "why", Text: "a stop was begun and cancelled"},
			},
		},
		"the engine was off": {
			stand(func(v *analyze.Standstill) {
				v.Opportunity, v.NotCounted, v.Start = false, analyze.EngineWasOff, bounds.At(10*s)
			}), analyze.Result{Starts: []analyze.Start{key}}, "not counted: the engine was off",
			[]words.Entry{
				{Term: "10.000 s", Text: "the vehicle stands when it is first seen; the engine is off"},
				{Term: "13.000 (12.990 to 13.010) s", Text: "the starter turns the engine by the key"},
				{Term: "13.700 (13.690 to 13.710) s", Text: "the engine runs"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "not counted", Text: "the engine was off"},
			},
		},
		"the log begins in it": {
			stand(func(v *analyze.Standstill) { v.Opportunity, v.NotCounted = false, analyze.EngineNotSeen }),
			analyze.Result{}, "not counted: the log began in it",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; whether the engine runs is not seen"},
				{Term: "20.000 (19.990 to 20.010) s", Text: "the vehicle leaves"},
				{Term: "not counted", Text: "the log began in it"},
			},
		},
		"the recording ends": {
			stand(func(v *analyze.Standstill) { v.Open, v.End = true, bounds.At(20*s) }),
			analyze.Result{}, "not recorded to its end",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops; the engine runs"},
				{Term: "20.000 s", Text: "the recording ends"},
				{Term: "why", Text: "not recorded to its end: the engine may have been stopped later"},
			},
		},
		"the recording has a gap": {
			stand(func(v *analyze.Standstill) {
				v.Open, v.End, v.Opportunity, v.NotCounted = true, bounds.At(20*s), false, analyze.RecordingEnded
			}), analyze.Result{Gaps: []analyze.Gap{{Start: 20 * s, End: 30 * s}}}, "not counted: the recording ended in it",
			[]words.Entry{
				{Term: "10.000 (9.990 to 10.010) s", Text: "the vehicle stops"},
				{Term: "20.000 s", Text: "the recording has a gap: what followed was not seen"},
				{Term: "not counted", Text: "the recording ended in it"},
			},
		},
	} {
		m := sample.Map()
		if d := cmp.Diff(c.want, words.StandstillStory(m, &c.result, &c.stand)); d != "" {
			t.Errorf("%s (-want +got):\n%s", name, d)
		}
		if got := words.StandstillWord(m, &c.result, &c.stand).Text; got != c.word {
			t.Errorf("%s: %q, not %q", name, got, c.word)
		}
	}
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
	if last := got[len(got)-1].Text; last != "no reason found; the map names no inhibits that could explain it" {
		t.Errorf("without inhibits: %q", last)
	}
}
