package output

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/mattn/go-runewidth"
	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"

	"lull/analyze"
)

// WriteTable writes the result for a person at a terminal: first the answer in
// one paragraph, then each log's table, its findings and the standstills in
// which the engine ran on.
func (r *Report) WriteTable(w io.Writer, kind Kind, style Style) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n", Wrap(r.answer(), style.Width, ""))
	for i := range r.Logs {
		l := &r.Logs[i]
		fmt.Fprintf(&b, "\n%s\n", Wrap(headline(l), style.Width, ""))
		columns, none := r.episodeColumns(l.Result), "  no episode"
		rows := len(l.Result.Episodes)
		if kind == Standstills {
			columns, none = r.standstillColumns(l.Result), "  no standstill"
			rows = len(l.Result.Standstills)
		}
		if rows == 0 {
			fmt.Fprintf(&b, "\n%s\n", none)
		} else {
			b.WriteString("\n")
			if err := writeGrid(&b, fit(columns, style.Width), style); err != nil {
				return err
			}
		}
		r.writeFindings(&b, l.Result.Findings, style)
		r.writeRefusals(&b, l.Result, style)
	}
	fmt.Fprintf(&b, "\n%s\n%s\n",
		Wrap("Times in s from the first frame; every metric with its bounds: --format csv or json.", style.Width, ""),
		Wrap(Caution, style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

func (r *Report) writeFindings(b *bytes.Buffer, findings []analyze.Finding, style Style) {
	if len(findings) == 0 {
		return
	}
	b.WriteString("\nFindings\n")
	for _, f := range findings {
		word, t := "note", neutral
		if f.Severity == analyze.Attention {
			word, t = "attention", bad
		}
		first := "  " + style.paint(t, word) + strings.Repeat(" ", 11-len(word))
		fmt.Fprintf(b, "%s\n", hanging(findingText(f), style.Width, first, 13))
	}
}

func (r *Report) writeRefusals(b *bytes.Buffer, res *analyze.Result, style Style) {
	heading := "\nNot stopped\n"
	for i := range res.Standstills {
		if text, ok := r.refusal(&res.Standstills[i]); ok {
			b.WriteString(heading)
			heading = ""
			fmt.Fprintf(b, "%s\n", hanging(text, style.Width, "  ", 4))
		}
	}
}

func hanging(text string, width int, first string, indent int) string {
	return WrapHanging(text, width, first, strings.Repeat(" ", indent))
}

const columnGap = 2

// fit leaves out the columns of the highest rank until the rest is no wider
// than the output, and the least of them always stay.
func fit(columns []column, width int) []column {
	for {
		total, worst := 0, 0
		for i := range columns {
			total += columns[i].width() + columnGap
			if columns[i].rank > columns[worst].rank {
				worst = i
			}
		}
		if total-columnGap <= width || len(columns) <= 3 {
			return columns
		}
		kept := make([]column, 0, len(columns))
		kept = append(kept, columns[:worst]...)
		columns = append(kept, columns[worst+1:]...)
	}
}

// width is what the column needs.
func (c *column) width() int {
	w := runewidth.StringWidth(c.title)
	for _, x := range c.cells {
		for _, line := range strings.Split(c.broken(x.text), "\n") {
			w = max(w, runewidth.StringWidth(line))
		}
	}
	return w
}

func (c *column) broken(text string) string {
	if c.wrap == 0 {
		return text
	}
	return Wrap(text, c.wrap, "")
}

// writeGrid draws the table: no frame, one line below the titles.
func writeGrid(w io.Writer, columns []column, style Style) error {
	symbols := tw.NewSymbols(tw.StyleASCII)
	if style.Unicode {
		symbols = tw.NewSymbols(tw.StyleLight)
	}
	aligns := make([]tw.Align, len(columns))
	titles := make([]string, len(columns))
	for i, c := range columns {
		aligns[i] = tw.AlignLeft
		if c.right {
			aligns[i] = tw.AlignRight
		}
		titles[i] = c.title
	}
	cells := tw.CellConfig{
		Formatting: tw.CellFormatting{AutoWrap: tw.WrapNone, AutoFormat: tw.Off},
		Alignment:  tw.CellAlignment{PerColumn: aligns},
		Padding:    tw.CellPadding{Global: tw.Padding{Left: "", Right: strings.Repeat(" ", columnGap), Overwrite: true}},
	}
	var b bytes.Buffer
	t := tablewriter.NewTable(&b,
		tablewriter.WithConfig(tablewriter.Config{Header: cells, Row: cells, Behavior: tw.Behavior{TrimSpace: tw.Off}}),
		tablewriter.WithRenderer(renderer.NewBlueprint(tw.Rendition{
			Borders: tw.BorderNone,
			Symbols: symbols,
			Settings: tw.Settings{
				Separators: tw.Separators{BetweenColumns: tw.Off, BetweenRows: tw.Off, ShowHeader: tw.Off},
				Lines:      tw.Lines{ShowHeaderLine: tw.On},
			},
		})))
	t.Header(titles)
	for row := range columns[0].cells {
		line := make([]string, len(columns))
		for i := range columns {
			x := columns[i].cells[row]
			lines := strings.Split(columns[i].broken(x.text), "\n")
			for k := range lines {
				lines[k] = style.paint(x.tone, lines[k])
			}
			line[i] = strings.Join(lines, "\n")
		}
		if err := t.Append(line); err != nil {
			return err
		}
	}
	if err := t.Render(); err != nil {
		return err
	}
	total := -columnGap
	for i := range columns {
		total += columns[i].width() + columnGap
	}
	for i, line := range strings.Split(strings.TrimRight(b.String(), "\n"), "\n") {
		if i == 1 { // the line below the titles ends where the last column does
			line = string([]rune(line)[:total])
		}
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " ")); err != nil {
			return err
		}
	}
	return nil
}
