package words

import (
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

// LimitWord says how a value stands to its limit.
func LimitWord(v analyze.LimitVerdict, unit string) Word {
	limit := LimitWords(v.Limit, unit)
	switch v.Verdict {
	case analyze.Outside:
		return Word{"limit of " + limit + " broken", Bad}
	case analyze.Borderline:
		return Word{"limit of " + limit + " perhaps broken, the bounds lie on both sides of it", Doubtful}
	case analyze.Unseen:
		return Word{"not enough was seen to say whether it keeps the limit of " + limit, Doubtful}
	}
	return Word{"inside the limit of " + limit, Good}
}

// VerdictWord is the worst verdict of an episode's limits and how many have it; "-"
// where none was judged.
func (r *Report) VerdictWord(e *analyze.Episode) Word {
	worst, n := e.Worst(r.Map)
	text := Verdict(worst)
	if n > 1 && worst != analyze.Inside {
		text = strconv.Itoa(n) + " " + text
	}
	switch worst {
	case "":
		return Word{Text: "-"}
	case analyze.Outside:
		return Word{text, Bad}
	case analyze.Inside:
		return Word{text, Good}
	}
	return Word{text, Doubtful}
}

// Verdict is a verdict as tables say it.
func Verdict(v analyze.Verdict) string {
	if v == analyze.Outside {
		return "broken"
	}
	return string(v)
}
