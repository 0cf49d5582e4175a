// Package stats holds the descriptive statistics and fits that the measurements
// need, and the tests and intervals by which two sets of them are compared, on
// plain slices and counts. It knows nothing of signals or units, it never turns
// from counting to approximation without saying so, and no number that comes out
// of it is infinite or not a number: where there is nothing to tell, ok is false.
// Start with Median, or with RankSum for comparisons.
package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Median returns the middle value, or the mean of the two middle ones (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.5.1). It sorts a copy. The median of
// nothing is not a number that could be told: ok is false.
func Median(values []float64) (median float64, ok bool) {
	n := len(values)
	if n == 0 {
		return 0, false
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return halfWay(sorted[(n-1)/2], sorted[n/2]), true
}

// halfWay returns the float64 nearest to the mean of two values. Only where their sum
// is too great for a float64 are they halved first.
func halfWay(a, b float64) float64 {
	if a == b {
		return a
	}
	if sum := a + b; Finite(sum) {
		return sum / 2
	}
	return a/2 + b/2
}

// Line fits y = a + b x by least squares and gives b with its standard error,
// sqrt(RSS / (n-2) / sum (x - mean)^2) (Draper and Smith, Applied Regression
// Analysis, chapter 1). It needs three points and two different x.
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
	// Fitting what is left once more mends the rounding of the first time.
	for range 2 {
		step := floats.Dot(from, rest) / spread
		floats.AddScaled(rest, -step, from)
		slope += step
	}
	slope /= reach
	standardError = floats.Norm(rest, 2) / math.Sqrt(float64(n-2)) / math.Sqrt(spread) / reach
	return slope, standardError, Finite(slope) && Finite(standardError)
}

// centred returns the values counted from their mean, and the farthest. They are
// first counted from the first one, so that a common offset costs no digits.
func centred(values []float64) (from []float64, reach float64) {
	from = slices.Clone(values)
	floats.AddConst(-values[0], from)
	floats.AddConst(-stat.Mean(from, nil), from)
	return from, floats.Norm(from, math.Inf(1))
}

// Parabola fits y = a + b x + c x^2 by least squares and gives the second
// derivative 2c with its standard error, which is twice that of c. It needs four
// points and three different x.
func Parabola(x, y []float64) (second, standardError float64, ok bool) {
	if len(x) < 4 {
		return 0, 0, false
	}
	c, standardError, ok := highest(x, y, 2)
	second, standardError = 2*c, 2*standardError
	return second, standardError, ok && Finite(second) && Finite(standardError)
}

// highest fits a polynomial of the degree by least squares and gives the
// coefficient of the highest power of x with its standard error. x counts from
// its mean in units of its reach, so that neither a far origin nor a small unit
// costs digits. With the triangle R of the design's QR factorisation the variance
// of the last coefficient is that of the residuals over the square of R's last
// diagonal element (Golub and Van Loan, Matrix Computations, chapter 5).
func highest(x, y []float64, degree int) (coefficient, standardError float64, ok bool) {
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
	// Beyond this the different x are too few to tell the powers apart.
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
	// Fitting what is left once more mends the rounding of the first time.
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

// Finite reports whether v is a number, neither NaN nor infinite.
func Finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
