package draft

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// aSwitch is a bit that changes seldom enough to be a switch.
type aSwitch struct {
	s     *stream
	bit   int
	two   bool  // the bit above belongs to it: with both set there is no value
	edges []int // samples that differ from the one before
	on    []on  // where it is bridged: when it is on
}

// on is a time in which a switch is on: the last sample before it, the first and the
// first after it.
type on struct{ before, from, to float64 }

// ever stands for what lies before and after the log.
const ever = 1e9

// switches returns the bits that change seldom.
func (b *bench) switches() []aSwitch {
	if b.switchList != nil {
		return b.switchList
	}
	b.switchList = []aSwitch{}
	for _, s := range b.plain {
		for bit := range 8 * s.size {
			flips := int(math.Round(s.flip[bit] * float64(len(s.w)-1)))
			if flips == 0 || flips > 400 || float64(flips) >= 0.3*float64(len(s.w)) {
				continue
			}
			x := aSwitch{s: s, bit: bit}
			x.two = s.twoBits(bit)
			for i := 1; i < len(s.w); i++ {
				if x.is(i, false) != x.is(i-1, false) {
					x.edges = append(x.edges, i)
				}
			}
			if len(x.edges) > 0 {
				b.switchList = append(b.switchList, x)
			}
		}
	}
	return b.switchList
}

// twoBits reports whether a bit and the one above are a switch of two bits, of which both
// set mean that there is no value: the upper one is never set alone, and seldom.
func (s *stream) twoBits(bit int) bool {
	if bit%8 == 7 || s.flip[bit+1] == 0 {
		return false
	}
	both := 0
	for _, w := range s.w {
		switch w >> bit & 3 {
		case 2:
			return false
		case 3:
			both++
		}
	}
	return share(both, len(s.w)) < 0.3
}

// is reports whether the switch is on in a sample; inverted ones are on at 0.
func (x *aSwitch) is(i int, inverted bool) bool {
	if x.two {
		if w := x.s.w[i] >> x.bit & 3; w == 3 {
			return false
		}
	}
	return (x.s.w[i]>>x.bit&1 == 1) != inverted
}

// at reports whether the switch is on at a moment.
func (x *aSwitch) at(moment float64, inverted bool) bool {
	if x.on != nil {
		i := sort.Search(len(x.on), func(i int) bool { return x.on[i].to > moment })
		return (i < len(x.on) && x.on[i].from <= moment) != inverted
	}
	return x.is(x.s.at(moment), inverted)
}

// times returns when the switch is on.
func (x *aSwitch) times(inverted bool) []on {
	var list []on
	now := on{before: -ever, from: x.s.t[0]}
	is := x.is(0, inverted)
	for _, i := range x.edges {
		if is {
			now.to = x.s.t[i]
			list = append(list, now)
		} else {
			now = on{before: x.s.t[i-1], from: x.s.t[i]}
		}
		is = !is
	}
	if is {
		now.to = ever
		list = append(list, now)
	}
	return list
}

// inNumber reports whether the bit is the upper end of a number: the bits below it change
// far more often.
func (x *aSwitch) inNumber() bool {
	flip := x.s.flip[x.bit]
	for _, big := range []bool{false, true} {
		p := positionOf(big, x.bit)
		var below []float64
		for k := p + 1; k < min(p+4, 64); k++ {
			if b := bit(big, k); b < 8*x.s.size {
				below = append(below, x.s.flip[b])
			}
		}
		if len(below) > 0 && flip <= below[0] && slices.Max(below) > 2*flip && slices.Min(below) > 0 {
			return true
		}
	}
	return false
}

// inSign reports whether the bit changes with its neighbour: then both are the upper end
// of a signed number.
func (x *aSwitch) inSign() bool {
	for _, b := range []int{x.bit - 1, x.bit + 1} {
		if b < 0 || b >= 8*x.s.size || b/8 != x.bit/8 || x.s.flip[b] == 0 {
			continue
		}
		both := 0
		for _, i := range x.edges {
			if (x.s.w[i]^x.s.w[i-1])>>b&1 == 1 {
				both++
			}
		}
		other := x.s.flip[b] * float64(len(x.s.w)-1)
		if float64(both) > 0.7*max(float64(len(x.edges)), other) {
			return true
		}
	}
	return false
}

// candidate is a switch that may be meant. Higher scores and then lower errors are better.
type candidate struct {
	aSwitch
	inverted bool
	score    float64
	off      float64 // s by which it misses what it should tell
	release  float64 // s by which it goes off late
	lag      float64
	hits     int
	company  int // other bits of its frames that change whenever it does
}

