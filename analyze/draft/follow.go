package draft

import (
	"math"
	"slices"
)

// polled uses the answers to a scan tool: as reference for fields of the bus, or, where
// no field follows them, themselves.
func (b *bench) polled() {
	for _, r := range references {
		a, ok := b.answers.best(r)
		if !ok || b.has(r.what) || r.what == BatteryVoltage && slices.Max(a.v) < 5 {
			continue
		}
		b.confirm(&a)
		if b.elect(r.what); b.has(r.what) {
			continue
		}
		var rivals []Rival
		if len(b.plain) > 0 && distinct(a.v) > 3 {
			if f, ok := b.follow(&a); ok {
				if f.means(&a) && b.putFollower(&a, &f) {
					continue
				}
				rivals = []Rival{b.rival(f.field, f.factor, f.offset)}
			}
		}
		s := Signal{What: r.what, Name: r.what.Name(), Entry: *a.entry, Field: *a.signal, Factor: a.signal.Scale.Factor, Offset: a.signal.Scale.Offset, FieldIs: Sure, ScaleIs: Sure}
		s.Entry.Signals = nil
		s.Evidence, s.Rivals = []Evidence{Answers{r.pid, median(differences(a.t))}}, rivals
		b.draft.Signals = append(b.draft.Signals, s)
		b.found[r.what] = a.series
	}
}

// confirm lets nominees of a database weigh more that say what a scan tool was told.
func (b *bench) confirm(a *answer) {
	list := b.nominees[a.what]
	spreads := spread(a.v)
	for i := range list {
		n := &list[i]
		best := math.Inf(1)
		for _, lag := range lags {
			var left []float64
			for k := range a.t {
				if at := a.t[k] - lag; at >= n.values.t[0] {
					left = append(left, math.Abs(n.values.v[indexAt(n.values.t, at)]-a.v[k]))
				}
			}
			if len(left) >= 3 {
				best = min(best, median(left))
			}
		}
		if best <= max(0.1*spreads, 1.5*a.step) {
			n.score += 4
			n.proved = true
		}
	}
}

// means reports whether a field that follows the answers can be what was asked for. If not,
// the answers themselves say it better: they are certain.
func (f *follower) means(a *answer) bool {
	switch a.what {
	case VehicleSpeed:
		return f.usual && math.Abs(math.Log(f.factor/f.measured)) <= 0.01 // else a shaft that turns with the wheels
	case Coolant:
		// Oil follows, some degrees off and late. Coolant has no time to differ by more
		// than rounding: as a module and the answer round the same value, or as a whole
		// degree stands for one that is told finely.
		within := 0.15
		if f.factor < 0.99*a.step {
			within = 0.32
		}
		return f.usual && f.missed <= 0.55*a.step && f.rms <= within*a.step && distinct(a.v) >= 10
	}
	return true
}

// putFollower proposes the field that follows the answers, if it follows closely enough.
func (b *bench) putFollower(a *answer, f *follower) bool {
	part := f.rms / max(spread(a.v), 1e-9)
	if part >= 0.12 {
		return false
	}
	g := f.field.widen(f.factor, a.required)
	values := distinct(a.v)
	s := b.proposal(a.what, g, f.factor, f.offset)
	s.FieldIs, s.ScaleIs = Likely, Likely
	if part < 0.05 && values >= 12 && f.count >= 20 && f.usual {
		s.FieldIs = Sure
		if f.exact(a) {
			s.ScaleIs = Sure
		}
	}
	if a.what == VehicleSpeed && math.Abs(math.Log(f.factor/f.measured)) > 0.004 {
		s.FieldIs, s.ScaleIs = min(s.FieldIs, Likely), min(s.ScaleIs, Likely) // a shaft may turn with the wheels
	}
	s.Evidence = []Evidence{Follows{a.pid, f.count, values, f.rms, part, f.lag}}
	others := map[*stream]bool{}
	for _, p := range f.pool {
		if p.field.s != f.field.s && !others[p.field.s] {
			others[p.field.s] = true
			s.Rivals = append(s.Rivals, b.rival(p.field, p.factor, p.offset))
		}
	}
	if len(others) > 0 {
		s.Evidence = append(s.Evidence, SeveralModules{len(others)})
	}
	return b.put(s, g, g.scaled(f.factor, f.offset))
}

// exact reports whether no other usual factor than the chosen one is within what the
// answers allow.
func (f *follower) exact(a *answer) bool {
	x := f.field.all()
	slack := 0.003 + 4*f.rms/max(spread(x)*f.factor, 1e-9)/math.Sqrt(float64(max(f.count, 1)))
	chosen := 0
	for _, u := range usualFactors {
		if math.Abs(math.Log(u/f.measured)) <= slack {
			if math.Abs(u/f.factor-1) > 1e-6 {
				return false
			}
			chosen++
		}
	}
	return chosen > 0
}
