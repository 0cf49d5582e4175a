package table

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/analyze/starter"
	"lull/cmd/lull/internal/words"
	"lull/pkg/stats"
)

// WriteStarter writes the account for a person: the answer in one paragraph, the logs, and
// what to look at.
func WriteStarter(w io.Writer, s *words.StarterReport, style Style) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n\n", Wrap(s.Answer(), style.Width, ""))
	grid := starterGrid(s)
	if err := grid.writeFitting(&b, style); err != nil {
		return err
	}
	writeFindings(&b, s.Account.Findings, style)
	fmt.Fprintf(&b, "\n%s\n%s\n",
		Wrap(fmt.Sprintf("Intervals: exact Poisson, %.0f %%, as if operations came by chance at one rate: true of everyday driving, not of a test that stops on purpose. "+
			"All figures: --format json.", 100*starter.Confidence), style.Width, ""),
		Wrap(words.StarterCaution+" "+words.Caution, style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

// starterGrid is the table of the logs.
func starterGrid(s *words.StarterReport) Grid {
	g := Grid{Columns: []Column{{Title: "log", wrap: 26}, {Title: "from", Rank: 6}, {Title: "counter first", Right: true, Rank: 2},
		{Title: "last", Right: true, Rank: 1}, {Title: "key", Right: true, Rank: 5}, {Title: "restart", Right: true, Rank: 4},
		{Title: "retry", Right: true, Rank: 7}, {Title: "agrees", Rank: 3}, {Title: "engine h", Right: true, Rank: 9}, {Title: "km", Right: true, Rank: 8}}}
	for i := range s.Logs {
		l := &s.Logs[i]
		c := &l.Result.Starter
		first, last, agrees := "-", "-", words.Word{Text: "-"}
		if c.Absent == nil {
			first, last, agrees = words.Shortest(c.First), words.Shortest(c.Last), words.Word{Text: "no", Tone: words.Bad}
			if c.Agrees {
				agrees = words.Word{Text: "yes", Tone: words.Good}
			}
		}
		g.Rows = append(g.Rows, []words.Word{{Text: words.Visible(l.Name)}, {Text: began(l.Result)}, {Text: first}, {Text: last},
			{Text: strconv.Itoa(c.Key)}, {Text: strconv.Itoa(c.Restart)}, {Text: strconv.Itoa(c.Retry)}, agrees,
			{Text: totalText(l.Result.EngineHours, 3)}, {Text: totalText(l.Result.Distance, 2)}})
	}
	return g
}

func totalText(t analyze.Total, decimals int) string {
	if t.Absent != nil || !stats.Finite(t.Value) {
		return "-"
	}
	return words.Fixed(t.Value, decimals)
}

// began is when a log began, to the minute.
func began(res *analyze.Result) string {
	text, ok := words.StartText(res)
	if !ok {
		return "unknown"
	}
	return strings.Replace(text[:len("2006-01-02T15:04")], "T", " ", 1)
}
