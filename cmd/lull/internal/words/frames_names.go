package words

import (
	"fmt"
	"strings"

	"lull/analyze/census"
	"lull/decode"
	"lull/decode/standard"
)

// Group is the group of SAE J1939 that an identifier carries, on a bus that follows it.
func Group(c *census.Result, x *census.ID) (standard.Group, bool) {
	if !x.Extended {
		return standard.Group{}, false
	}
	for _, b := range c.Buses {
		if b.Name == x.Bus && b.J1939 {
			return standard.FindGroup(decode.PGN(x.ID))
		}
	}
	return standard.Group{}, false
}

// IDName is what a standard calls an identifier; "" where none does.
func IDName(c *census.Result, x *census.ID) string {
	if d, ok := standard.Diagnostic(x.ID, x.Extended); ok {
		return d.String()
	}
	g, ok := Group(c, x)
	if !ok {
		return ""
	}
	return g.Says + " (J1939 " + groupShort(g) + ")"
}

// ParameterText is a parameter of a group, as a signal map would have it, and whether it
// was compared with a published source.
func ParameterText(p *standard.Parameter) string {
	s := fmt.Sprintf("%s: start %d, length %d", p.Name, p.Start, p.Bits)
	if p.Unit != "" {
		s += ", factor " + Shortest(p.Factor)
		if p.Offset != 0 {
			s += ", offset " + Shortest(p.Offset)
		}
		s += " " + p.Unit
	}
	s += fmt.Sprintf(" (SPN %d", p.SPN)
	if strings.Contains(p.Source, "from memory") {
		s += ", from memory"
	}
	return s + ")"
}

// groupShort is how a group is called briefly: by its letters, else by its number.
func groupShort(g standard.Group) string {
	if g.Short != "" {
		return g.Short
	}
	return fmt.Sprintf("group %d", g.PGN)
}

// AnswerName is what a module answered to, by the standard's name where it has one, and
// by its numbers.
func AnswerName(a *census.Answer) string {
	numbers := fmt.Sprintf("service %02X", a.Service)
	name := standard.ServiceName(a.Service)
	if a.Number >= 0 {
		switch a.Service {
		case 0x01, 0x02:
			numbers += fmt.Sprintf(" PID %02X", a.Number)
			if of := standard.PIDName(uint8(a.Number)); of != "" && a.Service == 0x02 {
				name = of + " of the " + name
			} else if of != "" {
				name = of
			}
		default:
			numbers += fmt.Sprintf(" identifier %04X", a.Number)
			name = "" // one value each
		}
	}
	if name == "" {
		return numbers
	}
	return name + " (" + numbers + ")"
}

// AnswerUnit is the unit of an answer's value and the value's extremes in it; known is
// false where it has none.
func AnswerUnit(a *census.Answer) (least, most float64, unit string, known bool) {
	p, named := standard.FindPID(uint8(a.Number))
	if !a.HasValue || !named {
		return 0, 0, "", false
	}
	return p.Value(a.Least), p.Value(a.Most), p.Unit, true
}

// AnswerText is one kind of answers in a line.
func AnswerText(a *census.Answer) string {
	s := AnswerName(a) + ": "
	if a.Refused {
		why := standard.RefusalName(a.Code)
		if why == "" {
			why = "for a reason that is not known"
		}
		return s + fmt.Sprintf("refused %s: %s (%02X)", Times(int(a.Count)), why, a.Code)
	}
	s += Times(int(a.Count))
	least, most, unit, known := AnswerUnit(a)
	if !known {
		return s
	}
	if least == most {
		return s + strings.TrimRight(fmt.Sprintf(", always %s %s", Number(least), unit), " ")
	}
	return s + strings.TrimRight(fmt.Sprintf(", %s to %s %s", Number(least), Number(most), unit), " ")
}

// BitRange is the bits of a field within its byte: "bit 3", "bits 0-3".
func BitRange(low, size int) string {
	if size == 1 {
		return fmt.Sprintf("bit %d", low)
	}
	return fmt.Sprintf("bits %d-%d", low, low+size-1)
}

