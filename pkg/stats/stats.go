// Package stats holds the descriptive statistics and fits that the measurements
// need, on plain slices. It knows nothing of signals or units, and no number
// that comes out of it is infinite or not a number: where there is nothing to
// tell, ok is false. Start with Median.
package stats

import (
	"math"
	"slices"
)

// Median is the middle value, or the mean of the two middle ones (NIST/SEMATECH
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

// halfWay is the float64 nearest to the mean of two values. Only where their sum
// is too great for a float64 are they halved first.
func halfWay(a, b float64) float64 {
	if a == b {
		return a
	}
	if sum := a + b; isFinite(sum) {
		return sum / 2
	}
	return a/2 + b/2
}

// Line fits y = a + b x by least squares and gives b with its standard error,
// sqrt(RSS / (n-2) / sum (x - mean)^2) (Draper and Smith, Applied Regression
// Analysis, chapter 1). It needs three points and two different x.
func Line(x, y []float64) (slope, standardError float64, ok bool) {
	if len(x) < 3 {
		return 0, 0, false
	}
	return highest(x, y, 1)
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
	return second, standardError, ok && isFinite(second) && isFinite(standardError)
}

// highest fits a polynomial of the degree by least squares and gives the
// coefficient of the highest power of x with its standard error. It fits
// polynomials that are orthogonal over the points (Forsythe, J. SIAM 5, 1957),
// with x counted from its mean in units of its reach, so that neither a far
// origin nor a small unit costs digits.
func highest(x, y []float64, degree int) (coefficient, standardError float64, ok bool) {
	n := len(x)
	if n != len(y) {
		return 0, 0, false
	}
	middle := mean(x)
	reach := 0.0
	for _, v := range x {
		reach = max(reach, math.Abs(v-middle))
	}
	if reach == 0 || !isFinite(reach) {
		return 0, 0, false
	}
	u := make([]float64, n)
	for i, v := range x {
		u[i] = (v - middle) / reach
	}
	// In turn the polynomials 1, u, u^2 are freed of what the ones before them
	// already describe; y keeps what none of them describes. Freeing twice mends
	// the rounding of the first time.
	rest := slices.Clone(y)
	basis := make([][]float64, 0, degree+1)
	var size float64
	for power := range degree + 1 {
		p := make([]float64, n)
		for i := range p {
			p[i] = math.Pow(u[i], float64(power))
		}
		before := dot(p, p)
		for range 2 {
			for _, q := range basis {
				subtract(p, q, dot(p, q)/dot(q, q))
			}
		}
		// What is left of a power that too few different x can tell apart is only
		// rounding.
		if size = dot(p, p); size <= before*1e-20 {
			return 0, 0, false
		}
		coefficient = dot(rest, p) / size
		subtract(rest, p, coefficient)
		again := dot(rest, p) / size
		subtract(rest, p, again)
		coefficient += again
		basis = append(basis, p)
	}
	unit := math.Pow(reach, float64(degree))
	coefficient /= unit
	standardError = math.Sqrt(dot(rest, rest)/float64(n-degree-1)/size) / unit
	return coefficient, standardError, isFinite(coefficient) && isFinite(standardError)
}

// mean takes the differences from the first value, so that a common offset costs
// no digits.
func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v - values[0]
	}
	return values[0] + sum/float64(len(values))
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += float64(a[i] * b[i])
	}
	return sum
}

// subtract takes share x b from a.
func subtract(a, b []float64, share float64) {
	for i := range a {
		a[i] -= float64(share * b[i])
	}
}

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
