package segment

import (
	"lull/analyze/series"
	"lull/pkg/bounds"
)

const (
	dipDepth  = 1.0                      // V
	dipWithin = 100 * bounds.Millisecond // in which the voltage falls so far
	dipAgain  = 5 * bounds.Second        // after which a new dip may be found although the voltage stayed low
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

// Add takes the recent points of the voltage, in V, of which the last is new.
func (d *dipFinder) Add(points []series.Point) {
	n := len(points) - 1
	newest := points[n]
	if d.low {
		if newest.V >= d.top-dipDepth/2 || newest.T-d.from > dipAgain {
			d.low, d.back = false, newest.T
		}
		return
	}
	best := n
	for i := n - 1; i >= 0 && newest.T-points[i].T <= dipWithin && points[i].T >= d.back; i-- {
		if points[i].V > points[best].V {
			best = i
		}
	}
	if points[best].V-newest.V < dipDepth*series.Slack {
		return
	}
	d.low, d.top, d.from = true, points[best].V, newest.T
	if len(d.dips) == dipsKept {
		d.dips = d.dips[:copy(d.dips, d.dips[1:])]
	}
	d.dips = append(d.dips, fallOnset(points[best:]))
}

// fallOnset is where a fall from the first of the points to the last began. All
// that is sure is that it lies between them: the first may only be a ripple's
// top. Best is midway in the step down from the last sample that did not fall.
func fallOnset(points []series.Point) bounds.Instant {
	n := len(points) - 1
	top := n - 1
	for top > 0 && points[top].V < points[top-1].V {
		top--
	}
	onset := bounds.Midway(points[top].T, points[top+1].T)
	onset.Low, onset.High = points[0].T, points[n].T
	return onset
}

// first returns the first dip whose onset may lie in low..high.
func (d *dipFinder) first(low, high int64) (bounds.Instant, bool) {
	for _, dip := range d.dips {
		if dip.Touches(low, high) {
			return dip, true
		}
	}
	return bounds.Instant{}, false
}

func (d *dipFinder) reset() { *d = dipFinder{dips: d.dips[:0]} }
