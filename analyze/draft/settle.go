package draft

import (
	"math"
	"slices"

	"lull/decode"
)

// settle takes over what a person said of the quantities that date others, before anything
// is looked for: what their starts, stops and standstills date is then dated by them.
func (b *bench) settle(choices map[string]Choice) {
	for _, q := range []Quantity{EngineSpeed, VehicleSpeed} {
		c, said := choices[q.Name()]
		switch {
		case !said:
		case c.Out:
			b.out[q] = true
		default:
			// Answers to a scan tool are found again by themselves.
			if f, ok := b.fieldOf(&c.Signal); ok {
				x := c.Signal
				x.Evidence = x.undashed() // of values that may be forgotten now
				if q == VehicleSpeed && c.First > 0 {
					x.speedometer(f, b.marks)
				}
				b.put(x, f, f.of(&x))
			}
		}
	}
}

// withoutOut takes out what a person left out and was proposed all the same.
func (b *bench) withoutOut() {
	b.draft.Signals = slices.DeleteFunc(b.draft.Signals, func(s Signal) bool { return b.out[s.What] })
	for q := range b.out {
		delete(b.found, q)
	}
}

// fieldOf is where a drafted signal lies in the streams. It is false of answers to a scan
// tool, and of what these logs do not have.
func (b *bench) fieldOf(s *Signal) (field, bool) {
	for _, x := range b.streams {
		if !x.is(&s.Entry) {
			continue
		}
		if page, value := x.selector(); (page == nil) != (s.Page == nil) || page != nil && (page.Start != s.Page.Start || page.Length != s.Page.Length || value != s.PageValue) {
			continue
		}
		at := s.Field.Start - 8*x.from
		if at < 0 || at > 63 || s.Field.Length < 1 {
			continue
		}
		f := field{s: x, big: s.Field.BigEndian, hi: positionOf(s.Field.BigEndian, at), n: s.Field.Length, signed: s.Field.Signed}
		if !f.big {
			f.hi -= f.n - 1
		}
		if f.hi >= 0 && f.hi+f.n <= 64 && slices.Max(f.bits()) < 8*x.size {
			return f, true
		}
	}
	return field{}, false
}

// is reports whether the stream has the frames that an entry of a map finds.
func (s *stream) is(e *decode.Entry) bool {
	switch {
	case e.Bus != "" && e.Bus != s.bus:
		return false
	case e.Kind == decode.ByID:
		return s.id == e.ID && s.extended == e.Extended
	case e.Kind == decode.ByPGN:
		return s.extended && decode.PGN(s.id) == e.PGN && (e.Source < 0 || uint32(e.Source) == s.id&0xFF)
	}
	return false
}

// of is the field in the unit of a signal, NaN where the signal says that there is no value.
func (f *field) of(s *Signal) series {
	x := f.scaled(s.Factor, s.Offset)
	if s.Field.HasMax {
		for i, v := range x.v {
			if v > s.Field.Max {
				x.v[i] = math.NaN()
			}
		}
	}
	return x
}
