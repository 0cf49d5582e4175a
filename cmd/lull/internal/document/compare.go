package document

import (
	"io"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// compareDocument is the JSON document, key by key and in this order. Metrics, rates and
// conditions stand at its top level or, with --by, in groups.
type compareDocument struct {
	head
	Before compareSide `json:"before"`
	After  compareSide `json:"after"`
	By     *string     `json:"by"`
	Notes  []string    `json:"notes"`
	*compareGroup
	Groups []compareNamed `json:"groups,omitzero"` // nil without --by
	Limits []compareLimit `json:"limits"`
}

type compareSide struct {
	Logs     []string `json:"logs"`
	Episodes int      `json:"episodes"`
	Map      mapJSON  `json:"map"`
}

type compareGroup struct {
	Metrics    []compareMetric    `json:"metrics"`
	Rates      []compareRate      `json:"rates"`
	Conditions []compareCondition `json:"conditions"`
}

type compareNamed struct {
	Group  string `json:"group"`
	Before int    `json:"before"` // episodes
	After  int    `json:"after"`
	compareGroup
}

type compareSample struct {
	N      int      `json:"n"`
	Median *float64 `json:"median,omitempty"`
	Q1     *float64 `json:"q1,omitempty"`
	Q3     *float64 `json:"q3,omitempty"`
	Min    *float64 `json:"min,omitempty"`
	Max    *float64 `json:"max,omitempty"`
}

type compareMetric struct {
	Metric  string        `json:"metric"`
	Unit    string        `json:"unit"`
	Better  *string       `json:"better"`
	Before  compareSample `json:"before"`
	After   compareSample `json:"after"`
	Shift   *shiftJSON    `json:"shift"`
	P       *float64      `json:"p"`
	PHolm   *float64      `json:"p_holm"`
	Test    *string       `json:"test"`
	Verdict string        `json:"verdict"`
}

type shiftJSON struct {
	Value      float64 `json:"value"`
	Low        float64 `json:"low"`
	High       float64 `json:"high"`
	Confidence float64 `json:"confidence"`
}

type compareRate struct {
	Rate       string   `json:"rate"`
	Better     string   `json:"better"`
	Before     rateJSON `json:"before"`
	After      rateJSON `json:"after"`
	Difference *float64 `json:"difference"`
	Low        *float64 `json:"low"`
	High       *float64 `json:"high"`
	P          *float64 `json:"p"`
	PHolm      *float64 `json:"p_holm"`
	Verdict    string   `json:"verdict"`
}

type rateJSON struct {
	K int `json:"k"`
	N int `json:"n"`
}

type compareCondition struct {
	Signal string         `json:"signal"`
	Unit   string         `json:"unit"`
	Before conditionRange `json:"before"`
	After  conditionRange `json:"after"`
	Alike  *bool          `json:"alike"`
}

type conditionRange struct {
	Median *float64 `json:"median"`
	Min    *float64 `json:"min"`
	Max    *float64 `json:"max"`
}

type compareLimit struct {
	Metric string     `json:"metric"`
	Min    *float64   `json:"min,omitempty"`
	Max    *float64   `json:"max,omitempty"`
	Before judgedJSON `json:"before"`
	After  judgedJSON `json:"after"`
}

type judgedJSON struct {
	Inside     int `json:"inside"`
	Borderline int `json:"borderline"`
	Outside    int `json:"outside"`
	Unseen     int `json:"unseen"`
}

// ofSample returns the figures only where there are values.
func ofSample(s compare.Sample) compareSample {
	if s.N == 0 {
		return compareSample{}
	}
	return compareSample{N: s.N, Median: number(s.Median), Q1: number(s.Q1), Q3: number(s.Q3), Min: number(s.Min), Max: number(s.Max)}
}

func ofRange(s compare.Sample) conditionRange {
	if s.N == 0 {
		return conditionRange{}
	}
	return conditionRange{number(s.Median), number(s.Min), number(s.Max)}
}

func ofMetric(m compare.Metric) compareMetric {
	j := compareMetric{Metric: m.Key, Unit: m.Unit, Better: orNull(m.Better), Before: ofSample(m.Before), After: ofSample(m.After), Verdict: string(m.Verdict)}
	if m.Verdict == compare.Missing {
		return j
	}
	j.Shift = &shiftJSON{m.Shift.Value, m.Shift.Low, m.Shift.High, m.Shift.Confidence}
	method := string(m.Method)
	j.P, j.Test = number(m.P), &method
	if m.Verdict != compare.TooFew {
		j.PHolm = number(m.PHolm)
	}
	return j
}

func ofRate(r compare.Rate) compareRate {
	j := compareRate{Rate: r.Key, Better: r.Better, Before: rateJSON{r.Before.Count, r.Before.Of}, After: rateJSON{r.After.Count, r.After.Of}, Verdict: string(r.Verdict)}
	if r.Verdict == compare.Missing {
		return j
	}
	j.Difference, j.Low, j.High, j.P = number(r.Difference.Value), number(r.Difference.Low), number(r.Difference.High), number(r.P)
	if r.Verdict != compare.TooFew {
		j.PHolm = number(r.PHolm)
	}
	return j
}

func ofCondition(c compare.Circumstance) compareCondition {
	j := compareCondition{Signal: c.Signal, Unit: c.Unit, Before: ofRange(c.Before), After: ofRange(c.After)}
	if c.Known {
		j.Alike = &c.Alike
	}
	return j
}

func ofGroup(g compare.Group) compareGroup {
	return compareGroup{each(g.Metrics, ofMetric), each(g.Rates, ofRate), each(g.Circumstances, ofCondition)}
}

func ofLimit(l compare.Limit) compareLimit {
	j := compareLimit{Metric: l.Metric, Before: judgedJSON(l.Before), After: judgedJSON(l.After)}
	if l.HasMin {
		j.Min = number(l.Min)
	}
	if l.HasMax {
		j.Max = number(l.Max)
	}
	return j
}

func sideJSON(c compare.Count, m *decode.Map) compareSide {
	return compareSide{Logs: c.Logs, Episodes: c.Episodes, Map: mapOf(m)}
}

// WriteComparisonJSON writes the whole document, indented.
func WriteComparisonJSON(w io.Writer, c *words.CompareReport) error {
	d := compareDocument{
		head:   headOf(c.Version),
		Before: sideJSON(c.Comparison.Before, c.Before), After: sideJSON(c.Comparison.After, c.After),
		By: orNull(string(c.By)), Notes: each(c.Notes, words.ComparisonNote), Limits: each(c.Limits, ofLimit),
	}
	if c.By == compare.ByNothing {
		g := ofGroup(c.Groups[0])
		d.compareGroup = &g
	} else {
		d.Groups = each(c.Groups, func(g compare.Group) compareNamed {
			return compareNamed{Group: g.Name, Before: g.Before, After: g.After, compareGroup: ofGroup(g)}
		})
	}
	return writeIndented(w, d)
}
