package conditions

import (
	"math"

	"lull/analyze"
	"lull/analyze/series"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// leafStyle is how the moment of a comparison's change is found.
type leafStyle uint8

const (
	// bySwitch: somewhere between two samples, or shortly before the second where its
	// frame came because of the change.
	bySwitch leafStyle = iota
	// byBand: the value crossed an end of the band lo..hi.
	byBand
)

// reference says what a `moves` comparison is held against.
type reference uint8

const (
	refNone    reference = iota // no moment given: nothing has moved
	refSet                      // the value in leaf.from
	refMissing                  // the signal was not known at the moment given
)

// mark is one valid sample that a leaf remembers.
type mark struct {
	at    int64
	value float64
	ok    bool
}

// leaf is one comparison of a condition.
//
// Every ordering comparison is a band: `below 40` is true within -inf..40,
// `outside -3 to 3` and `moves` are false within theirs. The state follows plain
// comparison; the marks only serve to find the instant of a change.
type leaf struct {
	expr    *decode.Expr
	signal  *decode.Signal
	style   leafStyle
	delay   int64 // as of series.Switched
	streams *streams.Streams

	lo, hi    float64
	half      float64       // how near to an end of the band a sample does not tell its side: half the signal's step
	truthIn   analyze.Truth // within the band
	ref       reference
	from      float64
	state     analyze.Truth
	since     bounds.Instant // of state
	known     analyze.Truth  // last state that was not Unknown
	change    bounds.Instant // when known came to be
	prev      mark           // the last sample
	belowLo   mark           // the last sample surely below lo, and so on
	aboveLo   mark
	belowHi   mark
	aboveHi   mark
	condition int // that it belongs to

	// unsure: the sample that showed the last change lies nearer to end, which it
	// crossed, than half a step; sureAt is when a sample surely did not, 0: not now.
	unsure bool
	end    float64
	sureAt int64
}

func newLeaf(m *decode.Map, e *decode.Expr, condition int, streams *streams.Streams) leaf {
	s := &m.Signals[e.Signal]
	l := leaf{expr: e, signal: s, condition: condition, streams: streams, lo: math.Inf(-1), hi: math.Inf(1), truthIn: analyze.True}
	l.style, l.delay = byBand, -1
	if s.IsSwitch() || e.Op == decode.OpIs || e.Op == decode.OpIsNot {
		l.style = bySwitch
		if m.Entries[s.Entry].OnChange {
			l.delay = int64(m.Settings.EventDelay)
		}
	}
	if !s.Float { // the factor of a float is not its step
		l.half = s.Scale.Step() / 2
	}
	switch e.Op {
	case decode.OpAbove, decode.OpAtLeast:
		l.lo = e.A
	case decode.OpBelow, decode.OpAtMost:
		l.hi = e.A
	case decode.OpBetween:
		l.lo, l.hi = e.A, e.B
	case decode.OpOutside:
		l.lo, l.hi, l.truthIn = e.A, e.B, analyze.False
	case decode.OpMoves:
		l.truthIn = analyze.False
		l.half *= 2 // the reference is as rounded as the value
	}
	return l
}

// evaluate compares one value.
func (l *leaf) evaluate(v float64, raw int64) analyze.Truth {
	e := l.expr
	switch e.Op {
	case decode.OpIs:
		return truth(listed(e, v, raw))
	case decode.OpIsNot:
		return truth(!listed(e, v, raw))
	case decode.OpAbove:
		return truth(v > e.A)
	case decode.OpBelow:
		return truth(v < e.A)
	case decode.OpAtLeast:
		return truth(v >= e.A)
	case decode.OpAtMost:
		return truth(v <= e.A)
	case decode.OpBetween:
		return truth(e.A <= v && v <= e.B)
	case decode.OpOutside:
		return truth(v < e.A || v > e.B)
	}
	switch l.ref {
	case refNone:
		return analyze.False
	case refMissing:
		return analyze.Unknown
	}
	// 0.3 to 0.1 has moved by 0.2, whatever the float64 difference says.
	return truth(math.Abs(v-l.from) >= e.A-rounding(l.half, v, l.from))
}

func truth(b bool) analyze.Truth {
	if b {
		return analyze.True
	}
	return analyze.False
}

func listed(e *decode.Expr, v float64, raw int64) bool {
	for _, n := range e.Numbers {
		if n == v {
			return true
		}
	}
	for _, r := range e.Raws {
		if r == raw {
			return true
		}
	}
	return false
}

// rounding is what rounding to float64 may have added or taken away.
func rounding(half, a, b float64) float64 {
	const ulps = 4.0 / (1 << 52)
	return 1e-9*half + ulps*max(math.Abs(a), math.Abs(b))
}

// feed takes one valid sample and reports whether the state changed.
func (l *leaf) feed(at int64, v float64, raw int64) bool {
	if l.prev.ok {
		at = max(at, l.prev.at) // an interface written in turn, behind a reference
	}
	now := l.evaluate(v, raw)
	changed := now != l.state
	switch {
	case changed:
		l.end = math.NaN()
		l.turn(now, l.instant(now, at, v))
		l.unsure = math.Abs(v-l.end) < l.half-rounding(l.half, v, l.end)
	case l.unsure && math.Abs(v-l.end) >= l.half-rounding(l.half, v, l.end):
		l.unsure, l.sureAt = false, at
	}
	l.prev = mark{at, v, true}
	if l.style == byBand {
		l.remember(at, v)
	}
	return changed
}

// turn sets the state.
func (l *leaf) turn(to analyze.Truth, at bounds.Instant) {
	if to != analyze.Unknown && to != l.known {
		l.known, l.change = to, at
	}
	l.state, l.since, l.unsure = to, at, false
}

// remember notes on which side of the band's ends a sample surely lies. A sample
// nearer to an end than half a step does not tell; exactly half a step does. One
// without a step that lies on the end stands for both sides.
func (l *leaf) remember(at int64, v float64) {
	m := mark{at, v, true}
	if !math.IsInf(l.lo, 0) {
		margin := l.half - rounding(l.half, v, l.lo)
		if v-l.lo >= margin {
			l.aboveLo = m
		}
		if l.lo-v >= margin {
			l.belowLo = m
		}
	}
	if !math.IsInf(l.hi, 0) {
		margin := l.half - rounding(l.half, v, l.hi)
		if l.hi-v >= margin {
			l.belowHi = m
		}
		if v-l.hi >= margin {
			l.aboveHi = m
		}
	}
}

// instant finds when the state became what the sample shows.
func (l *leaf) instant(to analyze.Truth, at int64, v float64) bounds.Instant {
	if to == analyze.Unknown || l.known == analyze.Unknown || l.known == to {
		return bounds.At(at) // known for the first time, or known again as it was
	}
	var i bounds.Instant
	switch l.style {
	case bySwitch:
		i = series.Changed(l.prev.at, at, l.delay, l.streams, l.expr.Signal)
	case byBand:
		i = l.crossing(to == l.truthIn, at, v)
	}
	if l.state == analyze.Unknown {
		// It was not known in between: the change may lie further back than the
		// moment from which on nothing was known, its best value does not.
		i.T = max(i.T, l.since.T)
	}
	return i
}

// crossing finds when the value crossed the end of the band.
func (l *leaf) crossing(entered bool, at int64, v float64) bounds.Instant {
	var end float64
	var before, other mark
	if entered {
		end, before, other = l.hi, l.aboveHi, l.belowLo
		if nearerLow(l.lo, l.hi, l.prev.value) {
			end, before, other = l.lo, l.belowLo, l.aboveHi
		}
	} else {
		end, before = l.hi, l.belowHi
		if nearerLow(l.lo, l.hi, v) {
			end, before = l.lo, l.aboveLo
		}
	}
	// Whatever the samples tell, it lies after the change before it.
	low := l.change.Low
	if before.ok {
		low = max(low, before.at)
	}
	if other.ok {
		low = max(low, other.at)
	}
	from := l.anchor(before, other)
	t := from.at
	if v != from.value {
		share := (end - from.value) / (v - from.value)
		t += int64(math.Round(share * float64(at-from.at)))
	}
	when := bounds.Instant{Low: low, T: min(max(t, low, from.at), at), High: at}
	l.end = end
	return when
}

// anchor is the sample from which the line to the crossing is drawn: the last
// one surely on the side before it, or the last one at all where none has been
// there since the last change or where the other side was seen later.
func (l *leaf) anchor(before, other mark) mark {
	if !before.ok || before.at < l.change.High || other.ok && other.at > before.at {
		return l.prev
	}
	return before
}

// nearerLow tells for a value out of the band at which end it is.
func nearerLow(lo, hi, v float64) bool { return v-lo < hi-v }

// earliest is the earliest moment at which a change not found by now can lie.
func (l *leaf) earliest(now int64) int64 {
	if l.state == analyze.Unknown || l.expr.Op == decode.OpMoves && l.ref != refSet {
		return now
	}
	first := l.prev.at
	switch l.style {
	case bySwitch:
		first = series.Changed(l.prev.at, now, l.delay, l.streams, l.expr.Signal).T
	case byBand:
		if l.state == l.truthIn {
			if !math.IsInf(l.lo, 0) {
				first = min(first, l.anchor(l.aboveLo, mark{}).at)
			}
			if !math.IsInf(l.hi, 0) {
				first = min(first, l.anchor(l.belowHi, mark{}).at)
			}
		} else if nearerLow(l.lo, l.hi, l.prev.value) {
			first = l.anchor(l.belowLo, l.aboveHi).at
		} else {
			first = l.anchor(l.aboveHi, l.belowLo).at
		}
	}
	return min(max(first, l.since.T), now)
}

// rebase holds a `moves` comparison against a new value from the moment at on;
// ok false means that the value then is not known.
func (l *leaf) rebase(at int64, v float64, ok bool) {
	l.belowLo, l.aboveLo, l.belowHi, l.aboveHi = mark{}, mark{}, mark{}, mark{}
	if !ok {
		l.ref = refMissing
		l.known = analyze.Unknown
		l.turn(analyze.Unknown, bounds.At(at))
		return
	}
	l.ref, l.from = refSet, v
	l.lo, l.hi = v-l.expr.A, v+l.expr.A
	l.known, l.change = analyze.False, bounds.At(at)
	l.turn(analyze.False, bounds.At(at))
	l.prev = mark{at, v, true}
	l.remember(at, v)
}
