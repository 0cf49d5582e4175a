package compare_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/stats"
)

var near = cmpopts.EquateApprox(0, 5e-7)

func testMap() *decode.Map {
	m := &decode.Map{
		Name: "map.yaml", Settings: decode.DefaultSettings(),
		Signals:       []decode.Signal{{Name: "coolant", Unit: "degC"}, {Name: "charge", Unit: "%", Role: decode.BatteryCharge}},
		Circumstances: []int{0, 1},
		Requests:      []decode.Condition{{Name: "brake released", By: decode.ByDriver}, {Name: "battery low", By: decode.BySystem}},
		Limits:        []decode.Limit{{Metric: "restart_latency", HasMax: true, Max: 1}},
	}
	for r := range m.Role {
		m.Role[r] = -1
	}
	return m
}

// side is one log with an episode for each value of a metric.
func side(m *decode.Map, name, metric string, values ...float64) compare.Side {
	r := &analyze.Result{EngineSpeedSeen: true, HasTime: true, Start: int64(len(name)) * 1e18 / 10, Span: int64(len(values)) * 1e9, Frames: int64(len(values)), Info: decode.Info{Stamps: decode.StampsAbsolute}}
	for i, v := range values {
		e := analyze.Episode{N: i + 1, Outcome: analyze.Restarted, Request: &analyze.Request{}, Cranks: []analyze.Event{{}}, AtStop: []analyze.Reading{{Value: 80 + float64(i), Seen: true}, {Value: 70, Seen: true}}}
		for _, k := range measure.Metrics {
			x := analyze.MetricValue{Key: k.Key, Unit: k.Unit, Absent: analyze.NotMeasuredYet}
			if k.Key == metric {
				x.Absent, x.Best, x.Low, x.High = nil, v, v, v
			}
			e.Metrics = append(e.Metrics, x)
		}
		r.Episodes = append(r.Episodes, e)
	}
	return compare.Side{Map: m, Logs: []analyze.Log{{Name: name, Result: r}}}
}

func only(t *testing.T, c *compare.Comparison) compare.Metric {
	t.Helper()
	if len(c.Groups) != 1 || len(c.Groups[0].Metrics) != 1 {
		t.Fatalf("groups %+v", c.Groups)
	}
	return c.Groups[0].Metrics[0]
}

// Hollander, Wolfe and Chicken, Nonparametric Statistical Methods: permeability of
// the human chorioamnion (table 4.1), and example 4.2; fully separated samples by
// hand, 2/C(6,3).
func TestAMetricIsComparedAsPublished(t *testing.T) {
	tests := []struct {
		name            string
		before, after   []float64
		shift, low, up  float64
		p               float64
		verdict         compare.Verdict
		confidenceAbove float64
	}{
		{"permeability", []float64{1.15, 0.88, 0.90, 0.74, 1.21}, []float64{0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46},
			0.305, -0.15, 0.76, 0.2544122544123, compare.NoChangeShown, 0.95},
		{"example 4.2", []float64{874, 389, 612, 798, 1152, 893, 541, 741, 1064, 862, 213}, []float64{1042, 1617, 1180, 973, 1552, 1251, 1151, 728, 1079, 951, 1319},
			410, 168, 690, 0.00185985, compare.Worse, 0.953 - 1e-3},
		{"three and three", []float64{1, 2, 3}, []float64{11, 12, 13}, 10, 8, 12, 0.1, compare.TooFew, 0.89},
	}
	for _, test := range tests {
		m := testMap()
		k := only(t, compare.New(side(m, "a", "restart_latency", test.before...), side(m, "bb", "restart_latency", test.after...), compare.ByNothing))
		got := []float64{k.Shift.Value, k.Shift.Low, k.Shift.High, k.P}
		if diff := cmp.Diff([]float64{test.shift, test.low, test.up, test.p}, got, near); diff != "" || k.Verdict != test.verdict || k.Shift.Confidence < test.confidenceAbove || k.Method != "exact" {
			t.Errorf("%s: %s (%s) at %v:\n%s", test.name, k.Verdict, k.Method, k.Shift.Confidence, diff)
		}
	}
}

