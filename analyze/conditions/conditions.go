package conditions

import (
	"math"
	"slices"

	"lull/analyze"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// transition is one change of a condition's state.
type transition struct {
	Condition int
	From, To  analyze.Truth
	Known     analyze.Truth // the last state before this transition that was not Unknown; Unknown if there was none
	At        bounds.Instant
}

const (
	// historyLength is how many samples of a signal that `moves` reads are kept
	// to find its value at a moment a little back: 10 s of a 5 ms frame.
	historyLength = 2048
)

// Set follows a list of restart requests or inhibits in three-valued
// logic. Samples go in with Take, time with Advance, and transitions come out
// of Drain. Samples of one time are taken together, so that two signals of one
// frame that change at once make no state between.
//
// Where an expression joins comparisons its instant is the latest, or the
// earliest, of those that make it what it is, each bound for itself. Transitions
// of one condition lie in order: one found late, on a slow signal, is not put
// before the one that was told already. Only Rebase goes back.
type Set struct {
	m       *decode.Map
	streams *streams.Streams
	stale   int64
	list    []condition
	leaves  []leaf
	signals []conditionSignal
	index   []int // of Map.Signals into signals, -1 if no leaf reads it

	now     int64 // latest time seen
	due     int64 // nothing happens by itself before
	dirty   bool  // samples of the time dirtyAt are not evaluated yet
	dirtyAt int64
	waiting bool // some condition holds something back
	bases   int  // calls that changed what `moves` comparisons are held against

	out, drained []transition
	refined      []Refinement
}

// conditionSignal is one signal that leaves read.
type conditionSignal struct {
	signal int
	leaves []int
	seen   bool // and not stale
	last   int64
	limit  int64   // it is stale when not seen for longer
	value  float64 // of it
	raw    int64
	pauses streams.Pauses
	moves  bool      // some leaf is a `moves`
	past   []instant // ring, where moves
	next   int       // of past: where the next one goes
	replay int       // of Rebase: how many of the newest samples are still to be replayed
}

// instant is one remembered sample.
type instant struct {
	at    int64
	value float64
	raw   int64
}

// New returns a Set that follows the conditions of list, which belong to m, by the
// signals' absences that streams knows of. All of them are unknown until samples come.
func New(m *decode.Map, list []decode.Condition, streams *streams.Streams) *Set {
	c := &Set{
		m:       m,
		streams: streams,
		stale:   int64(m.Settings.StaleAfter),
		list:    make([]condition, len(list)),
		index:   make([]int, len(m.Signals)),
		due:     math.MaxInt64,
	}
	for i := range c.index {
		c.index[i] = -1
	}
	for i := range list {
		k := &c.list[i]
		k.bridge, k.hold = int64(list[i].Bridge), int64(list[i].For)
		k.rawAt.T, k.rawLow = math.MinInt64, math.MinInt64
		c.compile(i, list[i].Expr)
	}
	return c
}

// compile appends the expression to the condition's nodes, children first, and
// returns its index.
func (c *Set) compile(i int, e *decode.Expr) int {
	n := node{op: e.Op, leaf: -1}
	switch e.Op {
	case decode.OpAll, decode.OpAny, decode.OpNot:
		for _, child := range e.Children {
			n.children = append(n.children, c.compile(i, child))
		}
	default:
		n.leaf = len(c.leaves)
		c.leaves = append(c.leaves, newLeaf(c.m, e, i, c.streams))
		c.list[i].leaves = append(c.list[i].leaves, n.leaf)
		if c.index[e.Signal] < 0 {
			c.index[e.Signal] = len(c.signals)
			c.signals = append(c.signals, conditionSignal{signal: e.Signal})
		}
		sig := &c.signals[c.index[e.Signal]]
		sig.leaves = append(sig.leaves, n.leaf)
		sig.moves = sig.moves || e.Op == decode.OpMoves
	}
	c.list[i].nodes = append(c.list[i].nodes, n)
	return len(c.list[i].nodes) - 1
}

// Uses reports whether any comparison reads the signal.
func (c *Set) Uses(signal int) bool { return c.index[signal] >= 0 }

// Take takes one sample of any signal, whether a comparison reads it or not. An invalid one
// moves nothing and is as if it had not come.
func (c *Set) Take(s *decode.Sample) {
	i := c.index[s.Signal]
	if i < 0 || !s.Valid {
		return
	}
	if s.Time < c.now-streams.JumpBack {
		c.Reset(s.Time)
	}
	if c.dirty && s.Time != c.dirtyAt {
		c.work()
	}
	c.Advance(s.Time)
	sig := &c.signals[i]
	sig.value, sig.raw = s.Value, s.Raw
	c.feed(sig, s.Time)
	if sig.moves {
		sig.keep(instant{sig.last, sig.value, sig.raw})
	}
}

// feed takes a signal's value at a time.
func (c *Set) feed(sig *conditionSignal, time int64) {
	at := time
	if sig.seen {
		at = max(at, sig.last)
	}
	sig.pauses.Add(sig.last, at, c.streams, sig.signal)
	for _, l := range sig.leaves {
		k := &c.list[c.leaves[l].condition]
		if c.feedLeaf(&c.leaves[l], at, sig.value, sig.raw) || k.waits() {
			k.dirty = true
			c.dirty, c.dirtyAt, c.due = true, time, math.MinInt64
		}
	}
	sig.seen, sig.last = true, at
	sig.limit = c.limit(sig.signal)
	if at < math.MaxInt64-sig.limit {
		c.due = min(c.due, at+sig.limit)
	}
}

// feedLeaf hands a sample to one comparison, and reports whether its state changed.
func (c *Set) feedLeaf(l *leaf, at int64, value float64, raw int64) bool {
	changed := l.feed(at, value, raw)
	if l.sureAt == 0 {
		return changed
	}
	k, old := &c.list[l.condition], l.since.High
	l.since.High, l.sureAt = l.sureAt, 0
	if k.rawAt.High == old {
		k.rawAt.High = l.since.High
		hold := int64(0)
		if k.raw == analyze.True {
			hold = k.hold // only a rise is told when it has lasted
		}
		switch n := len(k.held); {
		case n > 0 && k.held[n-1].at.High == old:
			k.held[n-1].at.High = l.since.High
		case k.rising && k.rise.High == old:
			k.rise.High = l.since.High
		case k.told == old+hold: // else it is bridged
			k.told = l.since.High + hold
			c.refined = append(c.refined, Refinement{l.condition, old + hold, k.told})
		}
	}
	return changed
}

// Refinement is a change that was told with the sample that showed it as its high, which
// lay too near to its threshold to be sure; the first that was sure is High.
type Refinement struct {
	Condition int
	Told      int64
	High      int64
}

// Refined returns the refinements since it was asked last, each after the transition that
// it is of. The slice is used again.
func (c *Set) Refined() []Refinement {
	list := c.refined
	c.refined = c.refined[:0]
	return list
}

// limit is how long a signal may stay away and still be known.
func (c *Set) limit(signal int) int64 {
	p, ok := c.streams.Period(signal)
	if e := &c.m.Entries[c.m.Signals[signal].Entry]; e.OnChange {
		if e.Period == 0 {
			return math.MaxInt64
		}
		p, ok = int64(e.Period), true
	}
	if !ok || p > (math.MaxInt64-1)/3 {
		return c.stale
	}
	return max(c.stale, 3*p)
}

// Advance takes the time: signals go stale, and what `bridge` and `for` hold back
// comes due.
func (c *Set) Advance(now int64) {
	if now <= c.now {
		return
	}
	c.now = now
	if now > c.due {
		c.work()
	}
}

// work does all that is due by now, in order of time.
func (c *Set) work() {
	c.flush()
	for {
		first, at := -1, c.now
		for i := range c.signals {
			sig := &c.signals[i]
			if sig.seen && sig.limit < c.now-sig.last && (first < 0 || sig.last+sig.limit < at) {
				first, at = i, sig.last+sig.limit
			}
		}
		if first < 0 {
			break
		}
		c.forget(&c.signals[first], at)
		c.flush()
	}
	c.resolve()
}

// forget makes a signal unknown.
func (c *Set) forget(sig *conditionSignal, at int64) {
	sig.seen = false
	for _, l := range sig.leaves {
		if c.leaves[l].state != analyze.Unknown {
			c.leaves[l].turn(analyze.Unknown, bounds.At(at))
			c.list[c.leaves[l].condition].dirty = true
			c.dirty = true
		}
	}
}

// flush evaluates the conditions that have leaves that changed.
func (c *Set) flush() {
	if !c.dirty {
		return
	}
	c.dirty = false
	for i := range c.list {
		if c.list[i].dirty {
			c.list[i].dirty = false
			c.evaluate(i)
		}
	}
}

// resolve lets out what is held back and can be decided, and finds when to look
// again.
func (c *Set) resolve() {
	c.due, c.waiting = c.staleFrom(), false
	for i := range c.list {
		if c.list[i].waits() {
			c.waiting = true
			c.due = min(c.due, c.settle(i))
		}
	}
}

// staleFrom is the moment up to which no signal goes stale.
func (c *Set) staleFrom() int64 {
	first := int64(math.MaxInt64)
	for i := range c.signals {
		sig := &c.signals[i]
		if sig.seen && sig.last < math.MaxInt64-sig.limit {
			first = min(first, sig.last+sig.limit)
		}
	}
	return first
}

// Unseen reports whether a signal of the condition was away anywhere in from..to, so
// that what it did there is not known.
func (c *Set) Unseen(i int, from, to int64) bool {
	for n := range c.signals {
		sig := &c.signals[n]
		reads := func(l int) bool { return c.leaves[l].condition == i }
		if !slices.ContainsFunc(sig.leaves, reads) {
			continue
		}
		if sig.pauses.Unseen(from, to, sig.last, c.streams, sig.signal) > 0 {
			return true
		}
	}
	return false
}

// Idle reports whether Drain and Refined have nothing to give.
func (c *Set) Idle() bool { return !c.dirty && len(c.out) == 0 && len(c.refined) == 0 }

// Drain returns the transitions since the last Drain, in the order in which they
// were found. The slice is used again.
func (c *Set) Drain() []transition {
	if c.dirty {
		c.work()
	}
	if len(c.out) == 0 {
		return nil
	}
	c.drained, c.out = c.out, c.drained[:0]
	return c.drained
}

// State returns a condition's state after `bridge` and `for`, as far as it is told
// by now.
func (c *Set) State(i int) analyze.Truth {
	if c.dirty {
		c.work()
	}
	return c.list[i].out
}

// PendingUntil is the moment up to which all states are final: no transition
// found later has its t before it. It lags behind the time seen last by what the
// next sample of a slow signal can still tell, and by what `bridge` and `for` hold
// back. It lags by no more than bridge, for and stale_after together; only a
// signal that hovers within half a step of its threshold for longer than
// stale_after can change further back. Two things do not hold it back: a signal
// that is unknown, as what it turns out to have been lies in a time in which it
// was not known; and Rebase, whose transitions lie from its moment on.
func (c *Set) PendingUntil() int64 {
	if c.dirty {
		c.work()
	}
	first := c.now
	for i := range c.list {
		k := &c.list[i]
		first = min(first, c.earliest(i))
		if len(k.held) > 0 {
			first = min(first, k.held[0].at.T)
		}
		if k.rising {
			first = min(first, k.rise.T+k.hold)
		}
	}
	return first
}

// Finish ends the log at now: a gap that `bridge` still holds back counts as false
// from where it began, and what has not been true for as long as `for` says never
// became true.
func (c *Set) Finish(now int64) {
	c.Advance(now)
	c.work()
	for i := range c.list {
		k := &c.list[i]
		c.release(i)
		if k.rising && c.now-k.rise.T >= k.hold {
			k.rising = false
			c.emit(i, analyze.True, k.rise.Shift(k.hold))
		}
	}
}

// Reset forgets everything, as the clock was set back to now: each condition
// becomes unknown, and its last known state with it.
func (c *Set) Reset(now int64) {
	c.bases++
	c.work()
	for i := range c.list {
		k := &c.list[i]
		c.release(i)
		c.emit(i, analyze.Unknown, bounds.At(now))
		*k = condition{nodes: k.nodes, leaves: k.leaves, bridge: k.bridge, hold: k.hold, held: k.held[:0]}
		k.rawAt.T, k.rawLow = math.MinInt64, math.MinInt64
		for n := range k.nodes {
			k.nodes[n].state, k.nodes[n].since = analyze.Unknown, bounds.At(now)
		}
	}
	for i := range c.leaves {
		l := &c.leaves[i]
		c.leaves[i] = newLeaf(c.m, l.expr, l.condition, c.streams)
	}
	for i := range c.signals {
		sig := &c.signals[i]
		sig.seen, sig.past, sig.next = false, sig.past[:0], 0
	}
	c.waiting = false
	c.now, c.due = now, math.MaxInt64
}
