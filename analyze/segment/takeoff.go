package segment

import (
	"lull/decode"
	"lull/pkg/bounds"
)

// ShockAfter is how long after leaving standstill the shock is looked for.
const ShockAfter = bounds.Second

// left notes the vehicle leaving a standstill while the episode is followed.
func (e *Episode) left(l Leaving) {
	if e.Leave == nil && len(e.Leaves) < 16 {
		e.Leaves = append(e.Leaves, l)
	}
}

// chooseLeave picks the first leaving after the request. standing tells whether
// one may still come.
func (e *Episode) chooseLeave(stand *standstill) (standing bool) {
	for i := range e.Leaves {
		l := &e.Leaves[i]
		if l.T >= e.Request.T || l.High >= e.Request.High {
			if l.start.T <= e.Request.T {
				e.Leave = l
			}
			return false
		}
	}
	return stand != nil && stand.Start.T <= e.Request.T
}

// SeekLeave gives how the vehicle left the standstill after this restart, nil
// where it did not or not yet; coming tells whether it still may.
func (r *Segmenter) SeekLeave(e *Episode) (leave *Leaving, coming bool) {
	if e.Request == nil || e.Running == nil {
		return nil, false
	}
	if e.Leave == nil {
		e.LeaveComing = e.chooseLeave(r.Stand)
	}
	return e.Leave, e.LeaveComing
}

// TakeOffWaits tells whether samples of an episode's take-off are still to come.
func (r *Segmenter) TakeOffWaits(e *Episode) bool {
	if !r.Has(decode.VehicleSpeed) {
		return false
	}
	leave, coming := r.SeekLeave(e)
	if leave == nil {
		return coming && !e.Reopens
	}
	return r.Now < leave.High+ShockAfter+bounds.Second/2
}