// Newcombe, Statistics in Medicine 17, 1998, table II: 9/10 - 3/10; Fisher's p of
// 3 of 10 against 9 of 10 by hand: (2 x 120 x 10 + ...) / C(20, 12), 0.0197666.
func TestARateIsComparedAsPublished(t *testing.T) {
	m := testMap()
	stand := func(name string, stopped, of int) compare.Side {
		s := side(m, name, "restart_latency", 1)
		for i := range of {
			s.Logs[0].Result.Standstills = append(s.Logs[0].Result.Standstills, analyze.Standstill{Opportunity: true, Stopped: i < stopped})
		}
		s.Logs[0].Result.Standstills = append(s.Logs[0].Result.Standstills, analyze.Standstill{Stopped: true})
		return s
	}
	r := compare.New(stand("a", 3, 10), stand("bb", 9, 10), compare.ByNothing).Groups[0].Rates[0]
	if diff := cmp.Diff([]float64{0.6, 0.170523, 0.809018}, []float64{r.Difference.Value, r.Difference.Low, r.Difference.High}, near); diff != "" {
		t.Error(diff)
	}
	if r.Key != "stopped" || math.Abs(r.P-0.0197666) > 1e-6 || r.Verdict != compare.Better {
		t.Errorf("%+v", r)
	}
}

func TestEachVerdictHasItsSense(t *testing.T) {
	low, high := []float64{1, 2, 3, 4, 5}, []float64{11, 12, 13, 14, 15}
	for _, test := range []struct {
		metric        string
		before, after []float64
		want          compare.Verdict
	}{
		{"restart_latency", low, high, compare.Worse},
		{"restart_latency", high, low, compare.Better},
		{"voltage_min", low, high, compare.Better},
		{"run_down", low, high, compare.Changed},
		{"voltage_min", low, low, compare.NoChangeShown},
		{"voltage_min", nil, low, compare.Missing},
	} {
		m := testMap()
		if k := only(t, compare.New(side(m, "a", test.metric, test.before...), side(m, "bb", test.metric, test.after...), compare.ByNothing)); k.Verdict != test.want {
			t.Errorf("%s: %s, want %s", test.metric, k.Verdict, test.want)
		}
	}
}

func TestSwappedSidesGiveTheOppositeAndAConstantMovesTheShift(t *testing.T) {
	opposite := map[compare.Verdict]compare.Verdict{compare.Better: compare.Worse, compare.Worse: compare.Better}
	rapid.Check(t, func(t *rapid.T) {
		list := func(name string) []float64 {
			var v []float64
			for _, k := range rapid.SliceOfN(rapid.IntRange(0, 40), 1, 9).Draw(t, name) {
				v = append(v, float64(k)/4)
			}
			return v
		}
		before, after := list("before"), list("after")
		moved := float64(rapid.IntRange(-8, 8).Draw(t, "moved"))
		m := testMap()
		there := compare.New(side(m, "a", "restart_latency", before...), side(m, "bb", "restart_latency", after...), compare.ByNothing).Groups[0].Metrics[0]
		back := compare.New(side(m, "a", "restart_latency", after...), side(m, "bb", "restart_latency", before...), compare.ByNothing).Groups[0].Metrics[0]
		want := there.Verdict
		if o, ok := opposite[want]; ok {
			want = o
		}
		if back.Verdict != want || back.P != there.P || math.Abs(back.Shift.Value+there.Shift.Value) > 1e-12 || back.Shift.Low != -there.Shift.High || back.Shift.High != -there.Shift.Low {
			t.Fatalf("there %+v, back %+v", there, back)
		}
		if there.PHolm < there.P || there.PHolm > 1 {
			t.Fatalf("p %v, adjusted %v", there.P, there.PHolm)
		}
		further := make([]float64, len(after))
		for i, v := range after {
			further[i] = v + moved
		}
		shifted := compare.New(side(m, "a", "restart_latency", before...), side(m, "bb", "restart_latency", further...), compare.ByNothing).Groups[0].Metrics[0]
		if math.Abs(shifted.Shift.Value-there.Shift.Value-moved) > 1e-9 || math.Abs(shifted.Shift.Low-there.Shift.Low-moved) > 1e-9 {
			t.Fatalf("moved by %v: %+v from %+v", moved, shifted.Shift, there.Shift)
		}
	})
}

