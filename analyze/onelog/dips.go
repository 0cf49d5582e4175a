package onelog

import "lull/pkg/bounds"

const (
	dipDepth  = 1.0               // V
	dipWithin = 100 * millisecond // in which the voltage falls so far
	dipAgain  = 5 * second        // after which a new dip may be found although the voltage stayed low
	dipsKept  = 64
)

// dipFinder finds the onsets of voltage dips: a fall of 1 V within 100 ms, which
// a starter's current makes and no other load of a car.
type dipFinder struct {
	dips []bounds.Instant
	low  bool
	top  float64 // before the dip that lasts
	from int64
	back int64 // when it had come back from the last one: what lies before is told
}

func (d *dipFinder) add(points []point) {
	n := len(points) - 1
	newest := points[n]
	if d.low {
		if newest.v >= d.top-dipDepth/2 || newest.t-d.from > dipAgain {
			d.low, d.back = false, newest.t
		}
		return
	}
	best := n
	for i := n - 1; i >= 0 && newest.t-points[i].t <= dipWithin && points[i].t >= d.back; i-- {
		if points[i].v > points[best].v {
			best = i
		}
	}
	if points[best].v-newest.v < dipDepth*slack {
		return
	}
	d.low, d.top, d.from = true, points[best].v, newest.t
	if len(d.dips) == dipsKept {
		d.dips = d.dips[:copy(d.dips, d.dips[1:])]
	}
	d.dips = append(d.dips, fallOnset(points[best:]))
}

// fallOnset is where a fall from the first of the points to the last began. All
// that is sure is that it lies between them: the first may only be a ripple's
// top. Best is midway in the step down from the last sample that did not fall.
func fallOnset(points []point) bounds.Instant {
	n := len(points) - 1
	top := n - 1
	for top > 0 && points[top].v < points[top-1].v {
		top--
	}
	onset := bounds.Midway(points[top].t, points[top+1].t)
	onset.Low, onset.High = points[0].t, points[n].t
	return onset
}

// first gives the first dip whose onset may lie in low..high.
func (d *dipFinder) first(low, high int64) (bounds.Instant, bool) {
	for _, dip := range d.dips {
		if dip.Touches(low, high) {
			return dip, true
		}
	}
	return bounds.Instant{}, false
}

func (d *dipFinder) reset() { *d = dipFinder{dips: d.dips[:0]} }
