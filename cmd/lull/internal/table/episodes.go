package table

import (
	"strconv"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
)

// metricColumns are the metrics that the episode table can show, by rank. CSV and JSON have
// all.
var metricColumns = []struct {
	key, title string
	rank       int
}{
	{"engine_off", "engine off s", 7},
	{"request_to_crank", "wait before crank s", 9},
	{"crank_to_run", "crank s", 8},
	{"speed_at_crank", "rpm at crank", 13},
	{"voltage_min", "lowest V", 6},
	{"voltage_dip", "dip V", 10},
	{"hold_pressure_min", "hold kPa", 11},
	{"take_off_delay", "take-off s", 12},
	{"fuel_saved", "saved mL", 14},
}

// EpisodeGrid returns the table of a log's episodes, with every column that is not empty.
func EpisodeGrid(r *words.Report, res *analyze.Result) Grid {
	const request, restart = 3, 4 // columns
	const kept, broken = 4, 5     // ranks, where a limit was broken
	g := Grid{Columns: []Column{{Title: "no", Right: true}, {Title: "at s", Right: true, Rank: 4}, {Title: "outcome", Rank: 1},
		{Title: "request", Rank: 2, wrap: 18}, {Title: "restart s", Rank: 3, Bounds: true}, {Title: "limits", Rank: 4}}}
	always := len(g.Columns)
	for _, m := range metricColumns {
		g.Columns = append(g.Columns, Column{Title: m.title, Right: true, Rank: m.rank})
	}
	for i := range res.Episodes {
		e := &res.Episodes[i]
		who := "-"
		if e.Request != nil {
			who = words.Visible(r.Map.Requests[e.Request.Condition].Name)
		}
		latency := words.Word{Text: words.WithBounds(e.Metrics, "restart_latency"), Tone: brokenTone(e, "restart_latency")}
		row := []words.Word{{Text: strconv.Itoa(e.N)}, {Text: words.Moment(e.Stop.Instant)}, words.OutcomeWord(e),
			{Text: who}, latency, r.VerdictWord(e)}
		for k, m := range metricColumns {
			tone := brokenTone(e, m.key)
			row = append(row, words.Word{Text: words.Figure(e.Metrics, m.key), Tone: tone})
			if tone != "" { // before who asked for the restart
				g.Columns[request].Rank, g.Columns[always+k].Rank = broken, kept
			}
		}
		g.Rows = append(g.Rows, row)
	}
	if g.empty(restart) {
		g.Columns[restart].Rank = 15
	}
	return g.only(func(i int) bool { return i < always || !g.empty(i) })
}

// brokenTone is that of a metric's value, if it breaks a limit.
func brokenTone(e *analyze.Episode, key string) words.Tone {
	for _, v := range e.Limits {
		if v.Limit.Metric == key && v.Verdict == analyze.Outside {
			return words.Bad
		}
	}
	return ""
}
