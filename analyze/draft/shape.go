package draft

import (
	"maps"
	"math"
	"slices"
)

// What an engine does, common practice, no source: it idles near 850 per minute and is
// cranked near 180; warm, it idles slower than after a start.
const (
	usualIdle  = 850
	warmIdle   = 770
	usualCrank = 180
)

// shape is what a number over time has of an engine speed. Levels are raw values.
type shape struct {
	field field
	score float64 // 0 to 1

	idle, top       float64
	crank           float64 // 0 where none was seen
	calm            float64 // below which it seldom runs: the warm engine's idle
	ups, downs      int
	rough           float64 // how much the running engine's speed shakes, of the idle speed
	fine            float64 // how finely it is told
	quick, cranking float64 // parts of the score: how fast it fires; how it is cranked
	flare           float64
	support         float64 // of the score: what the rest of the bus shows of its starts
}

// shapeOf looks at a field as if it was an engine speed.
func shapeOf(f field) shape {
	none := shape{field: f}
	x := f.values()
	t, v := x.t, x.v
	if len(v) < 50 {
		return none
	}
	sorted := sortedCopy(v)
	top := quantile(sorted, 0.995)
	if top < 20 {
		return none
	}
	live := stretches(len(v), func(i int) bool { return v[i] > 0.03*top })
	running, count := live[:0], 0
	for _, r := range live {
		count += r.last - r.first + 1
		if t[r.last]-t[r.first] > 0.8 {
			running = append(running, r)
		}
	}
	if len(running) == 0 || len(running) > 60 || share(count, len(v)) > 0.995 {
		return none
	}
	period := median(differences(t))

	// The level at which it idles: where it settles after it came up, or two thirds of
	// the first peak.
	var levels []float64
	for _, r := range running {
		if r.first > 0 {
			levels = append(levels, settled(t, v, r, period))
		} else if r.last+1 < len(v) {
			var late []float64
			for i := r.first; i <= r.last; i++ {
				if t[i] > t[r.last]-4 {
					late = append(late, v[i])
				}
			}
			levels = append(levels, quantile(sortedCopy(late), 0.75))
		}
	}
	wraps := 0
	if period <= 0.12 {
		for i := 1; i < len(v); i++ {
			if math.Abs(v[i]-v[i-1]) > 0.55*math.Ldexp(1, f.n) {
				wraps++
			}
		}
	}
	if wraps > 1 {
		return none
	}
	from, _ := slices.BinarySearch(sorted, math.Nextafter(0.15*top, math.Inf(1)))
	guesses := []float64{quantile(sorted[from:], 0.25)}
	if len(levels) > 0 {
		if level := median(levels); level > 0 && math.Abs(math.Log(guesses[0]/level)) >= 0.05 {
			guesses = append(guesses, level)
		}
	}
	best := none
	for _, idle := range guesses {
		if idle < 12 {
			continue
		}
		if s := shapeAt(f, t, v, idle, period, top); s.score > best.score {
			best = s
		}
	}
	if wraps > 0 {
		best.score *= 0.6
	}
	return best
}

// settled returns the level to which a number comes after it rose in a stretch.
func settled(t, v []float64, r stretch, period float64) float64 {
	highest := 0.0
	for i := r.first; i <= r.last && t[i] < t[r.first]+8; i++ {
		highest = max(highest, v[i])
	}
	came := r.first
	for came < r.last && v[came] < 0.6*highest {
		came++
	}
	peak, late := 0.0, []float64{}
	for i := came; i <= r.last && t[i] < t[came]+6; i++ {
		if t[i] < t[came]+2 {
			peak = max(peak, v[i])
		}
		if t[i] > t[came]+1.5 {
			late = append(late, v[i])
		}
	}
	if float64(len(late))*period > 1 {
		slices.Sort(late)
		if quantile(late, 0.1) > 0.45*peak {
			return quantile(late, 0.5)
		}
	}
	return 0.68 * peak
}

