package draft

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"lull/decode/marks"
)

// This file holds what a person read off the dashboard against what fields were then.

// What a speedometer may show of a true speed: never less, and at most a tenth and 4 km/h
// more (UN Regulation 39, from memory). What was read off is rounded to a whole number.
const (
	dashMore    = 1.1
	dashBeyond  = 4.0 // km/h
	dashRounded = 0.5
	dashHand    = 1.0 // s that a person may be early or late
	mile        = 1.609344
	fastest     = 300.0 // km/h that a car goes
)

// What a tachometer may show of a true engine speed. No rule says how true it is; common
// practice, no source. Usual factors lie a fifth apart or more.
const (
	tachPart = 0.1  // of what it shows, either way
	tachRead = 50.0 // rpm, either way, that it is read off with
	mostRevs = 1e4  // rpm of an engine
)

// shown is what values of the dashboard say of a factor: fit is how many usual factors
// they allow, factor the one that fits best.
type shown struct {
	factor    float64
	fit       int
	at, value float64 // of the first
	unit      string
}

// dashNames are the names of marks that mean the road speed.
var dashNames = []string{"vehicle_speed", "road_speed", "speed", "dashboard", "dash"}

// speedUnits are the units of a road speed, in km/h.
var speedUnits = map[string]float64{"": 1, "km/h": 1, "kmh": 1, "kph": 1, "mph": mile, "mi/h": mile}

// tachNames are the names of marks that mean the engine speed, tachUnits its units.
var (
	tachNames = []string{"engine_speed", "rpm", "tachometer", "revs"}
	tachUnits = []string{"", "rpm", "1/min", "/min", "min-1", "u/min", "r/min"}
)

// Settles returns the quantity whose factor a mark may settle, or false: what a dashboard
// shows of a temperature or of the way is rounded too far, or says nothing of a factor.
func Settles(m marks.Mark) (Quantity, bool) {
	name, unit := strings.ToLower(m.Name), strings.ToLower(m.Unit)
	switch {
	case !m.HasValue || m.Value <= 0:
	case slices.Contains(dashNames, name) && speedUnits[unit] > 0:
		return VehicleSpeed, true
	case slices.Contains(tachNames, name) && slices.Contains(tachUnits, unit):
		return EngineSpeed, true
	}
	return 0, false
}

// shown holds the values marked of the dashboard against what the field was then. ok is
// false where none was marked.
func (r *road) shown(list []marks.Mark) (out shown, ok bool) {
	type reading struct{ low, high, least, most, value float64 } // raw, and true speed in km/h
	var readings []reading
	x := r.field.values()
	for _, m := range list {
		if q, is := Settles(m); !is || q != VehicleSpeed {
			continue
		}
		unit := speedUnits[strings.ToLower(m.Unit)]
		if !ok {
			out.at, out.value, out.unit, ok = m.From, m.Value, cmp.Or(m.Unit, "km/h"), true
		}
		from, to := indexAt(x.t, m.From-dashHand), indexAt(x.t, m.To+dashHand)
		if len(x.t) == 0 || m.From > x.t[len(x.t)-1] {
			continue
		}
		v := x.v[from : to+1]
		rounded := dashRounded * unit
		readings = append(readings, reading{slices.Min(v) - r.base, slices.Max(v) - r.base,
			(m.Value*unit - rounded - dashBeyond) / dashMore, m.Value*unit + rounded, m.Value * unit})
	}
	if len(readings) == 0 {
		return out, ok
	}
	best := math.Inf(1)
	for _, u := range roadFactors {
		for _, scale := range []float64{1, mile} {
			factor, cost := u.factor*scale, -math.Log(u.usual)
			if scale != 1 {
				cost += 2 // rarer
			}
			fits := r.top*factor <= fastest
			for _, s := range readings {
				fits = fits && s.high*factor >= s.least && s.low*factor <= s.most
				// Most show a few of a hundred too much.
				middle := (s.low + s.high) / 2 * factor
				cost += square((s.value/math.Max(middle, 1e-9) - 1.03) / 0.04)
			}
			if !fits {
				continue
			}
			if out.fit++; cost < best {
				best, out.factor = cost, factor
			}
		}
	}
	return out, true
}

// speedometer gives a road speed that a person chose the factor that values of the dashboard
// allow.
func (s *Signal) speedometer(f field, list []marks.Mark) {
	x := f.values()
	if len(x.v) == 0 {
		return
	}
	r := road{field: f, base: slices.Min(x.v)}
	r.top = quantile(sortedCopy(x.v), 0.995) - r.base
	found, told := r.shown(list)
	if !told {
		return
	}
	s.ScaleIs = Guess
	if found.fit > 0 {
		s.Factor, s.Offset = found.factor, 0-r.base*found.factor
	}
	if found.fit == 1 {
		s.ScaleIs = Likely
	}
	s.Evidence = append(s.undashed(), found.told())
}

