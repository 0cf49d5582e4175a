package segment

import (
	"math"

	"lull/analyze/series"
	"lull/decode"
)

// CalmUntil is the moment, in ns, up to which samples of the engine speed and the vehicle
// speed that stay on their side of every threshold change nothing but what EngineSpeeds
// and VehicleSpeeds note; math.MinInt64 if the next one may.
func (r *Segmenter) CalmUntil() int64 {
	e, o, until := &r.Engine, r.Open, int64(math.MaxInt64)
	if e.Rise != nil {
		until = e.Rise.High + r.hold
	}
	if e.off != nil {
		until = min(until, e.off.High+offRest)
	}
	switch {
	case e.Run.Side == 0 && e.Run.Any:
		return math.MinInt64
	case o == nil:
		return until
	case e.Run.Side > 0 && o.StopFall != nil && !o.below || e.Run.Side < 0 && !o.below:
		return math.MinInt64
	}
	if deadline, decided := o.deadline(r.Patience); decided && e.Run.Side < 0 {
		until = min(until, deadline+1)
	}
	return until
}

// Waits reports whether something that is over still waits for samples to be settled.
func (r *Segmenter) Waits() bool {
	return len(r.Pending) > 0 || len(r.Cranks) > 0 || len(r.standWait) > 0
}

// Thresholds returns the crossings that samples of a role are held against.
func (r *Segmenter) Thresholds(role decode.Role) []*series.Crossing {
	switch role {
	case decode.EngineSpeed:
		return []*series.Crossing{&r.Engine.Run, &r.Engine.Rest}
	case decode.VehicleSpeed:
		return []*series.Crossing{&r.standing}
	}
	return nil
}

// EngineSpeeds takes samples of the engine speed, before CalmUntil.
func (r *Segmenter) EngineSpeeds(points []series.Point) {
	e := &r.Engine
	e.Run.AddAll(points)
	e.Rest.AddAll(points)
	if e.Run.Side > 0 {
		return // the next fall begins anew
	}
	lowest := math.Inf(1)
	for _, p := range points {
		e.lowest.add(p)
		lowest = min(lowest, p.V)
	}
	e.deepest = min(e.deepest, lowest)
}

// VehicleSpeeds takes samples of the vehicle speed, before CalmUntil.
func (r *Segmenter) VehicleSpeeds(points []series.Point) { r.standing.AddAll(points) }
