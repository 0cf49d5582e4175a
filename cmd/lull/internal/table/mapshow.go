package table

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// rulerBytes is how many bytes one ruler shows: 8 x 9 columns fit into 80.
const rulerBytes = 8

// WriteMapBits draws the bits of each entry: a caption and one ruler for each
// signal, the bytes from left to right, bit 7 the leftmost of each byte.
func WriteMapBits(w io.Writer, m *decode.Map, style Style) error {
	var b bytes.Buffer
	if m.Vehicle != "" {
		fmt.Fprintf(&b, "%s\n", Wrap(words.Visible(m.Vehicle), style.Width, ""))
	}
	fmt.Fprintf(&b, "%s\n", Wrap(words.MapSummary(m), style.Width, ""))
	fmt.Fprintf(&b, "%s\n", Wrap("Bit 7 of each byte is at its left. M is a field's most significant bit, L its least, "+
		"I a field of one bit.", style.Width, ""))
	labels := words.FrameLabels(m)
	for i := range m.Entries {
		e := &m.Entries[i]
		fmt.Fprintf(&b, "\n%s\n", WrapHanging(words.EntryCaption(e, labels[i]), style.Width, "", "    "))
		b.WriteString(byteNumbers(0))
		for _, k := range e.Signals {
			s := &m.Signals[k]
			fmt.Fprintf(&b, "%s\n", WrapHanging(words.SignalCaption(m, s), style.Width, "  ", "      "))
			b.WriteString(ruler(s, style))
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// ruler draws one signal. Of a payload that is longer than one ruler, only the
// rows in which the field lies are drawn.
func ruler(s *decode.Signal, style Style) string {
	free, between := byte('.'), "="
	if style.Unicode {
		between = "━"
	}
	bits := s.Bits()
	var b strings.Builder
	first, last := slices.Min(bits)/8/rulerBytes, slices.Max(bits)/8/rulerBytes
	for row := first; row <= last; row++ {
		if row > 0 {
			b.WriteString(byteNumbers(row * rulerBytes))
		}
		b.WriteString("    ")
		for column := 0; column < rulerBytes*8; column++ {
			if column > 0 && column%8 == 0 {
				b.WriteByte(' ')
			}
			bit := row*rulerBytes*8 + column/8*8 + 7 - column%8
			switch i := slices.Index(bits, bit); {
			case i < 0:
				b.WriteByte(free)
			case len(bits) == 1:
				b.WriteByte('I')
			case i == 0:
				b.WriteByte('L')
			case i == len(bits)-1:
				b.WriteByte('M')
			default:
				b.WriteString(between)
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// byteNumbers returns the head of a ruler: each byte's number above its bit 7.
func byteNumbers(from int) string {
	var b strings.Builder
	b.WriteString("    ")
	for i := range rulerBytes {
		fmt.Fprintf(&b, "%-9d", from+i)
	}
	return strings.TrimRight(b.String(), " ") + "\n"
}
