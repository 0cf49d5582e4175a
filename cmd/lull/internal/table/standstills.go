package table

import (
	"math"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/pkg/units"
)

// StandstillGrid is the table of a log's standstills. A standstill is told apart by its
// time; the only numbers are those of episodes.
func StandstillGrid(r *words.Report, res *analyze.Result) Grid {
	g := Grid{Columns: []Column{{Title: "at s", Right: true}, {Title: "length s", Right: true, Rank: 4},
		{Title: "engine stopped", Rank: 1, wrap: 18}, {Title: "episode", Right: true, Rank: 2}, {Title: "after s", Right: true, Rank: 5}, {Title: "reason", Rank: 3, wrap: 22},
		{Title: "explained", Right: true, Rank: 6}}}
	for i := range r.Map.Inhibits {
		g.Columns = append(g.Columns, Column{Title: words.Visible(r.Map.Inhibits[i].Name), Right: true, Rank: 7 + i})
	}
	for k := range res.Standstills {
		s := &res.Standstills[k]
		delay, covered := "-", "-"
		if s.StopDelay != nil && s.StopDelay.Absent == nil {
			delay = units.Round(math.Abs(s.StopDelay.Best), s.StopDelay.Low, s.StopDelay.High)
			if s.StopDelay.Best < 0 {
				delay += " before" // it stood
			}
		}
		if s.Opportunity && !s.Stopped { // a standstill with a stop needs no reason
			covered = words.Percent(s.Covered)
		}
		row := []words.Word{{Text: words.Moment(s.Start)}, {Text: words.Length(s.Start, s.End)},
			r.StoppedWord(s), {Text: words.EpisodesIn(res, s)}, {Text: delay}, words.ReasonWord(res, s), {Text: covered}}
		for i := range r.Map.Inhibits {
			row = append(row, words.Word{Text: shareText(s, i)})
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}

func shareText(s *analyze.Standstill, condition int) string {
	for _, h := range s.Inhibits {
		if h.Condition == condition {
			if h.State == "unknown" {
				return "unknown"
			}
			return words.Percent(h.Share)
		}
	}
	return "-"
}
