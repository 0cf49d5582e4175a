package table

import (
	"bytes"
	"fmt"
	"io"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// WriteComparison writes the comparison for a person: the answer, both sides of what changed
// or matters with a strip of its values, the rates, and in what the drives differed.
func WriteComparison(w io.Writer, c *words.CompareReport, style Style) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n%s\n", WrapHanging(words.SideText(c.Comparison.Before), style.Width, "before: ", "        "), WrapHanging(words.SideText(c.Comparison.After), style.Width, "after:  ", "        "))
	for _, note := range c.Notes {
		fmt.Fprintf(&b, "%s\n", WrapHanging(words.Visible(words.ComparisonNote(note)), style.Width, "note: ", "      "))
	}
	if len(c.Groups) > 0 {
		b.WriteByte('\n')
		for _, sentence := range c.Complaint() {
			fmt.Fprintf(&b, "%s\n", WrapHanging(sentence, style.Width, "", "  "))
		}
	}
	for i := range c.Groups {
		g := &c.Groups[i]
		if c.By != compare.ByNothing {
			fmt.Fprintf(&b, "\n%s\n", WrapHanging(fmt.Sprintf("%s: %s before, %d after", words.Visible(g.Name), decode.Counted(int64(g.Before), "episode", "episodes"), g.After), style.Width, "== ", "   "))
		}
		if c.By != compare.ByNothing {
			b.WriteByte('\n')
		}
		for _, sentence := range c.GroupAnswer(g) {
			fmt.Fprintf(&b, "%s\n", WrapHanging(sentence, style.Width, "", "  "))
		}
		if i == 0 {
			fmt.Fprintf(&b, "\n%s\n", Wrap(words.CompareLegend, style.Width, ""))
		}
		for _, m := range g.Metrics {
			if c.Drawn(m) {
				writeMetric(&b, m, c.ScaleOf(m), style)
			}
		}
		if len(g.Rates) > 0 {
			b.WriteByte('\n')
			rates := RateGrid(g.Rates)
			if err := rates.writeFitting(&b, style); err != nil {
				return err
			}
		}
		for _, line := range words.CircumstanceLines(g.Circumstances) {
			fmt.Fprintf(&b, "\n%s\n", WrapHanging(line, style.Width, "", "  "))
		}
	}
	if len(c.Groups) == 0 {
		fmt.Fprintf(&b, "\n%s\n", Wrap(words.NothingCompared, style.Width, ""))
	}
	for i, l := range c.Limits {
		if i == 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s\n", WrapHanging(words.LimitSentence(l), style.Width, "", "  "))
	}
	fmt.Fprintf(&b, "\n%s\n%s\n",
		Wrap(words.ChangeLegend+" The two strips of a metric share one scale, on which its limits lie too: "+
			stripOf(style).legend()+" All metrics, with how likely chance alone is: --format markdown, csv or json.", style.Width, ""),
		Wrap(words.Caution, style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

// writeMetric writes a metric's verdict and a line for each side.
func writeMetric(b *bytes.Buffer, m compare.Metric, scale words.Scale, style Style) {
	verdict := style.paint(words.Word{Text: string(m.Verdict), Tone: words.ChangeTone(m.Verdict)})
	line := fmt.Sprintf("%s: %s", words.Spoken(m.Key), verdict)
	if m.Verdict != compare.Missing {
		by := ", by "
		if m.Verdict == compare.NoChangeShown || m.Verdict == compare.TooFew {
			by = ": "
		}
		line += fmt.Sprintf("%s%s %s (%s)", by, words.Shift(m), m.Unit, words.ShiftBounds(m))
	}
	fmt.Fprintf(b, "\n%s\n", WrapHanging(line, style.Width, "", "  "))
	width := min(40, max(4, style.Width-43))
	for _, s := range []struct {
		name string
		compare.Sample
	}{{"before", m.Before}, {"after", m.After}} {
		if s.N == 0 {
			fmt.Fprintf(b, "  %-6s  none\n", s.name)
			continue
		}
		fmt.Fprintf(b, "  %-6s %3d, median %12s  [%s]\n", s.name, s.N, words.Number(s.Median)+" "+m.Unit, stripOf(style).draw(s.Sample, scale, width))
	}
}

// RateGrid is the table of rates on both sides.
func RateGrid(rates []compare.Rate) Grid {
	g := Grid{Columns: []Column{{Title: "rate", wrap: 20}, {Title: "before", Right: true}, {Title: "after", Right: true},
		{Title: "percentage points", Rank: 1}, {Title: "verdict"}}}
	for _, r := range rates {
		difference := "-"
		if r.Verdict != compare.Missing {
			difference = fmt.Sprintf("%s (%s to %s)", points(r.Difference.Value), points(r.Difference.Low), points(r.Difference.High))
		}
		g.Rows = append(g.Rows, []words.Word{{Text: words.RateName(r)}, {Text: words.OfText(r.Before)}, {Text: words.OfText(r.After)},
			{Text: difference}, {Text: words.RateVerdict(r), Tone: words.ChangeTone(r.Verdict)}})
	}
	return g
}

// points formats a difference of shares in percentage points, never as a negative zero.
func points(share float64) string {
	text := words.Fixed(100*share, 0)
	if share > 0 && text != "0" {
		return "+" + text
	}
	return text
}

// MetricGrid is the table of metrics on both sides.
func MetricGrid(metrics []compare.Metric) Grid {
	g := Grid{Columns: []Column{{Title: "metric"}, {Title: "unit", Rank: 4}, {Title: "before", Rank: 2}, {Title: "after", Rank: 2},
		{Title: "shift", Rank: 1}, {Title: "p", Rank: 3}, {Title: "verdict"}}}
	sample := func(s compare.Sample) string {
		if s.N == 0 {
			return "-"
		}
		return fmt.Sprintf("%s (%s to %s), n %d", words.Number(s.Median), words.Number(s.Min), words.Number(s.Max), s.N)
	}
	for _, m := range metrics {
		shift, p := "-", "-"
		if m.Verdict != compare.Missing {
			shift = fmt.Sprintf("%s (%s)", words.Shift(m), words.ShiftBounds(m))
		}
		if m.Verdict != compare.Missing && m.Verdict != compare.TooFew {
			p = words.Probability(m.PHolm)
		}
		g.add(words.Spoken(m.Key), m.Unit, sample(m.Before), sample(m.After), shift, p, string(m.Verdict))
	}
	return g
}
