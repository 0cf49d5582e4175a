package streams

import "testing"

// Two gaps, 10..20 and 30..35: what of a stretch lies in them, and where the first begins.
func TestHowMuchOfAStretchLiesInGaps(t *testing.T) {
	gaps := Gaps{{Start: 10, End: 20}, {Start: 30, End: 35}}
	for _, test := range []struct{ from, to, within, first int64 }{
		{0, 9, 0, 9},
		{0, 10, 0, 10},
		{0, 11, 1, 10},
		{0, 20, 10, 10},
		{0, 25, 10, 10},
		{0, 30, 10, 10},
		{0, 40, 15, 10},
		{10, 20, 10, 10},
		{15, 32, 7, 15},
		{19, 30, 1, 19},
		{20, 30, 0, 30},
		{20, 31, 1, 30},
		{34, 50, 1, 34},
		{35, 50, 0, 50},
	} {
		if got := gaps.Within(test.from, test.to); got != test.within {
			t.Errorf("%d..%d: %d in gaps, want %d", test.from, test.to, got, test.within)
		}
		if got := gaps.Between(test.from, test.to); got != (test.within > 0) {
			t.Errorf("%d..%d: a gap in it: %t", test.from, test.to, got)
		}
		if got := gaps.First(test.from, test.to); got != test.first {
			t.Errorf("%d..%d: the first begins at %d, want %d", test.from, test.to, got, test.first)
		}
		none := Gaps(nil)
		if none.Within(test.from, test.to) != 0 || none.Between(test.from, test.to) || none.First(test.from, test.to) != test.to {
			t.Errorf("%d..%d: a gap where there is none", test.from, test.to)
		}
	}
	one := gaps[:1]
	if !one.Between(0, 40) {
		t.Error("the only gap is overlooked")
	}
}

func TestAPeriodIsMidwayBetweenTheTwoInTheMiddle(t *testing.T) {
	var l learner
	now := int64(0)
	l.step(now)
	for i := range learnGaps {
		now += 20
		if i >= learnGaps/2 {
			now += 10
		}
		if done := l.step(now); done != (i == learnGaps-1) {
			t.Errorf("gap %d of %d: enough is %t", i+1, learnGaps, done)
		}
	}
	if p := l.median(); p != 25 {
		t.Errorf("period %d of as many gaps of 20 as of 30", p)
	}
}
