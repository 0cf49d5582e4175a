package draft

import (
	"cmp"
	"math"
	"slices"
)

// dips is what a field has of the battery's voltage. Levels are raw values.
type dips struct {
	field           field
	score           float64
	dip             float64 // of the level before the crank
	before, running float64
	cranks          int
	rough           float64 // how much it bends from sample to sample, of the level
}

// dipsOf looks at a field as if it was the battery's voltage.
func (b *bench) dipsOf(f field) dips {
	d := dips{field: f}
	if f.n < 6 {
		return d
	}
	x := f.values()
	t, v := x.t, x.v
	if len(v) < 30 {
		return d
	}
	within := func(from, to float64) []float64 {
		i, _ := slices.BinarySearch(t, from)
		j, _ := slices.BinarySearch(t, math.Nextafter(to, math.Inf(1)))
		return v[i:max(i, j)]
	}
	var before, falls []float64
	for _, c := range b.drive.cranks {
		w, p := within(c.before-0.05, c.after+0.5), within(c.before-1.2, c.before-0.06)
		if c.runs == 0 || len(p) < 2 || len(w) < 2 {
			continue
		}
		level := median(p)
		before = append(before, level)
		if level > 0 {
			falls = append(falls, (level-slices.Min(w))/level)
		} else {
			falls = append(falls, 0)
		}
	}
	if len(falls) == 0 {
		return d
	}
	d.before, d.dip, d.cranks = median(before), median(falls), len(falls)
	if d.before == 0 {
		return d
	}
	var running []float64
	for i, speed := range b.drive.speeds(t) {
		if speed > runningSpeed {
			running = append(running, v[i])
		}
	}
	d.running = median(running)
	if d.running == 0 {
		return d
	}
	deep := 0
	for _, x := range falls {
		if x > 0.03 && x < 0.6 {
			deep++
		}
	}
	jumps, next := 0, 0 // those of a crank are wanted
	for i := 1; i < len(v); i++ {
		for next < len(b.drive.cranks) && b.drive.cranks[next].after+2 < t[i] {
			next++
		}
		cranked := next < len(b.drive.cranks) && t[i] > b.drive.cranks[next].before-0.3
		if !cranked && math.Abs(v[i]-v[i-1])/d.running > 0.12 {
			jumps++
		}
	}
	for i := 2; i < len(v); i++ {
		d.rough += math.Abs(v[i]-2*v[i-1]+v[i-2]) / d.running / float64(len(v))
	}
	d.score = square(share(deep, len(falls)))
	stopped, charged := d.before, d.running
	if d.field.n <= 8 { // where nothing stands for 0 V, only volts have the ratio
		if factor, offset, cost := d.scaling(); offset != 0 && cost < mostVoltageCost {
			stopped, charged = stopped+offset/factor, charged+offset/factor
			d.dip *= d.before / stopped
		}
	}
	d.score *= bell(max(0, math.Abs(charged/stopped-1.13)-0.05) / 0.05)
	d.score *= bell(share(jumps, len(v)-1) / 0.01)
	if slices.Min(v) <= 0.35*d.running || slices.Max(v) >= 1.3*d.running {
		d.score *= 0.2
	}
	return d
}

// voltageLike returns the fields that keep near a level, as voltages do, worked out once.
func (b *bench) voltageLike() []field {
	if b.voltages != nil {
		return b.voltages
	}
	b.voltages = []field{}
	for _, s := range b.plain {
		if len(s.t) <= 30 || s.period > 0.3 {
			continue
		}
		seen := map[field]bool{}
		for _, f := range b.slow(s) {
			for _, g := range f.taller() {
				if seen[g] || g.n < 6 {
					continue
				}
				seen[g] = true
				if x := g.values(); len(x.v) >= 30 {
					sorted := sortedCopy(x.v)
					if m := quantile(sorted, 0.5); sorted[0] > 0.3*m && sorted[len(sorted)-1] < 1.4*m && sorted[0] < 0.95*m {
						b.voltages = append(b.voltages, g)
					}
				}
			}
		}
	}
	return b.voltages
}

// The voltage at which a generator charges a battery of 12 V, and that of the battery
// before a start, common practice, no source.
const (
	charging = 14.15
	resting  = 12.55
)

