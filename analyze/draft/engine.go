package draft

import (
	"cmp"
	"math"
	"slices"
)

func (b *bench) rival(f field, factor, offset float64) Rival {
	r := Rival{Entry: f.s.entry(b), Field: f.signal(), Factor: factor, Offset: offset}
	r.Page, r.PageValue = f.s.selector()
	return r
}

// mostNeeded is what a field of engine speed must be able to hold, in rpm.
const mostNeeded = 8000

// engine looks for the engine's speed by its shape.
func (b *bench) engine() {
	if b.has(EngineSpeed) {
		return
	}
	var shapes []shape
	for _, s := range b.plain {
		if len(s.t) < 50 {
			continue
		}
		for _, f := range s.fields(0.2) {
			if f.n < 7 {
				continue
			}
			if x := shapeOf(f); x.score > 0.25 {
				shapes = append(shapes, x)
			}
		}
	}
	byScore := func(x, y shape) int { return cmp.Compare(y.score, x.score) }
	slices.SortStableFunc(shapes, byScore)

	var coarse []shape // too much so to be found alone
	shapes = slices.DeleteFunc(shapes, func(x shape) bool {
		if x.fine <= 0.6 && x.fine > coarsest {
			coarse = append(coarse, x)
		}
		return x.fine <= 0.6 || x.quick < 0.8 && x.ups < 3
	})
	moments := grid(0, b.end(), 0.05)
	curves := map[field][]float64{}
	curve := func(f field) []float64 {
		if curves[f] == nil {
			x := f.values()
			curves[f] = interpolate(moments, x.t, x.v)
		}
		return curves[f]
	}
	alike := func(x, y shape, least float64) bool {
		return x.field.s == y.field.s && x.field.big == y.field.big && x.field.overlaps(&y.field) || correlation(curve(x.field), curve(y.field)) > least
	}
	shapes = withoutRoad(shapes, curve)

	// Engine speed is told by several modules.
	first := shapes[:min(20, len(shapes))]
	scores := make([]float64, len(first))
	for i, x := range first {
		modules := map[spot]bool{}
		for _, y := range first {
			if alike(x, y, 0.993) {
				modules[spot{nil, int(y.field.s.id)}] = true
			}
		}
		scores[i] = x.score + 0.04*float64(min(len(modules), 3)-1)
	}
	for i := range first {
		first[i].score = scores[i]
	}
	slices.SortStableFunc(shapes, byScore)
	b.corroborate(shapes, alike)
	slices.SortStableFunc(shapes, byScore)

	// A field that says that the engine runs while the best is at zero.
	tells := map[field][]runsBeside{}
	var order []field
	if len(shapes) > 0 && shapes[0].score > 0.6 {
		kept := shapes[:0:0]
		for i, x := range shapes {
			if i < 25 && x.support < proven {
				if other, ok := b.beside(&x); ok {
					key := field{s: other.field.s, big: other.field.big, hi: other.field.hi}
					if tells[key] == nil {
						order = append(order, key)
					}
					tells[key] = append(tells[key], other)
					continue
				}
			}
			kept = append(kept, x)
		}
		shapes = kept
	}
	// Where several starts have no sign of a battery, a starter or a stop command, a field
	// that runs beside is the engine.
	unsupported := len(shapes) > 0 && shapes[0].ups >= 3 && shapes[0].support < 0.03 && len(order) > 0
	if len(shapes) > 0 && shapes[0].score > 0.7 && !unsupported {
		b.putShape(shapes, coarse, alike, curve)
		return
	}
	best := runsBeside{}
	for _, f := range order {
		for _, x := range tells[f] {
			if x.correlation > best.correlation {
				best = x
			}
		}
	}
	if best.correlation > 0 {
		b.putLevel(best)
	}
}

// proven is the support that no number has whose starts are not the engine's.
const proven = 0.12

