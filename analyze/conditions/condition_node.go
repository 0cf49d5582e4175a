package conditions

import (
	"math"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// condition is one of the list: its expression as a tree, and the two stages
// that its truth passes.
type condition struct {
	nodes        []node // children before parents, the root last
	leaves       []int
	bridge, hold int64 // hold is `for`
	dirty        bool

	raw    analyze.Truth // of the expression
	rawAt  bounds.Instant
	rawLow int64 // low of the last raw transition to a known state

	// bridge: held are the changes since the fall that is held back.
	bridged analyze.Truth
	held    []rawChange

	// for: rise is held back until it has lasted.
	rising bool
	rise   bounds.Instant

	out, known analyze.Truth
	told       int64 // the high of the last change that went out
}

type rawChange struct {
	to analyze.Truth
	at bounds.Instant
}

// node is one part of an expression.
type node struct {
	op       decode.Op
	children []int
	leaf     int // into conditions.leaves, -1 if it joins others
	state    analyze.Truth
	since    bounds.Instant
}

// waits reports whether something is held back.
func (k *condition) waits() bool { return k.rising || len(k.held) > 0 }

// evaluate brings the condition's expression up to date and sends its change, if
// any, on its way.
func (c *Set) evaluate(i int) {
	k := &c.list[i]
	for n := range k.nodes {
		c.update(k, &k.nodes[n])
	}
	root := &k.nodes[len(k.nodes)-1]
	if root.state == k.raw {
		return
	}
	at := root.since
	at.Low = max(at.Low, k.rawLow)
	at.T = max(at.T, k.rawAt.T)
	at.High = max(at.High, at.T)
	k.raw, k.rawAt = root.state, at
	if root.state != analyze.Unknown {
		k.rawLow = at.Low
	}
	c.bridge(i, root.state, at)
}

func (c *Set) update(k *condition, n *node) {
	if n.leaf >= 0 {
		n.state, n.since = c.leaves[n.leaf].state, c.leaves[n.leaf].since
		return
	}
	state := k.join(n)
	if state == n.state {
		return
	}
	n.state = state
	// What one child alone decides holds since the first child that decides it;
	// what takes all children holds since the last of them.
	alone := n.op == decode.OpAll && state == analyze.False || n.op == decode.OpAny && state == analyze.True
	first := true
	for _, child := range n.children {
		since := k.nodes[child].since
		switch {
		case alone && k.nodes[child].state != state:
			continue
		case first:
			n.since, first = since, false
		case alone:
			n.since = bounds.Instant{Low: min(n.since.Low, since.Low), T: min(n.since.T, since.T), High: min(n.since.High, since.High)}
		default:
			n.since = bounds.Instant{Low: max(n.since.Low, since.Low), T: max(n.since.T, since.T), High: max(n.since.High, since.High)}
		}
	}
}

// join is Kleene's logic.
func (k *condition) join(n *node) analyze.Truth {
	if n.op == decode.OpNot {
		return opposite(k.nodes[n.children[0]].state)
	}
	decides := analyze.False
	if n.op == decode.OpAny {
		decides = analyze.True
	}
	state := opposite(decides)
	for _, child := range n.children {
		switch k.nodes[child].state {
		case decides:
			return decides
		case analyze.Unknown:
			state = analyze.Unknown
		}
	}
	return state
}

func opposite(t analyze.Truth) analyze.Truth {
	switch t {
	case analyze.True:
		return analyze.False
	case analyze.False:
		return analyze.True
	}
	return analyze.Unknown
}

// bridge takes a change of the expression. A fall is held back until it is sure
// that no rise follows it in less than the bridge.
func (c *Set) bridge(i int, to analyze.Truth, at bounds.Instant) {
	k := &c.list[i]
	switch {
	case k.bridge == 0:
		k.bridged = to
		c.sustain(i, to, at)
	case len(k.held) == 0 && k.bridged != analyze.True:
		k.bridged = to
		c.sustain(i, to, at)
	case to == analyze.True && at.T-k.held[0].at.T < k.bridge:
		k.held = k.held[:0]
	case to == analyze.True:
		c.release(i)
		k.bridged = analyze.True
		c.sustain(i, analyze.True, at)
	default:
		k.held = append(k.held, rawChange{to, at})
	}
}

// release sends on what bridge holds back.
func (c *Set) release(i int) {
	k := &c.list[i]
	for _, change := range k.held {
		k.bridged = change.to
		c.sustain(i, change.to, change.at)
	}
	k.held = k.held[:0]
}

// sustain takes a bridged change. A rise is held back until it has lasted as long
// as `for` says; until then the state stays what it was, as it is not known yet.
func (c *Set) sustain(i int, to analyze.Truth, at bounds.Instant) {
	k := &c.list[i]
	if k.hold > 0 {
		if to == analyze.True {
			k.rising, k.rise = true, at
			return
		}
		if k.rising && at.T-k.rise.T >= k.hold {
			c.emit(i, analyze.True, k.rise.Shift(k.hold))
		}
		k.rising = false
	}
	c.emit(i, to, at)
}

// emit notes a change of the condition's state.
func (c *Set) emit(i int, to analyze.Truth, at bounds.Instant) {
	k := &c.list[i]
	if to == k.out {
		return
	}
	c.out = append(c.out, transition{Condition: i, From: k.out, To: to, Known: k.known, At: at})
	k.out, k.told = to, at.High
	if to != analyze.Unknown {
		k.known = to
	}
}

// settle lets out what a condition holds back as soon as no sample to come can
// undo it, and returns when to look again.
func (c *Set) settle(i int) int64 {
	k := &c.list[i]
	again := int64(math.MaxInt64)
	if len(k.held) > 0 {
		until := k.held[0].at.T + k.bridge
		if c.earliest(i) >= until {
			c.release(i)
		} else {
			again = until - 1
		}
	}
	if k.rising {
		until := k.rise.T + k.hold
		switch {
		case len(k.held) > 0 && k.held[0].at.T < until:
			// Whether it lasted is not known before the bridge is decided.
		case c.earliest(i) >= until:
			k.rising = false
			c.emit(i, analyze.True, k.rise.Shift(k.hold))
		default:
			again = min(again, until-1)
		}
	}
	return again
}

// earliest is the earliest moment at which a change of the expression not found
// by now can lie; it looks back no further than stale_after.
func (c *Set) earliest(i int) int64 {
	k := &c.list[i]
	first := c.now
	for _, l := range k.leaves {
		first = min(first, c.leaves[l].earliest(c.now))
	}
	return max(first, k.rawAt.T, c.now-c.stale)
}
