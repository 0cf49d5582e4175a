package draft

import "math"

// Thresholds of a drive in rpm, those that the analysis has where a map sets none.
const (
	runningSpeed = 500
	restSpeed    = 30
)

// drive is what the engine did, by its speed: what dates everything else.
type drive struct {
	t, v   []float64 // rpm
	period float64

	rests  []rest
	cranks []crank
	stops  []stop
	caught []caught
}

// rest is a time without rotation, first and last sample.
type rest struct{ from, to float64 }

// crank is a start or a try: the engine begins to turn between two samples and runs at a
// third, or, with runs 0, never.
type crank struct{ before, after, runs float64 }

// stop is an engine that comes to rest: its speed begins to fall, it rests, it is cranked
// (or 0).
type stop struct{ falls, rests, cranked float64 }

// caught is an engine whose speed fell and that was started again before it rested.
type caught struct{ before, lowest, runs float64 }

func newDrive(x series) *drive {
	d := &drive{t: x.t, v: x.v}
	t, v := x.t, x.v
	if len(t) == 0 {
		return d
	}
	d.period = median(differences(t))
	low := stretches(len(v), func(i int) bool { return v[i] <= restSpeed })
	kept := low[:0]
	for _, r := range low {
		if t[r.last]-t[r.first] < 0.1 && r.last+1 < len(t) && r.first > 0 {
			continue
		}
		if len(kept) > 0 && d.rocks(kept[len(kept)-1].last, r.first) {
			kept[len(kept)-1].last = r.last
			d.rests[len(d.rests)-1].to = t[r.last]
			continue
		}
		kept = append(kept, r)
		d.rests = append(d.rests, rest{t[r.first], t[r.last]})
	}
	previous := 0
	for k, r := range kept {
		next := len(v)
		if k+1 < len(kept) {
			next = kept[k+1].first
		}
		cranked := 0.0
		if r.last+1 < len(v) {
			cranked = t[r.last]
		}
		if r.last+1 < next && !d.hole(r.last) {
			highest, runs := 0.0, 0.0
			for i := r.last + 1; i < next; i++ {
				highest = max(highest, v[i])
				if runs == 0 && v[i] >= runningSpeed {
					runs = t[i]
				}
			}
			if highest > 80 {
				d.cranks = append(d.cranks, crank{t[r.last], t[r.last+1], runs})
			}
		}
		ran := false
		for i := previous; i < r.first; i++ {
			ran = ran || v[i] > runningSpeed
		}
		if ran && !d.hole(r.first-1) {
			// Back to where the speed last rose or was well above any fall.
			j := r.first - 1
			for j > previous && v[j-1] >= v[j]-2 && t[r.first]-t[j] < 4 && v[j] < 650 {
				j--
			}
			d.stops = append(d.stops, stop{t[j], t[r.first], cranked})
		}
		previous = r.last
	}
	for _, r := range stretches(len(v), func(i int) bool { return v[i] < 400 && v[i] > restSpeed }) {
		if r.first == 0 || r.last+1 >= len(v) || v[r.first-1] < 400 || v[r.last+1] < 400 || t[r.last]-t[r.first] >= 3 {
			continue
		}
		lowest := r.first
		for i := r.first; i <= r.last; i++ {
			if v[i] < v[lowest] {
				lowest = i
			}
		}
		d.caught = append(d.caught, caught{t[lowest-1], t[lowest], t[r.last+1]})
	}
	return d
}

// rocks reports whether an engine at rest only swings back between two samples, as it does
// when it has come to rest against its compression.
func (d *drive) rocks(from, to int) bool {
	if d.t[to]-d.t[from] > 1 {
		return false
	}
	for i := from; i < to; i++ {
		if d.v[i] > 120 {
			return false
		}
	}
	return true
}

// hole reports whether so much time passes between a sample and the next that anything
// may have happened.
func (d *drive) hole(i int) bool { return d.t[i+1]-d.t[i] > max(3, 10*d.period) }

// speeds returns the engine's speed at ascending moments.
func (d *drive) speeds(g []float64) []float64 { return interpolate(g, d.t, d.v) }

// runs reports whether the engine ever ran.
func (d *drive) runs() bool {
	for _, v := range d.v {
		if v > runningSpeed {
			return true
		}
	}
	return false
}

// usual is the median speed of the running engine.
func (d *drive) usual() float64 {
	var list []float64
	for _, v := range d.v {
		if v > runningSpeed {
			list = append(list, v)
		}
	}
	return median(list)
}

// idles is the speed below which it rarely runs.
func (d *drive) idles() float64 {
	var list []float64
	for _, v := range d.v {
		if v > 400 {
			list = append(list, v)
		}
	}
	if len(list) == 0 {
		return math.NaN()
	}
	return quantile(sortedCopy(list), 0.1)
}
