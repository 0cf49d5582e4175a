package onelog

import (
	"lull/analyze"
	"lull/analyze/feed"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

// odometer adds up how far the vehicle went and for how long the engine ran. A
// time over which its signal tells nothing, because it stayed away for too long, is
// left out.
type odometer struct {
	seen  bool
	last  series.Point
	total float64
	// holds tells that a value stays until the next sample: a frame sent on change.
	holds bool
}

func (r *Run) newOdometer(role decode.Role) odometer {
	s := r.M.RoleSignal(role)
	return odometer{holds: s != nil && r.M.Entries[s.Entry].OnChange}
}

// step takes the next sample and gives the one before it, and the time between the
// two in s. ok is false where nothing is to be added.
func (o *odometer) step(r *feed.Recording, role decode.Role, p series.Point) (before series.Point, took float64, ok bool) {
	before, known := o.last, o.seen
	if known && p.T <= before.T {
		return before, 0, false // a second interface that carries the same frame
	}
	o.seen, o.last = true, p
	away := p.T - before.T
	if known && away > int64(r.M.Settings.StaleAfter) {
		known = away <= r.StaleAfter(role)
	}
	return before, bounds.Seconds(away), known
}

// drive adds the distance between two samples of the speed in km/h, in km: the area
// below the straight line between them.
func (o *odometer) drive(r *feed.Recording, p series.Point) {
	if before, took, ok := o.step(r, decode.VehicleSpeed, p); ok {
		speed := before.V
		if !o.holds {
			speed = (before.V + p.V) / 2
		}
		if speed > 0 {
			o.total += speed * took / 3600
		}
	}
}

// run adds the time in h for which the engine speed lay at running_speed or above
// between two samples.
func (o *odometer) run(r *feed.Recording, p series.Point) {
	before, took, ok := o.step(r, decode.EngineSpeed, p)
	if !ok {
		return
	}
	threshold := r.M.Settings.RunningSpeed
	low, high := min(before.V, p.V), max(before.V, p.V)
	share := 0.0
	switch {
	case o.holds && before.V >= threshold || low >= threshold:
		share = 1
	case !o.holds && high > threshold:
		share = (high - threshold) / (high - low)
	}
	o.total += share * took / 3600
}

// sum is what was added up, if the role was ever seen.
func (r *Run) sum(o *odometer, role decode.Role) analyze.Total {
	if !r.Has(role) {
		return analyze.Total{Absent: r.Missing(role)}
	}
	return analyze.Total{Value: o.total}
}
