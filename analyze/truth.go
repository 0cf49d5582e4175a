package analyze

import (
	"slices"
	"strconv"

	"lull/decode"
)

// span is a stretch of time.
type span struct{ from, to int64 }

// union is how much time the spans cover together.
func union(spans []span) int64 {
	sorted := slices.Clone(spans)
	slices.SortFunc(sorted, func(a, b span) int {
		switch {
		case a.from < b.from:
			return -1
		case a.from > b.from:
			return 1
		}
		return 0
	})
	var covered int64
	end := int64(-1 << 63)
	for _, s := range sorted {
		if from := max(s.from, end); s.to > from {
			covered += s.to - from
		}
		end = max(end, s.to)
	}
	return covered
}

// truthSpan is a stretch of time with one state of a condition, or of the car's
// own code.
type truthSpan struct {
	span
	state Truth
	raw   int64
}

// truthLog is the history of one condition: what it was from which moment on.
type truthLog struct {
	changes []truthSpan // only from, state and raw are used
}

func (l *truthLog) add(t int64, state Truth) { l.put(t, state, 0) }

func (l *truthLog) put(t int64, state Truth, raw int64) {
	if n := len(l.changes); n > 0 {
		t = max(t, l.changes[n-1].from)
	}
	l.changes = append(l.changes, truthSpan{span{t, t}, state, raw})
}

// segments gives the states over from..to in order; where from is not before to,
// the one state at from.
func (l *truthLog) segments(from, to int64) []truthSpan {
	out := []truthSpan{{span{from, to}, Unknown, 0}}
	for _, c := range l.changes {
		switch {
		case c.from <= from:
			out[0].state, out[0].raw = c.state, c.raw
		case c.from < to:
			out[len(out)-1].to = c.from
			out = append(out, truthSpan{span{c.from, to}, c.state, c.raw})
		}
	}
	return out
}

// trim forgets what ended before the moment.
func (l *truthLog) trim(before int64) {
	n := 0
	for n+1 < len(l.changes) && l.changes[n+1].from <= before {
		n++
	}
	l.changes = l.changes[:copy(l.changes, l.changes[n:])]
}

// codeHistory follows the car's own reason for not stopping the engine.
type codeHistory struct {
	truthLog
	delay   int64
	streams *streams
	signal  int
	seen    bool
	last    int64
	raw     int64
	// pauses are the stretches in which it was not seen, from the last sample to
	// the next, as far as they are longer than the limit known by then.
	pauses []span
}

func (h *codeHistory) add(t, raw int64, signal *decode.Signal, limit int64) {
	if h.seen && t-h.last > limit {
		h.pauses = append(h.pauses, span{h.last, t})
	}
	if !h.seen || raw != h.raw {
		state := True
		if signal.IsClear(raw) {
			state = False
		}
		moment := t
		if h.seen {
			moment = changed(h.last, t, h.delay, h.streams, h.signal).T
		}
		h.put(moment, state, raw)
	}
	h.seen, h.last, h.raw = true, t, raw
}

// segments as of a truthLog, but unknown where the code was not seen for longer
// than the limit.
func (h *codeHistory) segments(from, to, limit, now int64) []truthSpan {
	var log truthLog
	log.changes = append(log.changes, h.changes...)
	pauses := h.pauses
	if now-h.last > limit {
		pauses = append(slices.Clone(pauses), span{h.last, now})
	}
	for _, p := range pauses {
		if p.to-p.from <= limit {
			continue
		}
		lost := p.from + limit
		var kept []truthSpan
		resumed := truthSpan{span{p.to, p.to}, Unknown, 0}
		for _, c := range log.changes {
			if c.from <= p.to {
				resumed.state, resumed.raw = c.state, c.raw
			}
			if c.from < lost || c.from > p.to {
				kept = append(kept, c)
			}
		}
		at := slices.IndexFunc(kept, func(c truthSpan) bool { return c.from > p.to })
		if at < 0 {
			at = len(kept)
		}
		log.changes = slices.Insert(kept, at, truthSpan{span{lost, lost}, Unknown, 0}, resumed)
	}
	return log.segments(from, to)
}

func (h *codeHistory) trim(before int64) {
	h.truthLog.trim(before)
	h.pauses = slices.DeleteFunc(h.pauses, func(p span) bool { return p.to < before })
}

func (h *codeHistory) reset() { *h = codeHistory{delay: h.delay, streams: h.streams, signal: h.signal} }

// CodeName is a value of the car's own inhibit code in words: its label, else its
// number.
func CodeName(s *decode.Signal, raw int64) string {
	if label := s.LabelOf(raw); label != "" {
		return label
	}
	return "code " + strconv.FormatInt(raw, 10)
}
