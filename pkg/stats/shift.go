package stats

import (
	"math"
	"math/big"
	"slices"
)

// Interval is a statistical confidence interval. It must not be confused with the hard
// bounds of a measured value.
type Interval struct {
	Low, High  float64
	Confidence float64 // that of the method, between 0 and 1
}

// Shift is the amount by which one sample lies above another.
type Shift struct {
	Value float64 // the Hodges-Lehmann estimate
	Interval
	// Rank tells which of the sorted differences are the interval's ends: those with
	// this rank, from 1, counted from the lowest and from the highest.
	Rank int
}

// HodgesLehmann estimates the shift from before to after: the median of all differences
// between a value after and a value before, with the distribution-free interval between
// the k-th lowest and the k-th highest of them (Hollander, Wolfe and Chicken,
// Nonparametric Statistical Methods, sections 4.2 and 4.3). k is the highest rank for
// which the interval's confidence, 1 - 2 P(U < k) for the Mann-Whitney count U of
// samples without ties, is at least the one asked for. If there is no such k, the
// interval reaches from the lowest to the highest difference, and Confidence is less
// than what was asked for. With ties the coverage is at least Confidence.
//
// The differences are not stored, so memory does not grow with their number. ok is false
// if a side is empty, if a value or a difference is not finite, or if the confidence is
// not between 0 and 1.
func HodgesLehmann(before, after []float64, confidence float64) (shift Shift, ok bool) {
	if len(before) == 0 || len(after) == 0 || !allFinite(before) || !allFinite(after) || !(confidence > 0 && confidence < 1) {
		return Shift{}, false
	}
	d := differences{low: slices.Sorted(slices.Values(before)), high: slices.Sorted(slices.Values(after))}
	if !Finite(d.least()) || !Finite(d.most()) {
		return Shift{}, false
	}
	pairs := len(before) * len(after)
	shift.Value = halfWay(d.ranked((pairs+1)/2), d.ranked(pairs/2+1))
	shift.Rank, shift.Confidence = shiftRank(len(before), len(after), confidence)
	shift.Low, shift.High = d.ranked(shift.Rank), d.ranked(pairs+1-shift.Rank)
	return shift, true
}

// differences stands for the differences between each value of high and each value of
// low, which are both sorted.
type differences struct{ low, high []float64 }

func (d differences) least() float64 { return d.high[0] - d.low[len(d.low)-1] }
func (d differences) most() float64  { return d.high[len(d.high)-1] - d.low[0] }

// upTo returns how many differences are at most v. A higher low value gives a lower
// difference, even after rounding, so one walk along both slices is enough.
func (d differences) upTo(v float64) int {
	count, j := 0, 0
	for _, low := range d.low {
		for j < len(d.high) && d.high[j]-low <= v {
			j++
		}
		count += j
	}
	return count
}

// ranked returns the difference with the given rank, from 1. It bisects the float64
// numbers between the least and the greatest difference, with at most 64 walks.
func (d differences) ranked(rank int) float64 {
	low, high := place(d.least()), place(d.most())
	for low < high {
		middle := low + (high-low)/2
		if d.upTo(atPlace(middle)) >= rank {
			high = middle
		} else {
			low = middle + 1
		}
	}
	if v := atPlace(low); v != 0 {
		return v
	}
	return 0 // and not -0
}

const signBit = 1 << 63

// place maps float64 numbers to integers in the same order.
func place(v float64) uint64 {
	if bits := math.Float64bits(v); bits&signBit == 0 {
		return bits | signBit
	} else {
		return ^bits
	}
}

// atPlace is the inverse of place.
func atPlace(place uint64) float64 {
	if place&signBit != 0 {
		return math.Float64frombits(place &^ signBit)
	}
	return math.Float64frombits(^place)
}

// mostCounted is the number of arrangements up to which they are counted in whole
// numbers. Up to it each count is exact as a float64, and a share of them is the float64
// nearest to the true one.
const mostCounted = 1 << 53

