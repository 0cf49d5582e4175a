package draft

import (
	"cmp"
	"math"
	"slices"

	"lull/decode/marks"
)

// brakeBits finds the switches that are on before each standstill and off before the car
// moves.
func (b *bench) brakeBits() []candidate {
	speed, ok := b.found[VehicleSpeed]
	if !ok || len(speed.t) < 20 {
		return nil
	}
	base := slices.Min(speed.v)
	top := quantile(sortedCopy(speed.v), 0.995) - base
	if !(top > 0) {
		return nil
	}
	const step = 0.05
	g := grid(speed.t[0], speed.t[len(speed.t)-1], step)
	x := interpolate(g, speed.t, speed.v)
	zero := func(i int) bool { return x[i]-base <= 0.004*top }
	pull := slopes(smooth(x, 11), step)
	sorted := make([]float64, len(pull))
	for i, a := range pull {
		sorted[i] = math.Abs(a)
	}
	slices.Sort(sorted)
	if len(sorted) == 0 {
		return nil
	}
	hard := 0.3 * quantile(sorted, 0.95)
	var stands []stretch
	for _, r := range stretches(len(g), zero) {
		if g[r.last]-g[r.first] >= 2 && g[r.first] > g[0]+1 && g[r.last] < g[len(g)-1]-0.5 {
			stands = append(stands, r)
		}
	}
	if len(stands) < 2 {
		return nil
	}
	var list []candidate
	for _, w := range b.switches() {
		if len(w.edges) < len(stands) || w.inSign() {
			continue
		}
		index := make([]int, len(g))
		k := 0
		for i, at := range g {
			for k+1 < len(w.s.t) && w.s.t[k+1] <= at {
				k++
			}
			index[i] = k
		}
		for _, inverted := range []bool{false, true} {
			if c, ok := b.brakeOf(w, inverted, g, index, stands, func(i int) (still, gains, loses bool) {
				return zero(i), pull[i] > hard && !zero(i), pull[i] < -hard && !zero(i)
			}); ok {
				list = append(list, c)
			}
		}
	}
	slices.SortStableFunc(list, func(x, y candidate) int { return cmp.Compare(y.score, x.score) })
	return list
}

// brakeOf looks at a switch as if it was the brake's.
func (b *bench) brakeOf(w aSwitch, inverted bool, g []float64, index []int, stands []stretch, what func(i int) (still, gains, loses bool)) (candidate, bool) {
	var stills, stillOn, gaining, gainingOn, losing, losingOn int
	for i := range g {
		is := w.is(index[i], inverted)
		still, gains, loses := what(i)
		count := func(holds bool, all, on *int) {
			if holds {
				*all++
				if is {
					*on++
				}
			}
		}
		count(still, &stills, &stillOn)
		count(gains, &gaining, &gainingOn)
		count(loses, &losing, &losingOn)
	}
	up, down := share(gainingOn, gaining), share(losingOn, losing)
	if up >= 0.12 || down < 0.55 {
		return candidate{}, false
	}
	times := w.times(inverted)
	into, released := 0, 0
	var gaps []float64
	for _, s := range stands {
		if w.at(g[s.first]-0.1, inverted) && w.at(g[s.first]+0.3, inverted) {
			into++
		}
		if !w.at(g[s.last]+0.4, inverted) {
			released++
		}
		gap := 9.0
		for _, o := range times {
			gap = min(gap, math.Abs(g[s.first]-o.from))
		}
		gaps = append(gaps, gap)
	}
	goesInto, lets := share(into, len(stands)), share(released, len(stands))
	if goesInto < 0.8 || lets < 0.8 {
		return candidate{}, false
	}
	// A flag of standstill has its edges at zero speed; a pedal's come before.
	if median(gaps) < 0.15 {
		return candidate{}, false
	}
	// The driver lets go of the brake, and the engine is started; the accelerator comes later.
	asked := 0.5
	if b.drive != nil && len(b.drive.cranks) > 2 {
		later, hits := b.drive.cranks[1:], 0
		for _, c := range later {
			for _, o := range times {
				if o.to >= c.before-1.5 && o.to <= c.before+0.1 {
					hits++
					break
				}
			}
		}
		asked = share(hits, len(later))
	}
	score := (0.6 + 0.4*asked) * goesInto * lets * (1 - up) * down * (0.5 + 0.5*share(stillOn, stills))
	if inverted {
		score *= 0.95
	}
	if w.inNumber() {
		score *= 0.85
	}
	return candidate{aSwitch: w, inverted: inverted, score: score, hits: len(stands)}, true
}

