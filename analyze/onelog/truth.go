package onelog

import (
	"slices"

	"lull/analyze"
	"lull/analyze/series"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// truthSpan is a stretch of time with one state of a condition, or of the car's
// own code.
type truthSpan struct {
	bounds.Span
	state analyze.Truth
	raw   int64
}

// truthLog is the history of one condition: what it was from which moment on.
type truthLog struct {
	changes []truthSpan // only from, state and raw are used
}

func (l *truthLog) add(t int64, state analyze.Truth) { l.put(t, state, 0) }

func (l *truthLog) put(t int64, state analyze.Truth, raw int64) {
	if n := len(l.changes); n > 0 {
		t = max(t, l.changes[n-1].From)
	}
	l.changes = append(l.changes, truthSpan{bounds.Span{From: t, To: t}, state, raw})
}

// segments gives the states over from..to in order; where from is not before to,
// the one state at from.
func (l *truthLog) segments(from, to int64) []truthSpan {
	out := []truthSpan{{bounds.Span{From: from, To: to}, analyze.Unknown, 0}}
	for _, c := range l.changes {
		switch {
		case c.From <= from:
			out[0].state, out[0].raw = c.state, c.raw
		case c.From < to:
			out[len(out)-1].To = c.From
			out = append(out, truthSpan{bounds.Span{From: c.From, To: to}, c.state, c.raw})
		}
	}
	return out
}

// trim forgets what ended before the moment.
func (l *truthLog) trim(before int64) {
	n := 0
	for n+1 < len(l.changes) && l.changes[n+1].From <= before {
		n++
	}
	l.changes = l.changes[:copy(l.changes, l.changes[n:])]
}

// codeHistory follows the car's own reason for not stopping the engine.
type codeHistory struct {
	truthLog
	delay   int64
	streams *streams.Streams
	signal  int
	seen    bool
	last    int64
	raw     int64
	// pauses are the stretches in which it was not seen, from the last sample to
	// the next; only those long enough to matter are kept.
	pauses []bounds.Span
}

func (h *codeHistory) add(t, raw int64, signal *decode.Signal) {
	if h.seen && t-h.last > second {
		h.pauses = append(h.pauses, bounds.Span{From: h.last, To: t})
	}
	if !h.seen || raw != h.raw {
		state := analyze.True
		if signal.IsClear(raw) {
			state = analyze.False
		}
		moment := t
		if h.seen {
			moment = series.Changed(h.last, t, h.delay, h.streams, h.signal).T
		}
		h.put(moment, state, raw)
	}
	h.seen, h.last, h.raw = true, t, raw
}

// segments as of a truthLog, but unknown where the code was not seen for longer
// than the limit.
func (h *codeHistory) segments(from, to, limit int64, bounded bool, now int64) []truthSpan {
	var log truthLog
	log.changes = append(log.changes, h.changes...)
	if bounded {
		pauses := h.pauses
		if now-h.last > limit {
			pauses = append(slices.Clone(pauses), bounds.Span{From: h.last, To: now})
		}
		for _, p := range pauses {
			if p.To-p.From <= limit {
				continue
			}
			lost := p.From + limit
			var kept []truthSpan
			resumed := truthSpan{bounds.Span{From: p.To, To: p.To}, analyze.Unknown, 0}
			for _, c := range log.changes {
				if c.From <= p.To {
					resumed.state, resumed.raw = c.state, c.raw
				}
				if c.From < lost || c.From > p.To {
					kept = append(kept, c)
				}
			}
			at := slices.IndexFunc(kept, func(c truthSpan) bool { return c.From > p.To })
			if at < 0 {
				at = len(kept)
			}
			log.changes = slices.Insert(kept, at, truthSpan{bounds.Span{From: lost, To: lost}, analyze.Unknown, 0}, resumed)
		}
	}
	return log.segments(from, to)
}

func (h *codeHistory) trim(before int64) {
	h.truthLog.trim(before)
	h.pauses = slices.DeleteFunc(h.pauses, func(p bounds.Span) bool { return p.To < before })
}

func (h *codeHistory) reset() { *h = codeHistory{delay: h.delay, streams: h.streams, signal: h.signal} }
