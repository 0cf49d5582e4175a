package table

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
)

// markdown makes text from a map or log harmless in Markdown: what begins markup, HTML or a
// table cell is escaped, and line ends become spaces.
func markdown(s string) string {
	var b strings.Builder
	for _, r := range words.Visible(strings.NewReplacer("\r\n", " ", "\n", " ", "\r", " ", "\t", " ").Replace(s)) {
		switch {
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '&':
			b.WriteString("&amp;")
		case r == '|':
			b.WriteString(`\|`)
		case strings.ContainsRune("\\`*_{}[]#~!$", r):
			b.WriteRune('\\')
			b.WriteRune(r)
		case unicode.IsSpace(r):
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// markdown writes the table. Its cells are escaped here and nowhere else.
func (g *Grid) markdown(b *bytes.Buffer) {
	for _, c := range g.Columns {
		fmt.Fprintf(b, "| %s ", markdown(c.Title))
	}
	b.WriteString("|\n")
	for _, c := range g.Columns {
		if c.Right {
			b.WriteString("| ---: ")
		} else {
			b.WriteString("| --- ")
		}
	}
	b.WriteString("|\n")
	for _, row := range g.Rows {
		for _, cell := range row {
			fmt.Fprintf(b, "| %s ", markdown(cell.Text))
		}
		b.WriteString("|\n")
	}
}

// markdownList writes a heading and a list, if there is any line.
func markdownList(b *bytes.Buffer, heading string, lines []string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n\n", heading)
	for _, line := range lines {
		fmt.Fprintf(b, "- %s\n", markdown(line))
	}
}

// WriteMarkdown writes what the table shows, in all columns.
func WriteMarkdown(w io.Writer, r *words.Report, kind words.Kind) error {
	var b bytes.Buffer
	title := r.Map.Vehicle
	if title == "" {
		title = r.Map.Name
	}
	fmt.Fprintf(&b, "# Idle stops: %s\n\n%s\n", markdown(title), markdown(r.Answer()))
	if legend := r.Legend(); legend != "" {
		fmt.Fprintf(&b, "\n%s\n", markdown(legend))
	}
	for i := range r.Logs {
		l := &r.Logs[i]
		fmt.Fprintf(&b, "\n## %s\n\n%s\n", markdown(l.Name), markdown(l.Headline()))
		grid, none := EpisodeGrid(r, l.Result), "No episode."
		if kind == words.Standstills {
			grid, none = StandstillGrid(r, l.Result), "No standstill."
		}
		usable := l.Result.Usable()
		if !usable {
			none = markdown(words.Sentence(words.NotShown(l.Result)))
		}
		if len(grid.Rows) == 0 || !usable {
			fmt.Fprintf(&b, "\n%s\n", none)
		} else {
			b.WriteString("\n")
			grid.markdown(&b)
		}
		if len(l.Result.Findings) > 0 {
			b.WriteString("\n### Findings\n\n")
			for _, f := range words.FindingLines(l.Result.Findings) {
				word := string(f.Severity)
				if f.Severity == analyze.Attention {
					word = "**attention**"
				}
				fmt.Fprintf(&b, "- %s: %s\n", word, markdown(f.Text))
			}
		}
		if usable {
			markdownList(&b, "### Not stopped", r.Refusals(l))
		}
	}
	if kind == words.Episodes {
		markdownList(&b, "## Covered on the road", r.Tried())
	}
	fmt.Fprintf(&b, "\nTimes in s from the first frame.\n\n%s\n", words.Caution)
	_, err := w.Write(b.Bytes())
	return err
}

// WriteComparisonMarkdown writes the answer and the tables for a report.
func WriteComparisonMarkdown(w io.Writer, c *words.CompareReport) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "## Before and after\n\nBefore: %s\n\nAfter: %s\n", markdown(words.SideText(c.Comparison.Before)), markdown(words.SideText(c.Comparison.After)))
	for _, note := range c.Notes {
		fmt.Fprintf(&b, "\nNote: %s\n", markdown(words.Visible(words.ComparisonNote(note))))
	}
	if len(c.Groups) > 0 {
		b.WriteByte('\n')
		for _, sentence := range c.Complaint() {
			fmt.Fprintf(&b, "- %s\n", markdown(sentence))
		}
	}
	for i := range c.Groups {
		g := &c.Groups[i]
		if c.By != compare.ByNothing {
			fmt.Fprintf(&b, "\n### %s\n", markdown(fmt.Sprintf("%s %s", c.By, words.Visible(g.Name))))
		}
		if c.By != compare.ByNothing {
			b.WriteByte('\n')
		}
		for _, sentence := range c.GroupAnswer(g) {
			fmt.Fprintf(&b, "- %s\n", markdown(sentence))
		}
		b.WriteByte('\n')
		metrics, rates := MetricGrid(g.Metrics), RateGrid(g.Rates)
		metrics.markdown(&b)
		if len(rates.Rows) > 0 {
			b.WriteByte('\n')
			rates.markdown(&b)
		}
		for _, line := range words.CircumstanceLines(g.Circumstances) {
			fmt.Fprintf(&b, "\n%s\n", markdown(line)) // a paragraph, as right after the table it would be a row
		}
	}
	if len(c.Groups) == 0 {
		fmt.Fprintf(&b, "\n%s\n", words.NothingCompared)
	}
	for _, l := range c.Limits {
		fmt.Fprintf(&b, "\n%s\n", markdown(words.LimitSentence(l)))
	}
	fmt.Fprintf(&b, "\n%s\n", words.Caution)
	_, err := w.Write(b.Bytes())
	return err
}
