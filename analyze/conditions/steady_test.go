package conditions

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/series"
	"lull/analyze/streams"
	"lull/decode"
)

// randomExpr is an expression over signals that change seldom, with comparisons
// of every kind.
func randomExpr(rng *rand.Rand, depth int) *decode.Expr {
	if depth > 0 && rng.IntN(2) == 0 {
		switch rng.IntN(3) {
		case 0:
			return joined(decode.OpNot, randomExpr(rng, depth-1))
		case 1:
			return joined(decode.OpAll, randomExpr(rng, depth-1), randomExpr(rng, depth-1))
		}
		return joined(decode.OpAny, randomExpr(rng, depth-1), randomExpr(rng, depth-1))
	}
	signal := []int{coolant, angle, brake, turn, belt}[rng.IntN(5)]
	ops := []decode.Op{decode.OpAbove, decode.OpBelow, decode.OpAtLeast, decode.OpAtMost, decode.OpBetween, decode.OpOutside, decode.OpMoves, decode.OpIs}
	e := comparison(signal, ops[rng.IntN(len(ops))], float64(1+rng.IntN(4))/2, float64(2+rng.IntN(3)))
	if e.Op == decode.OpIs {
		return is(signal, float64(rng.IntN(2)))
	}
	return e
}

// near is how far two samples of a signal may lie apart and be held: nothing is missed.
const near = 100 * testMillisecond

// hold is a Set with samples that are put aside until something changes.
type hold struct {
	*Set
	aside map[int][]series.Point
	last  map[int]decode.Sample // newest of each signal
	until int64                 // the latest time
	bases int
}

// quiet puts a sample aside if it changes nothing.
func (h *hold) quiet(s *decode.Sample) bool {
	if h.bases != h.Bases() {
		h.bases = h.Bases()
		clear(h.last)
	}
	before, ok := h.last[s.Signal]
	if !ok || s.Time < max(before.Time, h.until, h.now) || s.Time-before.Time >= near || s.Time > h.Due() || !h.Steady(s.Signal) {
		return false
	}
	ends, exact := h.Ends(s.Signal)
	if exact && s.Value != before.Value {
		return false
	}
	for _, end := range ends {
		if side := end(s.Value); side == 0 || side != end(before.Value) {
			return false
		}
	}
	h.aside[s.Signal] = append(h.aside[s.Signal], series.Point{T: s.Time, V: s.Value})
	h.last[s.Signal] = *s
	return true
}

// handOn takes what is aside.
func (h *hold) handOn() {
	for signal, points := range h.aside {
		h.Hold(signal, points, h.last[signal].Raw)
	}
	clear(h.aside)
	h.Lead(h.until)
}

func TestSamplesHeldAndTakenTogetherChangeNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	rounds := 3000
	if testing.Short() {
		rounds = 300
	}
	together, changes := 0, 0
	for round := range rounds {
		m := conditionMap()
		m.Settings.StaleAfter = []time.Duration{time.Second, time.Hour}[rng.IntN(2)]
		list := make([]decode.Condition, 1+rng.IntN(3))
		for i := range list {
			list[i].Expr = randomExpr(rng, 2)
			list[i].Bridge = []time.Duration{0, 0, 300 * time.Millisecond}[rng.IntN(3)]
			list[i].For = []time.Duration{0, 0, 500 * time.Millisecond}[rng.IntN(3)]
		}
		one := New(m, list, streams.New(m))
		other := hold{Set: New(m, list, streams.New(m)), aside: map[int][]series.Point{}, last: map[int]decode.Sample{}}
		same := func(what string, a, b any) {
			t.Helper()
			if diff := cmp.Diff(a, b, cmp.AllowUnexported(transition{})); diff != "" {
				t.Fatalf("round %d: %s differ, sample by sample (-) and taken together (+):\n%s", round, what, diff)
			}
		}
		var a, b []transition
		drain := func() {
			a, b = append(a, one.Drain()...), append(b, other.Drain()...)
			changes += len(a)
			same("transitions", a, b)
			a, b = a[:0], b[:0]
		}
		value := map[int]float64{}
		now := int64(0)
		for range 250 {
			now += []int64{0, 5, 10, 20, 50, 90, 400, 1500}[min(rng.IntN(8), rng.IntN(8))] * testMillisecond
			if rng.IntN(40) == 0 {
				now -= rng.Int64N(150) * testMillisecond
			}
			one.Advance(now)
			if now > other.Due() {
				other.handOn()
				other.Advance(now)
			}
			other.until = max(other.until, now)
			for range 1 + rng.IntN(3) {
				signal := []int{coolant, angle, brake, turn, belt}[rng.IntN(5)]
				if rng.IntN(6) == 0 {
					value[signal] = float64(rng.IntN(16)) / 4
				}
				s := decode.Sample{Time: now, Signal: signal, Value: value[signal], Raw: int64(value[signal]), Valid: true}
				if !one.Uses(signal) {
					continue
				}
				one.Take(&s)
				if other.quiet(&s) {
					together++
					continue
				}
				other.handOn()
				other.Take(&s)
				other.until = other.now
				other.last[signal] = s
			}
			a = append(a, one.Drain()...)
			if len(other.aside) > 0 && rng.IntN(30) > 0 {
				continue
			}
			other.handOn()
			drain()
			for i := range list {
				same("states", one.State(i), other.State(i))
				same("unknown signals", one.unknownSignals(i), other.unknownSignals(i))
			}
			switch rng.IntN(20) {
			case 0:
				same("times settled", one.PendingUntil(), other.PendingUntil())
			case 1:
				at := now - rng.Int64N(2000)*testMillisecond
				one.Rebase(at)
				other.Rebase(at)
				drain()
			case 2:
				one.Unbase()
				other.Unbase()
				drain()
			}
		}
		other.handOn()
		one.Finish(now)
		other.Finish(now)
		drain()
	}
	if together < 50*rounds || changes < 5*rounds {
		t.Errorf("%d samples taken together and %d transitions: too few to tell", together, changes)
	}
}

// unknownSignals returns the signals that make comparisons of a condition unknown
// now, in map order.
func (c *Set) unknownSignals(i int) []int {
	if c.dirty {
		c.work()
	}
	var unknown []int
	for _, l := range c.list[i].leaves {
		if c.leaves[l].state == analyze.Unknown {
			unknown = append(unknown, c.leaves[l].expr.Signal)
		}
	}
	slices.Sort(unknown)
	return slices.Compact(unknown)
}