func TestWhatTheReaderMustKnowIsNoted(t *testing.T) {
	m := testMap()
	a, b := side(m, "a", "restart_latency", 1, 2, 3, 4), side(m, "bb", "restart_latency", 1, 2, 3, 4, 5)
	undated := side(m, "u", "restart_latency", 1)
	undated.Logs[0].Result.Info.Stamps = decode.StampsZero
	minds := side(m, "ccc", "restart_latency", 1, 2, 3)
	for i := range minds.Logs[0].Result.Episodes {
		minds.Logs[0].Result.Episodes[i].Outcome = analyze.ChangeOfMind
		minds.Logs[0].Result.Episodes[i].Request = nil
	}
	other := testMap()
	other.Signals = append([]decode.Signal(nil), other.Signals...)
	other.Signals[0].Unit = "K"
	other.Role[decode.BatteryCharge] = 1
	other.Limits = nil
	other.Settings.RunningSpeed = 600
	ordered, reversed := testMap(), testMap()
	ordered.Limits = append(ordered.Limits, decode.Limit{Metric: "flare", HasMax: true, Max: 2000})
	reversed.Limits = append([]decode.Limit{ordered.Limits[1]}, ordered.Limits[0])
	reversed.Settings.StarterLimit = 7
	stricter := testMap()
	stricter.Limits = []decode.Limit{{Metric: "restart_latency", HasMax: true, Max: 0.9}}
	double := compare.Side{Map: m, Logs: append(append([]analyze.Log(nil), a.Logs...), a.Logs...)}
	for _, test := range []struct {
		name          string
		before, after compare.Side
		by            compare.By
		want          []compare.Note
	}{
		{"in order", a, b, "", nil},
		{"begun at the same moment", a, side(m, "b", "restart_latency", 1, 2, 3), "", nil},
		{"as many limits, but others", a, side(stricter, "bb", "restart_latency", 1), "", []compare.Note{compare.OtherLimits{}}},
		{"swapped", b, a, "", []compare.Note{compare.Swapped{Before: "bb", After: "a"}}},
		{"no date", undated, b, "", []compare.Note{compare.Undated{Log: "u"}}},
		{"no episode", side(m, "a", "restart_latency"), b, "", []compare.Note{compare.NoEpisode{Side: analyze.Before}}},
		{"twice", double, b, "", []compare.Note{compare.CountedOnce{Log: "a", As: "a", Side: analyze.Before}}},
		{"mixed differently", a, minds, "", []compare.Note{
			compare.OtherMix{By: compare.ByOutcome, Before: stats.Rate{Of: 4}, After: stats.Rate{Count: 3, Of: 3}},
			compare.OtherMix{By: compare.ByRequest, Before: stats.Rate{Count: 4, Of: 4}, After: stats.Rate{Of: 3}},
		}},
		{"split already", a, minds, compare.ByOutcome, nil},
		{"other map", a, side(other, "bb", "restart_latency", 1), "", []compare.Note{
			compare.OnlyOneHas{decode.BatteryCharge}, compare.OtherUnits{{Signal: "coolant", Before: "degC", After: "K"}},
			compare.OtherLimits{}, compare.OtherSettings{},
		}},
		{"other map of the same sense", side(ordered, "a", "restart_latency", 1, 2), side(reversed, "bb", "restart_latency", 1), "", nil},
	} {
		if diff := cmp.Diff(test.want, compare.New(test.before, test.after, test.by).Notes); diff != "" {
			t.Errorf("%s: %s", test.name, diff)
		}
	}
	if _, _, twice := compare.SameLog(a, b); twice {
		t.Error("two logs are taken for one")
	}
	if name, _, twice := compare.SameLog(a, double); !twice || name != "a" {
		t.Error("one log on both sides was not noticed")
	}
}

