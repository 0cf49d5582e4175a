package onelog

import (
	"slices"

	"lull/analyze"
	"lull/decode"
)

// conditionSignals lists what restart requests, inhibits and the map's conditions
// read, in the map's order.
func conditionSignals(m *decode.Map) []analyze.Extent {
	read := slices.Clone(m.Circumstances)
	for _, list := range [][]decode.Condition{m.Requests, m.Inhibits} {
		for i := range list {
			read = append(read, list[i].Expr.Signals()...)
		}
	}
	slices.Sort(read)
	read = slices.Compact(read)
	extents := make([]analyze.Extent, len(read))
	for i, signal := range read {
		extents[i].Signal = signal
	}
	return extents
}

// exercise counts what the drive tried.
func (r *Run) exercise() analyze.Exercised {
	x := analyze.Exercised{
		Requests: make([]analyze.Tried, len(r.M.Requests)),
		Inhibits: make([]analyze.Tried, len(r.M.Inhibits)),
		Signals:  r.sums.extents,
	}
	for i := range r.result.Episodes {
		e := &r.result.Episodes[i]
		if e.Outcome == analyze.ChangeOfMind {
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
			case s.Reason == r.M.Inhibits[h.Condition].Name:
				x.Inhibits[h.Condition].Caused++
			case h.Share > 0:
				x.Inhibits[h.Condition].Also++
			}
		}
	}
	return x
}

// countAlso counts each request once an episode, but for the one that caused it.
func countAlso(tried []analyze.Tried, also []analyze.Request, cause int) {
	for i, a := range also {
		first := slices.IndexFunc(also, func(b analyze.Request) bool { return b.Condition == a.Condition })
		if a.Condition != cause && first == i {
			tried[a.Condition].Also++
		}
	}
}
