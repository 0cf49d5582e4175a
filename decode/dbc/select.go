package dbc

import (
	"fmt"
	"slices"

	"lull/decode"
)

// selectors gives each selected signal the name of its message's selector. Signals whose
// selector cannot be known are left out.
func (r *reader) selectors() {
	for i := range r.d.Messages {
		r.selectorsOf(&r.d.Messages[i])
	}
}

func (r *reader) selectorsOf(m *Message) {
	name, several := "", false
	at := map[string]*Signal{}
	selected := false
	for k := range m.Signals {
		s := &m.Signals[k]
		selected = selected || s.When != nil
		if s.Selector && s.When == nil {
			several = several || name != ""
			if name == "" {
				name = s.Field.Name
			}
		}
		at[s.Field.Name] = s
	}
	if !selected {
		return
	}
	left := map[string]string{} // what is left out, and why
	for k := range m.Signals {
		s := &m.Signals[k]
		if s.When == nil {
			continue
		}
		if s.SelectedBy == "" {
			if several {
				r.d.mistake(s.Field.Line, fmt.Sprintf("%s is there for some values only, and %s has several selectors; taken to be selected by %s", s.Field.Name, m.Name, name))
			}
			s.SelectedBy = name
		}
		by := at[s.SelectedBy]
		switch {
		case s.SelectedBy == "":
			left[s.Field.Name] = fmt.Sprintf("and %s has no signal that selects", m.Name)
			continue
		case by == nil:
			left[s.Field.Name] = fmt.Sprintf("and %s has no signal %s that selects", m.Name, short(s.SelectedBy, 40))
			continue
		case by.Field.Float:
			left[s.Field.Name] = fmt.Sprintf("and %s, a float, cannot select", s.SelectedBy)
			continue
		}
		s.When = slices.DeleteFunc(s.When, func(v int64) bool { return !fits(&by.Field, v) })
		if len(s.When) == 0 {
			left[s.Field.Name] = fmt.Sprintf("and %s has none of them", s.SelectedBy)
		}
	}
	// Selectors that select each other in a circle, and what depends on those left out.
	for k := range m.Signals {
		s := &m.Signals[k]
		for by, steps := s, 0; left[s.Field.Name] == "" && by != nil && by.When != nil; by, steps = at[by.SelectedBy], steps+1 {
			if steps > longestChain {
				left[s.Field.Name] = "and its selectors select each other in a circle"
			} else if steps > 0 && left[by.Field.Name] != "" {
				left[s.Field.Name] = fmt.Sprintf("and %s, which selects it, is left out", by.Field.Name)
			}
		}
	}
	m.Signals = slices.DeleteFunc(m.Signals, func(s Signal) bool {
		why := left[s.Field.Name]
		if why != "" {
			r.d.mistake(s.Field.Line, fmt.Sprintf("%s is there for some values only, %s; it is left out", s.Field.Name, why))
		}
		return why != ""
	})
}

// longestChain is how many selectors may select each other one after the other.
const longestChain = 8

// mask is the set of bits of a field.
type mask [8 * decode.MaxPayload / 64]uint64

func maskOf(s *decode.Signal) mask {
	var m mask
	for _, b := range s.Bits() {
		m[b/64] |= 1 << (b % 64)
	}
	return m
}

func (m *mask) meets(o *mask) bool {
	for i := range m {
		if m[i]&o[i] != 0 {
			return true
		}
	}
	return false
}

// share finds signals that have bits of an earlier one at the same time.
func (r *reader) share() {
	for i := range r.d.Messages {
		m := &r.d.Messages[i]
		masks := make([]mask, len(m.Signals))
		paths := make([]map[string][]int64, len(m.Signals))
		at := map[string]*Signal{}
		for k := range m.Signals {
			masks[k] = maskOf(&m.Signals[k].Field)
			at[m.Signals[k].Field.Name] = &m.Signals[k]
		}
		for k := range m.Signals {
			s := &m.Signals[k]
			for by := s; by != nil && by.When != nil; by = at[by.SelectedBy] {
				if paths[k] == nil {
					paths[k] = map[string][]int64{}
				}
				paths[k][by.SelectedBy] = by.When
			}
			for e := 0; e < k && s.Shares == ""; e++ {
				if m.Signals[e].Shares == "" && masks[k].meets(&masks[e]) && together(paths[k], paths[e]) {
					s.Shares = m.Signals[e].Field.Name
					r.d.mistake(s.Field.Line, fmt.Sprintf("%s has bits of %s on line %d, and both are there at the same time: one of them is wrong", s.Field.Name, s.Shares, m.Signals[e].Field.Line))
				}
			}
		}
	}
}

// together reports whether two signals can be in one frame, by the values that their
// selectors must have.
func together(a, b map[string][]int64) bool {
	for by, values := range a {
		other, both := b[by]
		if both && !slices.ContainsFunc(values, func(v int64) bool { return slices.Contains(other, v) }) {
			return false
		}
	}
	return true
}