// undashed is the evidence without what the dashboard showed.
func (s *Signal) undashed() []Evidence {
	return slices.DeleteFunc(slices.Clone(s.Evidence), func(e Evidence) bool { _, is := e.(DashValue); return is })
}

// told is what the dashboard showed, as evidence.
func (x *shown) told() DashValue {
	return DashValue{At: x.at, Value: x.value, Unit: x.unit, Fit: x.fit}
}

// tachometer decides between the usual factors of an engine speed that has no reference, by
// values of the dashboard.
func (b *bench) tachometer() {
	i := slices.IndexFunc(b.draft.Signals, func(s Signal) bool { return s.What == EngineSpeed })
	if i < 0 || b.draft.Signals[i].referenced() {
		return
	}
	s := &b.draft.Signals[i]
	f, ok := b.fieldOf(s)
	if !ok {
		return
	}
	found, keeps, told := f.revs(b.marks, s.Factor)
	if !told {
		return
	}
	s.Evidence = s.undashed()
	switch {
	case found.fit == 0:
		s.ScaleIs = Guess
	case found.fit == 1 && (!keeps || found.factor == s.Factor):
		s.ScaleIs = min(Likely, b.cap) // a tachometer is no reference
	}
	// What the engine's shape and the other modules say is closer than a tachometer.
	if found.fit > 0 && !keeps {
		s.rescale(found.factor)
		f = f.widen(s.Factor, mostNeeded)
		for _, bit := range f.bits() {
			b.taken[spot{f.s, bit}] = true
		}
		s.Field.Start, s.Field.Length = f.start(), f.n
		b.found[EngineSpeed] = f.of(s)
	}
	s.Evidence = append(s.Evidence, found.told())
}

// referenced reports whether anything but its shape, or a person, tells what a signal is.
func (s *Signal) referenced() bool {
	return slices.ContainsFunc(s.Evidence, func(e Evidence) bool {
		switch e.(type) {
		case Follows, Answers, Standard, Database:
			return true
		}
		return false
	})
}

// rescale gives an engine speed another factor, and what is said of it.
func (s *Signal) rescale(factor float64) {
	more := factor / s.Factor
	s.Factor = factor
	for i, e := range s.Evidence {
		switch e := e.(type) {
		case Shape:
			e.Crank, e.Idle = e.Crank*more, e.Idle*more
			s.Evidence[i] = e
		case NeverRested:
			e.Idle *= more
			s.Evidence[i] = e
		}
	}
	s.Rivals = slices.Clone(s.Rivals)
	for i := range s.Rivals {
		s.Rivals[i].Factor *= more
	}
}

// revs holds values of the dashboard against what an engine speed was then: which of the
// usual factors they allow, and whether they allow this one, so that it can be kept.
func (f *field) revs(list []marks.Mark, factor float64) (out shown, keeps, told bool) {
	x := f.values()
	if len(x.t) == 0 {
		return out, false, false
	}
	costs := map[float64]float64{factor: math.Inf(1)}
	for u, c := range engineFactors {
		if slices.Max(x.v)*u <= mostRevs {
			costs[u] = c
		}
	}
	held := 0
	for _, m := range list {
		if q, is := Settles(m); !is || q != EngineSpeed {
			continue
		}
		if !told {
			out.at, out.value, out.unit, told = m.From, m.Value, cmp.Or(m.Unit, "rpm"), true
		}
		if m.From > x.t[len(x.t)-1] {
			continue
		}
		held++
		v := x.v[indexAt(x.t, m.From-dashHand) : indexAt(x.t, m.To+dashHand)+1]
		low, high := slices.Min(v), slices.Max(v)
		for u := range costs {
			if high*u < m.Value*(1-tachPart)-tachRead || low*u > m.Value*(1+tachPart)+tachRead {
				delete(costs, u)
				continue
			}
			costs[u] += square(math.Log(m.Value/max((low+high)/2*u, 1e-9)) / 0.04)
		}
	}
	if held == 0 {
		return out, true, told
	}
	_, keeps = costs[factor]
	if _, usual := engineFactors[factor]; !usual {
		delete(costs, factor)
	}
	best := math.Inf(1)
	for _, u := range slices.Sorted(maps.Keys(costs)) {
		if out.fit++; costs[u] < best {
			best, out.factor = costs[u], u
		}
	}
	return out, keeps, told
}