// rank puts the best first: by score, then those that are not part of a number, then by
// how close they are.
func rank(list []candidate) {
	slices.SortStableFunc(list, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(math.Round(10*y.score), math.Round(10*x.score)), compareBools(x.inNumber(), y.inNumber()), cmp.Compare(x.off, y.off))
	})
}

// switched proposes a switch.
func (b *bench) switched(q Quantity, c *candidate) Signal {
	f := c.field()
	s := b.proposal(q, f, 1, 0)
	if c.two {
		s.Field.Invalid = []int64{2, 3}
	}
	if c.inverted {
		s.Field.HasActive, s.Field.Active = true, []int64{0}
	}
	return s
}

// sameAs reports whether two switches tell the same, one perhaps the opposite way or a
// little later.
func (c *candidate) sameAs(o *candidate) bool {
	return c.follows(o) && o.follows(c)
}

// follows reports whether nearly each change of a switch has one of another near it.
func (c *candidate) follows(o *candidate) bool {
	near, k := 0, 0
	slack := 0.1 + c.s.late + o.s.late
	for _, i := range c.edges {
		t := c.s.t[i]
		for k < len(o.edges) && o.s.t[o.edges[k]] < t-slack {
			k++
		}
		if k < len(o.edges) && o.s.t[o.edges[k]] <= t+slack {
			near++
		}
	}
	return float64(near) >= 0.9*float64(len(c.edges))
}

// field is the switch's bit, or both.
func (x *aSwitch) field() field {
	if x.two {
		return field{s: x.s, hi: positionOf(false, x.bit+1), n: 2}
	}
	return field{s: x.s, hi: positionOf(false, x.bit), n: 1}
}

// putSwitch proposes a switch unless its bit is used.
func (b *bench) putSwitch(s Signal, c *candidate) bool {
	return b.put(s, c.field(), series{})
}

// unused drops the candidates whose bits are used.
func (b *bench) unused(list []candidate) []candidate {
	return slices.DeleteFunc(list, func(c candidate) bool { return !b.free(c.s, c.bit) })
}

// alikeAmong counts, after the first, the candidates that do the same, and returns them as rivals.
func (b *bench) alikeAmong(list []candidate, same func(x *candidate) bool) []Rival {
	var rivals []Rival
	for i := range list[1:] {
		c := &list[i+1]
		if !same(c) {
			continue
		}
		r := b.rival(c.field(), 1, 0)
		if c.inverted {
			r.Field.HasActive, r.Field.Active = true, []int64{0}
		}
		rivals = append(rivals, r)
	}
	return rivals
}

// behaving returns the switches that behave as a quantity, the best first, worked out once.
func (b *bench) behaving(q Quantity) []candidate {
	list, ok := b.behaved[q]
	if ok {
		return list
	}
	switch q {
	case StarterCommand:
		list = b.starterBits()
	case StopCommand:
		list = b.stopBits()
	case Ignition:
		list = b.ignitionBits()
	case Brake:
		if !b.has(VehicleSpeed) {
			return nil // it may be found yet
		}
		list = b.brakeBits()
	case TurnLamp:
		list = b.lampBits()
	}
	if b.behaved == nil {
		b.behaved = map[Quantity][]candidate{}
	}
	b.behaved[q] = list
	return list
}

