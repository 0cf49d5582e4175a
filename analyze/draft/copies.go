package draft

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// told is one field of several that tell the engine's speed.
type told struct {
	shape
	ratio float64 // its raw value to that of the first
}

// copies are fields that tell one speed, each by a factor of its own.
type copies []told

// sameSpeed returns the shapes as copies of the first one, by the middle of their ratios
// while the engine runs.
func sameSpeed(shapes []shape, curve func(field) []float64) copies {
	first := curve(shapes[0].field)
	list := copies{{shapes[0], 1}}
	for _, x := range shapes[1:] {
		var ratios []float64
		for i, y := range curve(x.field) {
			if first[i] > 0.6*shapes[0].idle && y > 0 {
				ratios = append(ratios, y/first[i])
			}
		}
		if len(ratios) > 0 {
			list = append(list, told{x, median(ratios)})
		}
	}
	return list
}

// oncePerPlace keeps one of the shapes that overlap: the best, the longest of those that
// are as good, but the smoother one of two orders of bytes. The wrong one has the right
// upper byte and a wrong lower one, so that it shakes more.
func oncePerPlace(shapes []shape) []shape {
	shapes = slices.Clone(shapes)
	slices.SortStableFunc(shapes, func(x, y shape) int {
		return cmp.Or(cmp.Compare(math.Round(100*y.score), math.Round(100*x.score)), cmp.Compare(y.field.n, x.field.n))
	})
	var kept []shape
	for _, x := range shapes {
		i := slices.IndexFunc(kept, func(y shape) bool { return y.field.s == x.field.s && y.field.overlaps(&x.field) })
		switch {
		case i < 0:
			kept = append(kept, x)
		case kept[i].field.big != x.field.big && x.rough < 0.7*kept[i].rough:
			kept[i] = x
		}
	}
	return kept
}

// mostCut is how many of its lowest bits, where all is noise, a field may have been denied.
const mostCut = 5

// mostUnusual is how unusual a factor is that makers do not use.
const mostUnusual = 5

// unusual is how unusual a factor of an engine speed is, and by how many bits its field is
// too short if a usual one is to stand behind it.
func unusual(factor float64) (penalty float64, cut int) {
	penalty = mostUnusual
	for _, u := range slices.Sorted(maps.Keys(engineFactors)) {
		for j := range mostCut + 1 {
			if math.Abs(math.Log(factor/math.Ldexp(u, j))) > 0.006 {
				continue
			}
			p := engineFactors[u]
			if j > 0 {
				p += 1.5 + 0.2*float64(j)
			}
			if p < penalty {
				penalty, cut = p, j
			}
		}
	}
	return penalty, cut
}

// scaling is the factor of the first copy by which the engine idles and is cranked as
// engines do, and all copies have factors that makers use: what one alone leaves open,
// 0.25 or 0.2, two settle. Cost says how far off idle and crank are, gap how much worse the
// next factor is.
func (list copies) scaling() (factor, cost, gap float64) {
	first := &list[0]
	var tried []float64
	for _, x := range list {
		for u := range engineFactors {
			for j := range mostCut + 1 {
				tried = append(tried, math.Ldexp(u, j)*x.ratio)
			}
		}
	}
	slices.Sort(tried)
	best, next, cost := math.Inf(1), math.Inf(1), 0.0
	for _, k := range tried {
		if factor > 0 && k < 1.01*factor && k > 0.99*factor {
			continue
		}
		own := first.costOf(k)
		sum := own
		for _, x := range list {
			p, _ := unusual(k / x.ratio)
			sum += p
		}
		switch {
		case sum < best:
			if k > 1.01*factor {
				next = best
			}
			factor, best, cost = k, sum, own
		case sum < next:
			next = sum
		}
	}
	return factor, cost, next - best
}

// delays says of each copy by how many s it tells later than the first that the engine
// has come to run.
func (list copies) delays(factor float64, d *drive) []float64 {
	late := make([][]float64, len(list))
	crossed := make([]float64, len(list))
	series := make([]series, len(list))
	for i, x := range list {
		series[i] = x.field.scaled(factor/x.ratio, 0)
	}
	for _, c := range d.cranks {
		for i := range list {
			crossed[i] = series[i].rises(c.before, runningSpeed)
		}
		for i := range list {
			if crossed[i] > 0 && crossed[0] > 0 {
				late[i] = append(late[i], crossed[i]-crossed[0])
			}
		}
	}
	out := make([]float64, len(list))
	for i := range out {
		out[i] = median(late[i])
	}
	return out
}

// rises returns when the values first pass a level after a moment, by a straight line
// between two samples, or 0.
func (x *series) rises(after, level float64) float64 {
	for i := indexAt(x.t, after) + 1; i < len(x.t) && x.t[i] < after+6; i++ {
		if x.v[i] >= level && x.v[i-1] < level {
			return x.t[i-1] + (x.t[i]-x.t[i-1])*(level-x.v[i-1])/(x.v[i]-x.v[i-1])
		}
	}
	return 0
}

// quickest puts first the copy that dates a start best: a module that passes the speed on,
// or filters it, tells it later, and what comes seldom or coarsely blurs the moment.
func (list copies) quickest(factor float64, d *drive) {
	delays := list.delays(factor, d)
	age := map[field]float64{}
	for i, x := range list {
		// An engine that fires gains some 4000 per minute in a second, common practice.
		age[x.field] = delays[i] + x.field.s.period/2 + factor/x.ratio/4000*10
	}
	slices.SortStableFunc(list, func(x, y told) int {
		return cmp.Or(cmp.Compare(math.Round(age[x.field]/0.004), math.Round(age[y.field]/0.004)), cmp.Compare(y.field.n, x.field.n))
	})
}

// lengthened is the field with lower bits that it was denied, as far as it has them.
func (f field) lengthened(by int) field {
	for range by {
		b := bit(f.big, min(f.hi+f.n, 63))
		if f.hi+f.n > 63 || b >= 8*f.s.size || f.s.flip[b] == 0 || f.s.selects(b) {
			break
		}
		f.n++
	}
	return f
}

// usualEngineFactor is the usual factor that another one stands for, that of a field too
// short among them, or that one.
func usualEngineFactor(x float64) float64 {
	for j := range mostCut + 1 {
		for _, u := range slices.Sorted(maps.Keys(engineFactors)) {
			if u = math.Ldexp(u, j); math.Abs(math.Log(x/u)) < 0.006 {
				return u
			}
		}
	}
	return digits(x, 3)
}