// mostGroups is how many candidates that move differently are held against the rest of the bus.
const mostGroups = 10

// corroborate lets those candidates weigh more whose starts and stops the rest of the bus
// shows too: a voltage that dips, a starter, a stop command. Numbers that only look like an
// engine speed (a shaft behind a torque converter, a random walk) have none of these.
func (b *bench) corroborate(shapes []shape, alike func(x, y shape, least float64) bool) {
	var groups []shape
	for i := range shapes {
		x := &shapes[i]
		known := false
		for _, g := range groups {
			if alike(*x, g, 0.985) {
				x.support, x.score, known = g.support, x.score+g.support, true
				break
			}
		}
		if known || len(groups) == mostGroups || x.score < 0.5 {
			continue
		}
		factor, _, _ := x.scaling()
		b.drive = newDrive(x.field.scaled(factor, 0))
		x.support = b.support()
		b.drive = nil
		x.score += x.support
		groups = append(groups, *x)
	}
}

// support is what the rest of the bus shows of a drive's starts and stops, 0 to 0.3.
func (b *bench) support() float64 {
	if len(b.drive.cranks) < 2 {
		return 0
	}
	support, best := 0.0, 0.0
	for _, f := range b.voltageLike() {
		if d := b.dipsOf(f); d.dip > 0.05 {
			best = max(best, d.score*min(1, d.dip/0.15))
		}
	}
	support += 0.15 * best
	for _, c := range b.starterBits() {
		if float64(c.hits) >= 0.8*float64(len(b.drive.cranks)) {
			support += 0.1
			break
		}
	}
	for _, c := range b.stopBits() {
		if c.hits >= 3 {
			support += 0.05
			break
		}
	}
	return support
}

// withoutRoad drops candidates that rest while another one runs, but hardly ever run while
// that rests: a car stands while its engine idles, and does not drive far without it.
func withoutRoad(shapes []shape, curve func(field) []float64) []shape {
	first := shapes[:min(20, len(shapes))]
	beaten := map[int]bool{}
	for i, x := range first {
		cx := curve(x.field)
		for k, y := range first {
			if i == k || beaten[k] || y.score < 0.9*x.score {
				continue
			}
			cy := curve(y.field)
			yAlone, xAlone, both := 0, 0, 0
			for j := range cx {
				xRests, yRests := cx[j] <= 0.045*x.idle, cy[j] <= 0.045*y.idle
				switch {
				case xRests && yRests:
					both++
				case xRests && cy[j] > 0.5*y.idle:
					yAlone++
				case yRests && cx[j] > 0.5*x.idle:
					xAlone++
				}
			}
			// 3 s alone; and it does rest, where the other one rests
			if yAlone >= 60 && 5*both >= yAlone && 10*xAlone < both {
				beaten[i] = true
				break
			}
		}
	}
	var kept []shape
	for i, x := range shapes {
		if !beaten[i] {
			kept = append(kept, x)
		}
	}
	return kept
}

// end is the last moment of any stream.
func (b *bench) end() float64 {
	end := 0.0
	for _, s := range b.streams {
		end = max(end, s.t[len(s.t)-1])
	}
	return end
}

// coarsest is how coarsely, as a shape has it, a field may tell the engine's speed beside
// another one: in steps of some ten per minute.
const coarsest = 0.4

