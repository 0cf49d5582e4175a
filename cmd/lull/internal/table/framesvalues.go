package table

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"github.com/mattn/go-runewidth"

	"lull/analyze/census"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// mostNames is how many named identifiers, answers and differences the table lists.
const mostNames = 40

// mostDifferences is how many differences the table lists; JSON and CSV have all.
const mostDifferences = 20

// writeNames lists which identifiers have a name in a standard: groups of J1939 with all
// their senders in one line.
func writeNames(b *bytes.Buffer, c *census.Result, style Style) {
	var order []string
	ids := map[string][]string{}
	for i := range c.IDs {
		x := &c.IDs[i]
		name := words.IDName(c, x)
		if name == "" {
			continue
		}
		if len(c.Buses) > 1 {
			name += " on " + words.Visible(x.Bus)
		}
		if ids[name] == nil {
			order = append(order, name)
		}
		ids[name] = append(ids[name], decode.FormatID(x.ID, x.Extended))
	}
	var lines []string
	for _, name := range order {
		list := ids[name]
		more := ""
		if n := len(list) - mostLines; n > 0 {
			list, more = list[:mostLines], fmt.Sprintf(" and %d more", n)
		}
		lines = append(lines, strings.Join(list, " ")+more+": "+name)
	}
	writeUpTo(b, "Named by standards", lines, mostNames, style)
}

// writeAnswers lists what modules answered to a scan tool.
func writeAnswers(b *bytes.Buffer, c *census.Result, style Style) {
	var lines []string
	for i := range c.Answers {
		a := &c.Answers[i]
		where := ""
		if len(c.Buses) > 1 {
			where = " on " + words.Visible(a.Bus)
		}
		lines = append(lines, decode.FormatID(a.ID, a.Extended)+where+": "+words.AnswerText(a))
	}
	writeUpTo(b, "Answered to a scan tool", lines, mostNames, style)
}

func writeUpTo(b *bytes.Buffer, heading string, lines []string, most int, style Style) {
	writeList(b, heading, lines[:min(len(lines), most)], style)
	if more := len(lines) - most; more > 0 {
		fmt.Fprintf(b, "  %d more: --format json\n", more)
	}
}

// writeBytes shows the identifiers that were asked for byte by byte.
func writeBytes(b *bytes.Buffer, r *words.Frames, c *census.Result, style Style) error {
	shown := false
	for i := range c.IDs {
		x := &c.IDs[i]
		if !r.Wants(x) {
			continue
		}
		shown = true
		head := decode.FormatID(x.ID, x.Extended)
		if name := words.IDName(c, x); name != "" {
			head += ", " + name
		}
		if len(c.Buses) > 1 {
			head += " on " + words.Visible(x.Bus)
		}
		head += ": " + decode.Counted(x.Count, "frame", "frames")
		if x.HasPeriod {
			head += ", every " + words.Fixed(x.Period/1e6, 1) + " ms"
		}
		fmt.Fprintf(b, "\n%s\n", Wrap(head, style.Width, ""))
		if g, ok := words.Group(c, x); ok {
			for i := range g.Parameters {
				fmt.Fprintf(b, "%s\n", hanging(words.ParameterText(&g.Parameters[i]), style.Width, "  ", 4))
			}
		}
		if len(x.Bytes) == 0 {
			fmt.Fprintf(b, "  no bytes\n")
			continue
		}
		b.WriteByte('\n')
		grid := byteGrid(x, style.Width)
		if err := grid.write(b, style); err != nil {
			return err
		}
	}
	if !shown {
		fmt.Fprintf(b, "\nNone of the identifiers asked for is in this log.\n")
	}
	return nil
}

func byteGrid(x *census.ID, width int) Grid {
	g := Grid{Columns: []Column{{Title: "byte", Right: true}, {Title: "least", Rank: 2}, {Title: "most", Rank: 2}, {Title: "values", Right: true, Rank: 4},
		{Title: "changes", Right: true, Rank: 3}, {Title: "bits", Rank: 5}, {Title: "looks like", Rank: 1, wrap: 24}}}
	for i := range x.Bytes {
		b := &x.Bytes[i]
		changes, bits := "-", "none"
		if b.Pairs > 0 {
			changes = words.Percent(float64(b.Changes) / float64(b.Pairs))
		}
		if moving := b.Ones() & b.Zeros(); moving != 0 {
			bits = bitRuns(moving)
		}
		g.add(strconv.Itoa(i), words.ByteValue(uint16(b.Least()), 8), words.ByteValue(uint16(b.Most()), 8), strconv.Itoa(b.Values()), changes, bits, words.LooksText(b))
	}
	return g.lastTakesTheRest(width)
}

