package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
)

// Method is how a probability was found.
type Method string

const (
	Exact  Method = "exact"  // by counting every arrangement
	Normal Method = "normal" // by the normal distribution, an approximation
)

// Significance is the level at which a difference counts as shown.
const Significance = 0.05

// mostArrangements is the number of ways of dealing the values out to the two sides up
// to which a rank test is exact.
const mostArrangements = 20_000_000

// RankTest is the outcome of RankSum. Its probabilities are those of ranks as extreme
// as the observed ones, or more so, if the two sides did not differ. Each is above 0
// and at most 1.
type RankTest struct {
	// W is the sum of the second side's midranks among all values.
	W float64
	// TwoSided is the probability that W lies at least as far from its mean, on
	// either side. With ties it need not be twice a tail.
	TwoSided float64
	// Less and Greater are the probabilities that W is at most, and at least, as
	// high as it is.
	Less, Greater float64
	Method        Method
}

// RankSum compares two independent samples by the sum of ranks (Wilcoxon, Mann and
// Whitney; Hollander, Wolfe and Chicken, Nonparametric Statistical Methods,
// sections 4.1 and 4.4). Tied values share the mean of their ranks. Up to
// 20,000,000 arrangements the probabilities are exact: those of all permutations of
// the actual midranks. Beyond, they are those of the normal distribution, with the
// variance corrected for ties and W moved by 1/2 towards its mean. The result does
// not depend on the values' unit. ok is false if a side is empty or a value is not
// finite.
func RankSum(before, after []float64) (test RankTest, ok bool) {
	if len(before) == 0 || len(after) == 0 || !allFinite(before) || !allFinite(after) {
		return RankTest{}, false
	}
	sorted := slices.Concat(before, after)
	slices.Sort(sorted)
	doubled, ties := doubledMidranks(sorted)
	sum := 0 // the doubled W
	for _, v := range after {
		first, _ := slices.BinarySearch(sorted, v)
		sum += doubled[first]
	}
	test.W = float64(sum) / 2
	if _, few := arrangements(len(before), len(after), mostArrangements); few {
		test.exact(doubled, len(after), sum)
	} else {
		test.normal(len(before), len(after), ties)
	}
	return test, true
}

// doubledMidranks returns twice the rank, from 1, of each of the sorted values. Equal
// values share the mean of their ranks; doubled, it is a whole number. ties is the sum
// of t^3 - t over the groups of t equal values.
func doubledMidranks(sorted []float64) (doubled []int, ties float64) {
	doubled = make([]int, len(sorted))
	for from := 0; from < len(sorted); {
		to := from + 1
		for to < len(sorted) && sorted[to] == sorted[from] {
			to++
		}
		for i := from; i < to; i++ {
			doubled[i] = from + 1 + to
		}
		t := float64(to - from)
		ties += t * (t*t - 1)
		from = to
	}
	return doubled, ties
}

// exact finds the probabilities by counting the arrangements of the doubled midranks
// by the sum of the second side, which has size values and the given sum.
func (test *RankTest) exact(doubled []int, size, sum int) {
	test.Method = Exact
	less, greater, off := shares(doubled, size, sum)
	test.Less, test.Greater, test.TwoSided = probability(less), probability(greater), probability(off)
}

// shares considers all ways to choose size of the scores, which are sorted and not
// negative. It returns in which share of them the sum of the chosen scores is at most
// the given sum, at least that sum, and at least as far from the mean as that sum.
func shares(scores []int, size, sum int) (less, greater, off float64) {
	n, all := len(scores), 0
	for _, s := range scores {
		all += s
	}
	// Count for the smaller side. The other side's sum is all minus its own.
	mirrored := size > n-size
	if mirrored {
		size, sum = n-size, all-sum
	}
	var total, low, high, far int64
	distance := abs(n*sum - size*all) // n times the distance from the mean
	for s, ways := range countSums(scores, size) {
		total += ways
		if s <= sum {
			low += ways
		}
		if s >= sum {
			high += ways
		}
		if abs(n*s-size*all) >= distance {
			far += ways
		}
	}
	if mirrored {
		low, high = high, low
	}
	return float64(low) / float64(total), float64(high) / float64(total), float64(far) / float64(total)
}

