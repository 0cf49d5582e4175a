package foreign

import (
	"math"
	"math/rand/v2"
)

// As in package scenario, every product that is added to something is rounded
// first, so that no compiler joins the two.

func mul(x, y float64) float64 { return float64(x * y) }

func toward(x, target, part float64) float64 { return x + mul(target-x, part) }

func limit(x, low, high float64) float64 { return min(max(x, low), high) }

// nearest rounds half away from zero.
func nearest(x float64) int64 {
	if x < 0 {
		return -int64(math.Floor(0.5 - x))
	}
	return int64(math.Floor(x + 0.5))
}

func seconds(s float64) int64 { return nearest(mul(s, 1e9)) }

// normal is near a normal deviate of spread 1, and never beyond 3.5.
func normal(r *rand.Rand) float64 {
	sum := -2.0
	for range 4 {
		sum += r.Float64()
	}
	return mul(sum, 1.7320508)
}

// dice draws.
type dice struct{ *rand.Rand }

func newDice(seed int64, stream uint64) dice {
	return dice{rand.New(rand.NewPCG(uint64(seed), stream))}
}

func (d dice) between(low, high float64) float64 { return low + mul(high-low, d.Float64()) }

// chance is true with a probability.
func (d dice) chance(p float64) bool { return d.Float64() < p }

// oneOf draws one of several, all alike likely.
func oneOf[T any](d dice, list ...T) T { return list[d.IntN(len(list))] }