// putShape proposes the best of the fields that move as an engine speed does.
func (b *bench) putShape(shapes, coarse []shape, alike func(x, y shape, least float64) bool, curve func(field) []float64) {
	// Copies are alike; those that a module tells later are no rivals either.
	const same, late = 0.985, 0.96
	best := shapes[0]
	var group []shape
	var rival *shape
	for i, x := range shapes {
		if alike(x, best, same) {
			if x.score > 0.88*best.score {
				group = append(group, x)
			}
		} else if rival == nil && !alike(x, best, late) {
			rival = &shapes[i]
		}
	}
	if rival != nil && rival.score > 0.96*best.score {
		// Rivals as good: the one whose crank and idle agree with one scale.
		var close []shape
		for _, x := range shapes {
			if x.score > 0.93*best.score {
				close = append(close, x)
			}
		}
		slices.SortStableFunc(close, func(x, y shape) int {
			_, cx, _ := x.scaling()
			_, cy, _ := y.scaling()
			return cmp.Or(
				compareBools(x.fine < 0.96, y.fine < 0.96),
				cmp.Compare(math.Round(cx), math.Round(cy)),
				compareBools(x.field.s.period > 0.03, y.field.s.period > 0.03),
				compareBools(x.fine < 0.95, y.fine < 0.95),
				cmp.Compare(x.rough, y.rough))
		})
		best, group, rival = close[0], nil, nil
		for _, x := range close {
			if alike(x, best, same) {
				group = append(group, x)
			}
		}
		for i, x := range shapes {
			if !alike(x, best, late) {
				rival = &shapes[i]
				break
			}
		}
	}
	for _, x := range coarse {
		if alike(x, best, same) && x.field.s != best.field.s {
			group = append(group, x)
		}
	}
	list := sameSpeed(oncePerPlace(group), curve)
	factor, cost, gap := list.scaling()
	list.quickest(factor, newDrive(list[0].field.scaled(factor, 0)))
	x := list[0]
	factor /= x.ratio
	f, own := x.field, factor
	if _, cut := unusual(factor); cut > 0 {
		f = f.lengthened(cut)
		factor = math.Ldexp(factor, x.field.n-f.n)
	}
	factor = usualEngineFactor(factor)
	f = f.widen(factor, mostNeeded)
	margin := best.score
	if rival != nil {
		margin -= rival.score
	}
	s := b.proposal(EngineSpeed, f, factor, 0)
	s.Evidence = []Evidence{Shape{x.ups, x.downs, x.crank * own, x.idle * own}}
	// A bit too many at its lower end looks the same: without a reference it is never sure.
	clear := best.score > 0.9 && margin > 0.15 && best.ups+best.downs >= 3 && best.crank > 0 && best.support >= proven
	typical := best.score > 0.75 && margin > 0.05 && min(best.quick, best.cranking, best.flare) >= 0.7 && (best.support >= 0.1 || best.ups < 2)
	if clear || typical {
		s.FieldIs = Likely
	}
	if odd, _ := unusual(own); gap > 1 && cost < 3 && odd < mostUnusual && s.FieldIs > Guess {
		s.ScaleIs = Likely // a reference alone makes it sure
	}

	others := map[*stream]bool{}
	for _, y := range list {
		if y.field.s != x.field.s && !others[y.field.s] {
			others[y.field.s] = true
			s.Rivals = append(s.Rivals, b.rival(y.field, usualEngineFactor(own*x.ratio/y.ratio), 0))
		}
	}
	if len(others) > 0 {
		s.Evidence = append(s.Evidence, SeveralModules{len(others)})
	}
	if rival != nil && margin <= 0.15 {
		k, _, _ := rival.scaling()
		s.Rivals = append(s.Rivals, b.rival(rival.field, k, 0))
		s.Alike++
	}
	b.put(s, f, f.scaled(factor, 0))
}

func compareBools(x, y bool) int {
	switch {
	case x == y:
		return 0
	case x:
		return 1
	}
	return -1
}

// putLevel proposes the speed of an engine that ran all the time: a level at standstills
// that rises when the car moves.
func (b *bench) putLevel(beside runsBeside) {
	x := shape{idle: beside.level, top: beside.top}
	factor, _, _ := x.scaling()
	f := beside.field.widen(factor, mostNeeded)
	s := b.proposal(EngineSpeed, f, factor, 0)
	s.Evidence = []Evidence{NeverRested{x.idle * factor}}
	b.put(s, f, f.scaled(factor, 0))
}
