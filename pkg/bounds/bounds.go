// Package bounds holds values that are known only to lie between two others,
// because a value on a bus is known only when a frame carries it. Its arithmetic
// may widen bounds but never narrows them. These are hard bounds, not statistical
// uncertainty. Start with Instant.
package bounds

// Instant is a moment between Low and High. T is the best estimate. All three are
// in nanoseconds on the same clock.
type Instant struct {
	Low, T, High int64
}

// At returns an instant known exactly.
func At(t int64) Instant { return Instant{t, t, t} }

// Midway returns an instant that lies anywhere between low and high, with the
// midpoint as its best estimate.
func Midway(low, high int64) Instant { return Instant{low, low + (high-low)/2, high} }

// Shift returns the instant moved by d nanoseconds.
func (i Instant) Shift(d int64) Instant { return Instant{i.Low + d, i.T + d, i.High + d} }

// Touches reports whether the instant may lie between low and high, inclusive.
func (i Instant) Touches(low, high int64) bool { return i.High >= low && i.Low <= high }

// Middle returns the instant halfway between a and b.
func Middle(a, b Instant) Instant {
	return Instant{a.Low + (b.Low-a.Low)/2, a.T + (b.T-a.T)/2, a.High + (b.High-a.High)/2}
}

// Value is a number between Low and High. Best is the likeliest value.
type Value struct {
	Low, Best, High float64
}

// Exactly returns a value known exactly.
func Exactly(v float64) Value { return Value{v, v, v} }

// Sub returns the time from a to b in seconds. Its bounds are hard: they are the
// differences of the extremes of a and b, not the smaller statistical spread of
// two rectangular distributions (JCGM 100:2008, 4.3.7).
func Sub(b, a Instant) Value {
	return Value{Seconds(b.Low - a.High), Seconds(b.T - a.T), Seconds(b.High - a.Low)}
}

// Scaled returns v times factor, which may be negative, plus offset.
func (v Value) Scaled(factor, offset float64) Value {
	// The conversions keep the compiler from fusing multiplication and addition,
	// so that every machine computes the same result.
	s := Value{float64(v.Low*factor) + offset, float64(v.Best*factor) + offset, float64(v.High*factor) + offset}
	if factor < 0 {
		s.Low, s.High = s.High, s.Low
	}
	return s
}

// Minus returns v - w, with bounds that hold for any two values within theirs.
func (v Value) Minus(w Value) Value {
	return Value{v.Low - w.High, v.Best - w.Best, v.High - w.Low}
}

// Seconds returns ns nanoseconds in seconds.
func Seconds(ns int64) float64 { return float64(ns) / 1e9 }
