// Package stats provides the descriptive statistics and fits that the measurements
// need, and the tests and intervals that compare two sets of them, on plain slices
// and counts. It knows nothing of signals or units. A result says whether it was
// counted or approximated. No result is infinite or NaN: if there is no answer, ok
// is false. Start with Median, or with RankSum for comparisons.
package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// Median returns the middle value, or the mean of the two middle values (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.5.1). It does not change values. ok is false
// if there are none.
func Median(values []float64) (median float64, ok bool) {
	n := len(values)
	if n == 0 {
		return 0, false
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return halfWay(sorted[(n-1)/2], sorted[n/2]), true
}

// halfWay returns the float64 nearest to the mean of a and b. If their sum would
// overflow, it halves them first.
func halfWay(a, b float64) float64 {
	if a == b {
		return a
	}
	if sum := a + b; Finite(sum) {
		return sum / 2
	}
	return a/2 + b/2
}

// Line fits y = a + b x by least squares and returns b with its standard error,
// sqrt(RSS / (n-2) / sum (x - mean)^2) (Draper and Smith, Applied Regression
// Analysis, chapter 1). It needs at least three points and two different x.
func Line(x, y []float64) (slope, standardError float64, ok bool) {
	n := len(x)
	if n < 3 || n != len(y) {
		return 0, 0, false
	}
	from, reach := centred(x)
	if reach == 0 || !Finite(reach) {
		return 0, 0, false
	}
	floats.Scale(1/reach, from)
	spread := floats.Dot(from, from)
	rest, _ := centred(y)
	// Fitting the residuals once more corrects the rounding of the first fit.
	for range 2 {
		step := floats.Dot(from, rest) / spread
		floats.AddScaled(rest, -step, from)
		slope += step
	}
	slope /= reach
	standardError = floats.Norm(rest, 2) / math.Sqrt(float64(n-2)) / math.Sqrt(spread) / reach
	return slope, standardError, Finite(slope) && Finite(standardError)
}

// centred returns the values less their mean, and the largest absolute value among
// these. It first subtracts the first value from all, so that a common offset costs
// no digits.
func centred(values []float64) (from []float64, reach float64) {
	from = slices.Clone(values)
	floats.AddConst(-values[0], from)
	floats.AddConst(-stat.Mean(from, nil), from)
	return from, floats.Norm(from, math.Inf(1))
}

// Parabola fits y = a + b x + c x^2 by least squares and returns the second
// derivative 2c with its standard error, which is twice that of c. It needs at least
// four points and three different x.
//
// It fits polynomials that are orthogonal over these x (Forsythe 1957): each of their
// coefficients is found by itself, and that of the last one is c.
func Parabola(x, y []float64) (second, standardError float64, ok bool) {
	n := len(x)
	if n < 4 || n != len(y) {
		return 0, 0, false
	}
	// Centred and scaled to at most 1, so that neither a distant origin nor a small unit
	// costs digits.
	linear, reach := centred(x)
	if reach == 0 || !Finite(reach) {
		return 0, 0, false
	}
	floats.Scale(1/reach, linear)
	square := slices.Clone(linear)
	floats.Mul(square, linear)
	floats.AddConst(-stat.Mean(square, nil), square)
	spread := floats.Dot(linear, linear)
	floats.AddScaled(square, -floats.Dot(square, linear)/spread, linear)
	bend := floats.Dot(square, square)
	if bend < 1e-20*float64(n) { // there are but two different x
		return 0, 0, false
	}
	rest, _ := centred(y)
	c := 0.0
	// Fitting the residuals once more corrects the rounding of the first fit.
	for range 2 {
		floats.AddScaled(rest, -floats.Dot(linear, rest)/spread, linear)
		step := floats.Dot(square, rest) / bend
		floats.AddScaled(rest, -step, square)
		c += step
	}
	unit := reach * reach
	second = 2 * c / unit
	standardError = 2 * floats.Norm(rest, 2) / math.Sqrt(float64(n-3)) / math.Sqrt(bend) / unit
	return second, standardError, Finite(second) && Finite(standardError)
}

// Finite reports whether v is neither NaN nor infinite.
func Finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
