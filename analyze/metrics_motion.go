package analyze

import (
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// shockAfter is how long after leaving standstill the shock is looked for.
const shockAfter = second

// left notes the vehicle leaving a standstill while the episode is followed.
func (e *episode) left(l leaving) {
	if e.leave == nil && len(e.leaves) < 16 {
		e.leaves = append(e.leaves, l)
	}
}

// chooseLeave picks the first leaving after the request. standing tells whether
// one may still come.
func (e *episode) chooseLeave(stand *standstill) (standing bool) {
	for i := range e.leaves {
		l := &e.leaves[i]
		if l.T >= e.Request.T || l.High >= e.Request.High {
			if l.start.T <= e.Request.T {
				e.leave = l
			}
			return false
		}
	}
	return stand != nil && stand.start.T <= e.Request.T
}

// takeOffWaits tells whether an episode's take-off is still to come.
func (r *Run) takeOffWaits(e *episode) bool {
	if e.Request == nil || e.Running == nil || !r.has(decode.VehicleSpeed) {
		return false
	}
	if e.leave == nil {
		if e.chooseLeave(r.stand) {
			return !e.reopens
		}
		if e.leave == nil {
			return false
		}
	}
	return r.now < e.leave.High+shockAfter+200*millisecond
}

// noLeave says why the vehicle did not leave a standstill.
func (r *Run) noLeave(w *windows) string {
	e := w.episode
	switch {
	case e.Request == nil:
		return r.noRequest(w)
	case e.Running == nil:
		return w.whyNot()
	case e.chooseLeave(r.stand) && e.reopens:
		return "the engine was stopped again before the vehicle moved"
	case r.stand != nil && r.stand.start.T <= e.Request.T:
		return "the log ends before the vehicle moved"
	}
	return "the vehicle was not at a standstill when the restart was asked for"
}

func takeOffDelay(r *Run, w *windows) MetricValue {
	if w.episode.leave == nil {
		return absent("%s", r.noLeave(w))
	}
	return measured(bounds.Sub(w.episode.leave.Instant, w.episode.Request.Instant))
}

// takeOffShock is the steepest change of acceleration after leaving standstill:
// slope of the acceleration over +-50 ms, else curvature of the vehicle speed over
// +-150 ms.
func takeOffShock(r *Run, w *windows) MetricValue {
	leave := w.episode.leave
	if leave == nil {
		return absent("%s", r.noLeave(w))
	}
	role, reach, scale := decode.Acceleration, 50*millisecond, 1.0
	fit := stats.Line
	if !r.has(decode.Acceleration) {
		// km/h to m/s is 1/3.6.
		role, reach, scale = decode.VehicleSpeed, 150*millisecond, 1/3.6
		fit = stats.Parabola
	}
	points := r.tracks[role].all()
	if n := len(points); n == 0 || points[n-1].t < leave.High+shockAfter {
		return absent("the log has no whole second after the vehicle left standstill")
	}
	var best MetricValue
	found := false
	for _, p := range window(points, leave.Low, leave.High+shockAfter) {
		var x, y []float64
		for _, q := range window(points, p.t-reach, p.t+reach) {
			x = append(x, bounds.Seconds(q.t-p.t))
			y = append(y, q.v*scale)
		}
		v, standardError, ok := fit(x, y)
		if ok && (!found || v > best.Best) {
			found, best = true, fitted(v, standardError)
		}
	}
	sampling := longest(bracket(points, leave.Low, leave.High+shockAfter))
	if !found {
		return absent("%s comes every %s, too seldom for a fit over %s", role, lengthText(sampling), lengthText(2*reach))
	}
	best.Sampling, best.HasSampling = bounds.Seconds(sampling), true
	return best
}
