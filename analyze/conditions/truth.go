package conditions

import (
	"slices"

	"lull/analyze"
	"lull/analyze/series"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// TruthSpan is a stretch of time with one state of a condition, or of the car's
// own code.
type TruthSpan struct {
	bounds.Span
	State analyze.Truth
	Raw   int64 // of the code; 0 of a condition
}

// TruthLog is the history of one condition: what it was from which moment on.
type TruthLog struct {
	changes []TruthSpan // only from, state and raw are used
}

// Add notes the state from t on, in ns; a t before that of the last change counts as it.
func (l *TruthLog) Add(t int64, state analyze.Truth) { l.put(t, state, 0) }

func (l *TruthLog) put(t int64, state analyze.Truth, raw int64) {
	if n := len(l.changes); n > 0 {
		t = max(t, l.changes[n-1].From)
	}
	l.changes = append(l.changes, TruthSpan{bounds.Span{From: t, To: t}, state, raw})
}

// Segments returns the states over from..to in order; where from is not before to,
// the one state at from.
func (l *TruthLog) Segments(from, to int64) []TruthSpan {
	out := []TruthSpan{{bounds.Span{From: from, To: to}, analyze.Unknown, 0}}
	for _, c := range l.changes {
		switch {
		case c.From <= from:
			out[0].State, out[0].Raw = c.State, c.Raw
		case c.From < to:
			out[len(out)-1].To = c.From
			out = append(out, TruthSpan{bounds.Span{From: c.From, To: to}, c.State, c.Raw})
		}
	}
	return out
}

// Trim forgets what ended before the moment.
func (l *TruthLog) Trim(before int64) {
	n := 0
	for n+1 < len(l.changes) && l.changes[n+1].From <= before {
		n++
	}
	l.changes = l.changes[:copy(l.changes, l.changes[n:])]
}

// CodeHistory follows the car's own reason for not stopping the engine.
type CodeHistory struct {
	TruthLog
	Delay   int64            // as that of series.Switched
	Streams *streams.Streams // as that of series.Switched
	Signal  int              // index into Map.Signals
	seen    bool
	last    int64
	raw     int64
	// pauses are the stretches in which it was not seen, from the last sample to
	// the next, as far as they are longer than the limit known by then.
	pauses []bounds.Span
}

// Add takes a sample of the code. A code not seen for longer than limit, in ns, is
// unknown meanwhile.
func (h *CodeHistory) Add(t, raw int64, signal *decode.Signal, limit int64) {
	if h.seen && t-h.last > limit {
		h.pauses = append(h.pauses, bounds.Span{From: h.last, To: t})
	}
	if !h.seen || raw != h.raw {
		state := analyze.True
		if signal.IsClear(raw) {
			state = analyze.False
		}
		moment := t
		if h.seen {
			moment = series.Changed(h.last, t, h.Delay, h.Streams, h.Signal).T
		}
		h.put(moment, state, raw)
	}
	h.seen, h.last, h.raw = true, t, raw
}

// Stay takes samples that are as the newest one, and near each other, of which the last came
// at t.
func (h *CodeHistory) Stay(t int64) { h.last = t }

// Segments returns what TruthLog.Segments does, but unknown where the code was not
// seen for longer than the limit.
func (h *CodeHistory) Segments(from, to, limit, now int64) []TruthSpan {
	var log TruthLog
	log.changes = append(log.changes, h.changes...)
	pauses := h.pauses
	if now-h.last > limit {
		pauses = append(slices.Clone(pauses), bounds.Span{From: h.last, To: now})
	}
	for _, p := range pauses {
		if p.To-p.From <= limit {
			continue
		}
		lost := p.From + limit
		var kept []TruthSpan
		resumed := TruthSpan{bounds.Span{From: p.To, To: p.To}, analyze.Unknown, 0}
		for _, c := range log.changes {
			if c.From <= p.To {
				resumed.State, resumed.Raw = c.State, c.Raw
			}
			if c.From < lost || c.From > p.To {
				kept = append(kept, c)
			}
		}
		at := slices.IndexFunc(kept, func(c TruthSpan) bool { return c.From > p.To })
		if at < 0 {
			at = len(kept)
		}
		log.changes = slices.Insert(kept, at, TruthSpan{bounds.Span{From: lost, To: lost}, analyze.Unknown, 0}, resumed)
	}
	return log.Segments(from, to)
}

// Trim forgets what ended before the moment.
func (h *CodeHistory) Trim(before int64) {
	h.TruthLog.Trim(before)
	h.pauses = slices.DeleteFunc(h.pauses, func(p bounds.Span) bool { return p.To < before })
}

// Reset forgets all samples and keeps what the signal is.
func (h *CodeHistory) Reset() { *h = CodeHistory{Delay: h.Delay, Streams: h.Streams, Signal: h.Signal} }
