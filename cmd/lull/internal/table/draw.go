package table

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

	"lull/cmd/lull/internal/words"
)

// Cells are short: looking up a width takes longer than computing it.
func init() { twwidth.SetCacheCapacity(0) }

// writeFitting draws as much of the table as fits.
func (g *Grid) writeFitting(w io.Writer, style Style) error {
	fitting := g.fit(style.Width)
	return fitting.write(w, style)
}

// write draws the table: no frame, one line below the titles.
func (g *Grid) write(w io.Writer, style Style) error {
	symbols := tw.NewSymbols(tw.StyleASCII)
	if style.Unicode {
		symbols = tw.NewSymbols(tw.StyleLight)
	}
	aligns := make([]tw.Align, len(g.Columns))
	titles := make([]string, len(g.Columns))
	for i, c := range g.Columns {
		aligns[i] = tw.AlignLeft
		if c.Right {
			aligns[i] = tw.AlignRight
		}
		titles[i] = c.Title
	}
	set := tw.CellConfig{
		Formatting: tw.CellFormatting{AutoWrap: tw.WrapNone, AutoFormat: tw.Off},
		Alignment:  tw.CellAlignment{PerColumn: aligns},
		Padding:    tw.CellPadding{Global: tw.Padding{Left: "", Right: strings.Repeat(" ", columnGap), Overwrite: true}},
	}
	var b bytes.Buffer
	t := tablewriter.NewTable(&b,
		tablewriter.WithConfig(tablewriter.Config{Header: set, Row: set, Behavior: tw.Behavior{TrimSpace: tw.Off}}),
		tablewriter.WithRenderer(renderer.NewBlueprint(tw.Rendition{
			Borders: tw.BorderNone,
			Symbols: symbols,
			Settings: tw.Settings{
				Separators: tw.Separators{BetweenColumns: tw.Off, BetweenRows: tw.Off, ShowHeader: tw.Off},
				Lines:      tw.Lines{ShowHeaderLine: tw.On},
			},
		})))
	t.Header(titles)
	heights := make([]int, len(g.Rows)) // lines of each row
	for row, cells := range g.Rows {
		line := make([]string, len(cells))
		for i, cell := range cells {
			line[i] = g.Columns[i].broken(cell.Text)
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
	widths := g.widths()
	total := -columnGap
	for _, width := range widths {
		total += width + columnGap
	}
	if rule := []rune(lines[1]); len(rule) > total { // it must end with the last column
		lines[1] = string(rule[:total])
	}
	if style.Colour {
		g.paint(lines[2:], widths, heights, style)
	}
	for _, line := range lines {
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " ")); err != nil {
			return err
		}
	}
	return nil
}

// paint colours the words that carry a verdict in a table that is already drawn, so that
// colour cannot move anything. It goes from the rightmost column to the left, so that what
// it inserts shifts no column it has yet to find.
func (g *Grid) paint(lines []string, widths, heights []int, style Style) {
	from := 0
	for row, height := range heights {
		for k := len(g.Columns) - 1; k >= 0; k-- {
			cell := g.Rows[row][k]
			if cell.Tone == "" {
				continue
			}
			offset := 0
			for _, width := range widths[:k] {
				offset += width + columnGap
			}
			for n, part := range strings.Split(g.Columns[k].broken(cell.Text), "\n") {
				if from+n < len(lines) && n < height {
					lines[from+n] = paintAt(lines[from+n], offset, words.Word{Text: part, Tone: cell.Tone}, style)
				}
			}
		}
		from += height
	}
}

// paintAt colours the word that begins at a column of the line, if one does.
func paintAt(line string, column int, word words.Word, style Style) string {
	at := 0
	for i, r := range line {
		if at == column && strings.HasPrefix(line[i:], word.Text) {
			return line[:i] + style.paint(word) + line[i+len(word.Text):]
		}
		at += runewidth.RuneWidth(r)
	}
	return line
}
