package onelog

import (
	"lull/analyze"
	"lull/analyze/series"
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

// seekLeave gives how the vehicle left the standstill after this restart, nil
// where it did not or not yet; coming tells whether it still may.
func (r *segmenter) seekLeave(e *episode) (leave *leaving, coming bool) {
	if e.Request == nil || e.Running == nil {
		return nil, false
	}
	if e.leave == nil {
		e.leaveComing = e.chooseLeave(r.stand)
	}
	return e.leave, e.leaveComing
}

// takeOffWaits tells whether samples of an episode's take-off are still to come.
func (r *segmenter) takeOffWaits(e *episode) bool {
	if !r.has(decode.VehicleSpeed) {
		return false
	}
	leave, coming := r.seekLeave(e)
	if leave == nil {
		return coming && !e.reopens
	}
	return r.now < leave.High+shockAfter+second/2
}

// noLeave says why the vehicle did not leave a standstill.
func (r *recording) noLeave(w *windows) string {
	e := w.episode
	switch {
	case e.Request == nil:
		return r.noRequest(w)
	case e.Running == nil:
		return w.whyNot()
	case e.leaveComing && e.reopens:
		return "the engine was stopped again before the vehicle moved"
	case e.leaveComing:
		return "the recording ends before the vehicle moved"
	}
	return "the vehicle was not at a standstill when the restart was asked for"
}

func takeOffDelay(r *recording, w *windows) analyze.MetricValue {
	leave := w.episode.leave
	if leave == nil {
		return absent("%s", r.noLeave(w))
	}
	return measured(bounds.Sub(leave.Instant, w.episode.Request.Instant))
}

// takeOffShock is the steepest change of acceleration after leaving standstill:
// slope of the acceleration over +-50 ms; where that is not mapped or comes too
// seldom, curvature of the vehicle speed over +-150 ms.
func takeOffShock(r *recording, w *windows) analyze.MetricValue {
	leave := w.episode.leave
	if leave == nil {
		return absent("%s", r.noLeave(w))
	}
	// km/h to m/s is 1/3.6.
	bySpeed := func() analyze.MetricValue {
		return r.steepest(decode.VehicleSpeed, leave, 150*millisecond, 1/3.6, stats.Parabola)
	}
	if !r.has(decode.Acceleration) {
		return bySpeed()
	}
	v := r.steepest(decode.Acceleration, leave, 50*millisecond, 1, stats.Line)
	if v.Absent != "" {
		if other := bySpeed(); other.Absent == "" {
			return other
		}
	}
	return v
}

// steepest fits a signal around each of its samples in the second after leaving
// standstill, around to either side, and gives the greatest result.
func (r *recording) steepest(role decode.Role, leave *leaving, around int64, scale float64,
	fit func(x, y []float64) (float64, float64, bool)) analyze.MetricValue {
	points := r.tracks[role].All()
	low, high := leave.Low, leave.High+shockAfter
	whole := len(points) > 0 && points[len(points)-1].T >= high
	var best analyze.MetricValue
	found := false
	var x, y []float64
	for _, p := range series.Window(points, low, high) {
		if points[len(points)-1].T < p.T+around {
			whole = false
			break
		}
		x, y = x[:0], y[:0]
		for _, q := range series.Window(points, p.T-around, p.T+around) {
			x = append(x, bounds.Seconds(q.T-p.T))
			y = append(y, q.V*scale)
		}
		v, standardError, ok := fit(x, y)
		if ok && (!found || v > best.Best) {
			found, best = true, fitted(v, standardError)
		}
	}
	every := series.Longest(series.Bracket(points, low, high))
	switch {
	case !found && every > around/2:
		return absent("%s comes every %s, too seldom for a fit over %s", role, lengthText(every), lengthText(2*around))
	case !found || !whole:
		return absent("%s was not seen over the whole %s after the vehicle left standstill", role, lengthText(shockAfter+around))
	}
	best.Sampling, best.HasSampling = bounds.Seconds(every), true
	lost := r.unseen(decode.VehicleSpeed, r.tracks[decode.VehicleSpeed].All(), leave.Low, leave.High) > 0
	best.OpenBelow, best.OpenAbove = lost, lost
	return r.hidden(best, role, enoughSamples, points, plain(low-around, high+around, 0, lost), 1)
}