// smooth returns the running mean over an odd number of values.
func smooth(x []float64, n int) []float64 {
	y := make([]float64, len(x))
	for i := range x {
		sum := 0.0
		for k := i - n/2; k <= i+n/2; k++ {
			if k >= 0 && k < len(x) {
				sum += x[k]
			}
		}
		y[i] = sum / float64(n)
	}
	return y
}

// slopes returns the change per second of values a step apart.
func slopes(x []float64, step float64) []float64 {
	y := make([]float64, len(x))
	for i := range x {
		a, b := max(0, i-1), min(len(x)-1, i+1)
		if b > a {
			y[i] = (x[b] - x[a]) / (float64(b-a) * step)
		}
	}
	return y
}

// marked looks for the switches that are on in the times marked by hand.
func (b *bench) marked() {
	times := map[string][]marks.Mark{}
	var names []string
	for _, m := range b.marks {
		if m.HasValue {
			continue
		}
		if times[m.Name] == nil {
			names = append(names, m.Name)
		}
		times[m.Name] = append(times[m.Name], m)
	}
	for _, name := range names {
		b.mark(name, times[name])
	}
}

// quantityOfMark is what a mark with a usual name means.
var quantityOfMark = map[string]Quantity{
	"brake": Brake, "turn": TurnLamp, "turn_lamp": TurnLamp, "left": TurnLamp, "right": TurnLamp, "turn_left": TurnLamp, "turn_right": TurnLamp,
}

func (b *bench) mark(name string, marked []marks.Mark) {
	var list []candidate
	all := b.switches()
	if isLamp(name) { // those that blink, if any, taken as on from blink to blink
		var lamps []aSwitch
		for _, c := range b.lampBits() {
			lamps = append(lamps, c.bridged(0.8))
		}
		for _, x := range lamps {
			if c := x.inMarks(false, marked); c.score > 0.75 {
				all = lamps
			}
		}
	}
	for _, x := range all {
		if len(x.edges) > 60*len(marked) {
			continue
		}
		for _, inverted := range []bool{false, true} {
			if c := x.inMarks(inverted, marked); c.score > 0.55 {
				list = append(list, c)
			}
		}
	}
	list = b.unused(list)
	slices.SortStableFunc(list, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(math.Round(100*y.score), math.Round(100*x.score)), cmp.Compare(len(x.edges), len(y.edges)))
	})
	if len(list) == 0 || list[0].score <= 0.75 {
		b.draft.Unfollowed = append(b.draft.Unfollowed, name)
		return
	}
	q, known := quantityOfMark[name]
	if !known || b.has(q) {
		q = Marked
	}
	driven := q == Brake && b.alsoDriven(&list)
	c := &list[0]
	rivals := b.alikeAmong(list, func(x *candidate) bool { return x.score >= c.score-0.02 })
	other := slices.ContainsFunc(list[1:], func(x candidate) bool { return x.score >= c.score-0.02 && !c.sameAs(&x) })
	s := b.switched(q, c)
	if q == Marked {
		s.Name = name
	}
	switch {
	case len(marked) >= 3 && c.score > 0.9 && len(rivals) == 0 && q != Brake: // a pedal has several switches
		s.FieldIs = Sure
	case len(marked) >= 2 && (len(rivals) <= 1 || driven && !other):
		s.FieldIs = Likely
	}
	s.Alike, s.Rivals = len(rivals), rivals
	s.Evidence = []Evidence{InMarks{len(marked), -c.lag}}
	b.putSwitch(s, c)
}

// alsoDriven keeps, of the switches that are on in the marks of the brake, those that also go
// with standstills and restarts as a brake does, the best first. It is false, and keeps all,
// if none does.
func (b *bench) alsoDriven(list *[]candidate) bool {
	var both []candidate
	for _, d := range b.behaving(Brake) {
		for _, c := range *list {
			if c.s == d.s && c.bit == d.bit && c.inverted == d.inverted && c.score > 0.75 && d.score > 0.4 {
				both = append(both, c)
			}
		}
	}
	if len(both) == 0 {
		return false
	}
	*list = both
	return true
}

// IsLamp reports whether a signal is a turn lamp, by what it is or by the name of its mark.
func (s *Signal) IsLamp() bool { return s.What == TurnLamp || s.What == Marked && isLamp(s.Name) }

