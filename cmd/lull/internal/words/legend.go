package words

// episodeLegend says what an episode is.
const episodeLegend = "Episode: one stop of the engine and its restart."

// FiguresLegend says what is in brackets behind a figure of an episode.
const FiguresLegend = "Figures in brackets: the least and the most that the log allows."

// Legend explains what an answer about episodes is told in, where it is first read.
const Legend = episodeLegend + " " + FiguresLegend

// CompareLegend is the Legend of a comparison.
const CompareLegend = episodeLegend + " Figures in brackets: between which values the true change lies, 95 % sure."

// Legend is that of the report; "" where there is no episode to tell of.
func (r *Report) Legend() string {
	for _, l := range r.measuredLogs() {
		if len(l.Result.Episodes) > 0 {
			return Legend
		}
	}
	return ""
}
