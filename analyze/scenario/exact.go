package scenario

import "math"

// The language lets a compiler join x*y + z into one instruction that rounds
// once, and on some processors it does. An explicit conversion forbids that, so
// all products in this package that are added to something go through mul.

// mul is x times y, rounded.
func mul(x, y float64) float64 { return float64(x * y) }

// toward moves x a part of the way to a target: one step of a first-order lag.
func toward(x, target, part float64) float64 { return x + mul(target-x, part) }

// limit keeps x within low..high.
func limit(x, low, high float64) float64 { return min(max(x, low), high) }

// wave is a smooth periodic function of period 1 and amplitude 1, zero and
// rising at 0: two parabolas, near enough to a sine for a compression ripple.
func wave(phase float64) float64 {
	x := phase - math.Floor(phase)
	if x < 0.5 {
		return mul(mul(16, x), 0.5-x)
	}
	return -mul(mul(16, x-0.5), 1-x)
}

// nearest rounds half away from zero.
func nearest(x float64) int64 {
	if x < 0 {
		return -int64(math.Floor(0.5 - x))
	}
	return int64(math.Floor(x + 0.5))
}

// seconds turns seconds into nanoseconds.
func seconds(s float64) int64 { return nearest(mul(s, 1e9)) }
