package draft

import "slices"

// Choice is what a person says of one proposal: that it is left out, or that it is right,
// or that one of its rivals is.
type Choice struct {
	Out  bool
	This int // the rival to use, counted from 1; 0: the proposal itself
}

// Chosen is a draft after a person's choices, by the names of signals. The draft itself
// stays as it is. A choice that has nothing to choose from is passed over.
func (d *Draft) Chosen(choices map[string]Choice) *Draft {
	if d == nil || len(choices) == 0 {
		return d
	}
	after := *d
	after.Signals, after.Out = nil, slices.Clone(d.Out)
	for i := range d.Signals {
		s := d.Signals[i]
		c, said := choices[s.Name]
		switch {
		case !said || c.This < 0 || c.This > len(s.Rivals):
		case c.Out:
			after.Out = append(after.Out, s)
			continue
		default:
			s = s.with(c.This)
		}
		after.Signals = append(after.Signals, s)
	}
	return &after
}

// with is the signal as somebody chose it: the field of a rival, counted from 1, or its own.
// The field that was proposed becomes a rival in its place, so that numbers keep their
// meaning.
func (s Signal) with(rival int) Signal {
	s.Written = s.Written || s.Complete()
	if rival == 0 {
		s.Evidence = append(slices.Clone(s.Evidence), ByHand{})
		return s
	}
	r := s.Rivals[rival-1]
	s.Rivals = slices.Clone(s.Rivals)
	s.Rivals[rival-1] = Rival{s.Entry, s.Field, s.Factor, s.Offset, s.Page, s.PageValue}
	name, unit := s.Field.Name, s.Field.Unit
	s.Entry, s.Field, s.Page, s.PageValue = r.Entry, r.Field, r.Page, r.PageValue
	s.Field.Name, s.Field.Unit = name, unit
	if s.HasFactor() {
		s.Factor, s.Offset = r.Factor, r.Offset
	}
	s.Evidence = []Evidence{ByHand{InPlace: true}}
	// Nothing is known of it but that it behaves alike and that somebody chose it.
	s.FieldIs, s.ScaleIs = min(s.FieldIs, Likely), min(s.ScaleIs, Likely)
	return s
}