// voltageFactors are the factors that voltages have.
var voltageFactors = []float64{0.001, 0.002, 0.0025, 0.004, 0.005, 0.01, 0.02, 0.025, 0.03125, 0.04, 0.05, 0.0625, 0.075, 0.08, 0.1, 0.125, 0.2, 0.25,
	1.0 / 64, 1.0 / 128, 1.0 / 256, 1.0 / 512, 1.0 / 1024}

// smallestDip is the part by which a battery's voltage falls at least in a crank; the supply
// of the modules falls by less.
const smallestDip = 0.1

// voltageOffsets are the offsets in V that voltages of eight bits have, if any.
var voltageOffsets = []float64{3, 4, 5, 6}

// scaling is the factor and the offset that put the voltage where batteries have it, and
// how far off that is.
func (d *dips) scaling() (factor, offset, cost float64) {
	cost = math.Inf(1)
	try := func(f, o, penalty float64) {
		c := penalty + square((d.running*f+o-charging)/0.2) + square((d.before*f+o-resting)/0.3)
		if c < cost {
			factor, offset, cost = f, o, c
		}
	}
	for _, f := range voltageFactors {
		try(f, 0, 0)
	}
	if d.field.n <= 8 {
		for _, o := range voltageOffsets {
			for _, f := range []float64{0.04, 0.05, 0.0625, 0.1} {
				try(f, o, 3)
			}
		}
	}
	return factor, offset, cost
}

// mostVoltageCost is how far off a scaling of the voltage may be.
const mostVoltageCost = 12

// shortened is what the field has without its lowest bits, where with them no usual factor
// makes a voltage of it: bits of something else, or of noise, seem to go on with it.
func (d dips) shortened() dips {
	for by := range 4 {
		x := d
		x.field.n -= by
		x.before, x.running = math.Ldexp(d.before, -by), math.Ldexp(d.running, -by)
		if _, _, cost := x.scaling(); cost <= mostVoltageCost && (by == 0 || x.field.n >= 12) {
			return x
		}
	}
	return d
}

// voltage looks for the battery's voltage: it dips at each crank and rises when the
// generator charges.
func (b *bench) voltage() {
	if b.has(BatteryVoltage) || len(b.drive.cranks) == 0 {
		return
	}
	var list []dips
	for _, f := range b.voltageLike() {
		if d := b.dipsOf(f).shortened(); d.score > 0.3 {
			if _, _, cost := d.scaling(); cost <= mostVoltageCost {
				list = append(list, d)
			}
		}
	}
	slices.SortStableFunc(list, func(x, y dips) int { return cmp.Compare(y.score, x.score) })
	var strong []dips
	for _, d := range list {
		if d.score > 0.75*list[0].score && d.dip > smallestDip && d.field.n >= 7 {
			strong = append(strong, d)
		}
	}
	if len(strong) == 0 || strong[0].score <= 0.5 {
		return
	}
	slices.SortStableFunc(strong, func(x, y dips) int {
		if x.field.s == y.field.s && x.field.big != y.field.big && x.field.overlaps(&y.field) {
			return cmp.Compare(x.rough, y.rough) // the same bits in the other order bend more
		}
		return cmp.Or(cmp.Compare(math.Round(10*y.dip), math.Round(10*x.dip)), cmp.Compare(min(y.field.n, 12), min(x.field.n, 12)), cmp.Compare(x.field.s.period, y.field.s.period))
	})
	d := strong[0]
	factor, offset, _ := d.scaling()
	f := d.field.widen(factor, 20)
	s := b.proposal(BatteryVoltage, f, factor, offset)
	if (d.cranks >= 3 || d.cranks == 2 && len(b.drive.cranks) == 2) && d.score > 0.7 && d.dip > 0.14 { // a smaller dip may be that of the modules' supply
		s.FieldIs, s.ScaleIs = Likely, Likely
	}
	s.Evidence = []Evidence{Dips{d.cranks, len(b.drive.cranks), d.dip * d.before * factor, d.before*factor + offset, d.running*factor + offset}}
	for _, y := range strong[1:] {
		if y.field.s != d.field.s {
			s.Rivals = append(s.Rivals, b.rival(y.field, factor, 0))
		}
	}
	b.put(s, f, f.scaled(factor, offset))
}
