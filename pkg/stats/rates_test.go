package stats_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lull/pkg/stats"
)

// digits reports whether got, rounded to the given number of decimals, is the printed
// number.
func digits(got, printed float64, decimals int) bool {
	return math.Abs(got-printed) <= 0.5000001*math.Pow10(-decimals)
}

// Values of Newcombe, Statistics in Medicine 17, 1998, 857-872, method 3, and of further
// rates, from memory and recalculated from the definitions.
func TestIntervalsOfPublishedRates(t *testing.T) {
	tests := []struct {
		rate      stats.Rate
		low, high float64
	}{
		{stats.Rate{Count: 81, Of: 263}, 0.255289, 0.366210},
		{stats.Rate{Count: 15, Of: 148}, 0.062386, 0.160487},
		{stats.Rate{Count: 0, Of: 20}, 0, 0.161125},
		{stats.Rate{Count: 1, Of: 29}, 0.006113, 0.171755},
		{stats.Rate{Count: 0, Of: 10}, 0, 0.277533},
		{stats.Rate{Count: 10, Of: 10}, 0.722467, 1},
		{stats.Rate{Count: 7, Of: 10}, 0.396778, 0.892209},
		{stats.Rate{Count: 0, Of: 3}, 0, 0.561497},
	}
	for _, test := range tests {
		got, ok := stats.Wilson(test.rate, 0.95)
		if !ok || got.Confidence != 0.95 || !digits(got.Low, test.low, 6) || !digits(got.High, test.high, 6) {
			t.Errorf("%v: Wilson %+v, %v", test.rate, got, ok)
		}
	}
}

// Values of Newcombe, Statistics in Medicine 17, 1998, 873-890, method 10, table II,
// from memory and recalculated from the definition. The first rate is the one after.
func TestDifferencesOfPublishedRates(t *testing.T) {
	tests := []struct {
		after, before    stats.Rate
		value, low, high float64
	}{
		{stats.Rate{Count: 56, Of: 70}, stats.Rate{Count: 48, Of: 80}, 0.2, 0.052431, 0.333873}, // printed: 0.0524 to 0.3339
		{stats.Rate{Count: 9, Of: 10}, stats.Rate{Count: 3, Of: 10}, 0.6, 0.170523, 0.809018},
		{stats.Rate{Count: 6, Of: 7}, stats.Rate{Count: 2, Of: 7}, 0.571429, 0.058228, 0.806250},
		{stats.Rate{Count: 5, Of: 56}, stats.Rate{Count: 0, Of: 29}, 0.089286, -0.038137, 0.192560},
		{stats.Rate{Count: 0, Of: 10}, stats.Rate{Count: 0, Of: 20}, 0, -0.161125, 0.277533},
		{stats.Rate{Count: 10, Of: 10}, stats.Rate{Count: 0, Of: 20}, 1, 0.679086, 1},
	}
	for _, test := range tests {
		got, ok := stats.Newcombe(test.before, test.after, 0.95)
		if !ok || got.Confidence != 0.95 || !digits(got.Value, test.value, 6) || !digits(got.Low, test.low, 6) || !digits(got.High, test.high, 6) {
			t.Errorf("%v - %v: %+v, %v", test.after, test.before, got, ok)
		}
		turned, _ := stats.Newcombe(test.after, test.before, 0.95)
		if want := (stats.Difference{Value: -got.Value, Interval: stats.Interval{Low: -got.High, High: -got.Low, Confidence: 0.95}}); turned != want {
			t.Errorf("%v - %v: %+v, the other way round %+v", test.after, test.before, got, turned)
		}
	}
}

