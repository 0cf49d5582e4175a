package words

import (
	"fmt"

	"lull/analyze"
)

// episodeLegend says what an episode is.
const episodeLegend = "Episode: one stop of the engine and its restart."

// FiguresLegend says what is in brackets behind a figure of an episode.
const FiguresLegend = "Figures in brackets: the least and the most that the log allows."

// Legend explains what an answer about episodes is told in, where it is first read.
const Legend = episodeLegend + " " + FiguresLegend

// CompareLegend is the Legend of a comparison.
const CompareLegend = episodeLegend + " Figures in brackets: between which values the true change very likely lies."

// LimitsLegend explains a count in the table's limits, where there is one; else it is "".
func (r *Report) LimitsLegend() string {
	for _, l := range r.measuredLogs() {
		for i := range l.Result.Episodes {
			e := &l.Result.Episodes[i]
			if worst, n := e.Worst(r.Map); worst == analyze.Inside && n < len(r.Map.Limits) && !Failed(e) {
				return fmt.Sprintf("%s: so many limits are kept, the others could not be judged. ", r.VerdictWord(e).Text)
			}
		}
	}
	return ""
}

// Legend is that of the report; "" where there is no episode to tell of.
func (r *Report) Legend() string {
	for _, l := range r.measuredLogs() {
		if len(l.Result.Episodes) > 0 {
			return Legend
		}
	}
	return ""
}
