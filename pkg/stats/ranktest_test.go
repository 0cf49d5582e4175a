package stats_test

import (
	"fmt"
	"math"
	"math/big"
	"math/bits"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lull/pkg/stats"
)

// Samples with published results of their comparison.
var (
	// Permeability of membranes, before and after; Hollander and Wolfe, Nonparametric
	// Statistical Methods, chapter 4.
	permeabilityTerm  = []float64{0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46}
	permeabilityEarly = []float64{1.15, 0.88, 0.90, 0.74, 1.21}
	// Blood pressure, with ties; the StatXact manual.
	pressureTreated = []float64{94, 108, 110, 90}
	pressureControl = []float64{80, 94, 85, 90, 90, 90, 108, 94, 78, 105, 88}
	// Hollander and Wolfe, chapter 4, exercise 2.
	exerciseFirst  = []float64{1042, 1617, 1180, 973, 1552, 1251, 1151, 728, 1079, 951, 1319}
	exerciseSecond = []float64{874, 389, 612, 798, 1152, 893, 541, 741, 1064, 862, 213}
	// Survival of mice; Efron and Tibshirani, An Introduction to the Bootstrap, table 2.1.
	miceTreated = []float64{94, 197, 16, 38, 99, 141, 23}
	miceControl = []float64{52, 104, 146, 10, 51, 30, 40, 27, 46}
	// The order in which tortoises and hares arrive; from memory.
	tortoises = []float64{1, 7, 8, 9, 10, 11}
	hares     = []float64{2, 3, 4, 5, 6, 12}
	// The example of SciPy's mannwhitneyu.
	exampleMen   = []float64{19, 22, 16, 29, 24}
	exampleWomen = []float64{20, 11, 17, 12}
)

func TestRankSumOfPublishedData(t *testing.T) {
	tests := []struct {
		name                    string // and where the values are from
		after, before           []float64
		u                       float64 // of after
		twoSided, less, greater float64 // 0: not given
	}{
		{"permeability; R's wilcox.test as quoted by SciPy's tests", permeabilityTerm, permeabilityEarly,
			35, 0.2544122544122544, 0.8967698967698968, 382. / 3003},
		{"example of SciPy's documentation", exampleMen, exampleWomen, 17, 1. / 9, 0, 1. / 18},
		// Twice the tail would be 0.1084.
		{"blood pressure, ties; StatXact, 0.0989 and 0.0542", pressureTreated, pressureControl, 0, 135. / 1365, 0, 74. / 1365},
		{"Hollander and Wolfe, chapter 4, exercise 2; counted, 0.00185985", exerciseFirst, exerciseSecond, 106, 1312. / 705432, 0, 0},
		{"tortoises and hares; counted, 0.3095238", tortoises, hares, 25, 286. / 924, 0, 0},
		{"mice of Efron and Tibshirani; counted, 0.6805944", miceTreated, miceControl, 36, 7786. / 11440, 0, 0},
		{"small ties; counted", []float64{1, 2, 2}, []float64{2, 3, 4}, 1, 6. / 20, 0, 0},
		{"separated, 3 and 3; 2 / C(6, 3)", []float64{4, 5, 6}, []float64{1, 2, 3}, 9, 0.1, 1, 0.05},
		{"separated, 4 and 4; 2 / C(8, 4)", []float64{5, 6, 7, 8}, []float64{1, 2, 3, 4}, 16, 0.028571428571428571, 1, 1. / 70},
		{"all equal", []float64{7, 7, 7}, []float64{7, 7}, 3, 1, 1, 1},
	}
	for _, test := range tests {
		got, ok := stats.RankSum(test.before, test.after)
		if !ok || got.Method != stats.Exact {
			t.Errorf("%s: %+v, %v", test.name, got, ok)
		}
		m := float64(len(test.after))
		for _, p := range []struct {
			name      string
			got, want float64
		}{
			{"U", got.W - m*(m+1)/2, test.u}, {"two-sided", got.TwoSided, test.twoSided},
			{"less", got.Less, test.less}, {"greater", got.Greater, test.greater},
		} {
			if p.want != 0 && !near(p.got, p.want, 1e-14) {
				t.Errorf("%s: %s %.10v, want %v", test.name, p.name, p.got, p.want)
			}
		}
		turned, _ := stats.RankSum(test.after, test.before)
		if turned.TwoSided != got.TwoSided || turned.Less != got.Greater || turned.Greater != got.Less {
			t.Errorf("%s: %+v with the sides exchanged, else %+v", test.name, turned, got)
		}
	}
}

