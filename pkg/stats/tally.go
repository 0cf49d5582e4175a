package stats

import (
	"math"
	"slices"
)

// Tally counts values, so that the median of a very long run of samples needs memory
// for its different values only. The zero Tally is empty and ready to use.
type Tally struct {
	counts map[float64]int
	total  int  // sum of all counts
	coarse uint // how many low binary digits of the values are dropped
}

// maxDifferent bounds a Tally's memory. All values of a 16-bit field fit. If there are
// more, neighbours are counted together, first two, then four and so on, until they fit.
// No value is left out.
const maxDifferent = 1 << 16

// Add counts a value that came so many times.
func (t *Tally) Add(v float64, times int) {
	if t.counts == nil {
		t.counts = make(map[float64]int)
	}
	t.counts[rounded(v, t.coarse)] += times
	t.total += times
	for len(t.counts) > maxDifferent {
		t.coarse++
		fewer := make(map[float64]int, maxDifferent)
		for w, c := range t.counts {
			fewer[rounded(w, t.coarse)] += c
		}
		t.counts = fewer
	}
}

// rounded returns v with its last binary digits set to 0.
func rounded(v float64, digits uint) float64 {
	return math.Float64frombits(math.Float64bits(v) >> digits << digits)
}

// Median returns the median of the counted values and more together. ok is false if
// there are none.
func (t *Tally) Median(more []float64) (median float64, ok bool) {
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
	// at returns the value with the given rank, from 0.
	at := func(rank int) float64 {
		i := 0
		for rank >= counts[values[i]] {
			rank -= counts[values[i]]
			i++
		}
		return values[i]
	}
	return halfWay(at((n-1)/2), at(n/2)), true
}
