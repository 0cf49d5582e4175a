package findings

import "testing"

func TestThePeriodThatWouldDecideLeavesOutWhatNoSamplingNarrows(t *testing.T) {
	sampled, fixed := edge{sampled: true}, func(wide float64) edge { return edge{fixed: wide} }
	for _, test := range []struct {
		name     string
		distance float64
		ends     []edge
		want     float64
	}{
		{"one end", 0.5, []edge{sampled, fixed(0)}, 0.5},
		{"both ends", 0.5, []edge{sampled, sampled}, 0.25},
		{"one end, and the other as wide as it is", 0.5, []edge{sampled, fixed(0.125)}, 0.375},
		{"what is fixed takes all of it", 0.5, []edge{sampled, fixed(0.5)}, -1},
		{"... and more", 0.5, []edge{sampled, fixed(0.75)}, -1},
		{"nothing is sampled", 0.5, []edge{fixed(0.125), fixed(0.125)}, -1},
	} {
		if got := neededPeriod(test.distance, test.ends...); got != test.want {
			t.Errorf("%s: %g, want %g", test.name, got, test.want)
		}
	}
}