// allArrangements computes the test by dealing the values out to the sides in every
// possible way, with ranks found by comparing each value with every other.
func allArrangements(before, after []float64) stats.RankTest {
	values := slices.Concat(after, before)
	ranks := make([]int, len(values)) // doubled
	for i, v := range values {
		for _, w := range values {
			switch {
			case w < v:
				ranks[i] += 2
			case w == v:
				ranks[i]++
			}
		}
		ranks[i]++
	}
	seen := 0
	for i := range after {
		seen += ranks[i]
	}
	mean := len(after) * (len(values) + 1)
	total, low, high, far := 0, 0, 0, 0
	for set := range uint(1) << len(values) {
		if bits.OnesCount(set) != len(after) {
			continue
		}
		sum := 0
		for rest := set; rest != 0; rest &= rest - 1 {
			sum += ranks[bits.TrailingZeros(rest)]
		}
		total++
		if sum <= seen {
			low++
		}
		if sum >= seen {
			high++
		}
		if d := sum - mean; d*d >= (seen-mean)*(seen-mean) {
			far++
		}
	}
	n := float64(total)
	return stats.RankTest{W: float64(seen) / 2, TwoSided: float64(far) / n, Less: float64(low) / n, Greater: float64(high) / n, Method: stats.Exact}
}

// counts returns all samples of up to the given number of values 0, 1 ..., regardless of
// order.
func counts(most, different int) [][]float64 {
	samples := [][]float64{nil}
	for from := 0; from < len(samples); from++ {
		sample := samples[from]
		if len(sample) == most {
			break
		}
		least := 0
		if len(sample) > 0 {
			least = int(sample[len(sample)-1])
		}
		for v := least; v < different; v++ {
			samples = append(samples, append(slices.Clone(sample), float64(v)))
		}
	}
	return samples[1:]
}

func checkAgainstAllArrangements(t interface{ Fatalf(string, ...any) }, before, after []float64) {
	if got, ok := stats.RankSum(before, after); !ok || got != allArrangements(before, after) {
		t.Fatalf("%v and %v: %+v, %v; all arrangements: %+v", before, after, got, ok, allArrangements(before, after))
	}
}

func TestRankSumIsThatOfAllArrangementsOfSmallSamplesWithTies(t *testing.T) {
	different := 4
	if testing.Short() {
		different = 3
	}
	samples := counts(6, different)
	for _, before := range samples {
		for _, after := range samples {
			checkAgainstAllArrangements(t, before, after)
		}
	}
}

func TestRankSumIsThatOfAllArrangements(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Map(rapid.IntRange(0, rapid.IntRange(1, 20).Draw(t, "most")), func(i int) float64 { return 0.1*float64(i) - 1 })
		checkAgainstAllArrangements(t, rapid.SliceOfN(value, 1, 8).Draw(t, "before"), rapid.SliceOfN(value, 1, 8).Draw(t, "after"))
	})
}

func sequence(n int, from, step float64) []float64 {
	values := make([]float64, n)
	for i := range values {
		values[i] = from + step*float64(i)
	}
	return values
}

func TestRankSumSaysWhereItTurnsApproximate(t *testing.T) {
	tests := []struct {
		n, m int
		want stats.Method
	}{
		{13, 13, stats.Exact},    // 10,400,600 arrangements
		{13, 14, stats.Normal},   // 20,058,300
		{1, 19_999, stats.Exact}, // 20,000
		{2, 6_323, stats.Exact},  // 19,999,650
		{2, 6_324, stats.Normal}, // 20,005,975
		{3, 491, stats.Exact},    // 19,970,444
		{3, 492, stats.Normal},   // 20,092,215
		{500, 400, stats.Normal}, // more than a float64 can hold
		{1500, 1500, stats.Normal},
	}
	for _, test := range tests {
		for _, sides := range [][2]int{{test.n, test.m}, {test.m, test.n}} {
			got, ok := stats.RankSum(sequence(sides[0], 0, 1), sequence(sides[1], 0.5, 1))
			if !ok || got.Method != test.want {
				t.Errorf("%v: %+v, %v, want %s", sides, got, ok, test.want)
			}
		}
	}
}

