package analyze

import (
	"fmt"
	"math"
	"slices"

	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// sampling is the longest time in low..high that no sample tells of: between two
// neighbours, those just outside included, and where there is none outside, as at
// the end of a log, up to that end of the window.
func sampling(points []point, low, high int64) int64 {
	var every int64
	last := low
	for _, p := range bracket(points, low, high) {
		every = max(every, p.t-last)
		last = p.t
	}
	return max(every, high-last)
}

// tooSeldom says why a polled signal gives nothing over a window of the length:
// the answer that happens to fall into it is no median and no extreme, however
// wide the poll has made the window. A frame that its sender repeats by itself is
// left to its sampling.
func (r *Run) tooSeldom(role decode.Role, length int64) (MetricValue, bool) {
	i := r.m.Role[role]
	period, known := r.streams.period(i)
	if !known || period <= length || !r.m.Entries[r.m.Signals[i].Entry].Polled() {
		return MetricValue{}, false
	}
	return absent("%s is polled every %s, too seldom for a window of %s", role, lengthText(period), lengthText(length)), true
}

// medianOf is the median of a role's samples in low..high, a window whose length
// is likeliest to be so long.
func (r *Run) medianOf(role decode.Role, low, high, length int64) MetricValue {
	if why, seldom := r.tooSeldom(role, length); seldom {
		return why
	}
	points := r.tracks[role].all()
	median, ok := stats.Median(valuesOf(window(points, low, high)))
	if !ok {
		return r.noSample(role, low, high)
	}
	return sampled(median, sampling(points, low, high))
}

// extremeOf is the highest (sign 1) or lowest (sign -1) sample in low..high, a
// window whose length is likeliest to be so long.
func (r *Run) extremeOf(role decode.Role, low, high, length int64, sign float64) MetricValue {
	if why, seldom := r.tooSeldom(role, length); seldom {
		return why
	}
	points := r.tracks[role].all()
	inside := window(points, low, high)
	if len(inside) == 0 {
		return r.noSample(role, low, high)
	}
	v := inside[0].v
	for _, p := range inside {
		if (p.v-v)*sign > 0 {
			v = p.v
		}
	}
	return sampled(v, sampling(points, low, high))
}

// noSample says why a window is empty: the signal comes too seldom, or it stayed
// away.
func (r *Run) noSample(role decode.Role, low, high int64) MetricValue {
	text := fmt.Sprintf("no sample of %s lies in the %s window", role, lengthText(high-low))
	away := longest(bracket(r.tracks[role].all(), low, high))
	period, known := r.streams.period(r.m.Role[role])
	switch {
	case away == 0:
		// It was not seen both before and after.
	case known && away > 3*period:
		text += ": it was not seen for " + lengthText(away)
	default:
		if !known {
			period = away
		}
		how := "comes"
		if r.m.Entries[r.m.RoleSignal(role).Entry].Polled() {
			how = "is polled"
		}
		text += ": it " + how + " every " + lengthText(period)
	}
	return absent("%s", text)
}

// speedAt is the engine speed at an instant. It ranges over the samples around
// it.
func (r *Run) speedAt(w *windows, when bounds.Instant) MetricValue {
	points := r.tracks[decode.EngineSpeed].all()
	if down := w.episode.runDown; len(down) > 0 && len(points) > 0 && when.Low < points[0].t {
		// What lies between the two was forgotten while the engine rested.
		points = append(slices.Clone(window(down, math.MinInt64, points[0].t-1)), points...)
	}
	around := bracket(points, when.Low, when.High)
	switch {
	case len(around) == 0 || around[0].t > when.Low:
		return absent("engine_speed was not seen before that moment")
	case around[len(around)-1].t < when.High:
		return absent("engine_speed was not seen again after that moment")
	}
	v := bounds.Value{Low: around[0].v, Best: interpolate(around, when.T), High: around[0].v}
	for _, p := range around {
		v.Low, v.High = min(v.Low, p.v), max(v.High, p.v)
	}
	return measured(v)
}

// lengthText writes a length of time for a reader: milliseconds below a second.
func lengthText(ns int64) string {
	if ns < second {
		return fmt.Sprintf("%.0f ms", float64(ns)/1e6)
	}
	return fmt.Sprintf("%.2f s", bounds.Seconds(ns))
}

// halfStep is how far the quantity may lie from a sample's value, because the
// signal's field has no finer steps; 0 where no signal has the role.
func (r *Run) halfStep(role decode.Role) float64 {
	s := r.m.RoleSignal(role)
	if s == nil || s.Float {
		return 0
	}
	return abs(s.ToRole.ApplyStep(s.Scale.Step())) / 2
}
