package series

import (
	"slices"
	"sort"
)

// Point is one valid sample: nanoseconds from the first frame, and the value.
type Point struct {
	T int64
	V float64
}

// maxPoints bounds the memory of one track: eleven minutes at a hundred samples a
// second. Only a window longer than that, which no restart is, would lose its
// beginning.
const maxPoints = 1 << 16

// mostLater is how many samples may lie after one that comes late: time runs back by
// streams.JumpBack at most, and a bus of 1 Mbit/s that carries nothing else brings 1,800
// meanwhile. It bounds what stamps that run back again and again cost.
const mostLater = 1 << 11

// Track keeps the recent samples of one signal in order of time.
type Track struct {
	points []Point // in use from first on
	first  int
	Seen   bool  // a sample came, ever
	Last   Point // the latest
}

// Add takes a sample of time t, in ns. One that comes late is put where it belongs,
// unless too many lie after it.
func (k *Track) Add(t int64, v float64) {
	if k.first > 512 && k.first*2 > len(k.points) {
		k.points = k.points[:copy(k.points, k.points[k.first:])]
		k.first = 0
	}
	k.Seen = true
	if n := len(k.points); n == k.first || t >= k.Last.T {
		k.Last.T, k.Last.V = t, v
		k.points = append(k.points, Point{t, v})
	} else {
		// Two interfaces that carry the same frame.
		from := max(k.first, n-mostLater)
		at := from + sort.Search(n-from, func(i int) bool { return k.points[from+i].T > t })
		if at == from && from > k.first {
			return // of no bus
		}
		k.points = slices.Insert(k.points, at, Point{t, v})
	}
	if len(k.points)-k.first > maxPoints {
		k.first++
	}
}

// All returns what is kept, in order of time. It is valid until the next Add.
func (k *Track) All() []Point { return k.points[k.first:] }

// Trim forgets what lies before the moment, but for the last such point, which
// bounds what follows. It returns what it forgot, valid until the next Add.
func (k *Track) Trim(before int64) []Point {
	from := k.first
	if n := sort.Search(len(k.points)-from, func(i int) bool { return k.points[from+i].T >= before }); n > 0 {
		k.first += n - 1
	}
	return k.points[from:k.first]
}

// Reset forgets all samples but that there were some.
func (k *Track) Reset() { *k = Track{points: k.points[:0], Seen: k.Seen} }

// AddAll takes samples in order of time, none of which is earlier than the latest.
func (k *Track) AddAll(points []Point) {
	if len(points) == 0 {
		return
	}
	if k.first > 512 && k.first*2 > len(k.points) {
		k.points = k.points[:copy(k.points, k.points[k.first:])]
		k.first = 0
	}
	k.points = append(k.points, points...)
	k.Seen, k.Last = true, points[len(points)-1]
	k.first = max(k.first, len(k.points)-maxPoints)
}