// shapeAt looks at a number as if it was an engine speed that idles at a level.
func shapeAt(f field, t, v []float64, idle, period, top float64) shape {
	s := shape{field: f, idle: idle, top: top}
	low := 0.045 * idle
	var rests []stretch
	off := 0.0
	for _, r := range stretches(len(v), func(i int) bool { return v[i] <= low }) {
		if t[r.last]-t[r.first] >= 0.15 {
			rests = append(rests, r)
			off += t[r.last] - t[r.first]
		}
	}
	span := t[len(t)-1] - t[0]
	if off < 0.3 || span-off < 1.5 || len(rests) > 60 {
		return s
	}
	jumps, lively, alive, still, on := 0, 0, 0, 0, 0
	for i := 1; i < len(v); i++ {
		step := math.Abs(v[i] - v[i-1])
		if step/idle > 0.5+25*min(t[i]-t[i-1], 0.2) {
			jumps++
		}
		if v[i] > 0.1*idle && v[i-1] > 0.1*idle {
			lively++
			if step > 0 {
				alive++
			}
		}
	}
	if lively < 10 {
		return s
	}
	reach := max(1, int(0.4/max(period, 1e-3)))
	var roughness, bends float64
	before, before2 := math.NaN(), math.NaN()
	for i := range v {
		if v[i] <= 0.1*idle {
			continue
		}
		on++
		if bend := v[i] - 2*before + before2; bend == bend {
			roughness += math.Abs(bend)
			bends++
		}
		before2, before = before, v[i]
		if i >= reach && math.Abs(v[i]-v[i-reach]) < 0.04*idle && v[i] > 0.6*idle && v[i] < 1.5*idle {
			still++
		}
	}
	s.rough = 1
	if bends > 1 {
		s.rough = roughness / bends / idle
	}

	hole := func(a, b int) bool { // a gap of the log in which anything may have happened
		for i := a + 1; i <= b; i++ {
			if t[i]-t[i-1] > max(0.3, 6*period) {
				return true
			}
		}
		return false
	}
	at := max(period, 0.005)
	var ups, quicks, cranks, flares, downs, crankLevels []float64
	for _, r := range rests {
		if r.last+1 < len(v) {
			if up, ok := rise(t, v, r.last, idle, low); ok && !hole(r.last, up.reached) {
				ups = append(ups, near(max(up.took, at), 0.1, 4, 0.5))
				quicks = append(quicks, near(max(up.fired, at), at, max(0.45, 2.5*at), 0.35))
				duration := float64(up.cranked) * period
				c := near(duration, 0.08, 6, 0.6) * near(up.level/idle, 0.075, 0.42, 0.15)
				if period > 0.15 {
					c = max(c, 0.25) // too slow to show the crank
				}
				cranks = append(cranks, c)
				if up.level/idle > 0.1 {
					crankLevels = append(crankLevels, up.level)
				}
				flares = append(flares, near(up.flare/idle, 1.02, 3, 0.06))
			}
		}
		if r.first > 0 {
			k := r.first - 1
			for k >= 0 && v[k] < 0.7*idle {
				k--
			}
			if k >= 0 && !hole(k, r.first) {
				fit := near(max(t[r.first]-t[k], at), 0.15, max(1.7, 3*at), 0.35)
				if float64(r.first-k) < min(5, 0.1/at) {
					fit *= 0.3 // at once, as a number that is switched off
				}
				downs = append(downs, fit)
			}
		}
	}
	s.ups, s.downs = len(ups), len(downs)
	if s.ups == 0 && s.downs == 0 {
		return s
	}
	s.fine = square(min(1, math.Log2(idle)/8.6)) * min(1, math.Log2(float64(distinct(v)))/6)
	total, weights := 0.0, 0.0
	count := func(part, weight float64) float64 {
		total += weight * math.Log(max(part, 1e-9))
		weights += weight
		return part
	}
	count(max(0.35, min(1, share(still, on)/0.12)), 1)
	count(min(1, restsExactly(v, rests)/0.8), 2)
	if top < 9*idle {
		count(1, 1)
	} else {
		count(0.3, 1)
	}
	count(bell(share(jumps, len(v)-1)/0.004), 1)
	count(min(1, share(alive, lively)/0.05), 1)
	count(s.fine, 2)
	count(near(s.rough, 1e-6, 0.02+0.5*max(0, period-0.02), 0.8), 1)
	s.quick, s.cranking, s.flare = 1, 1, 1
	if s.ups > 0 {
		count(mean(ups), 1)
		s.quick = count(mean(quicks), 2)
		s.cranking = count(mean(cranks), 2)
		s.flare = count(mean(flares), 1)
	}
	if s.downs > 0 {
		count(mean(downs), 1)
	}
	s.score = math.Exp(total/weights) * (0.8 + 0.2*min(1, float64(s.ups+s.downs)/3))
	if s.ups == 0 {
		s.score *= 0.6
	}
	s.crank = median(crankLevels)
	var turning []float64
	for _, x := range v {
		if x > 0.5*idle {
			turning = append(turning, x)
		}
	}
	s.calm = quantile(sortedCopy(turning), 0.1)
	return s
}

