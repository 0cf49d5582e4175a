package stats

import (
	"math"
	"slices"
)

// quantile returns the value below which the share p of the sorted values lies,
// interpolated linearly at position (n-1)p + 1 (type 7 of Hyndman and Fan, The American
// Statistician 50, 1996; gonum's LinInterp is their type 4). For p = 1/2 it is the
// Median.
func quantile(sorted []float64, p float64) float64 {
	below, part := math.Modf(float64(len(sorted)-1) * p)
	i := int(below)
	low, high := sorted[i], sorted[min(i+1, len(sorted)-1)]
	switch width := high - low; {
	case part == 0.5:
		return halfWay(low, high)
	case Finite(width):
		return min(high, low+part*width)
	}
	return (1-part)*low + part*high
}

// Summary describes a sample by its order statistics.
type Summary struct {
	N                        int
	Min, Q1, Median, Q3, Max float64
}

// Summarize returns the extremes, the quartiles and the median. ok is false if there is
// no value or one that is not finite.
func Summarize(values []float64) (summary Summary, ok bool) {
	if len(values) == 0 || !allFinite(values) {
		return Summary{}, false
	}
	sorted := slices.Sorted(slices.Values(values))
	return Summary{
		N: len(sorted), Min: sorted[0], Max: sorted[len(sorted)-1],
		Q1: quantile(sorted, 0.25), Median: quantile(sorted, 0.5), Q3: quantile(sorted, 0.75),
	}, true
}
