package draft

import (
	"cmp"
	"math"
	"slices"
)

// road is what a field has of the car's speed. Levels are raw values.
type road struct {
	field       field
	score       float64
	base, top   float64 // at standstill; above that
	correlation float64 // with the engine's speed while moving
	drives      int
	change      float64 // in a second, of which one in twenty is more
}

// roadOf looks at a field as if it was the car's speed: zero while the engine rests and at
// standstills, smooth, moving with the engine.
func (b *bench) roadOf(f field) road {
	r := road{field: f}
	if f.n < 6 {
		return r
	}
	x := f.values()
	t, v := x.t, x.v
	if len(v) < 50 {
		return r
	}
	sorted := sortedCopy(v)
	top := quantile(sorted, 0.995)
	r.base = sorted[0]
	if at, _ := slices.BinarySearch(sorted, math.Nextafter(sorted[0], math.Inf(1))); share(at, len(v)) < 0.01 {
		r.base = quantile(sorted, 0.01)
	}
	r.top = top - r.base
	if r.top < 20 {
		return r
	}
	zero := func(i int) bool { return v[i] <= r.base+0.004*r.top }
	speeds := b.drive.speeds(t)
	zeros, resting, restingZero, idleZero, movingAlive, moving := 0, 0, 0, 0, 0, 0
	for i := range v {
		z := zero(i)
		if z {
			zeros++
			if speeds[i] > 450 {
				idleZero++
			}
		} else if i > 0 {
			moving++
			if v[i] != v[i-1] {
				movingAlive++
			}
		}
		if speeds[i] <= restSpeed {
			resting++
			if z {
				restingZero++
			}
		}
	}
	if still := share(zeros, len(v)); still < 0.02 || still > 0.97 {
		return r
	}
	if float64(idleZero)*f.s.period < 0.8 {
		return r // it stands while the engine runs, too
	}
	for _, m := range stretches(len(v), func(i int) bool { return !zero(i) }) {
		if t[m.last]-t[m.first] > 2 {
			r.drives++
		}
	}
	if r.drives == 0 {
		return r
	}
	g := grid(t[0], t[len(t)-1], 0.1)
	y := interpolate(g, t, v)
	engine := b.drive.speeds(g)
	var fast, bends, a, e []float64
	for i := range y {
		y[i] /= r.top
		if i > 0 {
			fast = append(fast, math.Abs(y[i]-y[i-1]))
		}
		if i > 1 {
			bends = append(bends, math.Abs(y[i]-2*y[i-1]+y[i-2]))
		}
		if k := indexAt(t, g[i]); !zero(k) {
			a, e = append(a, y[i]), append(e, engine[i])
		}
	}
	if len(a) < 20 {
		return r
	}
	r.score = 1
	if resting > 5 {
		r.score = math.Pow(share(restingZero, resting), 3)
	}
	slices.Sort(fast)
	r.score *= bell(quantile(fast, 0.995)/0.09) * bell(mean(bends)/0.004)
	r.correlation = correlation(a, e)
	r.score *= min(1, max(0.55, 0.7+0.4*r.correlation))
	r.score *= min(1, share(movingAlive, moving)/0.2)
	steps := differences(interpolate(grid(t[0], t[len(t)-1], 1), t, v))
	for i := range steps {
		steps[i] = math.Abs(steps[i])
	}
	if len(steps) > 0 {
		slices.Sort(steps)
		r.change = quantile(steps, 0.95)
	}
	return r
}

// siblings counts the fields that tell nearly the same number: wheels and the car, unlike a
// shaft that turns with them.
func (r *road) siblings(list []road) int {
	n := 0
	for _, o := range list {
		if (o.field.s != r.field.s || !o.field.overlaps(&r.field)) && math.Abs(o.top/r.top-1) < 0.04 {
			n++
		}
	}
	return n
}

// roadFactors are the factors that road speeds in km/h have, and how usual each is.
var roadFactors = []struct{ factor, usual float64 }{
	{0.01, 3}, {1.0 / 128, 1.2}, {1.0 / 256, 1.6}, {1.0 / 64, 1.2}, {0.03125, 1.2}, {0.05, 1}, {0.1, 1}, {0.0625, 1}, {0.02, 0.7},
	{0.125, 0.5}, {0.25, 0.5}, {0.5, 0.6}, {1, 1.5}, {0.05625, 0.5}, {0.005, 0.3},
}

