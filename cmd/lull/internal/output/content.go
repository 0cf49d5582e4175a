package output

import (
	"fmt"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/decode"
	"lull/pkg/units"
)

// What follows gives the words and tables of a result to those who lay them out
// themselves. All text is harmless to a terminal; for HTML it is to be escaped.

// Tone is the meaning of a text beside the text itself.
type Tone string

// The tones, and none where a text is plain.
const (
	Good     Tone = "good"
	Doubtful Tone = "doubtful"
	Bad      Tone = "bad"
)

var tones = map[tone]Tone{good: Good, doubtful: Doubtful, bad: Bad}

// Grid is a table as text.
type Grid struct {
	Titles []string
	Right  []bool // columns of numbers
	Ranks  []int  // columns of the highest rank are the first to go where room is short
	Rows   [][]Cell
}

// Cell is one field of a Grid.
type Cell struct {
	Text string
	Tone Tone
}

func grid(columns []column) Grid {
	var g Grid
	for _, c := range columns {
		g.Titles = append(g.Titles, c.title)
		g.Right = append(g.Right, c.right)
		g.Ranks = append(g.Ranks, c.rank)
	}
	for row := range columns[0].cells {
		var cells []Cell
		for i := range columns {
			x := columns[i].cells[row]
			cells = append(cells, Cell{x.text, tones[x.tone]})
		}
		g.Rows = append(g.Rows, cells)
	}
	return g
}

// Answer is the paragraph that says what came of all the logs.
func (r *Report) Answer() string { return r.answer() }

// EpisodeGrid is the table of a log's episodes, with every column that says
// something.
func (r *Report) EpisodeGrid(l *Log) Grid { return grid(r.episodeColumns(l.Result)) }

// StandstillGrid is the table of a log's standstills.
func (r *Report) StandstillGrid(l *Log) Grid { return grid(r.standstillColumns(l.Result)) }

// Headline says what a log is.
func (r *Report) Headline(l *Log) string { return headline(l) }

// FindingText is one finding, or several of one kind.
type FindingText struct {
	Severity analyze.Severity
	Text     string
}

// FindingTexts gives a log's findings, those of one kind together.
func (r *Report) FindingTexts(l *Log) []FindingText {
	return each(findingLines(l.Result.Findings), func(f findingLine) FindingText { return FindingText{f.severity, f.text} })
}

// Refusals says of each standstill in which the engine ran on why it did.
func (r *Report) Refusals(l *Log) []string {
	var list []string
	for i := range l.Result.Standstills {
		if text, ok := r.refusal(l.Result, &l.Result.Standstills[i]); ok {
			list = append(list, text)
		}
	}
	return list
}

// Tried says what of the map the drives tried and what not.
func (r *Report) Tried() []string { return r.triedLines() }

// Spoken turns a key such as restart_latency into words.
func Spoken(key string) string { return spoken(key) }

// MetricText writes a metric with its unit and, where they differ from it, its
// bounds; ok is false where there is no value.
func MetricText(m analyze.MetricValue) (text string, ok bool) {
	if m.Absent != "" || number(m.Best) == nil {
		return Visible(m.Absent), false
	}
	m = m.Told()
	text = units.Round(m.Best, m.Low, m.High)
	if m.Unit != "" {
		text += " " + m.Unit
	}
	if m.Low != m.High {
		text += " (" + between(m) + ")"
	}
	return text, true
}

// LimitText says how a value stands to its limit.
func LimitText(v analyze.LimitVerdict, unit string) (string, Tone) {
	switch v.Verdict {
	case analyze.Outside:
		return limitClause(v, unit), Bad
	case analyze.Borderline, analyze.Unseen:
		return limitClause(v, unit), Doubtful
	}
	return limitClause(v, unit), Good
}

// MomentText writes an instant in seconds, with its bounds where they differ.
func MomentText(low, t, high float64) string {
	text := units.Round(t, low, high)
	if low == high {
		return fixed(t, 3)
	}
	d := units.Decimals(t, low, high)
	return text + " (" + fixed(low, d) + " to " + fixed(high, d) + ")"
}

// LimitWords names a limit: "at least 8.5 V", "0.6 s".
func LimitWords(l decode.Limit, unit string) string { return limitWords(l, unit) }

// Sentences of a starter's account, as its table begins.
func (s *StarterReport) Answer() string { return s.answer() }

// Answer says in sentences what the comparison shows, over all episodes.
func (c *CompareReport) Answer() []string {
	if len(c.Groups) == 0 {
		return []string{nothingCompared}
	}
	var list []string
	for i := range c.Groups {
		list = append(list, c.answer(&c.Groups[i])...)
	}
	return list
}

// MetricGrid is the table of all metrics on both sides.
func (c *CompareReport) MetricGrid() Grid {
	var all []compare.Metric
	for i := range c.Groups {
		all = append(all, c.Groups[i].Metrics...)
	}
	return grid(comparedColumns(all))
}

// RateGrid is the table of all rates on both sides.
func (c *CompareReport) RateGrid() Grid {
	var all []compare.Rate
	for i := range c.Groups {
		all = append(all, c.Groups[i].Rates...)
	}
	return grid(rateColumns(all))
}

// Remarks are what should be known before the comparison is believed, in what the
// sides were driven alike, and the limits held against both.
func (c *CompareReport) Remarks() []string {
	list := each(c.Notes, Visible)
	for i := range c.Groups {
		list = append(list, conditionLines(c.Groups[i].Conditions)...)
	}
	for _, l := range c.Limits {
		list = append(list, limitSentence(l))
	}
	return list
}

// ShiftText writes a metric's shift with its interval.
func ShiftText(m compare.Metric) string {
	return fmt.Sprintf("shift %s %s (%s to %s)", signed(m.Shift.Value, m.Shift), m.Unit, signed(m.Shift.Low, m.Shift), signed(m.Shift.High, m.Shift))
}

// CompareMethod says how the figures of a comparison came about.
const CompareMethod = "Shift: Hodges-Lehmann estimate, after less before, with its distribution-free interval of at least 95 % where there are enough values. " +
	"p: two-sided rank test, of rates Fisher's exact test, both made honest about their number (Holm)."

// Number writes a number that has no bounds, to four significant digits.
func Number(v float64) string { return tidy(v) }

// StarterCaution says who decides what a count of starter operations is for.
const StarterCaution = starterCaution
