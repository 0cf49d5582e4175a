package draft

import (
	"cmp"
	"maps"
	"slices"

	"lull/decode"
)

// Choice is what a person says of one proposal: that it is left out, or that it is right,
// or that one of its rivals is. Begin with Right, Instead or LeftOut.
type Choice struct {
	Out bool
	// Signal is the signal as it was chosen, or of what is left out as it was proposed.
	Signal Signal
	// First is which rival of Signal was proposed first, counted from 1; 0: Signal itself was.
	First int
	// Dates says that other signals, which are dated by this one, are to be drafted anew.
	Dates bool
}

// dates reports whether other signals are dated by a quantity.
func (q Quantity) dates() bool { return q == EngineSpeed || q == VehicleSpeed }

// Right says that a proposal is right.
func (s Signal) Right() Choice {
	guessed := s.FieldIs == Guess // on which the rest rested
	s.Written = s.Written || s.Complete()
	s.FieldIs = max(s.FieldIs, Likely)
	s.Evidence = append(slices.Clone(s.Evidence), ByHand{})
	return Choice{Signal: s, Dates: guessed && s.What == EngineSpeed}
}

// Instead says that a rival, counted from 1, is right. The field that was proposed becomes
// a rival in its place, so that numbers keep their meaning.
func (s Signal) Instead(rival int) Choice {
	r := s.Rivals[rival-1]
	s.Rivals = slices.Clone(s.Rivals)
	s.Rivals[rival-1] = Rival{s.Entry, s.Field, s.Factor, s.Offset, s.Page, s.PageValue}
	name, unit := s.Field.Name, s.Field.Unit
	s.Entry, s.Field, s.Page, s.PageValue = r.Entry, r.Field, r.Page, r.PageValue
	s.Field.Name, s.Field.Unit = name, unit
	if s.HasFactor() {
		s.Factor, s.Offset = r.Factor, r.Offset
	}
	s.Written = s.Written || s.Complete()
	s.Evidence = []Evidence{ByHand{InPlace: true}}
	// Nothing is known of it but that it behaves alike and that somebody chose it.
	s.FieldIs, s.ScaleIs = Likely, min(s.ScaleIs, Likely)
	return Choice{Signal: s, First: rival, Dates: s.What.dates()}
}

// LeftOut says that nothing of what was proposed is right.
func (s Signal) LeftOut() Choice { return Choice{Out: true, Signal: s, Dates: s.What.dates()} }

// Chosen is a draft after a person's choices, by the names of signals. The draft itself
// stays as it is. What was chosen stays chosen, also where this draft proposes something
// else or nothing.
func (d *Draft) Chosen(choices map[string]Choice) *Draft {
	if d == nil || len(choices) == 0 {
		return d
	}
	after := *d
	after.Signals, after.Out = nil, slices.Clone(d.Out)
	there := map[string]bool{}
	for i := range d.Signals {
		s := d.Signals[i]
		there[s.Name] = true
		c, said := choices[s.Name]
		switch {
		case said && c.Out:
			continue
		case said && c.Signal.SamePlace(&s):
			s = s.confirmed()
		case said:
			s = c.Signal
		}
		after.Signals = append(after.Signals, s)
	}
	for _, name := range slices.Sorted(maps.Keys(choices)) {
		if c := choices[name]; c.Out {
			after.Out = append(after.Out, c.Signal)
		} else if !there[name] {
			after.Signals = append(after.Signals, c.Signal)
		}
	}
	byKind := func(x, y Signal) int { return cmp.Compare(x.What, y.What) }
	slices.SortStableFunc(after.Out, byKind)
	slices.SortStableFunc(after.Signals, byKind)
	after.Missing = slices.DeleteFunc(slices.Clone(d.Missing), func(m Missing) bool {
		is := func(s Signal) bool { return s.What == m.What }
		return slices.ContainsFunc(after.Out, is) || slices.ContainsFunc(after.Signals, is)
	})
	return &after
}

// confirmed is a proposal that a person says is right, unless it says so already.
func (s Signal) confirmed() Signal {
	if slices.ContainsFunc(s.Evidence, func(e Evidence) bool { _, by := e.(ByHand); return by }) {
		s.Written = true
		return s
	}
	return s.Right().Signal
}

// SamePlace reports whether two signals are the same bits.
func (s *Signal) SamePlace(o *Signal) bool {
	type place struct {
		kind             decode.Kind
		id, pgn, answer  uint32
		extended, big    bool
		source           int
		mode, pid        uint8
		bus              string
		start, length    int
		pageAt, pageBits int
		page             int64
	}
	at := func(s *Signal) place {
		e := &s.Entry
		p := place{kind: e.Kind, id: e.ID, pgn: e.PGN, answer: e.Response, extended: e.Extended, big: s.Field.BigEndian, source: e.Source,
			mode: e.Mode, pid: e.PID, bus: e.Bus, start: s.Field.Start, length: s.Field.Length, pageAt: -1}
		if s.Page != nil {
			p.pageAt, p.pageBits, p.page = s.Page.Start, s.Page.Length, s.PageValue
		}
		return p
	}
	return at(s) == at(o)
}
