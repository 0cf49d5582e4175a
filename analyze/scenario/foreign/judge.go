package foreign

import (
	"math"
	"slices"
	"strings"

	"lull/decode"
	"lull/pkg/units"
)

// Verdict is what a drafted signal is worth.
type Verdict struct {
	FieldRight bool // its bits are those of a true field of the role
	ScaleRight bool // and it gives the true values: factor and offset, or which state is on
	// Cut tells that true upper bits are missing which never changed in this log: the
	// values are right here and may be wrong in another log.
	Cut bool
}

// Judge holds a drafted signal against the true fields of a role: one of the roles
// of package decode, or "brake", "turn", "coolant", "steering", "gear". The signal
// and the other signals that its `when` names are those of the map.
//
// A field is right that covers the true one with at most one low bit more or less.
// Above it there may be bits that are always 0 in the log, and true upper bits may
// be missing that were (Cut). A scale is right within 2 %.
func (u *Unknown) Judge(role string, m *decode.Map, s *decode.Signal) Verdict {
	u.observe()
	var best Verdict
	e := &m.Entries[s.Entry]
	for _, p := range u.layout.places() {
		if p.field.role != role || !p.at(e) || !p.onPage(m, s) {
			continue
		}
		v := p.judge(s)
		if better(v, best) {
			best = v
		}
	}
	return best
}

func better(a, b Verdict) bool {
	value := func(v Verdict) int {
		n := 0
		if v.FieldRight {
			n += 4
		}
		if v.ScaleRight {
			n += 2
		}
		if !v.Cut {
			n++
		}
		return n
	}
	return value(a) > value(b)
}

// at tells whether an entry of a map reads the place's frames.
func (p *place) at(e *decode.Entry) bool {
	if p.message == nil {
		return e.Kind == decode.ByOBD && e.Mode == 1 && e.PID == p.pid && e.Response == 0x7E8
	}
	m := p.message
	if e.Bus != "" && e.Bus != m.bus {
		return false
	}
	switch e.Kind {
	case decode.ByID:
		return e.ID == m.id && e.Extended == m.extended
	case decode.ByPGN:
		return m.extended && e.PGN == decode.PGN(m.id) && (e.Source < 0 || uint32(e.Source) == m.id&0xFF)
	}
	return false
}

// onPage tells whether the signal is read on the place's page and no other.
func (p *place) onPage(m *decode.Map, s *decode.Signal) bool {
	if p.message == nil || p.message.pageBits == nil {
		return len(s.When) == 0
	}
	for _, w := range s.When {
		selector := &m.Signals[w.Signal]
		if slices.Equal(bitsOf(selector.Start, selector.Length, selector.BigEndian), p.message.pageBits) {
			return slices.Equal(w.Raws, []int64{p.message.page})
		}
	}
	return false
}

// judge holds a signal against the field.
func (p *place) judge(s *decode.Signal) Verdict {
	f := p.field
	if s.Float || s.Length < 1 || s.Start < 0 {
		return Verdict{}
	}
	drafted, truth := bitsOf(s.Start, s.Length, s.BigEndian), f.bits()
	if f.isFlag() {
		return f.judgeFlag(s, drafted, truth)
	}
	// The lowest bits first: one more or less.
	low := 0 // how many bits lower the drafted field ends
	end := slices.Index(drafted, truth[len(truth)-1])
	switch {
	case end == len(drafted)-1:
	case end == len(drafted)-2 && end >= 0:
		low = 1
	case end < 0 && len(truth) > 1 && drafted[len(drafted)-1] == truth[len(truth)-2]:
		low = -1
	default:
		return Verdict{}
	}
	common := drafted[:len(drafted)-max(low, 0)]
	top := truth[:len(truth)+min(low, 0)]
	v := Verdict{}
	switch {
	case len(common) >= len(top):
		above := common[:len(common)-len(top)]
		if !slices.Equal(common[len(above):], top) || !p.still(above) {
			return Verdict{}
		}
	default:
		missing := top[:len(top)-len(common)]
		if !slices.Equal(top[len(missing):], common) || !p.still(missing) {
			return Verdict{}
		}
		v.Cut = true
	}
	v.FieldRight = true
	v.ScaleRight = f.scaleRight(s, low, v.Cut)
	return v
}