// scaling is a factor without reference, from how fast cars gain speed and how fast they
// go for each turn of the engine; gap is how much worse the next is.
func (r *road) scaling(d *drive) (factor, gap float64) {
	x := r.field.values()
	g := grid(x.t[0], x.t[len(x.t)-1], 0.2)
	y, e := interpolate(g, x.t, x.v), d.speeds(g)
	idle := d.idles()
	var ratios []float64
	for i := range g {
		if y[i]-r.base > 0.25*r.top && e[i] > 1.25*idle {
			ratios = append(ratios, (y[i]-r.base)/e[i]*1000)
		}
	}
	type priced struct{ factor, cost float64 }
	var list []priced
	for _, u := range roadFactors {
		// Common practice, no source: a car changes its speed by 1.7 m/s in a second
		// where it is in a hurry, and goes 24 km/h at 1000 per minute.
		c := square((math.Log(r.change*u.factor/3.6)-math.Log(1.7))/0.45) - math.Log(u.usual)
		if len(ratios) > 10 {
			c += square((math.Log(median(ratios)*u.factor) - math.Log(24)) / 0.5)
		}
		if r.top*u.factor > 230 {
			c += 6
		}
		list = append(list, priced{u.factor, c})
	}
	slices.SortStableFunc(list, func(x, y priced) int { return cmp.Compare(x.cost, y.cost) })
	return list[0].factor, list[1].cost - list[0].cost
}

// road looks for the car's speed.
func (b *bench) road() {
	if b.has(VehicleSpeed) {
		return
	}
	var list []road
	for _, s := range b.plain {
		if len(s.t) <= 30 || s.period > 0.3 {
			continue
		}
		for _, f := range b.slow(s) {
			if r := b.roadOf(f); r.score > 0.2 {
				list = append(list, r)
			}
		}
	}
	slices.SortStableFunc(list, func(x, y road) int { return cmp.Compare(y.score, x.score) })
	if len(list) == 0 || list[0].score <= 0.45 {
		return
	}
	var best []road
	for _, r := range list {
		if r.score > 0.93*list[0].score {
			best = append(best, r)
		}
	}
	wheels := map[field]int{}
	for _, x := range best {
		wheels[x.field] = x.siblings(list)
	}
	slices.SortStableFunc(best, func(x, y road) int {
		return cmp.Or(cmp.Compare(min(wheels[y.field], 2), min(wheels[x.field], 2)), cmp.Compare(min(y.field.n, 14), min(x.field.n, 14)), cmp.Compare(x.field.s.period, y.field.s.period))
	})
	r := best[0]
	factor, _ := r.scaling(b.drive)
	shown, told := r.shown(b.marks)
	if told && shown.fit > 0 {
		factor = shown.factor
	}
	offset := 0 - r.base*factor
	f := r.field.widen(factor, 250)
	s := b.proposal(VehicleSpeed, f, factor, offset)
	if r.score > 0.7 && r.drives >= 3 {
		s.FieldIs = Likely // a shaft that turns with the wheels looks the same
	}
	s.ScaleIs = Guess // no reference
	s.Evidence = []Evidence{Road{r.drives, r.correlation, r.top * factor}}
	if told {
		if shown.fit == 1 {
			s.ScaleIs = Likely // a speedometer is no reference: it may show a tenth too much
		}
		s.Evidence = append(s.Evidence, DashValue{At: shown.at, Value: shown.value, Unit: shown.unit, Fit: shown.fit})
	}
	others := map[*stream]bool{}
	for _, y := range list[1:] {
		if y.score > 0.8*list[0].score && y.field.s != f.s && !others[y.field.s] {
			others[y.field.s] = true
			own := factor
			if x, ok := y.shown(b.marks); ok && x.fit > 0 {
				own = x.factor
			}
			s.Rivals = append(s.Rivals, b.rival(y.field, own, 0-y.base*own))
		}
	}
	if len(others) > 0 {
		s.Evidence = append(s.Evidence, SeveralModules{len(others)})
	}
	b.put(s, f, f.scaled(factor, offset))
}
