package measure

import (
	"math"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/stats"
)

// Limits holds what was measured of an episode against the map's limits.
func (r *Measurer) Limits(e *analyze.Episode) []analyze.LimitVerdict {
	var verdicts []analyze.LimitVerdict
	for _, limit := range r.M.Limits {
		for _, v := range e.Metrics {
			if v.Key == limit.Metric && v.Absent == nil {
				verdicts = append(verdicts, analyze.LimitVerdict{Limit: limit, Verdict: judgeLimit(v, limit)})
			}
		}
	}
	return verdicts
}

// Sound keeps the order of a value's bounds, which rounding may disturb, and refuses
// what is no number: a field of a float may hold anything.
func Sound(v analyze.MetricValue) analyze.MetricValue {
	for _, x := range []float64{v.Low, v.Best, v.High, v.Sampling, v.StandardError} {
		if !stats.Finite(x) {
			why := Absent(analyze.TooLarge)
			why.Key, why.Unit = v.Key, v.Unit
			return why
		}
	}
	v.Low, v.High = min(v.Low, v.Best), max(v.High, v.Best)
	return v
}

// judgeLimit holds a value with its bounds against a limit. It never rounds. A value
// of which not enough was seen may break a limit, and never keeps one.
func judgeLimit(v analyze.MetricValue, limit decode.Limit) analyze.Verdict {
	low, high := v.Low, v.High
	if v.OpenBelow {
		low = math.Inf(-1)
	}
	if v.OpenAbove {
		high = math.Inf(1)
	}
	switch {
	case limit.HasMin && high < limit.Min || limit.HasMax && low > limit.Max:
		return analyze.Outside
	case v.OpenBelow || v.OpenAbove:
		return analyze.Unseen
	case limit.HasMin && low < limit.Min || limit.HasMax && high > limit.Max:
		return analyze.Borderline
	}
	return analyze.Inside
}