// still tells whether bits were 0 throughout the log.
func (p *place) still(bits []int) bool {
	for _, b := range bits {
		switch {
		case p.message == nil, b >= 64:
			return false
		case b >= 8*p.message.length:
			return false
		case p.message.any[b/8]>>(b%8)&1 == 1:
			return false
		}
	}
	return true
}

// scaleRight holds what the signal gives for raw values of the log against what the
// field means; low tells how many bits lower the signal ends.
func (f *field) scaleRight(s *decode.Signal, low int, cut bool) bool {
	if f.role == "gear" || f.role == "starter_count" || f.role == "inhibit_code" {
		return s.Scale.Factor == f.each && s.Scale.Offset == f.zero && low == 0
	}
	if s.Signed != f.signed && f.low < 0 {
		return false
	}
	if !f.signed && s.Signed && f.high >= int64(1)<<(f.length-1) {
		return false
	}
	toUnit := func(v float64, unit string) (float64, bool) {
		want := unitOf[f.role]
		if unit == "" || unit == want {
			return v, true
		}
		c, err := units.Convert(unit, want)
		if err != nil {
			return 0, false
		}
		return c.Apply(v), true
	}
	span, worst := 0.0, 0.0
	var values [2]float64
	for i, raw := range []int64{f.low, f.high} {
		drafted := float64(raw)
		switch low {
		case 1:
			drafted *= 2
		case -1:
			drafted = math.Floor(drafted / 2)
		}
		got, ok := toUnit(drafted*s.Scale.Factor+s.Scale.Offset, s.Unit)
		if !ok {
			return false
		}
		// As the module writes it, or as it is: a display flatters by some percent.
		nominal := float64(raw)*f.each + f.zero
		if f.unit != "" {
			nominal, _ = toUnit(nominal, f.unit)
		}
		values[i] = nominal
		worst = max(worst, math.Abs(got-nominal))
	}
	span = max(math.Abs(values[0]), math.Abs(values[1]), values[1]-values[0])
	return worst <= 0.02*span+2*math.Abs(f.each)
}

// isFlag tells that the field is a state of one or two bits.
func (f *field) isFlag() bool { return f.length <= 2 || f.of == starterMode }

// judgeFlag holds a signal against a state.
func (f *field) judgeFlag(s *decode.Signal, drafted, truth []int) Verdict {
	lowest := truth[len(truth)-1:]
	whole := slices.Equal(drafted, truth)
	if !whole && !(f.of != starterMode && slices.Equal(drafted, lowest)) && !(f.of == turnLamp && len(drafted) == 1 && slices.Contains(truth, drafted[0])) {
		return Verdict{}
	}
	v := Verdict{FieldRight: true}
	on := func(raw int64) bool {
		if len(s.Labels) > 0 && !decode.Roles[s.Role].Switch {
			label := strings.ToLower(s.LabelOf(raw))
			return label != "" && !strings.Contains(label, "off") && !strings.Contains(label, "released") && !strings.Contains(label, "not ")
		}
		return s.On(raw)
	}
	first := int64(1 - f.off())
	v.ScaleRight = on(first) && !on(1-first)
	return v
}

// Roles lists the names of all roles that Judge knows.
func Roles() []string { return slices.Clone(roleNames) }

// Varies tells whether a role is told by the log and changes in it enough that it
// could be found at all.
func (u *Unknown) Varies(role string) bool {
	u.observe()
	for _, p := range u.layout.places() {
		f := p.field
		if f.role != role || !f.seen {
			continue
		}
		switch role {
		case "stop_command", "starter_command", "brake", "gear":
			if f.changes >= 2 {
				return true
			}
		case "turn":
			if f.changes >= 6 {
				return true
			}
		case "ignition", "starter_count", "inhibit_code":
			if f.changes >= 1 {
				return true
			}
		default:
			if len(f.steps) >= 4 {
				return true
			}
		}
	}
	return false
}
