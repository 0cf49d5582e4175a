package output

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode"

	"lull/analyze"
)

// markdown makes text from a map or log harmless in Markdown: what begins
// markup, HTML or a table cell is escaped, and line ends become blanks.
func markdown(s string) string {
	var b strings.Builder
	for _, r := range Visible(strings.NewReplacer("\r\n", " ", "\n", " ", "\r", " ", "\t", " ").Replace(s)) {
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

// WriteMarkdown writes what the table shows, in all columns.
func (r *Report) WriteMarkdown(w io.Writer, kind Kind) error {
	var b bytes.Buffer
	title := r.Map.Vehicle
	if title == "" {
		title = r.Map.Name
	}
	fmt.Fprintf(&b, "# Idle stops: %s\n\n%s\n", markdown(title), markdown(r.answer()))
	for i := range r.Logs {
		l := &r.Logs[i]
		fmt.Fprintf(&b, "\n## %s\n\n%s\n", markdown(l.Name), markdown(headline(l)))
		columns, rows, none := r.episodeColumns(l.Result), len(l.Result.Episodes), "No episode."
		if kind == Standstills {
			columns, rows, none = r.standstillColumns(l.Result), len(l.Result.Standstills), "No standstill."
		}
		if rows == 0 && !l.Result.EngineSpeedSeen {
			none = "Not measured: the engine speed is never seen."
		}
		if rows == 0 {
			fmt.Fprintf(&b, "\n%s\n", none)
		} else {
			b.WriteString("\n")
			markdownGrid(&b, columns)
		}
		if len(l.Result.Findings) > 0 {
			b.WriteString("\n### Findings\n\n")
			for _, f := range findingLines(l.Result.Findings) {
				word := string(f.severity)
				if f.severity == analyze.Attention {
					word = "**attention**"
				}
				fmt.Fprintf(&b, "- %s: %s\n", word, markdown(f.text))
			}
		}
		heading := "\n### Not stopped\n\n"
		for k := range l.Result.Standstills {
			if text, ok := r.refusal(l.Result, &l.Result.Standstills[k]); ok {
				fmt.Fprintf(&b, "%s- %s\n", heading, markdown(text))
				heading = ""
			}
		}
	}
	if lines := r.triedLines(); kind == Episodes && len(lines) > 0 {
		b.WriteString("\n## Tried on the road\n\n")
		for _, line := range lines {
			fmt.Fprintf(&b, "- %s\n", markdown(line))
		}
	}
	fmt.Fprintf(&b, "\nTimes in s from the first frame.\n\n%s\n", Caution)
	_, err := w.Write(b.Bytes())
	return err
}

// markdownGrid writes a table whose cells are escaped here and nowhere else.
func markdownGrid(b *bytes.Buffer, columns []column) {
	for i := range columns {
		fmt.Fprintf(b, "| %s ", markdown(columns[i].title))
	}
	b.WriteString("|\n")
	for i := range columns {
		if columns[i].right {
			b.WriteString("| ---: ")
		} else {
			b.WriteString("| --- ")
		}
	}
	b.WriteString("|\n")
	for row := range columns[0].cells {
		for i := range columns {
			fmt.Fprintf(b, "| %s ", markdown(columns[i].cells[row].text))
		}
		b.WriteString("|\n")
	}
}
