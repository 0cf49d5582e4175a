package stats_test

import (
	"math"
	"testing"

	"lull/pkg/stats"
)

// Garwood's limits (Biometrika 28, 1936, also in Pearson and Hartley, Biometrika
// Tables for Statisticians, table 40), from memory.
func TestPoissonIntervalIsGarwoods(t *testing.T) {
	for _, test := range []struct {
		count                 int
		confidence, low, high float64
	}{
		{0, 0.95, 0, 3.689},
		{1, 0.95, 0.0253, 5.572},
		{2, 0.95, 0.2422, 7.225},
		{5, 0.95, 1.623, 11.668},
		{10, 0.95, 4.795, 18.390},
		{20, 0.95, 12.217, 30.888},
		{50, 0.95, 37.111, 65.919},
		{0, 0.90, 0, 2.996},
		{3, 0.99, 0.338, 10.977},
	} {
		low, high, ok := stats.PoissonInterval(test.count, test.confidence)
		if !ok || math.Abs(low-test.low) > 6e-4 || math.Abs(high-test.high) > 6e-4 {
			t.Errorf("%d at %v: %v to %v %v, want %v to %v", test.count, test.confidence, low, high, ok, test.low, test.high)
		}
	}
}

// The limits are where the tails, added up term by term, are half of what the
// confidence leaves.
func TestPoissonIntervalLeavesItsTails(t *testing.T) {
	tail := func(mean float64, most int) float64 { // of seeing at most so many
		sum := 0.0
		for k := 0; k <= most; k++ {
			g, _ := math.Lgamma(float64(k) + 1)
			sum += math.Exp(float64(k)*math.Log(mean) - mean - g)
		}
		return sum
	}
	for count := range 300 {
		for _, confidence := range []float64{0.5, 0.9, 0.95, 0.999} {
			low, high, ok := stats.PoissonInterval(count, confidence)
			half := (1 - confidence) / 2
			if !ok || low > float64(count) || high < float64(count) {
				t.Fatalf("%d at %v: %v to %v %v", count, confidence, low, high, ok)
			}
			if p := tail(high, count); math.Abs(p-half) > 1e-9 {
				t.Errorf("%d at %v: the lower tail at %v is %v, want %v", count, confidence, high, p, half)
			}
			if p := 1 - tail(low, count-1); count > 0 && math.Abs(p-half) > 1e-9 {
				t.Errorf("%d at %v: the upper tail at %v is %v, want %v", count, confidence, low, p, half)
			}
		}
	}
}

// What is no count, or no confidence, has no interval.
func TestPoissonIntervalRefusesWhatIsNone(t *testing.T) {
	for _, test := range []struct {
		count      int
		confidence float64
	}{{-1, 0.95}, {1, 0}, {1, 1}, {1, math.NaN()}, {1, 2}} {
		if low, high, ok := stats.PoissonInterval(test.count, test.confidence); ok {
			t.Errorf("%d at %v: %v to %v", test.count, test.confidence, low, high)
		}
	}
}
