package analyze

import (
	"lull/decode"
	"lull/pkg/bounds"
)

// Total is something added up over a log, or the reason why it is not known.
type Total struct {
	Value  float64
	Absent string // empty where there is a value
}

// odometer adds up how far the vehicle went and for how long the engine ran. A
// time over which its signal tells nothing, because it stayed away for too long, is
// left out.
type odometer struct {
	seen  bool
	last  point
	total float64
	// holds tells that a value stays until the next sample: a frame sent on change.
	holds bool
}

func (r *Run) newOdometer(role decode.Role) odometer {
	s := r.m.RoleSignal(role)
	return odometer{holds: s != nil && r.m.Entries[s.Entry].OnChange}
}

// step takes the next sample and gives the one before it, and the time between the
// two in s. ok is false where nothing is to be added.
func (o *odometer) step(r *Run, role decode.Role, p point) (before point, took float64, ok bool) {
	before, known := o.last, o.seen
	if known && p.t <= before.t {
		return before, 0, false // a second interface that carries the same frame
	}
	o.seen, o.last = true, p
	away := p.t - before.t
	if known && away > int64(r.m.Settings.StaleAfter) {
		known = away <= r.staleAfter(role)
	}
	return before, bounds.Seconds(away), known
}

// drive adds the way between two samples of the speed in km/h, in km: the area
// below the straight line between them.
func (o *odometer) drive(r *Run, p point) {
	if before, took, ok := o.step(r, decode.VehicleSpeed, p); ok {
		speed := before.v
		if !o.holds {
			speed = (before.v + p.v) / 2
		}
		if speed > 0 {
			o.total += speed * took / 3600
		}
	}
}

// run adds the time in h for which the engine speed lay at running_speed or above
// between two samples.
func (o *odometer) run(r *Run, p point) {
	before, took, ok := o.step(r, decode.EngineSpeed, p)
	if !ok {
		return
	}
	threshold := r.m.Settings.RunningSpeed
	low, high := min(before.v, p.v), max(before.v, p.v)
	share := 0.0
	switch {
	case o.holds && before.v >= threshold || low >= threshold:
		share = 1
	case !o.holds && high > threshold:
		share = (high - threshold) / (high - low)
	}
	o.total += share * took / 3600
}

// sum is what was added up, if the role was ever seen.
func (r *Run) sum(o *odometer, role decode.Role) Total {
	if !r.has(role) {
		return Total{Absent: r.missing(role)}
	}
	return Total{Value: o.total}
}
