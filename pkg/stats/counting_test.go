package stats

import (
	"fmt"
	"math"
	"math/big"
	"testing"
)

// The permutation test of a difference of means is that of the sum of one side's values,
// so the code that counts sums of ranks serves for it, too. The data are the mice of
// Efron and Tibshirani, An Introduction to the Bootstrap, table 2.1. Of all 11,440
// permutations, 1613 are as extreme on one side, 3184 on both.
func TestPermutationTestOfPublishedMeans(t *testing.T) {
	scores := []int{10, 16, 23, 27, 30, 38, 40, 46, 51, 52, 94, 99, 104, 141, 146, 197}
	const treated, control = 94 + 197 + 16 + 38 + 99 + 141 + 23, 52 + 104 + 146 + 10 + 51 + 30 + 40 + 27 + 46
	_, greater, off := shares(scores, 7, treated)
	if greater != 1613./11440 || off != 3184./11440 {
		t.Errorf("treated: %v and %v", greater, off)
	}
	less, _, off := shares(scores, 9, control)
	if less != 1613./11440 || off != 3184./11440 {
		t.Errorf("control: %v and %v", less, off)
	}
}

func tiesOf(sorted ...float64) float64 {
	_, ties := doubledMidranks(sorted)
	return ties
}

// Published values of the normal approximation.
func TestNormalApproximationOfPublishedData(t *testing.T) {
	tests := []struct {
		name          string // and where the value is from
		w             float64
		before, after int
		ties          float64
		want          float64
	}{
		{"permeability; R's wilcox.test as quoted by SciPy's tests", 15 + 15, 10, 5, 0, 0.2446236051},
		{"example of SciPy's documentation", 17 + 15, 4, 5, 0, 0.1113468865},
		{"1 2 2 and 2 3 4, variance 4.65; SciPy's tests", 1 + 6, 3, 3, tiesOf(1, 2, 2, 2, 3, 4), 0.16415973},
		{"W at its mean", 10.5, 3, 3, 0, 1},
	}
	for _, test := range tests {
		var got RankTest
		got.W = test.w
		got.normal(test.before, test.after, test.ties)
		if got.Method != Normal || math.Abs(got.TwoSided-test.want) > 1e-8*test.want {
			t.Errorf("%s: %+v, want %v", test.name, got, test.want)
		}
	}
}

// Where both are available, the approximation is close to the counted probabilities in
// each tail. The distribution is flatter than the normal one: its excess kurtosis, -6
// (n^2 + m^2 + nm + n + m) / (5 nm (n+m+1)), is -0.14 here, which moves a tail by up to
// 0.0033.
func TestNormalApproximationIsNearTheCountedProbabilities(t *testing.T) {
	doubled, _ := doubledMidranks([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26})
	for w := 91; w <= 260; w++ {
		counted, near := RankTest{W: float64(w)}, RankTest{W: float64(w)}
		counted.exact(doubled, 13, 2*w)
		near.normal(13, 13, 0)
		if math.Abs(counted.Less-near.Less) > 0.0034 || math.Abs(counted.Greater-near.Greater) > 0.0034 || math.Abs(counted.TwoSided-near.TwoSided) > 0.0068 {
			t.Errorf("counted %+v, approximated %+v", counted, near)
		}
	}
}

// bigBelow computes P(U < k) by counting in whole numbers of any size.
func bigBelow(n, m int) []float64 {
	ways := make([]*big.Int, n*m+1)
	for k := range ways {
		ways[k] = new(big.Int)
	}
	ways[0].SetInt64(1)
	for i := 1; i <= n; i++ {
		for k := n * m; k >= m+i; k-- {
			ways[k].Sub(ways[k], ways[k-m-i])
		}
		for k := i; k <= n*m; k++ {
			ways[k].Add(ways[k], ways[k-i])
		}
	}
	total := new(big.Int).Binomial(int64(n+m), int64(n))
	below, sum := make([]float64, n*m+2), new(big.Int)
	for k, w := range ways {
		sum.Add(sum, w)
		below[k+1], _ = new(big.Rat).SetFrac(sum, total).Float64()
	}
	return below
}

// The numbers of arrangements with U = 0, 1 ... are those of the tables of Mann and
// Whitney (Annals of Mathematical Statistics 18, 1947; from memory: 1 1 2 3 3 3 3 2 1 1
// of 20).
func TestNullDistributionOfThreeAndThree(t *testing.T) {
	below := countedBelow(3, 3)
	for k, want := range []float64{1, 2, 4, 7, 10} {
		if got := below(k + 1); got != want/20 {
			t.Errorf("P(U < %d) = %v, want %v of 20", k+1, got, want)
		}
	}
}