// lastTakesTheRest fits a grid whose last column takes the room that is left.
func (g *Grid) lastTakesTheRest(width int) Grid {
	fitted := g.fit(width)
	widths := fitted.widths()
	used, last := 0, len(fitted.Columns)-1
	for _, w := range widths[:last] {
		used += w + columnGap
	}
	fitted.Columns[last].wrap = max(width-used, fitted.Columns[last].wrap)
	return fitted
}

// writeDifferences shows what differs between the two sides.
func writeDifferences(b *bytes.Buffer, r *words.Frames, style Style) error {
	for _, side := range []struct {
		title string
		logs  []words.FramesLog
	}{{"the log", r.Logs}, {"against", r.Against}} {
		for i := range side.logs {
			fmt.Fprintf(b, "%s\n", hanging(side.title+": "+side.logs[i].AsLog().Headline(), style.Width, "", 2))
		}
	}
	fmt.Fprintf(b, "\n%s\n", Wrap(words.DifferencesText(r.Differences), style.Width, ""))
	var list []census.Difference
	var missing [2][]string
	for _, d := range r.Differences.List {
		switch {
		case !r.Wants(&census.ID{ID: d.ID, Extended: d.Extended}):
		case d.Kind == census.Missing:
			side := 0
			if d.Frames[0] == 0 {
				side = 1
			}
			name := decode.FormatID(d.ID, d.Extended)
			if d.Bus != "" {
				name += " on " + words.Visible(d.Bus)
			}
			missing[side] = append(missing[side], name)
		default:
			list = append(list, d)
		}
	}
	if len(list) > 0 {
		b.WriteByte('\n')
		grid := differenceGrid(r, list[:min(len(list), mostDifferences)], style.Width)
		if err := grid.write(b, style); err != nil {
			return err
		}
		if more := len(list) - mostDifferences; more > 0 {
			fmt.Fprintf(b, "%s\n", Wrap(fmt.Sprintf("%d more, of less weight: --format csv or json", more), style.Width, ""))
		}
		fmt.Fprintf(b, "\n%s\n", Wrap("Bits are written byte:bit, bit 0 the least significant; once, 3 times: how often they change; (top): it may be the top of "+
			"the number below it. One identifier byte by byte: --id.", style.Width, ""))
	}
	for side, title := range []string{sideTitle(r.Logs, "the logs", style.Width), sideTitle(r.Against, "those against them", style.Width)} {
		ids := missing[side]
		if len(ids) == 0 {
			continue
		}
		more := ""
		if n := len(ids) - mostNames; n > 0 {
			ids, more = ids[:mostNames], fmt.Sprintf(" and %d more", n)
		}
		writeList(b, "Only in "+title, []string{strings.Join(ids, ", ") + more}, style)
	}
	return nil
}

func differenceGrid(r *words.Frames, list []census.Difference, width int) Grid {
	const bus = 0
	wrap := 18
	switch {
	case width < 70:
		wrap = 14
	case width < 90:
		wrap = 15
	}
	g := Grid{Columns: []Column{{Title: "bus", Rank: 5}, {Title: "id"}, {Title: "bits"}, {Title: sideTitle(r.Logs, "the logs", width), wrap: wrap},
		{Title: sideTitle(r.Against, "against", width), wrap: wrap, Rank: 1}, {Title: "in a signal map", wrap: 23, Rank: 2}}}
	for i := range list {
		d := &list[i]
		place := strconv.Itoa(d.Byte)
		if d.Bits < 8 {
			place += ":" + run(d.Low, d.Low+d.Bits-1)
		}
		if d.Part {
			place += " (top)"
		}
		entry := fmt.Sprintf("start: %d, length: %d", 8*d.Byte+d.Low, d.Bits)
		switch {
		case d.Bits > 8 && d.Big:
			place += fmt.Sprintf("-%d (big)", d.Byte+1)
		case d.Bits > 8:
			place += fmt.Sprintf("-%d (little)", d.Byte+1)
		}
		if d.Big { // the start is the most significant bit
			entry = fmt.Sprintf("start: %d, length: %d, order: big", 8*d.Byte+7, d.Bits)
		}
		g.add(words.Visible(d.Bus), decode.FormatID(d.ID, d.Extended), place, words.DifferenceSide(d, 0), words.DifferenceSide(d, 1), entry)
	}
	g = g.only(func(i int) bool { return i != bus || !g.empty(i) })
	return g.fit(width)
}

// sideTitle is the name of a side's only log where it is short.
func sideTitle(logs []words.FramesLog, other string, width int) string {
	most := 18
	switch {
	case width < 70:
		most = 14
	case width >= 100:
		most = 30
	}
	if len(logs) != 1 {
		return other
	}
	if name := words.Visible(logs[0].Name); runewidth.StringWidth(name) <= most {
		return name
	}
	return other
}
