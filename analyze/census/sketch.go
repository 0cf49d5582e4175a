package census

import (
	"math/bits"
	"slices"
	"sort"
)

// sketch holds the distribution of lengths of time in bounded memory. As long as
// they take no more different values than it has cells, it is exact. Beyond that
// its cells grow wider: each covers values that are alike in their highest binary
// digits, and stands for their mean. A quantile is then off by less than the
// width of one cell, which is width times the value: 2^-digits.
type sketch struct {
	most   int // cells
	digits int // after the leading one that tell cells apart
	count  int64
	cells  []cell // in order
	last   int    // the cell hit last
}

type cell struct {
	low   int64
	count int64
	sum   int64
}

// exactDigits tells all values apart.
const exactDigits = 63

func newSketch(most int) sketch { return sketch{most: most, digits: exactDigits} }

// floor is the least value of the cell that v falls into.
func floor(v int64, digits int) int64 {
	drop := bits.Len64(uint64(v)) - 1 - digits
	if drop <= 0 {
		return v
	}
	return v >> drop << drop
}

// add takes a length of at least 0. It allocates only while cells are made.
func (s *sketch) add(v int64) {
	s.count++
	low := floor(v, s.digits)
	if s.last < len(s.cells) && s.cells[s.last].low == low {
		s.cells[s.last].take(v)
		return
	}
	at := sort.Search(len(s.cells), func(i int) bool { return s.cells[i].low >= low })
	if at == len(s.cells) || s.cells[at].low != low {
		if len(s.cells) == s.most {
			s.widen()
			s.count--
			s.add(v)
			return
		}
		s.cells = slices.Insert(s.cells, at, cell{low: low})
	}
	s.cells[at].take(v)
	s.last = at
}

func (c *cell) take(v int64) {
	c.count++
	c.sum += v
}

// widen joins neighbouring cells until a quarter of the room is free. At 0
// digits there are no more than 64 cells, which is the least room.
func (s *sketch) widen() {
	for len(s.cells) > s.most*3/4 && s.digits > 0 {
		s.digits = min(s.digits-1, 20) // finer cells would join nothing in a nanosecond clock
		kept := s.cells[:0]
		for _, c := range s.cells {
			c.low = floor(c.low, s.digits)
			if n := len(kept); n > 0 && kept[n-1].low == c.low {
				kept[n-1].count += c.count
				kept[n-1].sum += c.sum
				continue
			}
			kept = append(kept, c)
		}
		s.cells = kept
	}
	s.last = 0
}

// quantile returns the value of which percent of the values lie below, linear
// between order statistics: of n values the one at (n-1)p + 1. There must be one.
func (s *sketch) quantile(percent int64) float64 {
	position := (s.count - 1) * percent
	rank, rest := position/100, position%100
	a := s.ranked(rank)
	if rest == 0 {
		return a
	}
	return a + float64(rest)/100*(s.ranked(rank+1)-a)
}

// ranked returns the value with so many before it.
func (s *sketch) ranked(rank int64) float64 {
	for i := range s.cells {
		c := &s.cells[i]
		if rank < c.count {
			return float64(c.sum) / float64(c.count)
		}
		rank -= c.count
	}
	return 0
}
