package draft

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"lull/decode/marks"
)

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

// shown holds the values marked of the dashboard against what the field was then. ok is
// false where none was marked.
func (r *road) shown(list []marks.Mark) (out shown, ok bool) {
	type reading struct{ low, high, least, most, value float64 } // raw, and true speed in km/h
	var readings []reading
	x := r.field.values()
	for _, m := range list {
		if !m.HasValue || !slices.Contains(dashNames, strings.ToLower(m.Name)) || m.Value <= 0 {
			continue
		}
		unit := 1.0
		switch strings.ToLower(m.Unit) {
		case "", "km/h", "kmh", "kph":
		case "mph", "mi/h":
			unit = mile
		default:
			continue
		}
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
