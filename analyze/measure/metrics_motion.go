package measure

import (
	"lull/analyze"
	"lull/analyze/segment"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// noDeparture returns the reason why the vehicle did not leave a standstill.
func (r *Measurer) noDeparture(w *windows) analyze.Reason {
	e := w.episode
	switch {
	case e.Request == nil:
		return r.noRequest(w)
	case e.Running == nil:
		return w.whyNot()
	case e.DepartureComing && e.Reopens:
		return analyze.StoppedBeforeMoved
	case e.DepartureComing:
		return analyze.EndedBeforeMoved
	}
	return analyze.NotStanding
}

func takeOffDelay(r *Measurer, w *windows) analyze.MetricValue {
	departure := w.episode.Departure
	if departure == nil {
		return Absent(r.noDeparture(w))
	}
	return measured(bounds.Sub(departure.Instant, w.episode.Request.Instant))
}

// takeOffShock is the steepest change of acceleration after leaving standstill:
// slope of the acceleration over +-50 ms; where that is not mapped or comes too
// seldom, curvature of the vehicle speed over +-150 ms.
func takeOffShock(r *Measurer, w *windows) analyze.MetricValue {
	departure := w.episode.Departure
	if departure == nil {
		return Absent(r.noDeparture(w))
	}
	// km/h to m/s is 1/3.6.
	bySpeed := func() analyze.MetricValue {
		return r.steepest(decode.VehicleSpeed, departure, 150*bounds.Millisecond, 1/3.6, stats.Parabola)
	}
	if !r.Has(decode.Acceleration) {
		return bySpeed()
	}
	v := r.steepest(decode.Acceleration, departure, 50*bounds.Millisecond, 1, stats.Line)
	if v.Absent != nil {
		if other := bySpeed(); other.Absent == nil {
			return other
		}
	}
	return v
}

// steepest fits a signal around each of its samples in the second after leaving
// standstill, around to either side, and gives the greatest result.
func (r *Measurer) steepest(role decode.Role, departure *segment.Departure, around int64, scale float64,
	fit func(x, y []float64) (float64, float64, bool)) analyze.MetricValue {
	points := r.Tracks[role].All()
	low, high := departure.Low, departure.High+segment.ShockAfter
	whole := true
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
		return Absent(analyze.TooSeldom{Role: role, Period: every, Window: 2 * around, Fit: true})
	case !found || !whole:
		return Absent(analyze.RoleUnseen{Role: role, Where: analyze.AfterDeparture, Whole: segment.ShockAfter + around})
	}
	best.Sampling, best.HasSampling = bounds.Seconds(every), true
	lost := r.Unseen(decode.VehicleSpeed, r.Tracks[decode.VehicleSpeed].All(), departure.Low, departure.High) > 0
	best.OpenBelow, best.OpenAbove = lost, lost
	return r.hidden(best, role, enoughSamples, points, plain(low-around, high+around, 0, lost), 1)
}
