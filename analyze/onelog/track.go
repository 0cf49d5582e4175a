package onelog

import (
	"slices"
	"sort"

	"lull/analyze/streams"
	"lull/pkg/bounds"
)

// point is one valid sample: nanoseconds from the first frame, and the value.
type point struct {
	t int64
	v float64
}

// maxPoints bounds the memory of one track: eleven minutes at a hundred samples a
// second. Only a window longer than that, which no restart is, would lose its
// beginning.
const maxPoints = 1 << 16

// track keeps the recent samples of one signal in order of time.
type track struct {
	points []point // in use from first on
	first  int
	seen   bool
	last   point
}

func (k *track) add(t int64, v float64) {
	if k.first > 512 && k.first*2 > len(k.points) {
		k.points = k.points[:copy(k.points, k.points[k.first:])]
		k.first = 0
	}
	k.seen = true
	if n := len(k.points); n == k.first || t >= k.last.t {
		k.last.t, k.last.v = t, v
		k.points = append(k.points, point{t, v})
	} else {
		// Two interfaces that carry the same frame.
		for n > k.first && k.points[n-1].t > t {
			n--
		}
		k.points = slices.Insert(k.points, n, point{t, v})
	}
	if len(k.points)-k.first > maxPoints {
		k.first++
	}
}

func (k *track) all() []point { return k.points[k.first:] }

// trim forgets what lies before the moment, but for the last such point, which
// bounds what follows. It gives back what it forgot, valid until the next add.
func (k *track) trim(before int64) []point {
	from := k.first
	if n := sort.Search(len(k.points)-from, func(i int) bool { return k.points[from+i].t >= before }); n > 0 {
		k.first += n - 1
	}
	return k.points[from:k.first]
}

func (k *track) reset() { *k = track{points: k.points[:0], seen: k.seen} }

// window gives the points in low..high, both ends included.
func window(points []point, low, high int64) []point {
	from := sort.Search(len(points), func(i int) bool { return points[i].t >= low })
	points = points[from:]
	return points[:sort.Search(len(points), func(i int) bool { return points[i].t > high })]
}

// bracket gives the points from the last at or before low to the first at or
// after high.
func bracket(points []point, low, high int64) []point {
	from := max(0, sort.Search(len(points), func(i int) bool { return points[i].t > low })-1)
	to := min(len(points), max(sort.Search(len(points), func(i int) bool { return points[i].t >= high })+1, from+2))
	return points[from:to]
}

// at gives the last value at or before the moment.
func at(points []point, moment int64) (point, bool) {
	for i := len(points) - 1; i >= 0; i-- {
		if points[i].t <= moment {
			return points[i], true
		}
	}
	return point{}, false
}

// interpolate gives the value at the moment on the straight line between the two
// points around it.
func interpolate(points []point, moment int64) float64 {
	for i, p := range points {
		if p.t >= moment {
			if i == 0 || p.t == moment {
				return p.v
			}
			q := points[i-1]
			return q.v + (p.v-q.v)*float64(moment-q.t)/float64(p.t-q.t)
		}
	}
	return points[len(points)-1].v
}

func valuesOf(points []point) []float64 {
	values := make([]float64, len(points))
	for i, p := range points {
		values[i] = p.v
	}
	return values
}

// longest is the longest time between neighbouring points.
func longest(points []point) int64 {
	var d int64
	for i := 1; i < len(points); i++ {
		d = max(d, points[i].t-points[i-1].t)
	}
	return d
}

// crossing finds where a continuous signal crosses a threshold. A sample nearer
// to the threshold than half the signal's step does not tell its side.
type crossing struct {
	threshold float64
	half      float64
	// atIsAbove says to which side a value equal to the threshold belongs, where
	// the signal has no step.
	atIsAbove bool

	side           int8 // -1 below, +1 above, 0 not known yet
	below, above   point
	previous       point
	any            bool
	notLower       int64 // latest sample that is not lower than the one before it
	notHigher      int64 // latest sample that is not higher than the one before it
	beforeNotLower int64 // the same two without the newest sample
	beforeNotHigh  int64
}