// propose proposes the switch that behaves best as a quantity, with those that do the same.
func (b *bench) propose(q Quantity) {
	if b.has(q) {
		return
	}
	list := b.unused(slices.Clone(b.behaving(q)))
	if len(list) == 0 {
		return
	}
	c := &list[0]
	s := b.switched(q, c)
	number := c.inNumber()
	switch q {
	case StarterCommand:
		if c.hits < 2 {
			return
		}
		s.Rivals = b.alikeAmong(list, func(x *candidate) bool {
			return x.score >= c.score-0.01 && x.release < c.release+0.3 && x.inNumber() == number
		})
		if c.release-c.s.late/2 < 0.04 { // a relay's answer, and a flag of the whole start, go off later
			s.FieldIs = Likely
		}
		s.Evidence = []Evidence{OnInCranks{c.hits, len(b.drive.cranks)}}
	case StopCommand:
		if c.hits < 2 {
			return
		}
		s.Rivals = b.alikeAmong(list, func(x *candidate) bool {
			return x.score >= c.score-0.01 && math.Abs(x.off-c.off) < 0.03 && x.inNumber() == number
		})
		s.FieldIs = Likely // so does a lamp in the dashboard
		s.Evidence = []Evidence{OnInStops{c.hits, len(b.drive.stops), -c.off, c.lag}}
	case Ignition:
		s.Rivals = b.alikeAmong(list, func(x *candidate) bool { return x.score == c.score && x.inverted == c.inverted })
		if c.score == 1 {
			s.FieldIs = Likely
		}
		s.Evidence = []Evidence{KeyOn{Before: max(0, c.off), Ends: c.score == 1}}
		if c.off > ever/2 {
			s.Evidence = []Evidence{KeyOn{Ends: true}}
		}
	case Brake:
		if c.score <= 0.5 {
			return
		}
		s.Rivals = b.alikeAmong(list, func(x *candidate) bool { return x.score > c.score-0.05 })
		other := slices.ContainsFunc(list[1:], func(x candidate) bool { return x.score > c.score-0.05 && !c.sameAs(&x) })
		if !other && c.hits >= 3 {
			s.FieldIs = Likely
		}
		s.Evidence = []Evidence{IntoStandstills{c.hits}}
	case TurnLamp:
		s.Rivals = b.alikeAmong(list, func(*candidate) bool { return true })
		if len(list) <= 2 {
			s.FieldIs = Likely
		}
		s.Evidence = []Evidence{Blinks{c.hits, c.off}}
	}
	s.Alike = len(s.Rivals)
	b.putSwitch(s, c)
}

// starterBits finds the switches that are on while the engine is cranked and at no other time.
func (b *bench) starterBits() []candidate {
	cranks := b.drive.cranks
	if len(cranks) == 0 || b.drive.period > 0.11 && len(cranks) < 2 {
		return nil
	}
	maybe := b.drive.caught
	var list []candidate
	for _, x := range b.switches() {
		if len(x.edges) > 4*(len(cranks)+len(maybe))+4 || x.s.late > 0.11 {
			continue
		}
		for _, inverted := range []bool{false, true} {
			times := x.times(inverted)
			if len(times) == 0 || len(times) > len(cranks)+len(maybe)+3 {
				continue
			}
			var off, late []float64
			taken := map[int]bool{}
			for _, o := range times {
				for k, c := range cranks {
					latest := c.after + 5
					if c.runs > 0 {
						latest = c.runs + 0.6 + x.s.late
					}
					if taken[k] || o.before-0.12 > c.after || o.from-0.45-x.s.late > c.after || c.before-0.15 > o.from+0.3 || o.to > latest {
						continue
					}
					taken[k] = true
					off = append(off, math.Abs(o.from-c.after))
					if c.runs > 0 {
						late = append(late, o.to-c.runs)
					}
					break
				}
			}
			extra := 0
			for _, o := range times {
				for _, c := range maybe {
					if o.before-0.5 <= c.lowest && c.lowest <= o.to+0.5 {
						extra++
						break
					}
				}
			}
			hits := len(off)
			if hits+min(extra, len(maybe), len(times)-hits) == len(times) && float64(hits) >= 0.7*float64(len(cranks)) {
				list = append(list, candidate{aSwitch: x, inverted: inverted, score: share(hits, len(cranks)), off: median(off), release: median(late), hits: hits})
			}
		}
	}
	// What the starter is told ends first: its relay's answer comes later, and a flag of the
	// whole start ends when the engine runs.
	slices.SortStableFunc(list, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(math.Round(10*y.score), math.Round(10*x.score)), compareBools(x.inNumber(), y.inNumber()), cmp.Compare(x.release, y.release), cmp.Compare(x.off, y.off))
	})
	return list
}

// firstStart is when the engine is first cranked, if the log begins with it at rest; else 0.
func (b *bench) firstStart() float64 {
	d := b.drive
	if len(d.cranks) > 0 && len(d.rests) > 0 && d.rests[0].from <= d.t[0]+0.3 {
		return d.cranks[0].after
	}
	return 0
}

// stopBits finds the switches that are on from the moment at which the engine is told to
// stop until the restart is decided.
func (b *bench) stopBits() []candidate {
	stops := b.drive.stops
	if len(stops) < 2 {
		return nil
	}
	first, usual := b.firstStart(), b.drive.usual()
	var list []candidate
	for _, x := range b.switches() {
		for _, inverted := range []bool{false, true} {
			times := x.times(inverted)
			if len(times) == 0 || len(times) > 2*len(stops)+8 || x.is(0, inverted) {
				continue
			}
			if c, ok := b.stopOf(x, inverted, times, first, usual); ok {
				list = append(list, c)
			}
		}
	}
	rank(list)
	return list
}

