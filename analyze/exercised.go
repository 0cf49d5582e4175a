package analyze

import (
	"slices"

	"lull/decode"
)

// Exercised says what the drive tried at all, so that the next one can try the
// rest.
type Exercised struct {
	Requests      []Tried // of each of Map.Requests, counted in episodes
	Inhibits      []Tried // of each of Map.Inhibits, counted in standstills
	ChangesOfMind int
	Signals       []Extent // what conditions read, in the map's order
}

// Tried counts how often a condition did what it is there for.
type Tried struct {
	// Caused counts the episodes whose restart the request asked for, or the
	// opportunities whose reason the inhibit is.
	Caused int
	// Also counts further ones in which it was true beside another one that is told
	// as the cause; nothing shows that it would have done alone.
	Also int
}

// Extent is the lowest and highest value that a signal had, in its own unit.
type Extent struct {
	Signal   int // index into Map.Signals
	Seen     bool
	Min, Max float64
}

func (x *Extent) add(v float64) {
	if !x.Seen {
		x.Seen, x.Min, x.Max = true, v, v
		return
	}
	x.Min, x.Max = min(x.Min, v), max(x.Max, v)
}

// conditionSignals lists what restart requests, inhibits and the map's conditions
// read, in the map's order.
func conditionSignals(m *decode.Map) []Extent {
	read := slices.Clone(m.Conditions)
	for _, list := range [][]decode.Condition{m.Requests, m.Inhibits} {
		for i := range list {
			read = append(read, list[i].Expr.Signals()...)
		}
	}
	slices.Sort(read)
	read = slices.Compact(read)
	extents := make([]Extent, len(read))
	for i, signal := range read {
		extents[i].Signal = signal
	}
	return extents
}

// exercise counts what the drive tried.
func (r *Run) exercise() Exercised {
	x := Exercised{
		Requests: make([]Tried, len(r.m.Requests)),
		Inhibits: make([]Tried, len(r.m.Inhibits)),
		Signals:  r.extents,
	}
	for i := range r.result.Episodes {
		e := &r.result.Episodes[i]
		if e.Outcome == ChangeOfMind {
			x.ChangesOfMind++
		}
		if e.Request != nil {
			x.Requests[e.Request.Condition].Caused++
			countAlso(x.Requests, e.Also, e.Request.Condition)
		}
	}
	for i := range r.result.Standstills {
		s := &r.result.Standstills[i]
		if !s.Opportunity {
			continue
		}
		for _, h := range s.Inhibits {
			switch {
			case s.Reason == r.m.Inhibits[h.Condition].Name:
				x.Inhibits[h.Condition].Caused++
			case h.Share > 0:
				x.Inhibits[h.Condition].Also++
			}
		}
	}
	return x
}

// countAlso counts each request once an episode, but for the one that caused it.
func countAlso(tried []Tried, also []Request, cause int) {
	for i, a := range also {
		first := slices.IndexFunc(also, func(b Request) bool { return b.Condition == a.Condition })
		if a.Condition != cause && first == i {
			tried[a.Condition].Also++
		}
	}
}
