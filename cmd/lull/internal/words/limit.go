package words

import (
	"fmt"
	"math"
	"strconv"

	"lull/analyze"
	"lull/decode"
)

// LimitWords names a limit: "at least 8.5 V", "0.6 s".
func LimitWords(l decode.Limit, unit string) string {
	if unit != "" {
		unit = " " + unit
	}
	switch {
	case l.HasMin && l.HasMax:
		return Shortest(l.Min) + " to " + Shortest(l.Max) + unit
	case l.HasMin:
		return "at least " + Shortest(l.Min) + unit
	}
	return Shortest(l.Max) + unit
}

// limitIs names a limit beside a value that it is held against: "limit: at most 0.6 s".
func limitIs(l decode.Limit, unit string) string { return "limit: " + wanted(l, unit) }

// wanted is a limit as what a value should be: "at most 0.6 s".
func wanted(l decode.Limit, unit string) string {
	if l.HasMin {
		return LimitWords(l, unit)
	}
	return "at most " + LimitWords(l, unit)
}

// beyond is how far a value lies beyond a limit; below 0 within it.
func beyond(v analyze.MetricValue, l decode.Limit) float64 {
	far := math.Inf(-1)
	if l.HasMin {
		far = l.Min - v.Best
	}
	if l.HasMax {
		far = max(far, v.Best-l.Max)
	}
	return far
}

// LimitWord says how a value stands to its limit.
func LimitWord(v analyze.LimitVerdict, unit string) Word {
	limit := LimitWords(v.Limit, unit)
	switch v.Verdict {
	case analyze.Outside:
		return Word{"outside the limit of " + limit, Bad}
	case analyze.Borderline:
		return Word{"too close to the limit of " + limit + " to call", Doubtful}
	case analyze.Unseen:
		return Word{"not enough was seen to judge the limit of " + limit, Doubtful}
	}
	return Word{"within the limit of " + limit, Good}
}

// VerdictWord is the worst verdict of an episode's limits and how many have it; "-"
// where none was judged. It is of the limits alone: only where all of them could be
// judged, in an episode in which nothing else went wrong, it is good; else it counts those
// that are kept.
func (r *Report) VerdictWord(e *analyze.Episode) Word {
	worst, n := e.Worst(r.Map)
	text := Verdict(worst)
	switch {
	case worst == "":
		return Word{Text: "-"}
	case worst == analyze.Inside && n < len(r.Map.Limits) && Failed(e):
		return Word{Text: "-"} // what little is kept would look like a pass
	case worst == analyze.Inside && n < len(r.Map.Limits):
		return Word{Text: fmt.Sprintf("%d within", n)}
	case worst == analyze.Inside && Failed(e):
		return Word{Text: text}
	case worst == analyze.Inside:
		return Word{text, Good}
	}
	if n > 1 {
		text = strconv.Itoa(n) + " " + text
	}
	if worst == analyze.Outside {
		return Word{text, Bad}
	}
	return Word{text, Doubtful}
}

// Verdict is a verdict as tables say it.
func Verdict(v analyze.Verdict) string {
	switch v {
	case analyze.Outside:
		return "out"
	case analyze.Inside:
		return "within"
	}
	return string(v)
}
