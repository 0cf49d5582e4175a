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
	"gonum.org/v1/gonum/mat"
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
func Parabola(x, y []float64) (second, standardError float64, ok bool) {
	if len(x) < 4 {
		return 0, 0, false
	}
	c, standardError, ok := leadingCoefficient(x, y, 2)
	second, standardError = 2*c, 2*standardError
	return second, standardError, ok && Finite(second) && Finite(standardError)
}

// leadingCoefficient fits a polynomial of the given degree by least squares and
// returns the coefficient of the highest power of x with its standard error. It
// centres x and scales it to at most 1, so that neither a distant origin nor a small
// unit costs digits. The variance of the last coefficient is that of the residuals
// divided by the square of the last diagonal element of R, where R is the triangle of
// the design's QR factorisation (Golub and Van Loan, Matrix Computations, chapter 5).
func leadingCoefficient(x, y []float64, degree int) (coefficient, standardError float64, ok bool) {
	n := len(x)
	if n != len(y) {
		return 0, 0, false
	}
	from, reach := centred(x)
	if reach == 0 || !Finite(reach) {
		return 0, 0, false
	}
	floats.Scale(1/reach, from)
	design := mat.NewDense(n, degree+1, nil)
	for i, u := range from {
		for power := range degree + 1 {
			design.Set(i, power, math.Pow(u, float64(power)))
		}
	}
	var qr mat.QR
	qr.Factorize(design)
	// Above this condition number there are too few different x to tell the powers
	// apart.
	if !(qr.Cond() < 1e10) {
		return 0, 0, false
	}
	target := mat.NewVecDense(n, slices.Clone(y))
	var fit, rest mat.VecDense
	if qr.SolveVecTo(&fit, false, target) != nil {
		return 0, 0, false
	}
	rest.MulVec(design, &fit)
	rest.SubVec(target, &rest)
	// Fitting the residuals once more corrects the rounding of the first fit.
	var again mat.VecDense
	if qr.SolveVecTo(&again, false, &rest) != nil {
		return 0, 0, false
	}
	fit.AddVec(&fit, &again)
	rest.MulVec(design, &fit)
	rest.SubVec(target, &rest)
	var triangle mat.Dense
	qr.RTo(&triangle)
	unit := math.Pow(reach, float64(degree))
	coefficient = fit.AtVec(degree) / unit
	standardError = mat.Norm(&rest, 2) / math.Sqrt(float64(n-degree-1)) / math.Abs(triangle.At(degree, degree)) / unit
	return coefficient, standardError, Finite(coefficient) && Finite(standardError)
}

// Finite reports whether v is neither NaN nor infinite.
func Finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
