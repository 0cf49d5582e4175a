package output

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"lull/decode"
)

// MapSummary says in one line what a map holds.
func MapSummary(m *decode.Map) string {
	var roles []string
	for role := decode.NoRole + 1; role < decode.RoleCount; role++ {
		if m.RoleSignal(role) != nil {
			roles = append(roles, role.String())
		}
	}
	parts := []string{
		counted(len(m.Entries), "frame", "frames"),
		counted(len(m.Signals), "signal", "signals"),
		counted(len(roles), "role", "roles") + " (" + strings.Join(roles, ", ") + ")",
		counted(len(m.Requests), "restart request", "restart requests"),
		counted(len(m.Inhibits), "inhibit", "inhibits"),
		counted(len(m.Limits), "limit", "limits"),
	}
	return Visible(m.Name) + ": " + strings.Join(parts, ", ")
}

// rulerBytes is how many bytes one ruler shows: 8 x 9 columns fit into 80.
const rulerBytes = 8

// WriteMapBits draws the bits of each entry: a caption and one ruler for each
// signal, the bytes from left to right, bit 7 the leftmost of each byte.
func WriteMapBits(w io.Writer, m *decode.Map, style Style) error {
	var b bytes.Buffer
	if m.Vehicle != "" {
		fmt.Fprintf(&b, "%s\n", Wrap(Visible(m.Vehicle), style.Width, ""))
	}
	fmt.Fprintf(&b, "%s\n", Wrap(MapSummary(m), style.Width, ""))
	fmt.Fprintf(&b, "%s\n", Wrap("Bit 7 of each byte is at its left. M is a field's most significant bit, L its least, "+
		"I a field of one bit.", style.Width, ""))
	labels := FrameLabels(m)
	for i := range m.Entries {
		e := &m.Entries[i]
		fmt.Fprintf(&b, "\n%s\n", WrapHanging(entryCaption(e, labels[i]), style.Width, "", "    "))
		b.WriteString(byteNumbers(0))
		for _, k := range e.Signals {
			s := &m.Signals[k]
			fmt.Fprintf(&b, "%s\n", WrapHanging(signalCaption(m, s), style.Width, "  ", "      "))
			b.WriteString(ruler(s, style))
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func entryCaption(e *decode.Entry, label string) string {
	text := label
	switch e.Kind {
	case decode.ByPGN:
		if e.Source >= 0 && !strings.Contains(label, "@") {
			text += fmt.Sprintf(" from source %d", e.Source)
		}
	case decode.ByOBD, decode.ByDID:
		text += ", answers from " + decode.FormatID(e.Response, e.ResponseExtended)
		if e.Address >= 0 {
			text += fmt.Sprintf(", address byte 0x%02X", e.Address)
		}
	}
	if e.Bus != "" {
		text += " on " + Visible(e.Bus)
	}
	if e.Module != "" {
		text += ", " + Visible(e.Module)
	}
	if e.OnChange {
		text += ", sent on change"
	}
	if e.Period > 0 {
		text += ", period " + e.Period.String()
	}
	return text
}

func signalCaption(m *decode.Map, s *decode.Signal) string {
	parts := []string{counted(s.Length, "bit", "bits") + fmt.Sprintf(" from %d", s.Start)}
	if s.Length > 1 {
		if s.BigEndian {
			parts[0] += " big endian"
		} else {
			parts[0] += " little endian"
		}
	}
	if s.Signed {
		parts = append(parts, "signed")
	}
	if s.Float {
		parts = append(parts, "float")
	}
	if s.Scale.Factor != 1 {
		parts = append(parts, "x "+shortest(s.Scale.Factor))
	}
	if s.Scale.Offset > 0 {
		parts = append(parts, "+ "+shortest(s.Scale.Offset))
	}
	if s.Scale.Offset < 0 {
		parts = append(parts, "- "+shortest(-s.Scale.Offset))
	}
	if s.Unit != "" {
		parts = append(parts, Visible(s.Unit))
	}
	if s.HasMin {
		parts = append(parts, "from "+shortest(s.Min))
	}
	if s.HasMax {
		parts = append(parts, "up to "+shortest(s.Max))
	}
	if len(s.Invalid) > 0 {
		parts = append(parts, "not valid: "+rawList(s.Invalid))
	}
	if len(s.Labels) > 0 {
		parts = append(parts, strings.Join(each(s.Labels, func(l decode.Label) string {
			return strconv.FormatInt(l.Raw, 10) + " = " + Visible(l.Text)
		}), ", "))
	}
	for _, w := range s.When {
		parts = append(parts, "only where "+Visible(m.Signals[w.Signal].Name)+" is "+rawList(w.Raws))
	}
	if s.Role != decode.NoRole {
		parts = append(parts, "role "+s.Role.String())
	}
	return Visible(s.Name) + ": " + strings.Join(parts, ", ")
}

func rawList(raws []int64) string {
	return strings.Join(each(raws, func(r int64) string { return strconv.FormatInt(r, 10) }), " or ")
}

// fieldBits lists the bit numbers of a field from the least significant on. In
// big-endian order the field runs from its most significant bit down to bit 0
// of the byte and goes on at bit 7 of the next one.
func fieldBits(s *decode.Signal) []int {
	list := make([]int, s.Length)
	bit := s.Start
	for i := range list {
		list[i] = bit
		switch {
		case !s.BigEndian:
			bit++
		case bit%8 == 0:
			bit += 15
		default:
			bit--
		}
	}
	if s.BigEndian {
		slices.Reverse(list)
	}
	return list
}

// ruler draws one signal. Of a payload that is longer than one ruler, only the
// rows in which the field lies are drawn.
func ruler(s *decode.Signal, style Style) string {
	free, between := byte('.'), "="
	if style.Unicode {
		between = "━"
	}
	bits := fieldBits(s)
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

// byteNumbers is the head of a ruler: each byte's number above its bit 7.
func byteNumbers(from int) string {
	var b strings.Builder
	b.WriteString("    ")
	for i := range rulerBytes {
		fmt.Fprintf(&b, "%-9d", from+i)
	}
	return strings.TrimRight(b.String(), " ") + "\n"
}