// stopOf looks at a switch as if it was the stop command. Its off is minus the lead before
// the engine rests, so that the earliest ranks first.
func (b *bench) stopOf(x aSwitch, inverted bool, times []on, first, usual float64) (candidate, bool) {
	stops := b.drive.stops
	none := candidate{}
	taken := map[int]bool{}
	var leads, lags []float64
	for _, o := range times {
		at := -1
		for k, s := range stops {
			if lead := s.rests - o.from; lead >= 0.05 && lead <= 2 {
				at = k
				break
			}
		}
		if at < 0 {
			if !b.changedMind(o) && o.to-o.from >= 0.6 { // else a stop that was cancelled
				return none, false
			}
			continue
		}
		s := stops[at]
		if taken[at] || o.to < ever && s.cranked > 0 && (o.to < s.cranked-1.6-x.s.late || o.to > s.cranked+0.15+x.s.late) {
			return none, false
		}
		taken[at] = true
		leads = append(leads, s.rests-o.from)
		if s.cranked > 0 {
			lags = append(lags, s.cranked-o.to)
		} else {
			lags = append(lags, 0)
		}
	}
	hits := len(leads)
	if float64(hits) < max(1, 0.6*float64(len(stops))) {
		return none, false
	}
	fast, fastOn := 0, 0
	for i, v := range b.drive.speeds(x.s.t) {
		is := x.is(i, inverted)
		if is && first > 0 && x.s.t[i] < first-0.05 {
			return none, false // on before the first start: it says that the engine is off
		}
		if v > 0.97*usual {
			fast++
			if is {
				fastOn++
			}
		}
	}
	if share(fastOn, fast) > 0.03 {
		return none, false
	}
	return candidate{aSwitch: x, inverted: inverted, score: share(hits, len(stops)), off: -median(leads), lag: median(lags), hits: hits}, true
}

// changedMind reports whether a time is that of a stop that did not come to rest, as the
// engine was started again before.
func (b *bench) changedMind(o on) bool {
	for _, c := range b.drive.caught {
		if lead := c.lowest - o.from; lead >= 0.05 && lead <= 2 && o.to <= c.runs+0.6 {
			return true
		}
	}
	return false
}

// starterCount looks for the number that goes up by one with each start, and at no other time.
func (b *bench) starterCount() {
	d := b.drive
	if b.has(StarterCount) || len(d.cranks) < 2 {
		return
	}
	var all []float64
	for _, c := range d.cranks {
		all = append(all, c.before)
	}
	for _, c := range d.caught {
		all = append(all, c.lowest)
	}
	best, steps := field{}, 0
	for _, s := range b.plain {
		for _, big := range []bool{false, true} {
			for low := 63; low > 3; low-- {
				at := bit(big, low)
				if at >= 8*s.size || s.flip[at] == 0 || s.flip[at] > 0.3 {
					continue
				}
				f, n, ok := s.counter(big, low, all, len(d.cranks))
				if ok && f.n > best.n && b.free(s, at) {
					best, steps = f, n
				}
			}
		}
	}
	if steps < 3 {
		return
	}
	s := b.proposal(StarterCount, best, 1, 0)
	s.FieldIs = Likely
	s.Evidence = []Evidence{StepsAtCranks{steps}}
	b.put(s, best, series{})
}

// counter looks for a counter with its lowest bit at a position that steps at some moments.
func (s *stream) counter(big bool, low int, moments []float64, least int) (field, int, bool) {
	steps := 0
	for i := 1; i < len(s.w); i++ {
		if (s.w[i]^s.w[i-1])>>bit(big, low)&1 == 0 {
			continue
		}
		if steps++; steps > len(moments) {
			return field{}, 0, false
		}
		close := false
		for _, m := range moments {
			close = close || math.Abs(s.t[i]-m) < 0.6+2*s.period
		}
		if !close {
			return field{}, 0, false
		}
	}
	if steps < least {
		return field{}, 0, false
	}
	best := field{}
	for n := 2; n <= 24 && low-n+1 >= 0; n++ {
		top := bit(big, low-n+1)
		if top >= 8*s.size || s.flip[top] > 0.2 || s.selects(top) {
			break
		}
		f := field{s: s, big: big, hi: low - n + 1, n: n}
		if !f.stepsByOne() {
			break
		}
		best = f
	}
	return best, steps, best.n >= 3
}

// stepsByOne reports whether the field only ever goes up, and by one.
func (f *field) stepsByOne() bool {
	for i := 1; i < len(f.s.w); i++ {
		if step := f.raw(i) - f.raw(i-1); step != 0 && step != 1 {
			return false
		}
	}
	return true
}