// slack keeps a sample at just half a step from falling on the wrong side of a
// comparison of floats.
const slack = 1 - 1e-9

// add takes the next sample. edge is +1 for a rising crossing, -1 for a falling
// one, with its instant.
func (c *crossing) add(t int64, v float64) (edge int8, when bounds.Instant) {
	c.beforeNotLower, c.beforeNotHigh = c.notLower, c.notHigher
	if !c.any || v >= c.previous.v {
		c.notLower = t
	}
	if !c.any || v <= c.previous.v {
		c.notHigher = t
	}
	if !c.any {
		c.beforeNotLower, c.beforeNotHigh = t, t
	}
	c.any, c.previous = true, point{t, v}

	was, side := c.side, c.sideOf(v)
	switch {
	case side > 0:
		c.side, c.above = side, point{t, v}
		if was < 0 {
			return 1, crossed(c.below, c.above, c.threshold)
		}
	case side < 0:
		c.side, c.below = side, point{t, v}
		if was > 0 {
			return -1, crossed(c.above, c.below, c.threshold)
		}
	}
	return 0, bounds.Instant{}
}

// sideOf tells on which side of the threshold a value surely lies: -1 below, +1
// above, 0 where the signal's step leaves it open.
func (c *crossing) sideOf(v float64) int8 {
	distance := v - c.threshold
	switch {
	case max(distance, -distance) < c.half*slack:
		return 0
	case distance > 0 || distance == 0 && c.atIsAbove:
		return 1
	}
	return -1
}

func (c *crossing) reset() {
	*c = crossing{threshold: c.threshold, half: c.half, atIsAbove: c.atIsAbove}
}

// crossed is the instant at which the line from a to b meets the threshold.
func crossed(a, b point, threshold float64) bounds.Instant {
	low, high := min(a.t, b.t), max(a.t, b.t)
	t := low + (high-low)/2
	if b.v != a.v {
		share := (threshold - a.v) / (b.v - a.v)
		t = low + int64(share*float64(high-low)+0.5)
	}
	return bounds.Instant{Low: low, T: min(max(t, low), high), High: high}
}

// onset widens a crossing of the engine speed back to where the speed began to
// move: what set it moving lies there.
func onset(when bounds.Instant, since int64) bounds.Instant {
	when.Low = min(when.Low, since)
	return when
}

// switched follows a signal that is on or off.
type switched struct {
	seen, on bool
	changed  bool // since it was first seen
	last     int64
	// delay is how long before the frame an event may lie on a frame sent on
	// change; negative on a cyclic frame.
	delay int64
	// events tells that a frame comes only when something changed, so that the
	// first one shows a change too.
	events bool
	// streams knows of gaps, and how long the signal may stay away; nil: nothing does.
	streams *streams.Streams
	signal  int
	pauses  streams.Pauses
}

// add takes the next sample. edge is +1 where it turned on, -1 off.
func (s *switched) add(t int64, on bool) (edge int8, when bounds.Instant) {
	known, was, last := s.seen, s.on, s.last
	if known {
		s.pauses.Add(last, t, s.streams, s.signal)
	}
	s.seen, s.on, s.last = true, on, t
	switch {
	case !known && s.events:
		last = t - s.delay
	case !known || was == on:
		return 0, bounds.Instant{}
	}
	s.changed = true
	when = changed(last, t, s.delay, s.streams, s.signal)
	if on {
		return 1, when
	}
	return -1, when
}

func (s *switched) reset() {
	*s = switched{delay: s.delay, events: s.events, streams: s.streams, signal: s.signal}
}

// changed is the instant of a switch's change between the sample before and the
// one that shows it. On a frame sent on change, where delay is not negative, it lies
// shortly before the one that shows it, unless a frame was lost: in a gap of the
// recording, or where even repeats stayed away.
func changed(before, shows, delay int64, s *streams.Streams, signal int) bounds.Instant {
	low := min(before, shows)
	if delay >= 0 && shows-low < s.Absence(signal) {
		low = max(low, min(shows-delay, s.Gaps.First(low, shows)))
	}
	return bounds.Midway(low, shows)
}
