package conditions

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
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

func TestRepeatedSamplesTakenTogetherChangeNothing(t *testing.T) {
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
		one, other := New(m, list, streams.New(m)), New(m, list, streams.New(m))
		same := func(what string, a, b any) {
			t.Helper()
			if diff := cmp.Diff(a, b, cmp.AllowUnexported(transition{})); diff != "" {
				t.Fatalf("round %d: %s differ, sample by sample (-) and taken together (+):\n%s", round, what, diff)
			}
		}
		value := map[int]float64{}
		given := map[int]bool{}
		now := int64(0)
		for range 150 {
			now += []int64{0, 5, 10, 50, 100, 100, 400, 1500}[rng.IntN(8)] * testMillisecond
			if rng.IntN(40) == 0 {
				now -= rng.Int64N(150) * testMillisecond
			}
			one.Advance(now)
			other.Advance(now)
			for range 1 + rng.IntN(3) {
				signal := []int{coolant, angle, brake, turn, belt}[rng.IntN(5)]
				again := given[signal]
				if rng.IntN(6) == 0 || !again {
					v := float64(rng.IntN(8)) / 2
					again = again && v == value[signal]
					value[signal], given[signal] = v, true
				}
				s := decode.Sample{Time: now, Signal: signal, Value: value[signal], Raw: int64(value[signal]), Valid: true}
				if !one.Uses(signal) {
					continue
				}
				one.sample(&s)
				if again && other.same(signal, now) {
					together++
				} else {
					other.sample(&s)
				}
			}
			a, b := one.Drain(), other.Drain()
			changes += len(a)
			same("transitions", a, b)
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
				same("transitions after a new reference", one.Drain(), other.Drain())
			case 2:
				one.Unbase()
				other.Unbase()
				same("transitions without a reference", one.Drain(), other.Drain())
			}
		}
		one.Finish(now)
		other.Finish(now)
		same("last transitions", one.Drain(), other.Drain())
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