// restsExactly is the share of the samples at rest that have the value which most have.
func restsExactly(v []float64, rests []stretch) float64 {
	count, all := map[float64]int{}, 0
	for _, r := range rests {
		for i := r.first; i <= r.last; i++ {
			count[v[i]]++
			all++
		}
	}
	most := 0
	for _, n := range count {
		most = max(most, n)
	}
	return share(most, all)
}

func square(x float64) float64 { return x * x }

// risen is how a number came up from rest.
type risen struct {
	reached int     // sample at which it had 70 % of the idle speed
	took    float64 // s from rest to there
	fired   float64 // s from 40 % to there
	cranked int     // samples between 8 and 50 % of the idle speed
	level   float64 // their median, or 0
	flare   float64 // highest value of the next 2.5 s
}

// rise looks how a number comes up after the sample last, where it rested. It is false if
// it does not, or comes to rest again before.
func rise(t, v []float64, last int, idle, low float64) (risen, bool) {
	up := risen{reached: last}
	for up.reached < len(v) && v[up.reached] < 0.7*idle {
		if up.reached > last && v[up.reached] <= low {
			return up, false
		}
		up.reached++
	}
	if up.reached == len(v) {
		return up, false
	}
	slow := last
	var levels []float64
	for i := last; i < up.reached; i++ {
		if v[i] <= 0.4*idle {
			slow = i
		}
		if i > last && v[i] > 0.08*idle && v[i] < 0.5*idle {
			levels = append(levels, v[i])
		}
	}
	up.took, up.fired = t[up.reached]-t[last], t[up.reached]-t[slow]
	up.cranked, up.level = len(levels), median(levels)
	for i := up.reached; i < len(v) && t[i] < t[up.reached]+2.5; i++ {
		up.flare = max(up.flare, v[i])
	}
	return up, true
}

// engineFactors are the factors that engine speeds have, and how unusual each is. Powers of
// two are what most have.
var engineFactors = func() map[float64]float64 {
	list := map[float64]float64{0.1: 1.2, 0.2: 1.2, 0.3: 2, 3: 1.2, 10: 1.2}
	for k := -5; k <= 6; k++ {
		list[math.Ldexp(1, k)] = 0
	}
	return list
}()

// costOf says how far idle, crank and top are, by a factor, from where engines have them.
func (s *shape) costOf(factor float64) float64 {
	level, most := s.idle, float64(usualIdle)
	if s.calm > 0 {
		level, most = s.calm, warmIdle // a cold engine idles faster
	}
	c := math.Log(level*factor) - math.Log(most)
	if c > 0 {
		c = square(c / 0.35)
	} else {
		c = square(c / 0.2)
	}
	if s.crank > 0 {
		c += square((math.Log(s.crank*factor) - math.Log(usualCrank)) / 0.45)
	}
	if s.top*factor > 9000 {
		c += 9
	}
	return c
}

// scaling is a factor without reference: the one that puts idle and crank where engines
// have them. Cost says how far off they are still, gap how much worse the next factor is.
func (s *shape) scaling() (factor, cost, gap float64) {
	cost, next := math.Inf(1), math.Inf(1)
	for _, x := range slices.Sorted(maps.Keys(engineFactors)) {
		c := s.costOf(x) + engineFactors[x]
		if c < cost {
			factor, cost, next = x, c, cost
		} else if c < next {
			next = c
		}
	}
	return factor, cost, next - cost
}

