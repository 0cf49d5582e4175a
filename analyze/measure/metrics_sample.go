package measure

import (
	"math"
	"slices"

	"lull/analyze"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// sampling is the longest time in low..high that no sample tells of: between two
// neighbours, those just outside included, and where there is none outside, as at
// the end of a log, up to that end of the window.
func sampling(points []series.Point, low, high int64) int64 {
	var every int64
	last := low
	for _, p := range series.Bracket(points, low, high) {
		every = max(every, p.T-last)
		last = p.T
	}
	return max(every, high-last)
}

// tooSeldom says why a polled signal gives nothing over a window of the length:
// the answer that happens to fall into it is no median and no extreme, however
// wide the poll has made the window. A frame that its sender repeats by itself is
// left to its sampling.
func (r *Measurer) tooSeldom(role decode.Role, length int64) (analyze.MetricValue, bool) {
	i := r.M.Role[role]
	period, known := r.Streams.Period(i)
	if !known || period <= length || !r.M.Entries[r.M.Signals[i].Entry].Polled() {
		return analyze.MetricValue{}, false
	}
	return Absent(analyze.TooSeldom{Role: role, Period: period, Window: length}), true
}

// medianOf is the median of a role's samples in a window.
func (r *Measurer) medianOf(role decode.Role, in reach) analyze.MetricValue {
	if why, seldom := r.tooSeldom(role, in.length); seldom {
		return why
	}
	points := r.Tracks[role].All()
	inside := series.Window(points, in.low, in.high)
	median, ok := stats.Median(series.ValuesOf(inside))
	if !ok {
		return r.noSample(role, in.low, in.high)
	}
	v := sampled(median, sampling(points, in.low, in.high))
	// A median of a window that wide instants make half as long again is of another one.
	wide := in.lost || 2*(in.high-in.low) > 3*in.length
	v.OpenBelow, v.OpenAbove = wide, wide
	return r.hidden(v, role, len(inside), points, in, 0)
}

// extremeOf is the highest (sign 1) or lowest (sign -1) sample in a window.
func (r *Measurer) extremeOf(role decode.Role, in reach, sign float64) analyze.MetricValue {
	if why, seldom := r.tooSeldom(role, in.length); seldom {
		return why
	}
	points := r.Tracks[role].All()
	extreme, ok := furthest(series.Window(points, in.low, in.high), sign)
	if !ok {
		return r.noSample(role, in.low, in.high)
	}
	v := sampled(extreme, sampling(points, in.low, in.high))
	if in.lost {
		// What lies beyond the sure part may not belong to the window.
		sure, ok := furthest(series.Window(points, in.sure.From, in.sure.To), sign)
		v.OpenBelow, v.OpenAbove = sign < 0 || !ok || sure != extreme, sign > 0 || !ok || sure != extreme
	}
	return r.hidden(v, role, len(series.Window(points, in.likely.From, in.likely.To)), points, in, sign)
}

// overRest is the highest (sign 1) or lowest (sign -1) sample from rest to running, of
// which the first are no longer kept but for what Episode.Rested gathered. The role stands
// in InRest of the metric.
func (r *Measurer) overRest(role decode.Role, w *windows, sign float64) analyze.MetricValue {
	e := w.episode
	if e.Rest == nil {
		return Absent(analyze.NoRest)
	}
	points := r.Tracks[role].All()
	low, high := e.Rest.Low, w.end.High
	x, limit := e.Rested[role], r.Hole(role)
	if p, kept := series.At(points, low-1); kept && (!x.Seen || p.T > x.Last) {
		x.Seen, x.Last = true, p.T // the sample before the window
	}
	from := low
	if x.Samples > 0 {
		from = max(low, x.Last) // the samples up to there are no longer kept, but counted
	}
	for _, p := range series.Window(points, low, high) {
		x.Add(p, low, limit)
	}
	if x.Samples == 0 {
		return r.noSample(role, low, high)
	}
	next := high
	if after := series.Bracket(points, high, high); len(after) > 0 {
		next = max(next, after[len(after)-1].T)
	}
	if next-x.Last >= limit {
		x.Away += high - x.Last
	}
	extreme := x.Lowest
	if sign > 0 {
		extreme = x.Highest
	}
	unseen := max(x.Away, r.Streams.Gaps.Within(low, high))
	v := sampled(extreme, max(x.Longest, sampling(points, from, high)))
	return withheld(open(v, x.Samples, unseen, sign), role, unseen, high-low)
}

// furthest is the highest (sign 1) or lowest (sign -1) value of the points.
func furthest(points []series.Point, sign float64) (float64, bool) {
	if len(points) == 0 {
		return 0, false
	}
	v := points[0].V
	for _, p := range points {
		if (p.V-v)*sign > 0 {
			v = p.V
		}
	}
	return v, true
}

// noSample says why a window is empty: the signal comes too seldom, or it stayed
// away.
func (r *Measurer) noSample(role decode.Role, low, high int64) analyze.MetricValue {
	why := analyze.NoSample{Role: role, Window: high - low}
	away := series.Longest(series.Bracket(r.Tracks[role].All(), low, high))
	period, known := r.Streams.Period(r.M.Role[role])
	gap := r.Streams.Gaps.Within(low, high)
	switch {
	case gap > 0:
		why.Gap = gap
	case away == 0:
		// It was not seen both before and after.
	case known && away > 3*period:
		why.Away = away
	default:
		if !known {
			period = away
		}
		why.Period, why.Polled = period, r.M.Entries[r.M.RoleSignal(role).Entry].Polled()
	}
	v := Absent(why)
	v.Unseen = bounds.Seconds(r.Unseen(role, r.Tracks[role].All(), low, high))
	return v
}

// speedAt is the engine speed at an instant. It ranges over the samples around
// it.
func (r *Measurer) speedAt(w *windows, when bounds.Instant) analyze.MetricValue {
	points := r.Tracks[decode.EngineSpeed].All()
	if down := w.episode.RunDown[decode.EngineSpeed]; len(down) > 0 && len(points) > 0 && when.Low < points[0].T {
		// What lies between the two was forgotten while the engine rested.
		points = append(slices.Clone(series.Window(down, math.MinInt64, points[0].T-1)), points...)
	}
	around := series.Bracket(points, when.Low, when.High)
	switch {
	case len(around) == 0 || around[0].T > when.Low:
		return Absent(analyze.RoleUnseen{Role: decode.EngineSpeed, Where: analyze.BeforeMoment})
	case around[len(around)-1].T < when.High:
		return Absent(analyze.RoleUnseen{Role: decode.EngineSpeed, Where: analyze.AfterMoment})
	}
	v := bounds.Value{Low: around[0].V, Best: series.Interpolate(around, when.T), High: around[0].V}
	wider := series.Bracket(points, around[0].T-1, around[len(around)-1].T+1)
	for i, p := range around {
		v.Low, v.High = min(v.Low, p.V), max(v.High, p.V)
		if i > 0 {
			turn := turning(wider, around[i-1], p)
			v.Low, v.High = min(v.Low, turn), max(v.High, turn)
		}
	}
	if away := r.Unseen(decode.EngineSpeed, around, around[0].T, around[len(around)-1].T); away > 0 {
		v := Absent(analyze.RoleUnseen{Role: decode.EngineSpeed, Where: analyze.AroundMoment, Unseen: away})
		v.Unseen = bounds.Seconds(away)
		return v
	}
	return measured(v)
}

// turning is how far a curve through neighbouring points a and b of all may reach
// beyond them: where the lines from the points before a and after b meet between
// them, as a curve that bends one way stays on one side of both. Where they do not
// meet there, it is no value beyond those of a and b.
func turning(all []series.Point, a, b series.Point) float64 {
	i := slices.Index(all, a)
	if i < 1 || i+2 >= len(all) || all[i+1] != b {
		return a.V
	}
	before, after := all[i-1], all[i+2]
	if before.T == a.T || after.T == b.T || a.T == b.T {
		return a.V
	}
	rise := (a.V - before.V) / float64(a.T-before.T)
	fall := (after.V - b.V) / float64(after.T-b.T)
	if rise*fall >= 0 {
		return a.V // it does not turn
	}
	share := (b.V - a.V - fall*float64(b.T-a.T)) / (rise - fall)
	return a.V + rise*share
}
