// Package stats holds the descriptive statistics and fits that the measurements
// need, on plain slices. It knows nothing of signals or units.
package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Median is the middle value, or the mean of the two middle ones. It sorts a
// copy. The median of nothing is not a number that could be told: ok is false.
func Median(values []float64) (median float64, ok bool) {
	n := len(values)
	if n == 0 {
		return 0, false
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	if n%2 == 1 {
		return sorted[n/2], true
	}
	return sorted[n/2-1] + (sorted[n/2]-sorted[n/2-1])/2, true
}

// Line fits y = a + b x by least squares and gives b with its standard error.
// It needs three points and two different x.
func Line(x, y []float64) (slope, standardError float64, ok bool) {
	n := len(x)
	if n < 3 || n != len(y) || slices.Min(x) == slices.Max(x) {
		return 0, 0, false
	}
	intercept, slope := stat.LinearRegression(x, y, nil, false)
	mean := stat.Mean(x, nil)
	var residual, spread float64
	for i := range x {
		d := y[i] - intercept - slope*x[i]
		residual += d * d
		spread += (x[i] - mean) * (x[i] - mean)
	}
	standardError = math.Sqrt(residual / float64(n-2) / spread)
	return slope, standardError, isFinite(slope) && isFinite(standardError)
}

// Parabola fits y = a + b x + c x2 by least squares and gives the second
// derivative 2c with its standard error. It needs four points and three
// different x.
func Parabola(x, y []float64) (second, standardError float64, ok bool) {
	n := len(x)
	if n < 4 || n != len(y) {
		return 0, 0, false
	}
	design := mat.NewDense(n, 3, nil)
	for i, v := range x {
		design.SetRow(i, []float64{1, v, v * v})
	}
	var qr mat.QR
	qr.Factorize(design)
	if qr.Cond() > 1e12 {
		return 0, 0, false
	}
	var coefficients mat.VecDense
	if err := qr.SolveVecTo(&coefficients, false, mat.NewVecDense(n, slices.Clone(y))); err != nil {
		return 0, 0, false
	}
	var residual float64
	for i, v := range x {
		d := y[i] - coefficients.AtVec(0) - coefficients.AtVec(1)*v - coefficients.AtVec(2)*v*v
		residual += d * d
	}
	var normal, inverse mat.Dense
	normal.Mul(design.T(), design)
	if err := inverse.Inverse(&normal); err != nil {
		return 0, 0, false
	}
	second = 2 * coefficients.AtVec(2)
	standardError = 2 * math.Sqrt(residual/float64(n-3)*inverse.At(2, 2))
	return second, standardError, isFinite(second) && isFinite(standardError)
}

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Tally counts values, so that the median of a very long run of samples takes
// memory for its different values only. The zero Tally is empty and ready.
type Tally struct {
	counts map[float64]int
	total  int
}

// maxDifferent bounds a Tally's memory. A field of 16 bits fits; of a wider one
// values beyond it are counted at the nearest value of half the precision.
const maxDifferent = 1 << 16

// Add counts a value.
func (t *Tally) Add(v float64) {
	if t.counts == nil {
		t.counts = make(map[float64]int)
	}
	if _, known := t.counts[v]; !known && len(t.counts) >= maxDifferent {
		v = float64(float32(v))
		if _, known = t.counts[v]; !known && len(t.counts) >= 2*maxDifferent {
			return
		}
	}
	t.counts[v]++
	t.total++
}

// Len is how many values were counted.
func (t *Tally) Len() int { return t.total }

// Reset forgets everything.
func (t *Tally) Reset() {
	clear(t.counts)
	t.total = 0
}

// Median of what was counted together with the values given.
func (t *Tally) Median(more []float64) (float64, bool) {
	n := t.total + len(more)
	if n == 0 {
		return 0, false
	}
	counts := make(map[float64]int, len(t.counts)+len(more))
	for v, c := range t.counts {
		counts[v] = c
	}
	for _, v := range more {
		counts[v]++
	}
	values := make([]float64, 0, len(counts))
	for v := range counts {
		values = append(values, v)
	}
	slices.Sort(values)
	at := func(rank int) float64 {
		for _, v := range values {
			if rank -= counts[v]; rank < 0 {
				return v
			}
		}
		return values[len(values)-1]
	}
	if n%2 == 1 {
		return at(n / 2), true
	}
	low, high := at(n/2-1), at(n/2)
	return low + (high-low)/2, true
}