// runsBeside is a lively field that never rests, holds a level while another is at zero and
// rises when that moves: then the other is no engine speed.
type runsBeside struct {
	field       field
	level, top  float64
	correlation float64 // with the other while that moves
}

// lively returns the fields that might be the speed of an engine that never rests, with
// their values.
func (b *bench) lively() []levelled {
	if b.livelyFields == nil {
		b.livelyFields = []levelled{}
		for _, s := range b.plain {
			if len(s.t) <= 100 || s.period > 0.11 {
				continue
			}
			for _, f := range s.fields(0.45) {
				if f.n < 8 {
					continue
				}
				list := f.taller()
				v := list[len(list)-1].all()
				if slices.Min(v) > 0 {
					b.livelyFields = append(b.livelyFields, levelled{f, v})
				}
			}
		}
	}
	return b.livelyFields
}

// levelled is a field with its values in every frame.
type levelled struct {
	field field
	v     []float64
}

// beside looks for a field that runs while the candidate rests.
func (b *bench) beside(s *shape) (runsBeside, bool) {
	x := s.field.values()
	g := grid(x.t[0]+0.02, x.t[len(x.t)-1], 0.05)
	v := interpolate(g, x.t, x.v)
	zero, moves, zeros, moving := make([]bool, len(g)), make([]bool, len(g)), 0, 0
	for _, r := range stretches(len(g), func(i int) bool { return v[i] <= 0.03*s.idle }) {
		if g[r.last]-g[r.first] < 1 {
			continue
		}
		for i := r.first + 4; i <= r.last-3; i++ {
			zero[i] = true
			zeros++
		}
	}
	for i := range v {
		if v[i] > 0.3*s.idle {
			moves[i] = true
			moving++
		}
	}
	if zeros < 20 || moving < 20 {
		return runsBeside{}, false
	}
	best := runsBeside{correlation: 0.3}
	found := false
	for _, other := range b.lively() {
		if other.field.s == s.field.s {
			continue
		}
		if level, top, ok := runs(other, g, zero, moves); ok {
			var x, y []float64
			for i, w := range interpolate(g, other.field.s.t, other.v) {
				if moves[i] {
					x, y = append(x, w), append(y, v[i])
				}
			}
			if c := correlation(x, y); c > best.correlation {
				best, found = runsBeside{other.field, level, top, c}, true
			}
		}
	}
	return best, found
}

// runs reports whether the other field holds a level in zero and rises in moves.
func runs(other levelled, g []float64, zero, moves []bool) (level, top float64, ok bool) {
	t, w := other.field.s.t, other.v
	var resting []float64
	steps, stepped := 0, 0
	for i := range t {
		k := int((t[i] - g[0]) / 0.05)
		if k < 0 || k >= len(zero) || !zero[k] {
			continue
		}
		resting = append(resting, w[i])
		if i > 0 {
			steps++
			if w[i] != w[i-1] {
				stepped++
			}
		}
	}
	if len(resting) < 15 {
		return 0, 0, false
	}
	level = median(resting)
	if level < 40 || slices.Min(w) < 0.4*level || spread(resting) > 0.12*level || share(stepped, steps) < 0.12 {
		return 0, 0, false
	}
	var moved []float64
	for i, y := range interpolate(g, t, w) {
		if moves[i] {
			moved = append(moved, y)
		}
	}
	slices.Sort(moved)
	top = quantile(moved, 0.9)
	if top <= 1.25*level || top >= 9*level || quantile(moved, 0.5) < level {
		return 0, 0, false
	}
	jumps, bend := 0, 0.0
	for i := 1; i < len(w); i++ {
		if math.Abs(w[i]-w[i-1]) > 0.25*level {
			jumps++
		}
		if i > 1 {
			bend += math.Abs(w[i] - 2*w[i-1] + w[i-2])
		}
	}
	if share(jumps, len(w)-1) > 0.004 || bend/float64(max(1, len(w)-2)) > 0.04*level {
		return 0, 0, false
	}
	return level, top, true
}