func abs(n int) int { return max(n, -n) }

// countSums returns, for each sum, in how many ways size of the scores, which are
// sorted and not negative, add up to it (the shift algorithm of Streitberg and Röhmel,
// 1986). It adds each score in turn to all choices made before it. Since the scores are
// sorted, the sum of j scores lies between the sum of the first j and that of the last
// j so far.
func countSums(scores []int, size int) []int64 {
	ways := make([][]int64, size+1) // ways[j][s]: choices of j scores with the sum s
	lowest, highest := make([]int, size+1), make([]int, size+1)
	for j := range ways {
		top := 0
		for _, s := range scores[len(scores)-j:] {
			top += s
		}
		ways[j] = make([]int64, top+1)
	}
	ways[0][0] = 1
	for i, score := range scores {
		for j := min(i+1, size); j >= 1; j-- {
			to := ways[j][score:]
			for s := lowest[j-1]; s <= highest[j-1]; s++ {
				to[s] += ways[j-1][s]
			}
		}
		for j := 1; j <= size; j++ {
			highest[j] += score
			if j > i {
				lowest[j] += score
			} else {
				highest[j] -= scores[i-j]
			}
		}
	}
	return ways[size]
}

// normal approximates the probabilities by the normal distribution. The variance is
// that of the midranks under permutation. It is 0 only if all values are equal; then
// all probabilities are 1.
func (test *RankTest) normal(before, after int, ties float64) {
	test.Method = Normal
	n, m := float64(before), float64(after)
	all := n + m
	deviation := test.W - m*(all+1)/2
	spread := math.Sqrt(n * m / 12 * (all + 1 - ties/(all*(all-1))))
	if !(spread > 0) {
		test.TwoSided, test.Less, test.Greater = 1, 1, 1
		return
	}
	// tail is the probability above z.
	tail := func(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }
	test.TwoSided = probability(2 * tail(max(0, math.Abs(deviation)-0.5)/spread))
	test.Greater = probability(tail((deviation - 0.5) / spread))
	test.Less = probability(tail(-(deviation + 0.5) / spread))
}

// probability clamps p to the range of a probability. Something that did happen never
// has the probability 0, even if it is too small for a float64.
func probability(p float64) float64 {
	return min(1, max(p, math.SmallestNonzeroFloat64))
}

// arrangements returns the number of ways to deal n + m values out to sides of n and m.
// ok is false if there are more than most, which is at most 2^53.
func arrangements(n, m int, most uint64) (count uint64, ok bool) {
	few, all := uint64(min(n, m)), uint64(n)+uint64(m)
	count = 1
	for i := uint64(1); i <= few; i++ {
		// After each step count is the number of ways to choose i of all - few + i
		// values.
		factor := all - few + i
		if count > math.MaxUint64/factor {
			return 0, false
		}
		if count = count * factor / i; count > most {
			return 0, false
		}
	}
	return count, true
}

// FullSeparation returns the smallest two-sided probability that RankSum can return for
// sides of n and m values: that of all values of one side lying above all values of the
// other. It is 1 if a side is empty.
func FullSeparation(n, m int) float64 {
	if n < 1 || m < 1 {
		return 1
	}
	return probability(2 * shareOfOne(n, m))
}

// shareOfOne returns the probability of a single arrangement of n and m values, 1
// divided by their number. If there are too many to count exactly, it uses the
// logarithm of their number.
func shareOfOne(n, m int) float64 {
	if count, ok := arrangements(n, m, mostCounted); ok {
		return 1 / float64(count)
	}
	return math.Exp(-combin.LogGeneralizedBinomial(float64(n)+float64(m), float64(min(n, m))))
}

// TooFew reports whether n and m values are too few for RankSum to find any difference
// significant, since not even FullSeparation is below Significance.
func TooFew(n, m int) bool { return FullSeparation(n, m) >= Significance }

func allFinite(values []float64) bool {
	return !slices.ContainsFunc(values, func(v float64) bool { return !Finite(v) })
}
