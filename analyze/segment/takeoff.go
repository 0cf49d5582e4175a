package segment

import (
	"lull/decode"
	"lull/pkg/bounds"
)

// ShockAfter is how long after leaving standstill the shock is looked for.
const ShockAfter = bounds.Second

// left notes the vehicle leaving a standstill while the episode is followed.
func (e *Episode) left(l Departure) {
	if e.Departure == nil && len(e.Departures) < 16 {
		e.Departures = append(e.Departures, l)
	}
}

// chooseDeparture picks the first leaving after the request. standing reports whether
// one may still come.
func (e *Episode) chooseDeparture(stand *standstill) (standing bool) {
	for i := range e.Departures {
		l := &e.Departures[i]
		if l.T >= e.Request.T || l.High >= e.Request.High {
			if l.start.T <= e.Request.T {
				e.Departure = l
			}
			return false
		}
	}
	return stand != nil && stand.Start.T <= e.Request.T
}

// SeekDeparture returns how the vehicle left the standstill after this restart, nil
// where it did not or not yet; coming reports whether it still may.
func (r *Segmenter) SeekDeparture(e *Episode) (departure *Departure, coming bool) {
	if e.Request == nil || e.Running == nil {
		return nil, false
	}
	if e.Departure == nil {
		e.DepartureComing = e.chooseDeparture(r.Stand)
	}
	return e.Departure, e.DepartureComing
}

// TakeOffWaits reports whether samples of an episode's take-off are still to come.
func (r *Segmenter) TakeOffWaits(e *Episode) bool {
	if !r.Has(decode.VehicleSpeed) {
		return false
	}
	departure, coming := r.SeekDeparture(e)
	if departure == nil {
		return coming && !e.Reopens
	}
	return r.Now < departure.High+ShockAfter+bounds.Second/2
}
