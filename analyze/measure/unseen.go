package measure

import (
	"lull/analyze"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

// enoughSamples is how many samples a median must have to judge a limit, and an
// extreme to keep one. What was not seen, as the recording stopped there or the signal's
// frame stayed away, keeps none either.
const enoughSamples = 3

// reach is a window as a median or an extreme is looked for in it.
type reach struct {
	low, high int64
	length    int64       // that it is likeliest to have
	core      bounds.Span // the part that the figure is about: what lies around only sees to it that nothing is missed
	sure      bounds.Span // the part that lies in it wherever its instants lie
	likely    bounds.Span // core, where its instants are likeliest to lie
	lost      bool        // those instants were not seen whole
}

// plain is a window that is all core.
func plain(low, high, length int64, lost bool) reach {
	whole := bounds.Span{From: low, To: high}
	return reach{low: low, high: high, length: length, core: whole, sure: whole, likely: whole, lost: lost}
}

// hidden says of a median (sign 0), or an extreme that is the highest (1) or lowest
// (-1), what of its window was not seen.
func (r *Measurer) hidden(v analyze.MetricValue, role decode.Role, samples int, points []series.Point, in reach, sign float64) analyze.MetricValue {
	unseen := r.Unseen(role, points, in.core.From, min(in.core.To, r.Streams.Latest)) // that the recording ended takes nothing out
	return withheld(open(v, samples, r.Unseen(role, points, in.low, in.high), sign), role, unseen, in.core.To-in.core.From)
}

// open marks a median, or an extreme, of which not enough was seen: the true value may
// lie further out.
func open(v analyze.MetricValue, samples int, unseen int64, sign float64) analyze.MetricValue {
	v.Unseen = bounds.Seconds(unseen)
	if unseen > 0 || samples < enoughSamples {
		v.OpenBelow, v.OpenAbove = v.OpenBelow || sign <= 0, v.OpenAbove || sign >= 0
	}
	return v
}

// withheld returns the reason to leave a value out of which less than half was seen.
func withheld(v analyze.MetricValue, role decode.Role, unseen, whole int64) analyze.MetricValue {
	if 2*unseen > whole {
		v.Absent = analyze.RoleUnseen{Role: role, Where: analyze.InWindow, Unseen: unseen, Whole: whole}
	}
	return v
}

// leaveOut takes the value away where there is a reason to, unless it breaks a limit
// of the map: what was seen was seen.
func (r *Measurer) leaveOut(v analyze.MetricValue) analyze.MetricValue {
	if v.Absent == nil {
		return v
	}
	if v.HasSampling {
		for _, limit := range r.M.Limits {
			if limit.Metric == v.Key && judgeLimit(v, limit) == analyze.Outside {
				v.Absent = nil
				return v
			}
		}
		v.Absent = analyze.AsFarAsSeen{Why: v.Absent, Best: v.Best, Unit: v.Unit}
	}
	return analyze.MetricValue{Key: v.Key, Unit: v.Unit, Absent: v.Absent, Unseen: v.Unseen}
}
