package document

import (
	"encoding/csv"
	"fmt"
	"io"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
	"lull/pkg/stats"
)

var compareHeader = []string{
	"group", "kind", "name", "unit", "better",
	"before_n", "before_k", "before_median", "before_q1", "before_q3", "before_min", "before_max",
	"after_n", "after_k", "after_median", "after_q1", "after_q3", "after_min", "after_max",
	"shift", "shift_low", "shift_high", "confidence", "p", "p_holm", "test", "verdict",
}

// WriteComparisonCSV writes a line for each metric, rate and condition.
func WriteComparisonCSV(w io.Writer, c *words.CompareReport) error {
	out := csv.NewWriter(w)
	out.Write(compareHeader)
	sample := func(s compare.Sample) []string {
		if s.N == 0 {
			return []string{"0", "", "", "", "", "", ""}
		}
		return []string{fmt.Sprint(s.N), "", words.Shortest(s.Median), words.Shortest(s.Q1), words.Shortest(s.Q3), words.Shortest(s.Min), words.Shortest(s.Max)}
	}
	rate := func(r stats.Rate) []string {
		return []string{fmt.Sprint(r.Of), fmt.Sprint(r.Count), "", "", "", "", ""}
	}
	line := func(group, kind, name, unit, better string, before, after, rest []string) {
		cells := append([]string{text(group), kind, text(name), text(unit), better}, before...)
		out.Write(append(append(cells, after...), rest...))
	}
	for _, g := range c.Groups {
		for _, m := range g.Metrics {
			rest := []string{"", "", "", "", "", "", "", string(m.Verdict)}
			if m.Verdict != compare.Missing {
				rest = []string{words.Shortest(m.Shift.Value), words.Shortest(m.Shift.Low), words.Shortest(m.Shift.High), words.Shortest(m.Shift.Confidence),
					words.Shortest(m.P), adjusted(m.PHolm, m.Verdict), string(m.Method), string(m.Verdict)}
			}
			line(g.Name, "metric", m.Key, m.Unit, m.Better, sample(m.Before), sample(m.After), rest)
		}
		for _, r := range g.Rates {
			rest := []string{"", "", "", "", "", "", "", string(r.Verdict)}
			if r.Verdict != compare.Missing {
				rest = []string{words.Shortest(r.Difference.Value), words.Shortest(r.Difference.Low), words.Shortest(r.Difference.High), words.Shortest(r.Difference.Confidence),
					words.Shortest(r.P), adjusted(r.PHolm, r.Verdict), "Fisher", string(r.Verdict)}
			}
			line(g.Name, "rate", r.Key, "", r.Better, rate(r.Before), rate(r.After), rest)
		}
		for _, k := range g.Circumstances {
			line(g.Name, "condition", k.Signal, k.Unit, "", sample(k.Before), sample(k.After), []string{"", "", "", "", "", "", "", alikeText(k)})
		}
	}
	out.Flush()
	return out.Error()
}

func adjusted(p float64, v compare.Verdict) string {
	if v == compare.TooFew {
		return ""
	}
	return words.Shortest(p)
}

func alikeText(c compare.Circumstance) string {
	switch {
	case !c.Known:
		return string(compare.Missing)
	case c.Alike:
		return "alike"
	}
	return "not alike"
}
