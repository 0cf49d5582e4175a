package stats_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lull/pkg/stats"
)

func TestHolmByHand(t *testing.T) {
	tests := []struct {
		name    string
		p, want []float64
	}{
		{"nothing", nil, []float64{}},
		{"one is left as it is", []float64{0.03}, []float64{0.03}},
		// 4 x 0.005, 3 x 0.01, 2 x 0.03, 1 x 0.04 but not below the one before it.
		{"four, each by its factor", []float64{0.01, 0.04, 0.03, 0.005}, []float64{0.03, 0.06, 0.06, 0.02}},
		{"none above 1", []float64{0.6, 0.5, 1}, []float64{1, 1, 1}},
		{"equal ones are adjusted alike", []float64{0.0625, 0.5, 0.0625}, []float64{0.1875, 0.5, 0.1875}},
		{"0 stays 0", []float64{0, 0.25}, []float64{0, 0.25}},
	}
	for _, test := range tests {
		before := slices.Clone(test.p)
		got, ok := stats.Holm(test.p)
		if !ok || !slices.EqualFunc(got, test.want, func(a, b float64) bool { return near(a, b, 1e-15) }) {
			t.Errorf("%s: %v, %v, want %v", test.name, got, ok, test.want)
		}
		if !slices.Equal(before, test.p) {
			t.Errorf("%s: the values were moved", test.name)
		}
	}
	for _, bad := range [][]float64{{math.NaN()}, {0.5, -0.1}, {0.2, 1.5}, {math.Inf(1)}} {
		if got, ok := stats.Holm(bad); ok || got != nil {
			t.Errorf("%v: %v", bad, got)
		}
	}
}

// At every level the adjusted p-values reject what the procedure itself rejects: it
// goes from the smallest p upwards and stops at the first that is above the level
// divided by the number of p-values not yet rejected.
func TestHolmRejectsWhatItsProcedureRejects(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// P-values are multiples of 1/64 and the level is not, so that no decision
		// depends on rounding.
		p := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 64), func(i int) float64 { return float64(i) / 64 }), 1, 12).Draw(t, "p")
		level := (float64(rapid.IntRange(0, 999).Draw(t, "level")) + 0.37) / 1000
		adjusted, ok := stats.Holm(p)
		if !ok {
			t.Fatalf("%v: no result", p)
		}
		rejected := 0
		for _, v := range slices.Sorted(slices.Values(p)) {
			if v > level/float64(len(p)-rejected) {
				break
			}
			rejected++
		}
		limit := math.Inf(-1)
		if rejected > 0 {
			limit = slices.Sorted(slices.Values(p))[rejected-1]
		}
		for i, v := range p {
			if (adjusted[i] <= level) != (v <= limit) {
				t.Fatalf("%v at %v: adjusted %v, %d rejected", p, level, adjusted, rejected)
			}
		}
	})
}
