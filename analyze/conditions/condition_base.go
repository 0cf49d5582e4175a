package conditions

import (
	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// keep remembers a sample in the ring.
func (sig *conditionSignal) keep(s instant) {
	if sig.past == nil {
		sig.past = make([]instant, 0, historyLength)
	}
	if len(sig.past) < historyLength {
		sig.past = append(sig.past, s)
	} else {
		sig.past[sig.next] = s
	}
	sig.next = (sig.next + 1) % historyLength
}

// newest is the sample kept back steps before the newest one.
func (sig *conditionSignal) newest(back int) *instant {
	return &sig.past[(sig.next-1-back+2*historyLength)%historyLength]
}

// Rebase holds every `moves` comparison against its signal's value at the moment
// at, the last sample not after it. They restart from false there, and what came
// since is replayed. Where the signal was not seen by then, or was stale, they are
// unknown until the next Rebase. Where the moment lies further back than the
// samples that are kept, the oldest of them stands for it.
func (c *Set) Rebase(at int64) {
	c.bases++
	c.work()
	for i := range c.signals {
		if c.signals[i].moves {
			c.restart(&c.signals[i], at)
		}
	}
	c.flush()
	// The samples since then, of all signals in order of time.
	for {
		var next *conditionSignal
		for i := range c.signals {
			sig := &c.signals[i]
			if sig.replay > 0 && (next == nil || sig.newest(sig.replay-1).at < next.newest(next.replay-1).at) {
				next = sig
			}
		}
		if next == nil {
			break
		}
		c.repeat(next)
		c.flush()
	}
	for i := range c.signals {
		sig := &c.signals[i]
		if sig.moves && !sig.seen {
			c.lose(sig, sig.last+sig.limit)
		}
	}
	c.work()
}

// lose makes `moves` comparisons unknown from the moment on at which their signal
// had not been seen for too long.
func (c *Set) lose(sig *conditionSignal, at int64) {
	for _, l := range sig.leaves {
		leaf := &c.leaves[l]
		if leaf.expr.Op == decode.OpMoves && leaf.state != analyze.Unknown {
			leaf.turn(analyze.Unknown, bounds.At(max(at, leaf.since.T)))
			c.list[leaf.condition].dirty = true
			c.dirty = true
		}
	}
}

// restart gives the leaves of one signal their new reference.
func (c *Set) restart(sig *conditionSignal, at int64) {
	sig.replay = 0
	for sig.replay < len(sig.past) && sig.newest(sig.replay).at > at {
		sig.replay++
	}
	ok := len(sig.past) > 0
	var base instant
	switch {
	case sig.replay < len(sig.past):
		base = *sig.newest(sig.replay)
		ok = at-base.at <= sig.limit
	case len(sig.past) == historyLength:
		sig.replay--
		base = *sig.newest(sig.replay)
	default:
		ok = false
	}
	for _, l := range sig.leaves {
		leaf := &c.leaves[l]
		if leaf.expr.Op != decode.OpMoves {
			continue
		}
		at := max(at, base.at)
		leaf.rebase(at, base.value, ok)
		k := &c.list[leaf.condition]
		k.rawAt.T, k.rawLow = min(k.rawAt.T, at), min(k.rawLow, at)
		k.dirty, c.dirty = true, true
	}
	if sig.replay == 0 && !sig.seen {
		c.lose(sig, sig.last+sig.limit)
	}
}

// repeat feeds one kept sample once more, to `moves` comparisons alone.
func (c *Set) repeat(sig *conditionSignal) {
	sig.replay--
	s := *sig.newest(sig.replay)
	if before := sig.replay + 1; before < len(sig.past) {
		if last := sig.newest(before).at; s.at-last > sig.limit {
			c.lose(sig, last+sig.limit)
			c.flush()
		}
	}
	for _, l := range sig.leaves {
		leaf := &c.leaves[l]
		if leaf.expr.Op != decode.OpMoves {
			continue
		}
		if c.feedLeaf(leaf, s.at, s.value, s.raw) {
			c.list[leaf.condition].dirty = true
			c.dirty = true
		}
	}
}

// Unbase takes the reference away: nothing has moved where the signal is known.
func (c *Set) Unbase() {
	c.bases++
	c.work()
	for i := range c.signals {
		sig := &c.signals[i]
		for _, l := range sig.leaves {
			leaf := &c.leaves[l]
			if leaf.expr.Op != decode.OpMoves {
				continue
			}
			leaf.ref = refNone
			to := analyze.False
			if !sig.seen {
				to, leaf.known = analyze.Unknown, analyze.Unknown
			}
			if leaf.state != to {
				leaf.turn(to, bounds.At(c.now))
				c.list[leaf.condition].dirty = true
				c.dirty = true
			}
		}
	}
	c.work()
}
