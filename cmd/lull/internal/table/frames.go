package table

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"

	"lull/analyze/census"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// mostLines bounds the silences, gaps or kinds of errors that are listed; JSON has all.
const mostLines = 10

// WriteFrames writes for a person what is on the bus: for each log a summary in a few
// sentences, one line for each identifier, then errors, silences and gaps.
func WriteFrames(w io.Writer, r *words.Frames, style Style) error {
	var b bytes.Buffer
	if r.Differences != nil {
		if err := writeDifferences(&b, r, style); err != nil {
			return err
		}
		_, err := w.Write(b.Bytes())
		return err
	}
	for i := range r.Logs {
		l := &r.Logs[i]
		if i > 0 {
			b.WriteByte('\n')
		}
		if len(r.Only) > 0 {
			fmt.Fprintf(&b, "%s\n", Wrap(l.AsLog().Headline(), style.Width, ""))
			if err := writeBytes(&b, r, l.Result, style); err != nil {
				return err
			}
			continue
		}
		fmt.Fprintf(&b, "%s\n%s\n", Wrap(l.AsLog().Headline(), style.Width, ""), Wrap(r.Summary(l.Result), style.Width, ""))
		if len(l.Result.IDs) > 0 {
			b.WriteByte('\n')
			grid := idGrid(l.Result, style.Width)
			if err := grid.write(&b, style); err != nil {
				return err
			}
		}
		writeNames(&b, l.Result, style)
		writeAnswers(&b, l.Result, style)
		writeErrors(&b, l.Result, style)
		writeSilences(&b, l.Result, style)
		writeGaps(&b, l.Result, style)
	}
	if len(r.Only) > 0 {
		fmt.Fprintf(&b, "\n%s\n", Wrap("changes: share of frames in which the byte differs from the one before; bits: those that ever change, bit 0 the least "+
			"significant. A counter or checksum is named only where every frame or nearly every one shows it.", style.Width, ""))
		_, err := w.Write(b.Bytes())
		return err
	}
	fmt.Fprintf(&b, "\n%s\n", Wrap("every: median time between two frames; jitter: half the range of the middle 90 % of these times. "+
		"Bits are written byte:bit, bit 0 the least significant, in a signal map 8 x byte + bit; a number alone is a whole byte. "+
		"All figures, unrounded: --format csv or json.", style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

// idGrid returns the table of identifiers. Its last column takes the remaining room.
func idGrid(c *census.Result, width int) Grid {
	const bus, remote, silent = 0, 6, 7
	g := Grid{Columns: []Column{{Title: "bus", Rank: 5}, {Title: "id"}, {Title: "every ms", Right: true, Rank: 1}, {Title: "jitter ms", Right: true, Rank: 8},
		{Title: "frames", Right: true, Rank: 2}, {Title: "bytes", Right: true, Rank: 6, wrap: 14}, {Title: "remote", Right: true, Rank: 7},
		{Title: "silent", Right: true, Rank: 4}, {Title: "bits that change", Rank: 3, wrap: 24}}}
	for i := range c.IDs {
		x := &c.IDs[i]
		period, jitter := "-", "-"
		if x.HasPeriod {
			period, jitter = words.Fixed(x.Period/1e6, 1), words.Fixed(x.Jitter/1e6, 2)
		}
		g.add(words.Visible(x.Bus), decode.FormatID(x.ID, x.Extended), period, jitter, strconv.FormatInt(x.Count, 10),
			lengthsText(x), dashed(int(x.Remote)), dashed(len(x.Silences)), bitsText(x))
		if len(x.Silences) > 0 {
			g.Rows[i][silent].Tone = words.Bad
		}
	}
	g = g.only(func(i int) bool {
		return !(i == bus && len(c.Buses) <= 1 || (i == remote || i == silent) && g.empty(i))
	})
	return g.lastTakesTheRest(width)
}

// lengthsText lists the payload lengths of an identifier.
func lengthsText(x *census.ID) string {
	var parts []string
	for _, n := range x.Lengths {
		parts = append(parts, strconv.Itoa(n))
	}
	if x.FD {
		parts = append(parts, "FD")
	}
	if len(parts) == 0 {
		return "-"
	}
	return strings.Join(parts, " ")
}

func dashed(n int) string {
	if n == 0 {
		return "-"
	}
	return strconv.Itoa(n)
}

// writeSome is writeList for lines that may be very many.
func writeSome(b *bytes.Buffer, heading string, lines []string, style Style) {
	writeList(b, heading, lines[:min(len(lines), mostLines)], style)
	if more := len(lines) - mostLines; more > 0 {
		fmt.Fprintf(b, "  %d more: --format json\n", more)
	}
}

func writeErrors(b *bytes.Buffer, c *census.Result, style Style) {
	var lines []string
	for _, e := range c.Errors {
		where := ""
		if len(c.Buses) > 1 {
			where = " on " + words.Visible(e.Bus)
		}
		lines = append(lines, words.Times(int(e.Count))+where+": "+e.Text)
	}
	writeSome(b, "Reported by the interface", lines, style)
}

func writeSilences(b *bytes.Buffer, c *census.Result, style Style) {
	var lines []string
	for i := range c.IDs {
		x := &c.IDs[i]
		where := ""
		if len(c.Buses) > 1 {
			where = " on " + words.Visible(x.Bus)
		}
		var parts []string
		for _, s := range x.Silences {
			if len(parts) == mostLines {
				parts = append(parts, fmt.Sprintf("%d more", len(x.Silences)-mostLines))
				break
			}
			parts = append(parts, fmt.Sprintf("%s s from %s s on", words.Fixed(bounds.Seconds(s.Duration), 2), words.Fixed(bounds.Seconds(s.Start), 2)))
		}
		if len(parts) > 0 {
			lines = append(lines, fmt.Sprintf("%s%s: %s", decode.FormatID(x.ID, x.Extended), where, strings.Join(parts, ", ")))
		}
	}
	writeSome(b, "Silent", lines, style)
}

func writeGaps(b *bytes.Buffer, c *census.Result, style Style) {
	var lines []string
	for _, g := range c.Gaps {
		lines = append(lines, fmt.Sprintf("%s s from %s s on", words.Fixed(bounds.Seconds(g.End-g.Start), 2), words.Fixed(bounds.Seconds(g.Start), 2)))
	}
	writeSome(b, "No frame of any kind", lines, style)
}
