// Package bounds holds values that are known only to lie between two others,
// because a bus tells a value only when it sends it. Its arithmetic widens and
// never narrows. It is not about statistical uncertainty. Start with Instant.
package bounds

// Instant is a moment that lies between Low and High, T the best value, all in
// nanoseconds on one clock.
type Instant struct {
	Low, T, High int64
}

// At returns an instant that is known exactly.
func At(t int64) Instant { return Instant{t, t, t} }

// Midway returns an instant between two samples with nothing said where.
func Midway(low, high int64) Instant { return Instant{low, low + (high-low)/2, high} }

// Shift moves all three by d nanoseconds.
func (i Instant) Shift(d int64) Instant { return Instant{i.Low + d, i.T + d, i.High + d} }

// Touches reports whether the instant may lie in low..high, both ends included.
func (i Instant) Touches(low, high int64) bool { return i.High >= low && i.Low <= high }

// Middle returns the instant half way between two others.
func Middle(a, b Instant) Instant {
	return Instant{a.Low + (b.Low-a.Low)/2, a.T + (b.T-a.T)/2, a.High + (b.High-a.High)/2}
}

// Value is a number that lies between Low and High, Best the likeliest.
type Value struct {
	Low, Best, High float64
}

// Exactly returns a value without spread.
func Exactly(v float64) Value { return Value{v, v, v} }

// Sub returns the time from a to b in seconds: its low and high are the
// differences of the instants at their extremes. Where nothing is said about
// where an instant lies between them, the spread of such a difference is that of
// two rectangular distributions (JCGM 100:2008, 4.3.7); the bounds given here are
// the hard ones.
func Sub(b, a Instant) Value {
	return Value{Seconds(b.Low - a.High), Seconds(b.T - a.T), Seconds(b.High - a.Low)}
}

// Scaled multiplies by a factor, which may be negative, and adds an offset.
func (v Value) Scaled(factor, offset float64) Value {
	// The products are rounded on their own, so that every machine comes to the
	// same.
	s := Value{float64(v.Low*factor) + offset, float64(v.Best*factor) + offset, float64(v.High*factor) + offset}
	if factor < 0 {
		s.Low, s.High = s.High, s.Low
	}
	return s
}

// Minus returns v - w, its low and high at their extremes.
func (v Value) Minus(w Value) Value {
	return Value{v.Low - w.High, v.Best - w.Best, v.High - w.Low}
}

// Seconds turns nanoseconds into the nearest float64 of seconds.
func Seconds(ns int64) float64 { return float64(ns) / 1e9 }
