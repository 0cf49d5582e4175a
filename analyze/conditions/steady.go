package conditions

import (
	"math"
	"slices"

	"lull/analyze/series"
	"lull/decode"
)

// Most samples change nothing: those of a signal that stays where it is may be taken
// together, with Hold, after Steady and by Ends.

// Steady reports whether samples of the signal that lie where its newest one lies, near
// each other, change nothing.
func (c *Set) Steady(signal int) bool {
	i := c.index[signal]
	if i < 0 {
		return true
	}
	sig := &c.signals[i]
	unsure := func(l int) bool { return c.leaves[l].unsure || c.leaves[l].sureAt != 0 }
	return sig.seen && !slices.ContainsFunc(sig.leaves, unsure)
}

// Due is the moment, in ns, after which something may change by itself, or what is held back
// may be let out.
func (c *Set) Due() int64 { return c.due }

// End says on which side of one end of a comparison a value of its signal surely lies: -1
// below, 1 above, 0 if that is left open.
type End func(value float64) int8

// Ends returns the ends of all comparisons of the signal. exact says that one of them asks
// for the very value. They hold until the next Rebase or Unbase, which Bases counts.
func (c *Set) Ends(signal int) (ends []End, exact bool) {
	i := c.index[signal]
	if i < 0 {
		return nil, false
	}
	for _, n := range c.signals[i].leaves {
		l := &c.leaves[n]
		if l.style == bySwitch {
			return nil, true
		}
		if l.expr.Op == decode.OpMoves && l.ref != refSet {
			continue
		}
		for _, end := range []float64{l.lo, l.hi} {
			if !math.IsInf(end, 0) {
				half := l.half
				ends = append(ends, func(v float64) int8 { return sideOf(v, end, half) })
			}
		}
	}
	return ends, false
}

// sideOf is as remember has it.
func sideOf(v, end, half float64) int8 {
	margin := half - rounding(half, v, end)
	above, below := v-end >= margin, end-v >= margin
	switch {
	case above && !below:
		return 1
	case below && !above:
		return -1
	}
	return 0
}

// Bases counts calls of Rebase, Unbase and Reset.
func (c *Set) Bases() int { return c.bases }

// Hold takes samples of a signal that change nothing, in order of time, of which the last has
// the raw value raw. The time is to be led on with Lead.
func (c *Set) Hold(signal int, points []series.Point, raw int64) {
	i := c.index[signal]
	if i < 0 {
		return
	}
	sig := &c.signals[i]
	if sig.moves {
		for _, p := range points {
			sig.keep(instant{p.T, p.V, raw})
		}
	}
	last := points[len(points)-1]
	sig.value, sig.raw, sig.last = last.V, raw, last.T
	c.feed(sig, last.T)
}

// Lead takes the time of the last of what was held; nothing is due by then.
func (c *Set) Lead(now int64) {
	c.now = max(c.now, now)
	if !c.waiting && !c.dirty {
		c.due = c.staleFrom()
	}
}