func TestNullDistributionIsCountedToTheLastDigit(t *testing.T) {
	for _, sizes := range [][2]int{{1, 1}, {1, 40}, {2, 9}, {9, 2}, {5, 5}, {11, 11}, {27, 28}, {28, 28}, {4, 300}} {
		n, m := sizes[0], sizes[1]
		below, want := countedBelow(n, m), bigBelow(n, m)
		for k := 1; k <= n*m/2+1; k++ {
			if got := below(k); got != want[k] {
				t.Errorf("%v: P(U < %d) = %v, want %v", sizes, k, got, want[k])
			}
		}
	}
	for _, sizes := range [][2]int{{29, 29}, {200, 300}, {1000, 1000}} {
		if countedBelow(sizes[0], sizes[1]) != nil {
			t.Errorf("%v is counted, although there are more arrangements than a float64 can count", sizes)
		}
	}
}

func TestNullDistributionOfLargeSamplesIsThatOfWholeNumbers(t *testing.T) {
	for _, sizes := range [][2]int{{1, 1}, {1, 50}, {2, 2}, {2, 301}, {3, 3}, {3, 400}, {4, 300}, {5, 7}, {6, 350}, {8, 250}, {13, 14},
		{20, 120}, {29, 29}, {30, 31}, {60, 40}, {80, 80}} {
		n, m := sizes[0], sizes[1]
		below, want := summedBelow(n, m), bigBelow(n, m)
		for k := 1; k <= n*m/2+1; k++ {
			if got := below(k); math.Abs(got-want[k]) > 1e-13 {
				t.Errorf("%v: P(U < %d) = %v, want %v, off by %.1g", sizes, k, got, want[k], got-want[k])
				break
			}
		}
	}
}

// U and nm - U have the same distribution, so P(U < k) + P(U < nm + 1 - k) = 1.
func TestNullDistributionOfVeryLargeSamplesIsSymmetric(t *testing.T) {
	for _, sizes := range [][2]int{{300, 300}, {1000, 1000}, {5, 30_000}, {10, 5000}, {100, 100_000}} {
		n, m := sizes[0], sizes[1]
		below := summedBelow(n, m)
		for _, share := range []float64{0, 0.1, 0.3, 0.45, 0.499} {
			k := int(share * float64(n*m))
			if sum := below(k) + below(n*m+1-k); math.Abs(sum-1) > 1e-13 {
				t.Errorf("%v: %v at %d", sizes, sum, k)
			}
		}
		if p := below(n*m + 1); math.Abs(p-1) > 1e-13 {
			t.Errorf("%v: the total probability is %v", sizes, p)
		}
	}
}

func TestShiftRankIsTheHighestThatReaches(t *testing.T) {
	for n := 1; n <= 9; n++ {
		for m := 1; m <= 30; m++ {
			below := bigBelow(n, m)
			for _, confidence := range []float64{1e-6, 0.3, 0.9, 0.95, 0.99, 0.9999} {
				want := 1
				for want+1 < len(below) && 1-2*below[want+1] >= confidence {
					want++
				}
				rank, reached := shiftRank(n, m, confidence)
				if rank != want || reached != 1-2*below[want] {
					t.Errorf("%d and %d, %v: rank %d with %v, want %d with %v", n, m, confidence, rank, reached, want, 1-2*below[want])
				}
			}
		}
	}
}

func TestPlacesOfNumbersAreInTheirOrder(t *testing.T) {
	list := []float64{-math.MaxFloat64, -1e10, -1, -math.SmallestNonzeroFloat64, 0, math.SmallestNonzeroFloat64, 1e-300, 1, math.MaxFloat64}
	for i, v := range list {
		if back := atPlace(place(v)); back != v {
			t.Errorf("%v came back as %v", v, back)
		}
		if i > 0 && place(list[i-1]) >= place(v) {
			t.Errorf("the place of %v is not below that of %v", list[i-1], v)
		}
	}
}

func TestSinPiHasItsZeros(t *testing.T) {
	for _, b := range []int{7, 90_001} {
		for _, test := range []struct {
			a    int
			want float64
		}{{0, 0}, {b, 0}, {2 * b, 0}, {-3 * b, 0}, {1, math.Sin(math.Pi / float64(b))}, {b - 1, math.Sin(math.Pi / float64(b))},
			{b + 1, -math.Sin(math.Pi / float64(b))}, {-1, -math.Sin(math.Pi / float64(b))}} {
			if got := sinPi(test.a, b); got != test.want {
				t.Errorf("sin(pi %d/%d) = %v, want %v", test.a, b, got, test.want)
			}
		}
	}
}

func BenchmarkNullDistribution(b *testing.B) {
	for _, sizes := range [][2]int{{28, 28}, {29, 29}, {300, 300}, {1000, 1000}, {5, 30_000}, {100, 100_000}, {5000, 5000}} {
		b.Run(fmt.Sprintf("%dand%d", sizes[0], sizes[1]), func(b *testing.B) {
			for b.Loop() {
				shiftRank(sizes[0], sizes[1], 0.95)
			}
		})
	}
}