// shiftRank returns the highest rank k for which 1 - 2 P(U < k) is at least the
// confidence, or 1 if there is none, and the confidence that k reaches.
func shiftRank(n, m int, confidence float64) (rank int, reached float64) {
	below := countedBelow(n, m) // P(U < k)
	if below == nil {
		below = summedBelow(n, m)
	}
	rank = 1
	for step, most := 1, n*m/2+1; ; { // beyond the middle 1 - 2 P is negative
		// Search from the last good rank in steps that double and then shrink.
		if next := rank + step; next <= most && 1-2*below(next) >= confidence {
			rank, step = next, 2*step
		} else if step > 1 {
			step = max(1, step/4)
		} else {
			return rank, max(0, 1-2*below(rank))
		}
	}
}

// countedBelow returns the null distribution P(U < k) of the Mann-Whitney count without
// ties for 0 < k <= nm/2 + 1, found by counting, or nil if there are too many
// arrangements to count. The number of arrangements with U = k is the coefficient of q^k
// in the product of (1 - q^(m+i)) / (1 - q^i) for i from 1 to n (Andrews, The Theory
// of Partitions, chapter 3; as a procedure Harding, Applied Statistics 33, 1984).
// After each i the coefficients are those of a smaller n, hence whole, positive
// and no greater than the number of arrangements.
func countedBelow(n, m int) func(k int) float64 {
	total, ok := arrangements(n, m, mostCounted)
	if !ok {
		return nil
	}
	n, m = min(n, m), max(n, m)
	ways := make([]int64, n*m/2+1)
	ways[0] = 1
	for i := 1; i <= n; i++ {
		for k := len(ways) - 1; k >= m+i; k-- {
			ways[k] -= ways[k-m-i]
		}
		for k := i; k < len(ways); k++ {
			ways[k] += ways[k-i]
		}
	}
	for k := 1; k < len(ways); k++ {
		ways[k] += ways[k-1]
	}
	return func(k int) float64 { return float64(ways[k-1]) / float64(total) }
}

// leastTerm is the size below which a term of the Fourier sum no longer matters to a
// float64 of the size of the probabilities in question.
const leastTerm = 1e-20

// summedBelow returns the same distribution for more arrangements than a float64 can
// count exactly, where the subtractions of counting would cost all digits. It uses
// Fourier inversion. On the unit circle, at q = exp(2 i t), the product of countedBelow
// divided by its value at q = 1 is the characteristic function of U - nm/2, which is
// real:
//
//	f(t) = product of (sin((m+i) t) / (m+i)) / (sin(i t) / i), i from 1 to n.
//
// U takes the values 0 to nm. For any M above nm and t = pi j / M, the sum of f(t)
// cos(2 t (u - nm/2)) over j from 0 to M-1, divided by M, is P(U = u). The code computes
// its sum over u < k. M is prime, so that no sine in a denominator is 0. f falls off
// within a few times M / (standard deviation of U); once all terms between j and 2 j are
// too small to matter, the rest is left out. Tests hold the error below 1e-13.
func summedBelow(n, m int) func(k int) float64 {
	n, m = min(n, m), max(n, m)
	period := n*m + 1
	for !big.NewInt(int64(period)).ProbablyPrime(0) { // certain below 2^64
		period++
	}
	var factors []float64 // f(t) / sin(t), for j from 1
	for j, mattered := 1, 1; j <= period/2 && j <= 2*mattered+16; j++ {
		f := 1 / sinPi(j, period)
		for i := 1; i <= n; i++ {
			f *= sinPi((m+i)*j, period) / sinPi(i*j, period) * float64(i) / float64(m+i)
		}
		factors = append(factors, f)
		if math.Abs(f) > leastTerm*float64(period) {
			mattered = j
		}
	}
	return func(k int) float64 {
		sum := float64(k)
		for i := len(factors) - 1; i >= 0; i-- { // the small ones first
			j := i + 1
			sum += factors[i] * (sinPi((2*k-1-n*m)*j, period) + sinPi((n*m+1)*j, period))
		}
		return sum / float64(period)
	}
}

// sinPi returns sin(pi a / b) to full precision, even near its zeros.
func sinPi(a, b int) float64 {
	sign := 1.0
	if a < 0 {
		a, sign = -a, -sign
	}
	if a %= 2 * b; a >= b {
		a, sign = a-b, -sign
	}
	return sign * math.Sin(math.Pi*float64(min(a, b-a))/float64(b))
}
