package stats

import (
	"math"
	"slices"
)

// Tally counts values, so that the median of a very long run of samples takes
// memory for its different values only. The zero Tally is empty and ready.
type Tally struct {
	counts map[float64]int
	total  int  // of all counts
	coarse uint // binary digits of the values that are no longer told apart
}

// maxDifferent bounds a Tally's memory. A field of 16 bits fits; of a wider one
// that takes more values neighbours are counted together, two, then four and so
// on, until they fit. Nothing is left out.
const maxDifferent = 1 << 16

// Add counts a value.
func (t *Tally) Add(v float64) {
	if t.counts == nil {
		t.counts = make(map[float64]int)
	}
	t.counts[rounded(v, t.coarse)]++
	t.total++
	for len(t.counts) > maxDifferent {
		t.coarse++
		fewer := make(map[float64]int, maxDifferent)
		for w, c := range t.counts {
			fewer[rounded(w, t.coarse)] += c
		}
		t.counts = fewer
	}
}

// rounded drops the last binary digits of a value.
func rounded(v float64, digits uint) float64 {
	return math.Float64frombits(math.Float64bits(v) >> digits << digits)
}

// Len returns how many values were counted.
func (t *Tally) Len() int { return t.total }

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
	// at is the value of a rank from 0.
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
