package output

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"

	"lull/analyze/census"
	"lull/decode"
	"lull/pkg/bounds"
)

// mostLines is how many silences, gaps or kinds of errors the table lists; JSON
// has all.
const mostLines = 10

// WriteTable writes for a person what is on the bus: of each log what stands out
// in a few sentences, one line for each identifier, then errors, silences and
// gaps.
func (r *Frames) WriteTable(w io.Writer, style Style) error {
	var b bytes.Buffer
	for i := range r.Logs {
		l := &r.Logs[i]
		if i > 0 {
			b.WriteByte('\n')
		}
		head := &Log{Name: l.Name, Result: timeBase(l.Result)}
		head.Result.Info.Interfaces = each(l.Result.Buses, func(x census.Bus) string { return x.Name })
		fmt.Fprintf(&b, "%s\n%s\n", Wrap(headline(head), style.Width, ""), Wrap(r.summary(l.Result), style.Width, ""))
		if len(l.Result.IDs) > 0 {
			b.WriteByte('\n')
			if err := writeGrid(&b, idColumns(l.Result, style.Width), style); err != nil {
				return err
			}
		}
		writeErrors(&b, l.Result, style)
		writeSilences(&b, l.Result, style)
		writeGaps(&b, l.Result, style)
	}
	fmt.Fprintf(&b, "\n%s\n", Wrap("every: median time between two frames; jitter: half the range of the middle 90 % of these times. "+
		"Bits are written byte:bit, bit 0 the least significant, in a signal map 8 x byte + bit; a number alone is a whole byte. "+
		"All figures, unrounded: --format csv or json.", style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

// summary is what stands out of a log.
func (r *Frames) summary(c *census.Result) string {
	regular, silent, silences := 0, 0, 0
	flexible := map[string]bool{}
	for i := range c.IDs {
		x := &c.IDs[i]
		if x.Regular {
			regular++
		}
		if len(x.Silences) > 0 {
			silent++
		}
		silences += len(x.Silences)
		flexible[x.Bus] = flexible[x.Bus] || x.FD
	}
	s := []string{counted(len(c.IDs), "identifier", "identifiers")}
	if c.HasTime && len(c.IDs) > 0 {
		share := strconv.Itoa(regular)
		switch regular {
		case 0:
			share = "none"
		case len(c.IDs):
			share = "all"
		}
		s[0] += ", " + share + " of them sent at regular times"
	}
	s[0] += "."
	for _, b := range c.Buses {
		load := r.load(c, b)
		if load == nil {
			continue
		}
		name := "The bus"
		if len(c.Buses) > 1 {
			name = Visible(b.Name)
		}
		most := ""
		if flexible[b.Name] {
			most = "at most " // the payload of an FD frame may have been sent faster
		}
		s = append(s, fmt.Sprintf("%s is busy for %s%s %% of the time at %s kbit/s.", name, most, fixed(100**load, 1), tidy(r.Bitrate/1000)))
		if *load > 1 && most == "" {
			s = append(s, "More than 100 % cannot be: the bus is faster than that.")
		}
	}
	switch {
	case silences > 0:
		s = append(s, fmt.Sprintf("%s silent, %s in all.", counted(silent, "identifier fell", "identifiers fell"), times(silences)))
	case regular > 0:
		s = append(s, "None of these fell silent.")
	}
	if c.ErrorFrames > 0 {
		s = append(s, fmt.Sprintf("The interface reported %s.", counted(int(c.ErrorFrames), "error", "errors")))
	}
	if c.RemoteFrames > 0 {
		s = append(s, fmt.Sprintf("%s.", counted(int(c.RemoteFrames), "remote frame", "remote frames")))
	}
	return strings.Join(s, " ")
}

// idColumns makes the table of identifiers.
func idColumns(c *census.Result, width int) []column {
	bus := column{title: "bus", rank: 5}
	name := column{title: "id", rank: 0}
	every := column{title: "every ms", right: true, rank: 1}
	jitter := column{title: "jitter ms", right: true, rank: 8}
	count := column{title: "frames", right: true, rank: 2}
	remote := column{title: "remote", right: true, rank: 7}
	lengths := column{title: "bytes", right: true, rank: 6, wrap: 14}
	silent := column{title: "silent", right: true, rank: 4}
	changing := column{title: "bits that change", rank: 3}
	for i := range c.IDs {
		x := &c.IDs[i]
		add := func(to *column, text string) { to.cells = append(to.cells, cell{text: text}) }
		add(&bus, Visible(x.Bus))
		add(&name, decode.FormatID(x.ID, x.Extended))
		period, range90 := "-", "-"
		if x.HasPeriod {
			period, range90 = fixed(x.Period/1e6, 1), fixed(x.Jitter/1e6, 2)
		}
		add(&every, period)
		add(&jitter, range90)
		add(&count, strconv.FormatInt(x.Count, 10))
		add(&remote, dashed(int(x.Remote)))
		size := strings.Join(each(x.Lengths, strconv.Itoa), " ")
		if x.FD {
			size += " FD"
		}
		if size == "" {
			size = "-"
		}
		add(&lengths, size)
		quiet := cell{text: dashed(len(x.Silences))}
		if len(x.Silences) > 0 {
			quiet.tone = bad
		}
		silent.cells = append(silent.cells, quiet)
		add(&changing, bitsText(x))
	}
	columns := []column{name, every, jitter, count, lengths}
	if len(c.Buses) > 1 {
		columns = append([]column{bus}, columns...)
	}
	for _, optional := range []column{remote, silent} {
		if !optional.empty() {
			columns = append(columns, optional)
		}
	}
	changing.wrap = 24
	columns = fit(append(columns, changing), width)
	used, last := 0, len(columns)-1
	for i := range columns[:last] {
		used += columns[i].width() + columnGap
	}
	columns[last].wrap = max(width-used, columns[last].wrap)
	return columns
}

func dashed(n int) string {
	if n == 0 {
		return "-"
	}
	return strconv.Itoa(n)
}

// bitsText writes which bits change: whole bytes by their number, runs of them
// and of bits with a hyphen.
func bitsText(x *census.ID) string {
	if x.Count == 0 {
		return "-"
	}
	if len(x.Changing) == 0 {
		return "none"
	}
	var whole [decode.MaxPayload]byte
	for _, bit := range x.Changing {
		whole[bit/8] |= 1 << (bit % 8)
	}
	var parts []string
	for i := 0; i < len(whole); i++ {
		switch whole[i] {
		case 0:
		case 0xFF:
			last := i
			for last+1 < len(whole) && whole[last+1] == 0xFF {
				last++
			}
			parts = append(parts, run(i, last))
			i = last
		default:
			parts = append(parts, strconv.Itoa(i)+":"+bitRuns(whole[i]))
		}
	}
	return strings.Join(parts, " ")
}

func bitRuns(b byte) string {
	var parts []string
	for bit := 0; bit < 8; bit++ {
		last := bit
		for last < 8 && b>>last&1 == 1 {
			last++
		}
		if last > bit {
			parts = append(parts, run(bit, last-1))
			bit = last
		}
	}
	return strings.Join(parts, ",")
}

func run(first, last int) string {
	if first == last {
		return strconv.Itoa(first)
	}
	return strconv.Itoa(first) + "-" + strconv.Itoa(last)
}

// writeList writes a heading and lines below it, but not too many.
func writeList(b *bytes.Buffer, heading string, lines []string, style Style) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", heading)
	for i, line := range lines {
		if i == mostLines {
			fmt.Fprintf(b, "  %d more: --format json\n", len(lines)-mostLines)
			return
		}
		fmt.Fprintf(b, "%s\n", hanging(line, style.Width, "  ", 4))
	}
}

func writeErrors(b *bytes.Buffer, c *census.Result, style Style) {
	writeList(b, "Reported by the interface", each(c.Errors, func(e census.ErrorCount) string {
		where := ""
		if len(c.Buses) > 1 {
			where = " on " + Visible(e.Bus)
		}
		return times(int(e.Count)) + where + ": " + e.Text
	}), style)
}

func writeSilences(b *bytes.Buffer, c *census.Result, style Style) {
	var lines []string
	for i := range c.IDs {
		x := &c.IDs[i]
		where := ""
		if len(c.Buses) > 1 {
			where = " on " + Visible(x.Bus)
		}
		var parts []string
		for _, s := range x.Silences {
			if len(parts) == mostLines {
				parts = append(parts, fmt.Sprintf("%d more", len(x.Silences)-mostLines))
				break
			}
			parts = append(parts, fmt.Sprintf("%s s from %s s on", fixed(bounds.Seconds(s.Duration), 2), fixed(bounds.Seconds(s.Start), 2)))
		}
		if len(parts) > 0 {
			lines = append(lines, fmt.Sprintf("%s%s: %s", decode.FormatID(x.ID, x.Extended), where, strings.Join(parts, ", ")))
		}
	}
	writeList(b, "Silent", lines, style)
}

func writeGaps(b *bytes.Buffer, c *census.Result, style Style) {
	var lines []string
	for _, g := range c.Gaps {
		lines = append(lines, fmt.Sprintf("%s s from %s s on", fixed(bounds.Seconds(g.End-g.Start), 2), fixed(bounds.Seconds(g.Start), 2)))
	}
	writeList(b, "No frame of any kind", lines, style)
}
