package streams

import "lull/analyze"

// JumpBack is how far time may run back before what is open cannot be measured
// any more: interfaces that are written in turn run back by less.
const JumpBack = int64(100e6)

// Gaps holds the gaps of the recording in order, since time last ran back.
type Gaps []analyze.Gap

// Within is how much of from..to lies in gaps.
func (l Gaps) Within(from, to int64) int64 {
	var sum int64
	for i := len(l) - 1; i >= 0 && l[i].End > from; i-- {
		sum += max(0, min(l[i].End, to)-max(l[i].Start, from))
	}
	return sum
}

// Between reports whether a gap lies between two frames.
func (l Gaps) Between(from, to int64) bool {
	return l.Within(from, to) > 0
}

// First is where the first gap between two frames begins; the second where there is
// none.
func (l Gaps) First(from, to int64) int64 {
	for i := len(l) - 1; i >= 0 && l[i].End > from; i-- {
		to = min(to, max(l[i].Start, from))
	}
	return to
}
