package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Rate is a count out of a total, such as 3 stops out of 10 opportunities.
type Rate struct{ Count, Of int }

// ok reports whether the rate is valid: 0 <= Count <= Of and Of > 0.
func (r Rate) ok() bool { return r.Of > 0 && r.Count >= 0 && r.Count <= r.Of }

// value returns the rate as a share, Count / Of. The rate must be ok.
func (r Rate) value() float64 { return float64(r.Count) / float64(r.Of) }

// normalQuantile returns within how many standard deviations of its mean a normal
// variable lies with the given confidence.
func normalQuantile(confidence float64) (z float64, ok bool) {
	if !(confidence > 0 && confidence < 1) {
		return 0, false
	}
	return -mathext.NormalQuantile((1 - confidence) / 2), true
}

// Wilson returns the score interval of a rate's true share (E. B. Wilson, 1927; without
// continuity correction: method 3 of Newcombe, Statistics in Medicine 17, 1998,
// 857-872). ok is false if the rate is invalid or the confidence is not between 0 and 1.
func Wilson(r Rate, confidence float64) (interval Interval, ok bool) {
	z, ok := normalQuantile(confidence)
	if !ok || !r.ok() {
		return Interval{}, false
	}
	n, p := float64(r.Of), r.value()
	middle := p + z*z/(2*n)
	half := z * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	interval = Interval{Low: (middle - half) / (1 + z*z/n), High: (middle + half) / (1 + z*z/n), Confidence: confidence}
	// At the ends the formula gives exactly 0 and 1, apart from rounding.
	if r.Count == 0 {
		interval.Low = 0
	}
	if r.Count == r.Of {
		interval.High = 1
	}
	return interval, true
}

// Difference is the amount by which one share exceeds another, with its interval.
type Difference struct {
	Value float64
	Interval
}

// Newcombe returns the difference of two independent rates' shares, after - before,
// with the hybrid interval of their score intervals (method 10 of Newcombe,
// Statistics in Medicine 17, 1998, 873-890). ok is false if a rate is invalid or the
// confidence is not between 0 and 1.
func Newcombe(before, after Rate, confidence float64) (difference Difference, ok bool) {
	b, ok := Wilson(before, confidence)
	if !ok {
		return Difference{}, false
	}
	a, ok := Wilson(after, confidence)
	if !ok {
		return Difference{}, false
	}
	d := after.value() - before.value()
	return Difference{Value: d, Interval: Interval{
		Low:        max(-1, d-math.Hypot(after.value()-a.Low, b.High-before.value())),
		High:       min(1, d+math.Hypot(a.High-after.value(), before.value()-b.Low)),
		Confidence: confidence,
	}}, true
}

// FisherTest is the outcome of Fisher's exact test. Its probabilities assume that both
// sides have the same true share, and are conditional on the total count of both sides.
// Each is above 0 and at most 1.
type FisherTest struct {
	// TwoSided is the probability of all tables that are no more probable than the
	// observed one.
	TwoSided float64
	// Less and Greater are the probabilities that the count after is at most, and at
	// least, as high as it is.
	Less, Greater float64
}

// equallyProbable is the relative difference up to which two tables count as equally
// probable, to allow for rounding.
const equallyProbable = 1e-9

// Fisher compares two independent rates by the hypergeometric distribution (R. A.
// Fisher, The Design of Experiments, chapter 2; Agresti, Categorical Data Analysis,
// section 3.5). ok is false if a rate is invalid.
func Fisher(before, after Rate) (test FisherTest, ok bool) {
	if !before.ok() || !after.ok() {
		return FisherTest{}, false
	}
	together := before.Count + after.Count
	lowest, highest := max(0, together-before.Of), min(together, after.Of)
	// Probabilities are relative to that of a count near the most probable one, and
	// are computed from there outwards by the ratio of neighbours until they are too
	// small for a float64.
	mode := min(highest, max(lowest, int((float64(after.Of)+1)*(float64(together)+1)/(float64(before.Of)+float64(after.Of)+2))))
	ratio := func(count int) float64 { // probability of count + 1 over that of count
		return float64(after.Of-count) / float64(count+1) * (float64(together-count) / float64(before.Of-together+count+1))
	}
	up := []float64{1} // mode, mode + 1 ...
	for count := mode; count < highest && up[count-mode] > 0; count++ {
		up = append(up, up[count-mode]*ratio(count))
	}
	down := []float64{1} // mode, mode - 1 ...
	for count := mode; count > lowest && down[mode-count] > 0; count-- {
		down = append(down, down[mode-count]/ratio(count-1))
	}
	weight := func(count int) float64 {
		list, i := up, count-mode
		if i < 0 {
			list, i = down, -i
		}
		if i < len(list) {
			return list[i]
		}
		return 0
	}
	limit := weight(after.Count) * (1 + equallyProbable)
	total := 0.0
	for count := mode - len(down) + 1; count < mode+len(up); count++ {
		w := weight(count)
		total += w
		if count <= after.Count {
			test.Less += w
		}
		if count >= after.Count {
			test.Greater += w
		}
		if w <= limit {
			test.TwoSided += w
		}
	}
	test.Less, test.Greater, test.TwoSided = probability(test.Less/total), probability(test.Greater/total), probability(test.TwoSided/total)
	return test, true
}

// TooFewForRates reports whether n and m cases are too few for Fisher to find any
// difference significant: not even none of one side and all of the other. With equal
// sides the reverse table is just as probable and would count, too, but that never
// decides: for no such n does the probability of one table lie between half of
// Significance and Significance.
func TooFewForRates(n, m int) bool { return shareOfOne(n, m) >= Significance }

// Poisson returns the interval of the true mean of a count of independent events. It is
// exact: its coverage is never below the confidence (Garwood, Biometrika 28, 1936, from
// the chi-squared distribution). Divided by the time or the distance over which the
// events were counted, it is the interval of their rate. ok is false if the count is
// negative or the confidence is not between 0 and 1.
func Poisson(count int, confidence float64) (interval Interval, ok bool) {
	if count < 0 || !(confidence > 0 && confidence < 1) {
		return Interval{}, false
	}
	tail := (1 - confidence) / 2
	// Half a chi-squared variable of 2k degrees of freedom is a gamma variable of shape
	// k.
	interval = Interval{High: mathext.GammaIncRegCompInv(float64(count)+1, tail), Confidence: confidence}
	if count > 0 {
		interval.Low = mathext.GammaIncRegInv(float64(count), tail)
	}
	return interval, true
}