// isLamp reports whether a mark's name is that of a turn lamp.
func isLamp(name string) bool {
	for _, word := range wordsOf(name) {
		switch word {
		case "turn", "left", "right", "indicator", "blinker", "lamp":
			return true
		}
	}
	return false
}

// bridged is the switch without the times off that are shorter than a bridge.
func (x *aSwitch) bridged(shortest float64) aSwitch {
	y := *x
	times := x.times(false)
	y.on = nil
	for _, o := range times {
		if n := len(y.on); n > 0 && o.from-y.on[n-1].to < shortest {
			y.on[n-1].to = o.to
			continue
		}
		y.on = append(y.on, o)
	}
	return y
}

// inMarks says how well a switch is on in the marked times and off around them, by the
// best lag of the hand.
func (x *aSwitch) inMarks(inverted bool, marked []marks.Mark) candidate {
	best := candidate{aSwitch: *x, inverted: inverted}
	part := func(from, to float64) (float64, bool) {
		n, hits := 0, 0
		for at := from; at < to; at += 0.05 {
			n++
			if x.at(at, inverted) {
				hits++
			}
		}
		return share(hits, n), n > 0
	}
	for tenths := -10; tenths <= 10; tenths++ {
		lag := float64(tenths) / 10
		var inside, outside []float64
		for _, m := range marked {
			w := min(0.4, (m.To-m.From)/4)
			in, _ := part(m.From+w+lag, m.To-w+lag)
			before, _ := part(m.From-1.4+lag, m.From-w+lag)
			after, _ := part(m.To+w+lag, m.To+1.4+lag)
			inside = append(inside, in)
			outside = append(outside, 1-(before+after)/2)
		}
		score := mean(inside) * mean(outside) * math.Sqrt(min(slices.Min(inside), slices.Min(outside)))
		if score > best.score {
			best.score, best.lag = score, lag
		}
	}
	best.hits = len(marked)
	return best
}

// slowestLamp and fastestLamp are the rates of turn lamps per minute, with some room for the
// frames that date them.
const (
	slowestLamp = 55
	fastestLamp = 125
)

// counts reports whether the bit belongs to a number that goes up: nearly whenever it
// changes, the bit below, in one of the orders, falls from 1 to 0.
func (x *aSwitch) counts() bool {
	for _, big := range []bool{false, true} {
		p := positionOf(big, x.bit) + 1
		if p > 63 || bit(big, p) >= 8*x.s.size {
			continue
		}
		below, falls := bit(big, p), 0
		for _, i := range x.edges {
			if x.s.w[i-1]>>below&1 == 1 && x.s.w[i]>>below&1 == 0 {
				falls++
			}
		}
		if 10*falls >= 7*len(x.edges) {
			return true
		}
	}
	return false
}

// lampBits finds the switches that blink as turn lamps do: 60 to 120 times a minute (UN
// Regulation 48, from memory). Their off is the rate per minute.
func (b *bench) lampBits() []candidate {
	var list []candidate
	for _, x := range b.switches() {
		if len(x.edges) < 6 || b.named && x.s.standardised() {
			continue
		}
		times := x.times(false)
		if len(times) < 4 {
			continue
		}
		var lit, dark, periods []float64
		burst := 0.0
		for i := 0; i+1 < len(times); i++ {
			gap := times[i+1].from - times[i].to
			if gap >= 1 {
				continue
			}
			lit, dark = append(lit, times[i].to-times[i].from), append(dark, gap)
			periods = append(periods, times[i+1].from-times[i].from)
			burst += times[i+1].from - times[i].from
		}
		if len(dark) < 3 || burst > 0.25*(x.s.t[len(x.s.t)-1]-x.s.t[0]) { // ticks most of the time: no lamp
			continue
		}
		rate := 60 / median(periods)
		if rate < slowestLamp || rate > fastestLamp || x.counts() {
			continue
		}
		if steady(lit, x.s.period) && steady(dark, x.s.period) {
			list = append(list, candidate{aSwitch: x, score: 1, hits: len(times), off: rate})
		}
	}
	slices.SortStableFunc(list, func(x, y candidate) int { return cmp.Compare(y.hits, x.hits) })
	return list
}

// steady reports whether times, known to within a slack, are those of one half of a lamp's
// blinking.
func steady(times []float64, slack float64) bool {
	m := median(times)
	if m < 0.2 || m > 0.55 {
		return false
	}
	close := 0
	for _, x := range times {
		if math.Abs(x-m) < 0.06+slack {
			close++
		}
	}
	return share(close, len(times)) > 0.8
}