// Tables with published probabilities, 0 where none is given. The first row is the rate
// after.
func TestFisherOfPublishedTables(t *testing.T) {
	tests := []struct {
		name                    string // and where it is from
		after, before           stats.Rate
		less, greater, twoSided float64
	}{
		{"tea, all right; R. A. Fisher, The Design of Experiments", stats.Rate{Count: 4, Of: 4}, stats.Rate{Count: 0, Of: 4}, 1, 1. / 70, 2. / 70},
		{"tea, three right; the same", stats.Rate{Count: 3, Of: 4}, stats.Rate{Count: 1, Of: 4}, 69. / 70, 17. / 70, 34. / 70},
		{"convictions of twins; R's fisher.test", stats.Rate{Count: 2, Of: 12}, stats.Rate{Count: 15, Of: 18}, 0.00046518, 0, 0.0005367241191},
		{"8 2 and 1 5; from memory, counted", stats.Rate{Count: 8, Of: 10}, stats.Rate{Count: 1, Of: 6}, 0, 0.0244755, 5. / 143},
		{"1 9 and 11 3; from memory, counted", stats.Rate{Count: 1, Of: 10}, stats.Rate{Count: 11, Of: 14}, 0.0013797281, 0, 0.0027594562},
		{"0 10 and 12 2; counted", stats.Rate{Count: 0, Of: 10}, stats.Rate{Count: 12, Of: 14}, 0.0000336519, 1, 0.0000673038},
		{"none at all", stats.Rate{Count: 0, Of: 5}, stats.Rate{Count: 0, Of: 9}, 1, 1, 1},
		{"all", stats.Rate{Count: 5, Of: 5}, stats.Rate{Count: 9, Of: 9}, 1, 1, 1},
	}
	for _, test := range tests {
		got, ok := stats.Fisher(test.before, test.after)
		turned, _ := stats.Fisher(test.after, test.before)
		for _, p := range []struct {
			name              string
			got, turned, want float64
		}{{"less", got.Less, turned.Greater, test.less}, {"greater", got.Greater, turned.Less, test.greater}, {"two-sided", got.TwoSided, turned.TwoSided, test.twoSided}} {
			if !ok || p.want != 0 && !near(p.got, p.want, 3e-6) {
				t.Errorf("%s: %s %.10v, %v, want %v", test.name, p.name, p.got, ok, p.want)
			}
			if !near(p.got, p.turned, 1e-14) {
				t.Errorf("%s: %s %v, with the sides exchanged %v", test.name, p.name, p.got, p.turned)
			}
		}
	}
}

// binomial returns the number of ways to choose k of n, exact as far as a float64 is.
func binomial(n, k int) float64 {
	ways := 1.0
	for i := 1; i <= k; i++ {
		ways = ways * float64(n-k+i) / float64(i)
	}
	return ways
}

func TestFisherIsThatOfAllTables(t *testing.T) {
	for n := 1; n <= 9; n++ {
		for m := 1; m <= 9; m++ {
			least := 1.0
			for k := range n + 1 {
				for l := range m + 1 {
					// How many choices of cases give each of the tables with the same sums.
					total, less, greater, off := 0.0, 0.0, 0.0, 0.0
					seen := binomial(n, k) * binomial(m, l)
					for x := max(0, k+l-n); x <= min(m, k+l); x++ {
						ways := binomial(n, k+l-x) * binomial(m, x)
						total += ways
						if x <= l {
							less += ways
						}
						if x >= l {
							greater += ways
						}
						if ways <= seen {
							off += ways
						}
					}
					got, ok := stats.Fisher(stats.Rate{Count: k, Of: n}, stats.Rate{Count: l, Of: m})
					if !ok || !near(got.Less, less/total, 1e-14) || !near(got.Greater, greater/total, 1e-14) || !near(got.TwoSided, off/total, 1e-14) {
						t.Errorf("%d of %d and %d of %d: %+v, %v, want %v %v %v", k, n, l, m, got, ok, off/total, less/total, greater/total)
					}
					least = min(least, off/total)
				}
			}
			if got := stats.TooFewForRates(n, m); got != (least >= stats.Significance) {
				t.Errorf("TooFewForRates(%d, %d) = %v, although the smallest probability is %v", n, m, got, least)
			}
		}
	}
	for _, sizes := range [][2]int{{0, 5}, {5, 0}} {
		if !stats.TooFewForRates(sizes[0], sizes[1]) {
			t.Errorf("%v count as enough", sizes)
		}
	}
	if stats.TooFewForRates(100_000, 200_000) {
		t.Error("100,000 and 200,000 count as too few")
	}
}

func TestFisherOfVeryManyCasesIsAProbability(t *testing.T) {
	for _, rates := range [][2]stats.Rate{
		{{Count: 0, Of: 100_000}, {Count: 100_000, Of: 100_000}},
		{{Count: 100_000_000, Of: 1_000_000_000}, {Count: 100_000, Of: 1_000_000}},
		{{Count: 1, Of: 1_000_000_000}, {Count: 1_000_000, Of: 1_000_000}},
		{{Count: 500_000, Of: 1_000_000}, {Count: 500_001, Of: 1_000_000}},
	} {
		got, ok := stats.Fisher(rates[0], rates[1])
		for _, p := range []float64{got.TwoSided, got.Less, got.Greater} {
			if !ok || !(p > 0 && p <= 1) {
				t.Errorf("%v: %+v, %v", rates, got, ok)
			}
		}
	}
}

