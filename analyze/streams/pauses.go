package streams

import (
	"math"

	"lull/pkg/bounds"
)

// Hole is how long a signal's samples may stay away from a window of a restart before
// the window counts as not seen there: as soon as two frames in a row, or one polled
// answer, are missed, long before that makes a frame silent.
func (s *Streams) Hole(signal int) int64 {
	limit := s.Absence(signal)
	if period, known := s.Period(signal); known && limit < math.MaxInt64 {
		missed := period * 5 / 2
		if s.m.Entries[s.m.Signals[signal].Entry].Polled() {
			missed = period * 7 / 4
		}
		limit = min(limit, max(missed, leastAbsence))
	}
	return limit
}

// Pauses keeps the last times between two samples of a signal that are long enough to
// be missed.
type Pauses struct {
	spans [8]bounds.Span
	Count int // of all that there were
}

// Add takes the times of two samples of a signal.
func (p *Pauses) Add(last, t int64, s *Streams, signal int) {
	if t-last < leastAbsence {
		return
	}
	if missed := s.Missed(last, t, signal); missed < t {
		p.spans[p.Count%len(p.spans)] = bounds.Span{From: missed, To: t}
		p.Count++
	}
}

// Missed is from when on a signal was not known that has samples at last and t; t
// where it was. On a frame sent on change a gap may have hidden any number of changes,
// up to the next one.
func (s *Streams) Missed(last, t int64, signal int) int64 {
	switch {
	case t-last >= s.Hole(signal):
		return last
	case s.m.Entries[s.m.Signals[signal].Entry].OnChange:
		return s.Gaps.First(last, t)
	}
	return t
}

// Unseen is how much of from..to the signal was not seen: in such pauses, and in gaps
// of the recording. last is its newest sample.
func (p *Pauses) Unseen(from, to, last int64, s *Streams, signal int) int64 {
	var away int64
	for _, pause := range p.spans {
		away += max(0, min(pause.To, to)-max(pause.From, from))
	}
	away += max(0, to-max(s.Missed(last, s.Latest, signal), last, from))
	return max(away, s.Gaps.Within(from, to))
}
