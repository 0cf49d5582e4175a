package draft

import (
	"cmp"
	"slices"
)

// keyLead is by how much, in s, the key may go off before the engine's speed is seen to
// fall: it turns on for a moment when fuel and spark are gone.
const keyLead = 1.2

// slowestKey is the longest period in s of frames that date the key well enough to tell it
// from what changes by chance.
const slowestKey = 1.1

// keyFirst is by how much, in s, the key is on before the engine is cranked, at least.
const keyFirst = 0.3

// ignitionBits finds the switches that are on whenever the engine is cranked and runs, also
// while the car has it stopped in between, and off before the first start and when the key
// stops it: then they go off first, and the engine after them. Where the log has no such
// stop they only come on. Their off is by how much they are on before the first crank.
func (b *bench) ignitionBits() []candidate {
	d := b.drive
	if len(d.stops) == 0 && len(d.cranks) == 0 {
		return nil
	}
	keyed := b.keyStops()
	var list []candidate
	for _, x := range b.switches() {
		if len(x.edges) > 6 || x.s.period > slowestKey || x.carried() {
			continue
		}
		for _, inverted := range []bool{false, true} {
			score, off := b.keyOf(&x, inverted, keyed)
			if score == 0 || inverted && (score < 1 || x.unavailable()) || x.two && x.lacks() {
				continue
			}
			list = append(list, candidate{aSwitch: x, inverted: inverted, score: score, off: off, company: x.company()})
		}
	}
	// The key is first: what goes with it comes on after it.
	slices.SortStableFunc(list, func(x, y candidate) int {
		return cmp.Or(cmp.Compare(y.score, x.score), compareBools(x.inverted, y.inverted), cmp.Compare(x.company, y.company), compareBools(x.s.page >= 0, y.s.page >= 0), cmp.Compare(y.off, x.off))
	})
	return list
}

// keyOf looks at a switch as if it was the ignition. The score is 1 where it goes off with a
// stop, 0.5 where it only comes on, 0 where it is none; off is by how much, in s, it is on
// before the first crank.
func (b *bench) keyOf(x *aSwitch, inverted bool, keyed []stop) (score, off float64) {
	d := b.drive
	times := x.times(inverted)
	if len(times) == 0 {
		return 0, 0
	}
	score = 0.5
	for i, o := range times {
		if o.before > -ever { // it comes on at rest, before a crank
			crank := slices.IndexFunc(d.cranks, func(c crank) bool { return c.after > o.from })
			if o.from <= x.s.t[0]+0.05 || crank < 0 || d.cranks[crank].after < o.from+keyFirst || !d.restsAt(o.from) {
				return 0, 0
			}
			if i == 0 {
				off = d.cranks[0].after - o.from
			}
		} else if i == 0 {
			off = ever
		}
		if o.to >= ever {
			continue
		}
		stopped := slices.ContainsFunc(keyed, func(s stop) bool {
			return o.to > s.falls-keyLead && o.to-x.s.period < s.falls+0.1
		})
		if !stopped && !d.restsAt(o.to-x.s.period) {
			return 0, 0
		}
		if stopped {
			score = 1
		}
	}
	if off < keyFirst || score < 1 && off == ever {
		return 0, 0
	}
	within := func(at float64) bool {
		return slices.ContainsFunc(times, func(o on) bool { return o.from <= at+x.s.period && at <= o.to })
	}
	for _, c := range d.cranks {
		if !within(c.after) {
			return 0, 0
		}
	}
	// A flag that only says that the engine runs goes off in every stop.
	survived := slices.ContainsFunc(d.stops, func(s stop) bool {
		return s.cranked > 0 && slices.ContainsFunc(times, func(o on) bool { return o.from <= s.falls && s.cranked <= o.to })
	})
	if !survived {
		return 0, 0
	}
	return score, off
}

// restsAt reports whether the engine is seen to rest at a moment.
func (d *drive) restsAt(moment float64) bool {
	return slices.ContainsFunc(d.rests, func(r rest) bool { return r.from <= moment && moment <= r.to+d.period })
}

// keyStops returns the stops that can have been the key's: all but those that the stop
// command asked for, and the first of all, as one stop alone tells no key from a flag of
// the running engine.
func (b *bench) keyStops() []stop {
	var list []stop
	commanded := func(stop) bool { return false }
	if found := b.behaving(StopCommand); b.has(StopCommand) && len(found) > 0 {
		c := &found[0]
		commanded = func(s stop) bool { return c.at((s.falls+s.rests)/2, c.inverted) }
	}
	for i, s := range b.drive.stops {
		if i > 0 && !commanded(s) {
			list = append(list, s)
		}
	}
	return list
}

// company counts the other bits of the frames that change with each edge of the switch, as
// those of a number or of a checksum do.
func (x *aSwitch) company() int {
	all := ^uint64(0)
	for _, i := range x.edges {
		all &= x.s.w[i] ^ x.s.w[i-1]
	}
	return ones(all) - 1
}

// carried reports whether the bit is the upper end of a number: with each of its edges the
// bit below, in one of the orders, changes the opposite way.
func (x *aSwitch) carried() bool {
	for _, big := range []bool{false, true} {
		p := positionOf(big, x.bit) + 1
		if p > 63 || bit(big, p) >= 8*x.s.size {
			continue
		}
		below, with := bit(big, p), 0
		for _, i := range x.edges {
			now, last := x.s.w[i], x.s.w[i-1]
			if (now^last)>>below&1 == 1 && now>>below&1 != now>>x.bit&1 {
				with++
			}
		}
		if with == len(x.edges) {
			return true
		}
	}
	return false
}

// lacks reports whether a switch of two bits is never off, but has no value: the key would
// say that it is off.
func (x *aSwitch) lacks() bool {
	off, none := 0, 0
	for _, w := range x.s.w {
		switch w >> x.bit & 3 {
		case 0:
			off++
		case 3:
			none++
		}
	}
	return none > off
}

// unavailable reports whether a bit belongs to a field that says by all ones that it has no
// value, as modules do while the key is off: the bits beside it are 1 all the time while it
// is, and one of them else is not.
func (x *aSwitch) unavailable() bool {
	always, never := ^uint64(0), ^uint64(0) // 1 in all samples in which the bit is 1; in all others
	for _, w := range x.s.w {
		if w>>x.bit&1 == 1 {
			always &= w
		} else {
			never &= w
		}
	}
	low, high := x.bit/8*8, x.bit/8*8+7
	for _, step := range []int{-1, 1} {
		for b := x.bit + step; b >= low && b <= high && always>>b&1 == 1; b += step {
			if never>>b&1 == 0 {
				return true
			}
		}
	}
	return false
}