func TestInvalidRatesGiveNoResult(t *testing.T) {
	good := stats.Rate{Count: 1, Of: 2}
	for _, bad := range []stats.Rate{{}, {Count: 1}, {Count: -1, Of: 4}, {Count: 5, Of: 4}, {Count: -2, Of: -1}} {
		if got, ok := stats.Wilson(bad, 0.95); ok || got != (stats.Interval{}) {
			t.Errorf("%v: %+v", bad, got)
		}
		for _, rates := range [][2]stats.Rate{{good, bad}, {bad, good}} {
			if got, ok := stats.Newcombe(rates[0], rates[1], 0.95); ok || got != (stats.Difference{}) {
				t.Errorf("%v: %+v", rates, got)
			}
			if got, ok := stats.Fisher(rates[0], rates[1]); ok || got != (stats.FisherTest{}) {
				t.Errorf("%v: %+v", rates, got)
			}
		}
	}
	for _, confidence := range []float64{0, 1, -0.5, 95, math.NaN(), math.Inf(1)} {
		if got, ok := stats.Wilson(good, confidence); ok {
			t.Errorf("Wilson at %v: %+v", confidence, got)
		}
		if got, ok := stats.Newcombe(good, good, confidence); ok {
			t.Errorf("Newcombe at %v: %+v", confidence, got)
		}
		if got, ok := stats.Poisson(3, confidence); ok {
			t.Errorf("Poisson at %v: %+v", confidence, got)
		}
	}
	if got, ok := stats.Poisson(-1, 0.95); ok {
		t.Errorf("-1: %+v", got)
	}
}

func TestIntervalsOfRatesHoldTheShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := func(name string) stats.Rate {
			n := rapid.OneOf(rapid.IntRange(1, 20), rapid.IntRange(1, 1_000_000_000)).Draw(t, name)
			return stats.Rate{Count: rapid.IntRange(0, n).Draw(t, "count"), Of: n}
		}
		a, b := rate("before"), rate("after")
		confidence := rapid.OneOf(rapid.Float64Range(1e-9, 1-1e-9), rapid.Just(0.95), rapid.Just(math.Nextafter(1, 0))).Draw(t, "confidence")
		share := float64(a.Count) / float64(a.Of)
		got, ok := stats.Wilson(a, confidence)
		if !ok || !(0 <= got.Low && got.Low <= share*(1+1e-12) && share*(1-1e-12) <= got.High && got.High <= 1) || got.Confidence != confidence {
			t.Fatalf("%v: %+v, %v", a, got, ok)
		}
		d, ok := stats.Newcombe(a, b, confidence)
		if !ok || !(-1 <= d.Low && d.Low <= d.Value && d.Value <= d.High && d.High <= 1) || d.Confidence != confidence {
			t.Fatalf("%v and %v: %+v, %v", a, b, d, ok)
		}
		if p, ok := stats.Fisher(a, b); !ok || !(p.TwoSided > 0 && p.TwoSided <= 1) || p.Less+p.Greater < 1-1e-9 {
			t.Fatalf("%v and %v: %+v, %v", a, b, p, ok)
		}
	})
}

// Values of Garwood, Biometrika 28, 1936, as in tables of exact limits of a count, from
// memory; those of 0 and 1 also by hand: -ln 0.025 is 3.688879, -ln 0.975 is 0.025318.
func TestPoissonOfPublishedCounts(t *testing.T) {
	tests := []struct {
		count     int
		low, high float64
		decimals  int
	}{
		{0, 0, 3.688879, 6}, {1, 0.025318, 5.571643, 6}, {2, 0.2422, 7.2247, 4}, {3, 0.6187, 8.7673, 4}, {5, 1.6235, 11.6683, 4},
		{10, 4.7954, 18.3904, 4}, {20, 12.2165, 30.8884, 4}, {100, 81.3640, 121.6268, 4},
	}
	for _, test := range tests {
		got, ok := stats.Poisson(test.count, 0.95)
		if !ok || got.Confidence != 0.95 || !digits(got.Low, test.low, test.decimals) || !digits(got.High, test.high, test.decimals) {
			t.Errorf("%d: %+v, %v, want %v to %v", test.count, got, ok, test.low, test.high)
		}
	}
}

// If the true mean is at an end of the interval, the observed count or a more extreme
// one has the probability of one tail.
func TestPoissonHasItsTails(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(0, 300).Draw(t, "count")
		confidence := rapid.Float64Range(0.01, 0.999).Draw(t, "confidence")
		got, ok := stats.Poisson(count, confidence)
		upTo := func(count int, mean float64) float64 {
			sum, term := 0.0, math.Exp(-mean)
			for k := range count + 1 {
				sum += term
				term *= mean / float64(k+1)
			}
			return sum
		}
		tail := (1 - confidence) / 2
		if !ok || !near(upTo(count, got.High), tail, 1e-9) {
			t.Fatalf("%d at %v: %+v, %v", count, confidence, got, ok)
		}
		if count > 0 && !near(upTo(count-1, got.Low), 1-tail, 1e-9) || count == 0 && got.Low != 0 {
			t.Fatalf("%d at %v: %+v", count, confidence, got)
		}
	})
}
