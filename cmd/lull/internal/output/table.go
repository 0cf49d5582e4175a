package output

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/mattn/go-runewidth"
	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/pkg/twwidth"
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
		if rows == 0 && !l.Result.EngineSpeedSeen {
			none = "  not measured: the engine speed is never seen"
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
	if kind == Episodes {
		r.writeTried(&b, style)
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
	for _, f := range findingLines(findings) {
		word, t := "note", neutral
		if f.severity == analyze.Attention {
			word, t = "attention", bad
		}
		first := "  " + style.paint(t, word) + strings.Repeat(" ", 11-len(word))
		fmt.Fprintf(b, "%s\n", hanging(f.text, style.Width, first, 13))
	}
}

func (r *Report) writeRefusals(b *bytes.Buffer, res *analyze.Result, style Style) {
	heading := "\nNot stopped\n"
	for i := range res.Standstills {
		if text, ok := r.refusal(res, &res.Standstills[i]); ok {
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

// width is what the column needs. Its cells do not change once it was asked.
func (c *column) width() int {
	if c.wide > 0 {
		return c.wide
	}
	c.wide = runewidth.StringWidth(c.title)
	for _, x := range c.cells {
		for line := range strings.SplitSeq(c.broken(x.text), "\n") {
			c.wide = max(c.wide, runewidth.StringWidth(line))
		}
	}
	return c.wide
}

func (c *column) broken(text string) string {
	if c.wrap == 0 {
		return text
	}
	return Wrap(text, c.wrap, "")
}

// Cells are short: to look up how wide one is takes longer than to find out.
func init() { twwidth.SetCacheCapacity(0) }

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
	heights := make([]int, len(columns[0].cells)) // lines of each row
	for row := range columns[0].cells {
		line := make([]string, len(columns))
		for i := range columns {
			line[i] = columns[i].broken(columns[i].cells[row].text)
			heights[row] = max(heights[row], 1+strings.Count(line[i], "\n"))
		}
		if err := t.Append(line); err != nil {
			return err
		}
	}
	if err := t.Render(); err != nil {
		return err
	}
	lines := strings.Split(strings.TrimRight(b.String(), "\n"), "\n")
	total := -columnGap
	for i := range columns {
		total += columns[i].width() + columnGap
	}
	if rule := []rune(lines[1]); len(rule) > total { // it ends where the last column does
		lines[1] = string(rule[:total])
	}
	if style.Colour {
		paintCells(lines[2:], columns, heights, style)
	}
	for _, line := range lines {
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " ")); err != nil {
			return err
		}
	}
	return nil
}

// paintCells colours the words that carry a verdict in a table that is drawn
// already, so that colour cannot move anything. Columns are gone through from
// the right: what is painted does not shift what lies left of it.
func paintCells(lines []string, columns []column, heights []int, style Style) {
	from := 0
	for row, height := range heights {
		for k := len(columns) - 1; k >= 0; k-- {
			x := columns[k].cells[row]
			if x.tone == neutral {
				continue
			}
			offset := 0
			for i := range k {
				offset += columns[i].width() + columnGap
			}
			for n, word := range strings.Split(columns[k].broken(x.text), "\n") {
				if from+n < len(lines) && n < height {
					lines[from+n] = paintAt(lines[from+n], offset, word, style, x.tone)
				}
			}
		}
		from += height
	}
}

// paintAt colours the word that begins at a column of the line, if it does.
func paintAt(line string, column int, word string, style Style, t tone) string {
	at := 0
	for i, r := range line {
		if at == column && strings.HasPrefix(line[i:], word) {
			return line[:i] + style.paint(t, word) + line[i+len(word):]
		}
		at += runewidth.RuneWidth(r)
	}
	return line
}