func TestGroupsAreComparedForThemselves(t *testing.T) {
	m := testMap()
	a, b := side(m, "a", "restart_latency", 1, 2, 3), side(m, "bb", "restart_latency", 1, 2)
	a.Logs[0].Result.Episodes[1].Request = &analyze.Request{Condition: 1}
	b.Logs[0].Result.Episodes[0].Request = nil
	b.Logs[0].Result.Episodes[1].Outcome = analyze.Aborted
	var got []string
	for _, by := range []compare.By{compare.ByRequest, compare.ByOutcome} {
		for _, g := range compare.New(a, b, by).Groups {
			got = append(got, fmt.Sprintf("%s %d %d, %d rates", g.Name, g.Before, g.After, len(g.Rates)))
		}
	}
	want := []string{"brake released 2 1, 3 rates", "battery low 1 0, 3 rates", "no request known 0 1, 3 rates", "aborted 0 1, 3 rates", "restarted 3 1, 3 rates"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestConditionsTellWhetherTheSidesWereDrivenAlike(t *testing.T) {
	m := testMap()
	a, b := side(m, "a", "restart_latency", 1, 2), side(m, "bb", "restart_latency", 1, 2)
	c := compare.New(a, b, "").Groups[0].Circumstances
	if len(c) != 2 || c[0].Signal != "coolant" || c[1].Signal != "charge" || !c[0].Known || !c[0].Alike || !c[1].Alike {
		t.Fatalf("%+v: both of the map's conditions are alike, the battery's charge too", c)
	}
	for i := range b.Logs[0].Result.Episodes {
		b.Logs[0].Result.Episodes[i].AtStop[0].Value += 2
	}
	if c := compare.New(a, b, "").Groups[0].Circumstances; c[0].Alike {
		t.Errorf("80 to 81 and 82 to 83 are alike: %+v", c)
	}
	for i := range b.Logs[0].Result.Episodes {
		b.Logs[0].Result.Episodes[i].AtStop[0].Seen = false
	}
	if c := compare.New(a, b, "").Groups[0].Circumstances; c[0].Known {
		t.Errorf("known without a value: %+v", c)
	}
	for i := range b.Logs[0].Result.Episodes {
		b.Logs[0].Result.Episodes[i].AtStop = nil
	}
	if c := compare.New(a, b, "").Groups[0].Circumstances; c[0].Known {
		t.Errorf("known of episodes that say nothing of it: %+v", c)
	}
}

// Of 4 and 5 values 2/C(9,4) is the least probability (Hollander, Wolfe and Chicken,
// section 4.1): enough for one metric or three, not for one of four.
func TestAMetricByItselfNeedsMoreValuesTheMoreMetricsThereAre(t *testing.T) {
	for family, want := range map[int]bool{1: true, 3: true, 4: false, 19: false} {
		if got := (&compare.Comparison{Family: family}).Alone(4, 5); got != want {
			t.Errorf("4 and 5 values, one of %d metrics: %v", family, got)
		}
	}
	m := testMap()
	a, b := side(m, "a", "restart_latency", 1, 2, 3, 4), side(m, "bb", "restart_latency", 5, 6, 7, 8, 9)
	if c := compare.New(a, b, ""); c.Family != 1 || c.Empty() {
		t.Errorf("family of %d, empty %v", c.Family, c.Empty())
	}
	// By outcome two groups of one metric each are one family.
	a.Logs[0].Result.Episodes = append(a.Logs[0].Result.Episodes, a.Logs[0].Result.Episodes...)
	b.Logs[0].Result.Episodes = append(b.Logs[0].Result.Episodes, b.Logs[0].Result.Episodes...)
	for _, s := range []compare.Side{a, b} {
		for i := range s.Logs[0].Result.Episodes[:4] {
			s.Logs[0].Result.Episodes[i].Outcome = analyze.ChangeOfMind
		}
	}
	if c := compare.New(a, b, compare.ByOutcome); c.Family != 2 {
		t.Errorf("family of %d, want 2", c.Family)
	}
	none := side(m, "a", "restart_latency")
	if !compare.New(none, b, "").Empty() {
		t.Error("a side without episodes and standstills leaves something to compare")
	}
	stood := func(s compare.Side) compare.Side {
		s.Logs[0].Result.Standstills = []analyze.Standstill{{N: 1, Opportunity: true}}
		return s
	}
	if compare.New(stood(none), stood(b), "").Empty() {
		t.Error("how often the engine was stopped can be compared")
	}
}

func TestLimitsAreJudgedOnBothSides(t *testing.T) {
	m := testMap()
	a, b := side(m, "a", "restart_latency", 1, 2, 3), side(m, "bb", "restart_latency", 1, 2)
	for i, v := range []analyze.Verdict{analyze.Inside, analyze.Outside, analyze.Borderline} {
		a.Logs[0].Result.Episodes[i].Limits = []analyze.LimitVerdict{{Limit: m.Limits[0], Verdict: v}}
	}
	b.Logs[0].Result.Episodes[0].Limits = []analyze.LimitVerdict{{Limit: m.Limits[0], Verdict: analyze.Inside}}
	c := compare.New(a, b, "")
	want := []compare.Limit{{Limit: m.Limits[0], Before: compare.Judged{Inside: 1, Borderline: 1, Outside: 1}, After: compare.Judged{Inside: 1}}}
	if diff := cmp.Diff(want, c.Limits); diff != "" {
		t.Error(diff)
	}
	for _, r := range c.Groups[0].Rates {
		if r.Key == "outside_limit" && (r.Before.Count != 1 || r.Before.Of != 3 || r.After.Of != 1) {
			t.Errorf("%+v", r)
		}
	}
}

func TestALimitOnWhatWasNotSeenIsCountedAsUnseen(t *testing.T) {
	m := testMap()
	a, b := side(m, "a", "restart_latency", 0.5, 0.6), side(m, "bb", "restart_latency", 0.5)
	judged := &a.Logs[0].Result.Episodes[0]
	judged.Limits = []analyze.LimitVerdict{{Limit: m.Limits[0], Verdict: analyze.Unseen}}
	absent := &a.Logs[0].Result.Episodes[1]
	for i := range absent.Metrics {
		if absent.Metrics[i].Key == "restart_latency" {
			absent.Metrics[i].Absent, absent.Metrics[i].Unseen = analyze.InGap, 0.4
		}
	}
	never := &b.Logs[0].Result.Episodes[0]
	for i := range never.Metrics {
		never.Metrics[i].Absent = analyze.NoSignal{Role: decode.EngineSpeed}
	}
	want := []compare.Limit{{Limit: m.Limits[0], Before: compare.Judged{Unseen: 2}}}
	if diff := cmp.Diff(want, compare.New(a, b, compare.ByNothing).Limits); diff != "" {
		t.Error(diff)
	}
}
