package series

import (
	"testing"

	"lull/pkg/bounds"
)

// step is a sample, and the edge that it has to give, and when.
type step struct {
	t    int64
	v    float64
	edge int8
	when bounds.Instant
}

func TestACrossingLiesBetweenTheSamplesThatSurelyTellTheirSide(t *testing.T) {
	none := bounds.Instant{}
	for _, test := range []struct {
		name  string
		c     Crossing
		steps []step
	}{
		{"the first known side is no crossing", Crossing{Threshold: 10, Half: 1}, []step{{5, 20, 0, none}}},
		{"up and down on straight lines", Crossing{Threshold: 10, Half: 1}, []step{
			{0, 0, 0, none}, {100, 40, 1, bounds.Instant{Low: 0, T: 25, High: 100}}, {200, 0, -1, bounds.Instant{Low: 100, T: 175, High: 200}}}},
		{"just half a step tells its side", Crossing{Threshold: 10, Half: 1}, []step{
			{0, 9, 0, none}, {100, 11, 1, bounds.Instant{Low: 0, T: 50, High: 100}}, {200, 9, -1, bounds.Instant{Low: 100, T: 150, High: 200}}}},
		{"... also with a step that no float64 holds", Crossing{Threshold: 0.3, Half: 0.1}, []step{
			{0, 0.2, 0, none}, {100, 0.4, 1, bounds.Instant{Low: 0, T: 50, High: 100}}}},
		{"less does not", Crossing{Threshold: 10, Half: 1}, []step{
			{0, 8, 0, none}, {100, 10.9, 0, none}, {200, 9.1, 0, none}, {300, 12, 1, bounds.Instant{Low: 0, T: 150, High: 300}}}},
		{"without a step the threshold itself is above where it is said so", Crossing{Threshold: 10, AtIsAbove: true}, []step{
			{0, 9, 0, none}, {100, 10, 1, bounds.Instant{Low: 0, T: 100, High: 100}}}},
		{"... and below else", Crossing{Threshold: 10}, []step{
			{0, 11, 0, none}, {100, 10, -1, bounds.Instant{Low: 0, T: 100, High: 100}}}},
		{"to the nearest nanosecond", Crossing{Threshold: 2}, []step{
			{0, 0, 0, none}, {10, 3, 1, bounds.Instant{Low: 0, T: 7, High: 10}}, {20, 0.5, -1, bounds.Instant{Low: 10, T: 14, High: 20}}}},
	} {
		c := test.c
		for i, s := range test.steps {
			if edge, when := c.Add(s.t, s.v); edge != s.edge || when != s.when {
				t.Errorf("%s, sample %d: %d at %+v, want %d at %+v", test.name, i, edge, when, s.edge, s.when)
			}
		}
		c.Reset()
		if c != test.c {
			t.Errorf("%s: %+v is left after a reset", test.name, c)
		}
	}
}

func TestTheSideOfAValueIsMinusOneZeroOrOne(t *testing.T) {
	c := Crossing{Threshold: 10, Half: 1}
	for v, want := range map[float64]int8{0: -1, 9: -1, 9.5: 0, 10: 0, 10.5: 0, 11: 1, 40: 1} {
		if got := c.SideOf(v); got != want {
			t.Errorf("%g is on the side %d, want %d", v, got, want)
		}
	}
}

// Before the newest sample: the latest that was not lower, and the latest that was not
// higher, than the one before it. The first is both.
func TestWhereAValueBeganToMoveIsTheLastSampleThatDidNot(t *testing.T) {
	c := Crossing{Threshold: 10, Half: 1}
	for _, s := range []struct {
		t                   int64
		v                   float64
		notLower, notHigher int64
	}{
		{5, 20, 5, 5},
		{6, 30, 5, 5},
		{7, 30, 6, 5},
		{8, 20, 7, 7},
		{9, 10, 7, 8},
		{10, 15, 7, 9},
		{11, 20, 10, 9},
	} {
		c.Add(s.t, s.v)
		if c.BeforeNotLower != s.notLower || c.BeforeNotHigh != s.notHigher {
			t.Errorf("at %d: not lower %d, not higher %d, want %d, %d", s.t, c.BeforeNotLower, c.BeforeNotHigh, s.notLower, s.notHigher)
		}
	}
	when := bounds.Instant{Low: 8, T: 9, High: 10}
	if got := Onset(when, 7); got != (bounds.Instant{Low: 7, T: 9, High: 10}) {
		t.Errorf("an onset at 7: %+v", got)
	}
	if got := Onset(when, 9); got != when {
		t.Errorf("an onset in the crossing: %+v", got)
	}
}
