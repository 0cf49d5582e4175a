package series

import (
	"lull/analyze/streams"
	"lull/pkg/bounds"
)

// Switched follows a signal that is on or off.
type Switched struct {
	Seen, On bool  // On is the state at the newest sample; it holds where Seen
	Changed  bool  // since it was first seen
	Last     int64 // time of the newest sample, ns from the first frame
	// Delay is how long before the frame an event may lie on a frame sent on
	// change; negative on a cyclic frame.
	Delay int64
	// Events tells that a frame comes only when something changed, so that the
	// first one shows a change too.
	Events bool
	// Streams knows of gaps, and how long the signal may stay away; nil: nothing does.
	Streams *streams.Streams
	Signal  int            // index into Map.Signals
	Pauses  streams.Pauses // when it was not seen
}

// Add takes the next sample, of time t. edge is +1 where it turned on, -1 off and 0
// where nothing changed; when is the instant of the edge.
func (s *Switched) Add(t int64, on bool) (edge int8, when bounds.Instant) {
	known, was, last := s.Seen, s.On, s.Last
	if known {
		s.Pauses.Add(last, t, s.Streams, s.Signal)
	}
	s.Seen, s.On, s.Last = true, on, t
	switch {
	case !known && s.Events:
		last = t - s.Delay
	case !known || was == on:
		return 0, bounds.Instant{}
	}
	s.Changed = true
	when = Changed(last, t, s.Delay, s.Streams, s.Signal)
	if on {
		return 1, when
	}
	return -1, when
}

// Stay takes samples that are as the newest one, and near each other, of which the last came
// at t.
func (s *Switched) Stay(t int64) { s.Last = t }

// Reset forgets all samples and keeps what the signal is.
func (s *Switched) Reset() {
	*s = Switched{Delay: s.Delay, Events: s.Events, Streams: s.Streams, Signal: s.Signal}
}

// Changed returns the instant of a switch's change between the sample before and the
// one that shows it. On a frame sent on change, where delay is not negative, it lies
// shortly before the one that shows it, unless a frame was lost: in a gap of the
// recording, or where even repeats stayed away.
func Changed(before, shows, delay int64, s *streams.Streams, signal int) bounds.Instant {
	low := min(before, shows)
	if delay >= 0 && shows-low < s.Absence(signal) {
		low = max(low, min(shows-delay, s.Gaps.First(low, shows)))
	}
	return bounds.Midway(low, shows)
}

// Unseen returns how much of from..to the switch was not seen, in ns; 0 if it never
// was.
func (s *Switched) Unseen(from, to int64) int64 {
	if !s.Seen {
		return 0
	}
	return s.Pauses.Unseen(from, to, s.Last, s.Streams, s.Signal)
}