var checkNames = map[census.Check]string{
	census.CheckXOR:      "exclusive or of the payload",
	census.CheckSum:      "sum of the other bytes, and a constant",
	census.CheckSumZero:  "the sum of the payload is constant",
	census.CheckCRC1D:    "CRC-8 of SAE J1850 (polynomial 1D)",
	census.CheckCRC2F:    "CRC-8 of AUTOSAR (polynomial 2F)",
	census.CheckCRC1DKey: "CRC-8 of SAE J1850 (polynomial 1D), with a hidden byte behind the payload",
	census.CheckCRC2FKey: "CRC-8 of AUTOSAR (polynomial 2F), with a hidden byte behind the payload",
}

// LooksText is what a byte looks like.
func LooksText(b *census.Byte) string {
	switch b.Looks() {
	case census.LooksConstant:
		return "constant"
	case census.LooksChecksum:
		return "checksum: " + checkNames[b.Check]
	case census.LooksCounter:
		var parts []string
		for _, c := range b.Counters {
			s := "counter in " + BitRange(c.Low, c.Bits)
			if c.Step == 1<<c.Bits-1 {
				s += ", downwards"
			} else if c.Step != 1 {
				s += fmt.Sprintf(", by %d", c.Step)
			}
			parts = append(parts, s)
		}
		return strings.Join(parts, "; ")
	case census.LooksPages:
		return fmt.Sprintf("goes through the same %d values: may select what the others mean", b.Values())
	case census.LooksRestless:
		return "a checksum, noise or the low byte of a fast value"
	case census.LooksSwitches:
		return "changes rarely: " + Times(int(b.Changes))
	}
	return "a value"
}

// ByteValue writes a value of a field: a bit as 0 or 1, what is longer in hexadecimal.
func ByteValue(v uint16, size int) string {
	switch {
	case size == 1:
		return fmt.Sprint(v)
	case size > 8:
		return fmt.Sprintf("0x%04X", v)
	}
	return fmt.Sprintf("0x%02X", v)
}

// DifferenceSide is what one side of a difference has: side 0 is that of the logs, 1 that of those
// against which they are held.
func DifferenceSide(d *census.Difference, side int) string {
	if d.Kind == census.Missing {
		if d.Frames[side] == 0 {
			return "none"
		}
		return decode.Counted(d.Frames[side], "frame", "frames")
	}
	r := d.Of
	if side == 1 {
		r = d.Against
	}
	if r.Least == r.Most {
		return ByteValue(r.Least, d.Bits)
	}
	s := ByteValue(r.Least, d.Bits) + " to " + ByteValue(r.Most, d.Bits)
	if d.Kind == census.Toggled {
		s += ", " + Times(int(d.Changes[side]))
	}
	return s
}

// DifferencesText is what was found and what was left out, in sentences.
func DifferencesText(d *census.Differences) string {
	s := []string{"Nothing differs but what changes by itself."}
	var parts []string
	of := func(kind census.DifferenceKind, one, many string) {
		n := int64(0)
		for i := range d.List {
			if d.List[i].Kind == kind {
				n++
			}
		}
		if n > 0 {
			parts = append(parts, decode.Counted(n, one, many))
		}
	}
	of(census.Switched, "field has another constant value", "fields have another constant value")
	of(census.Toggled, "field changes on one side only", "fields change on one side only")
	of(census.Ranged, "number has another range", "numbers have another range")
	of(census.Missing, "identifier is on one side only", "identifiers are on one side only")
	if len(parts) > 0 {
		s[0] = Sentence(list(parts)) + " What stands first is likeliest what was done."
	}
	var left []string
	add := func(n int, one, many string) {
		if n > 0 {
			left = append(left, decode.Counted(int64(n), one, many))
		}
	}
	add(d.Counters, "counter", "counters")
	add(d.Checksums, "checksum", "checksums")
	add(d.Pages, "byte that goes through the same values", "bytes that go through the same values")
	add(d.Restless, "restless byte", "restless bytes")
	if len(left) > 0 {
		s = append(s, "Left out, as they change by themselves: "+list(left)+".")
	}
	if d.Uncounted > 0 {
		s = append(s, decode.Counted(int64(d.Uncounted), "identifier was", "identifiers were")+" not looked at: there are too many.")
	}
	return strings.Join(s, " ")
}