// However far apart the samples are, the result is a possible probability.
func TestRankSumIsAProbability(t *testing.T) {
	for _, n := range []int{1, 5, 13, 14, 40, 1000, 20_000} {
		for _, values := range [][2][]float64{
			{sequence(n, 0, 1), sequence(n, 1e9, 1)},
			{sequence(n, 0, 1), sequence(n, 0, 1)},
			{sequence(n, 0, 0), sequence(n, 1, 0)},
			{sequence(n, 3, 0), sequence(n, 3, 0)},
		} {
			got, ok := stats.RankSum(values[0], values[1])
			for _, p := range []float64{got.TwoSided, got.Less, got.Greater} {
				if !ok || !(p > 0 && p <= 1) {
					t.Errorf("%d: %+v, %v", n, got, ok)
				}
			}
			if values[0][n-1] == values[1][0] && n > 1 && got.TwoSided != 1 {
				t.Errorf("%d equal values: %+v", n, got)
			}
		}
	}
}

func TestRankSumNeedsFiniteValuesOnBothSides(t *testing.T) {
	good := []float64{1, 2, 3}
	for _, bad := range [][]float64{nil, {}, {1, math.NaN()}, {math.Inf(1)}, {math.Inf(-1), 2}} {
		for _, sides := range [][2][]float64{{good, bad}, {bad, good}, {bad, bad}} {
			if got, ok := stats.RankSum(sides[0], sides[1]); ok || got != (stats.RankTest{}) {
				t.Errorf("%v: %+v, %v", sides, got, ok)
			}
		}
	}
}

func TestRankSumLeavesTheValuesAndItsOrderAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(-9, 9), func(i int) float64 { return float64(i) }), 1, 20)
		before, after := values.Draw(t, "before"), values.Draw(t, "after")
		wasBefore, wasAfter := slices.Clone(before), slices.Clone(after)
		got, _ := stats.RankSum(before, after)
		if !slices.Equal(before, wasBefore) || !slices.Equal(after, wasAfter) {
			t.Fatal("the values were moved")
		}
		// Only the ranks of the values count, not their size nor the order in which they
		// are given.
		bend := func(values []float64) []float64 {
			bent := slices.Clone(values)
			for i, v := range values {
				bent[len(bent)-1-i] = math.Exp(v / 2)
			}
			return bent
		}
		if bent, _ := stats.RankSum(bend(before), bend(after)); bent != got {
			t.Fatalf("%+v, bent %+v", got, bent)
		}
	})
}

func TestFullSeparationIsTheLeastRankSumCanGive(t *testing.T) {
	for n := 1; n <= 16; n++ {
		for m := 1; m <= 16; m++ {
			want := new(big.Int).Binomial(int64(n+m), int64(n))
			least, _ := new(big.Rat).SetFrac(big.NewInt(2), want).Float64()
			if got := stats.FullSeparation(n, m); got != min(1, least) {
				t.Errorf("%d and %d: %v, want %v", n, m, got, least)
			}
			if n+m > 26 {
				continue
			}
			if test, ok := stats.RankSum(sequence(n, 0, 1), sequence(m, 100, 1)); !ok || test.TwoSided != min(1, least) {
				t.Errorf("%d and %d separated: %+v, %v", n, m, test, ok)
			}
		}
	}
}

// 3 and 3 can only give 0.1, 4 and 4 can give 0.0286 (tables of the rank-sum test,
// Hollander and Wolfe); 1 and 39 give 0.05 and no less.
func TestTooFew(t *testing.T) {
	enough := map[[2]int]bool{{4, 4}: true, {3, 5}: true, {2, 8}: true, {1, 40}: true, {100, 100}: true, {2, 1_000_000}: true, {5000, 5000}: true}
	for _, few := range [][2]int{{0, 0}, {0, 50}, {-1, 4}, {1, 1}, {3, 3}, {3, 4}, {2, 7}, {1, 39}} {
		enough[few] = false
	}
	for sizes, want := range enough {
		n, m := sizes[0], sizes[1]
		if stats.TooFew(n, m) == want || stats.TooFew(m, n) == want {
			t.Errorf("TooFew(%d, %d) = %v, want %v", n, m, !want, want)
		}
		if p := stats.FullSeparation(n, m); !(p > 0 && p <= 1) || p != stats.FullSeparation(m, n) {
			t.Errorf("%d and %d: %v", n, m, p)
		}
	}
}

func BenchmarkRankSum(b *testing.B) {
	for _, sizes := range [][2]int{{13, 13}, {3, 490}, {2, 6_300}, {1, 1_000_000}, {1000, 1000}} {
		before, after := sequence(sizes[0], 0.25, 3), sequence(sizes[1], 0, 1)
		b.Run(fmt.Sprintf("%dand%d", sizes[0], sizes[1]), func(b *testing.B) {
			for b.Loop() {
				if _, ok := stats.RankSum(before, after); !ok {
					b.Fatal("none")
				}
			}
		})
	}
}
