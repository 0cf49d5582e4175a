package table

import (
	"slices"
	"strings"

	"github.com/mattn/go-runewidth"

	"lull/cmd/lull/internal/words"
)

// Grid is a table as text: a row has a word for each column. All its text is harmless to a
// terminal; HTML must escape it.
type Grid struct {
	Columns []Column
	Rows    [][]words.Word
}

// Column is one column of a Grid. If the output is narrow, columns of the highest rank are
// left out first.
type Column struct {
	Title string
	Right bool // of numbers
	Rank  int
	wrap  int // width at which cells wrap at spaces; 0: never
	// Bounds says that the cells are values followed by their bounds, which are left out
	// before a column that matters is.
	Bounds bool
}

// add appends a row of plain texts.
func (g *Grid) add(texts ...string) {
	row := make([]words.Word, len(texts))
	for i, text := range texts {
		row[i].Text = text
	}
	g.Rows = append(g.Rows, row)
}

// empty reports whether a column says nothing in any row.
func (g *Grid) empty(column int) bool {
	for _, row := range g.Rows {
		if text := row[column].Text; text != "" && text != "-" {
			return false
		}
	}
	return true
}

// only returns the grid with the columns to keep.
func (g *Grid) only(kept func(column int) bool) Grid {
	var fewer Grid
	var places []int
	for i, c := range g.Columns {
		if kept(i) {
			fewer.Columns = append(fewer.Columns, c)
			places = append(places, i)
		}
	}
	for _, row := range g.Rows {
		cells := make([]words.Word, len(places))
		for i, place := range places {
			cells[i] = row[place]
		}
		fewer.Rows = append(fewer.Rows, cells)
	}
	return fewer
}

const columnGap = 2

// fit leaves out the columns of the highest rank until the rest fits. Columns of the lowest
// rank always stay.
func (g *Grid) fit(width int) Grid {
	widths := g.widths()
	gone := map[int]bool{}
	for {
		total, worst := -columnGap, -1
		for i, c := range g.Columns {
			if gone[i] {
				continue
			}
			total += widths[i] + columnGap
			if worst < 0 || c.Rank > g.Columns[worst].Rank {
				worst = i
			}
		}
		if total <= width || len(g.Columns)-len(gone) <= 3 {
			return g.only(func(i int) bool { return !gone[i] })
		}
		if g.bounded() && g.Columns[worst].Rank <= worthMore {
			brief := g.brief()
			return brief.fit(width)
		}
		gone[worst] = true
	}
}

// worthMore is the rank up to which columns are worth more than bounds.
const worthMore = 5

func (g *Grid) bounded() bool {
	return slices.ContainsFunc(g.Columns, func(c Column) bool { return c.Bounds })
}

// brief returns the grid without bounds.
func (g *Grid) brief() Grid {
	brief := Grid{Columns: slices.Clone(g.Columns)}
	for i := range brief.Columns {
		brief.Columns[i].Bounds = false
	}
	for _, row := range g.Rows {
		cells := slices.Clone(row)
		for i, c := range g.Columns {
			if c.Bounds {
				cells[i].Text, _, _ = strings.Cut(cells[i].Text, " (")
			}
		}
		brief.Rows = append(brief.Rows, cells)
	}
	return brief
}

// widths returns what each column needs.
func (g *Grid) widths() []int {
	widths := make([]int, len(g.Columns))
	for i := range g.Columns {
		c := &g.Columns[i]
		widths[i] = runewidth.StringWidth(c.Title)
		for _, row := range g.Rows {
			for line := range strings.SplitSeq(c.broken(row[i].Text), "\n") {
				widths[i] = max(widths[i], runewidth.StringWidth(line))
			}
		}
	}
	return widths
}

func (c *Column) broken(text string) string {
	if c.wrap == 0 {
		return text
	}
	return Wrap(text, c.wrap, "")
}
