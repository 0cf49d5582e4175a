package draft

import (
	"math"
	"math/bits"
	"slices"
	"sort"
)

// indexAt returns the index of the newest of ascending times at a moment, or 0.
func indexAt(t []float64, moment float64) int {
	return max(0, sort.Search(len(t), func(i int) bool { return t[i] > moment })-1)
}

// quantile returns the value below which a share q of a sorted, non-empty list lies, by
// straight lines between its values.
func quantile(sorted []float64, q float64) float64 {
	x := q * float64(len(sorted)-1)
	i := int(x)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}

// sortedCopy returns the values in ascending order.
func sortedCopy(v []float64) []float64 {
	c := slices.Clone(v)
	slices.Sort(c)
	return c
}

// median returns the middle of a list that need not be sorted, or 0 if it is empty.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return quantile(sortedCopy(v), 0.5)
}

// differences returns what each value is above the one before.
func differences(v []float64) []float64 {
	if len(v) < 2 {
		return nil
	}
	d := make([]float64, len(v)-1)
	for i := range d {
		d[i] = v[i+1] - v[i]
	}
	return d
}

// mean returns the mean, or 0 of an empty list.
func mean(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	var sum float64
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// spread returns the standard deviation.
func spread(v []float64) float64 {
	m := mean(v)
	var sum float64
	for _, x := range v {
		sum += (x - m) * (x - m)
	}
	if len(v) == 0 {
		return 0
	}
	return math.Sqrt(sum / float64(len(v)))
}

// correlation returns Pearson's coefficient, or 0 where one of the lists does not vary.
func correlation(x, y []float64) float64 {
	mx, my := mean(x), mean(y)
	var xx, yy, xy float64
	for i := range x {
		a, b := x[i]-mx, y[i]-my
		xx += a * a
		yy += b * b
		xy += a * b
	}
	if xx == 0 || yy == 0 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}

// grid returns moments from one to before another, a step apart.
func grid(from, to, step float64) []float64 {
	if to <= from {
		return nil
	}
	g := make([]float64, 0, int((to-from)/step)+1)
	for i := 0; ; i++ {
		x := from + float64(i)*step
		if x >= to {
			return g
		}
		g = append(g, x)
	}
}

// interpolate returns the values at ascending moments, by straight lines; outside the
// times it is the first or the last value.
func interpolate(g, t, v []float64) []float64 {
	y := make([]float64, len(g))
	if len(t) == 0 {
		return y
	}
	i := 0
	for k, x := range g {
		for i+1 < len(t) && t[i+1] <= x {
			i++
		}
		switch {
		case x <= t[0]:
			y[k] = v[0]
		case i+1 >= len(t):
			y[k] = v[len(v)-1]
		default:
			y[k] = v[i] + (v[i+1]-v[i])*(x-t[i])/(t[i+1]-t[i])
		}
	}
	return y
}

// stretch is a run of consecutive samples, both ends in it.
type stretch struct{ first, last int }

// stretches returns the runs in which a condition holds.
func stretches(n int, holds func(i int) bool) []stretch {
	var list []stretch
	for i := 0; i < n; i++ {
		if !holds(i) {
			continue
		}
		from := i
		for i+1 < n && holds(i+1) {
			i++
		}
		list = append(list, stretch{from, i})
	}
	return list
}

// near returns how well a positive x fits the range: 1 within, falling off outside it with
// the logarithm of the ratio, by a factor of e at the width.
func near(x, low, high, width float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x < low:
		return bell(math.Log(x/low) / width)
	case x > high:
		return bell(math.Log(x/high) / width)
	}
	return 1
}

// bell is e to the power of minus x squared.
func bell(x float64) float64 { return math.Exp(-x * x) }

// share returns part of whole, 0 of nothing.
func share(part, whole int) float64 {
	if whole == 0 {
		return 0
	}
	return float64(part) / float64(whole)
}

// ones counts the bits that are set.
func ones(x uint64) int { return bits.OnesCount64(x) }
