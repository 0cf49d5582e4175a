package findings

import (
	"math"
	"slices"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/analyze/segment"
	"lull/decode"
	"lull/pkg/bounds"
)

// edge is one of the two instants that a duration lies between.
type edge struct {
	sampled bool        // as wide as the period of its signal
	fixed   float64     // else how wide it is whatever the sampling, in s
	derived decode.Role // read off this signal, as no other tells: NoRole where it is not
}

// finest is the shortest sampling that a bus could be asked for.
const finest = 0.001

// deciding finds what would tell on which side of a limit a value lies that straddles
// it. The true value lies anywhere in low..high, so bounds that are no wider than its
// distance from the limit can never straddle it; those of a duration are as wide as
// the periods of the signals at its two ends. What the true value is nobody knows: the
// distance is the best value's. ends are those of a duration.
func (r *Finder) deciding(e *segment.Episode, ends [2]measure.End, j analyze.Judged) analyze.StraddledLimit {
	v, limit := j.Value, j.Limit
	distance := math.Inf(1)
	if limit.HasMin && v.Low < limit.Min {
		distance = math.Abs(v.Best - limit.Min)
	}
	if limit.HasMax && v.High > limit.Max {
		distance = min(distance, math.Abs(v.Best-limit.Max))
	}
	told := analyze.StraddledLimit{Judged: j, By: analyze.ByNothing}
	if distance == 0 {
		return told
	}
	if v.HasStandardError {
		told.By, told.Least = analyze.ByError, distance
		return told
	}
	if ends[0] != "" {
		from, to := r.edgeOf(e, ends[0]), r.edgeOf(e, ends[1])
		if role := max(from.derived, to.derived); role != decode.NoRole {
			told.By, told.Role = analyze.ByCommand, role
		} else if period := neededPeriod(distance, from, to); period >= finest {
			told.By, told.Least = analyze.ByPeriod, period
		}
		return told
	}
	if times := math.Ceil((v.High-v.Low)/distance - 1e-9); times <= 1000 {
		told.By, told.Least = analyze.ByMore, max(2, times)
	}
	return told
}

// neededPeriod is the period in s that the signals at both ends of a duration must
// have, so that its bounds are no wider than the distance; negative where what no
// sampling narrows is wider than that.
func neededPeriod(distance float64, ends ...edge) float64 {
	sampled := 0.0
	for _, end := range ends {
		distance -= end.fixed
		if end.sampled {
			sampled++
		}
	}
	if sampled == 0 || distance <= 0 {
		return -1
	}
	return distance / sampled
}

// edgeOf says how wide an instant of an episode is.
func (r *Finder) edgeOf(e *segment.Episode, end measure.End) edge {
	of := func(event analyze.Event) edge {
		if !decode.Roles[event.From].Switch {
			return edge{derived: event.From}
		}
		if delay := r.EventDelay(event.From); delay >= 0 {
			return edge{fixed: bounds.Seconds(delay)}
		}
		return edge{sampled: true}
	}
	switch end {
	case measure.AtStop:
		return of(e.Stop)
	case measure.AtCrank:
		return of(e.Operations[0].Event)
	case measure.AtLastCrank:
		return of(e.Operations[len(e.Operations)-1].Event)
	case measure.AtRequest:
		onChange := slices.ContainsFunc(r.M.Requests[e.Request.Condition].Expr.Signals(), func(signal int) bool {
			return r.M.Entries[r.M.Signals[signal].Entry].OnChange
		})
		if onChange {
			return edge{fixed: r.M.Settings.EventDelay.Seconds()}
		}
	}
	return edge{sampled: true}
}
