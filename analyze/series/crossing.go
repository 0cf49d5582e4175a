package series

import "lull/pkg/bounds"

// Crossing finds where a continuous signal crosses a threshold. A sample nearer
// to the threshold than half the signal's step does not tell its side.
type Crossing struct {
	Threshold float64
	Half      float64 // half the signal's step; 0: it has none
	// AtIsAbove says to which side a value equal to the threshold belongs, where
	// the signal has no step.
	AtIsAbove bool

	Side           int8 // -1 below, +1 above, 0 not known yet
	below, above   Point
	Previous       Point // the newest sample, where there is Any
	Any            bool  // a sample came
	notLower       int64 // latest sample that is not lower than the one before it
	notHigher      int64 // latest sample that is not higher than the one before it
	BeforeNotLower int64 // the same two without the newest sample
	BeforeNotHigh  int64
}

// Slack keeps a sample at just half a step from falling on the wrong side of a
// comparison of floats.
const Slack = 1 - 1e-9

// Add takes the next sample, of time t in ns. edge is +1 for a rising crossing, -1 for
// a falling one, 0 for none; when is its instant.
func (c *Crossing) Add(t int64, v float64) (edge int8, when bounds.Instant) {
	c.BeforeNotLower, c.BeforeNotHigh = c.notLower, c.notHigher
	if !c.Any || v >= c.Previous.V {
		c.notLower = t
	}
	if !c.Any || v <= c.Previous.V {
		c.notHigher = t
	}
	if !c.Any {
		c.BeforeNotLower, c.BeforeNotHigh = t, t
	}
	c.Any, c.Previous = true, Point{t, v}

	was, side := c.Side, c.SideOf(v)
	switch {
	case side > 0:
		c.Side, c.above = side, Point{t, v}
		if was < 0 {
			return 1, crossed(c.below, c.above, c.Threshold)
		}
	case side < 0:
		c.Side, c.below = side, Point{t, v}
		if was > 0 {
			return -1, crossed(c.above, c.below, c.Threshold)
		}
	}
	return 0, bounds.Instant{}
}

// SideOf returns on which side of the threshold a value surely lies: -1 below, +1
// above, 0 if the signal's step leaves it open.
func (c *Crossing) SideOf(v float64) int8 {
	distance := v - c.Threshold
	switch {
	case max(distance, -distance) < c.Half*Slack:
		return 0
	case distance > 0 || distance == 0 && c.AtIsAbove:
		return 1
	}
	return -1
}

// Reset forgets all samples and keeps the threshold.
func (c *Crossing) Reset() {
	*c = Crossing{Threshold: c.Threshold, Half: c.Half, AtIsAbove: c.AtIsAbove}
}

// crossed is the instant at which the line from a to b meets the threshold.
func crossed(a, b Point, threshold float64) bounds.Instant {
	low, high := min(a.T, b.T), max(a.T, b.T)
	t := low + (high-low)/2
	if b.V != a.V {
		share := (threshold - a.V) / (b.V - a.V)
		t = low + int64(share*float64(high-low)+0.5)
	}
	return bounds.Instant{Low: low, T: min(max(t, low), high), High: high}
}

// Onset returns a crossing of the engine speed, widened back to where the speed began to
// move: what set it moving lies there.
func Onset(when bounds.Instant, since int64) bounds.Instant {
	when.Low = min(when.Low, since)
	return when
}

// AddAll takes samples in order of time that all lie on the side of the newest one.
func (c *Crossing) AddAll(points []Point) {
	// All that is kept of the others is which was the last not lower, and not higher,
	// than the one before it.
	if n := len(points) - 2; n > 0 {
		rest := points[:n]
		before := func(i int) float64 {
			if i == 0 {
				return c.Previous.V
			}
			return rest[i-1].V
		}
		lower, higher := false, false // found
		for i := n - 1; i >= 0 && !(lower && higher); i-- {
			if v := rest[i].V; !lower && v >= before(i) {
				lower, c.notLower = true, rest[i].T
			}
			if v := rest[i].V; !higher && v <= before(i) {
				higher, c.notHigher = true, rest[i].T
			}
		}
		c.Previous = rest[n-1]
		points = points[n:]
	}
	for _, p := range points {
		c.Add(p.T, p.V)
	}
}
