// Package fit holds a map against the frames of a log: which of its frames came and how
// long they usually are, and which of its signals had a value. Unlike the analysis it
// looks at every signal, also at those that nothing reads.
//
// It reads frames alone. Start with New.
package fit

import (
	"lull/analyze"
	"lull/decode"
)

// Fit counts what a log has of a map.
type Fit struct {
	m       *decode.Map
	decoder *decode.Decoder
	entries []entry
	values  []int64 // valid ones, of each signal
}

// entry counts the frames of one of the map's entries.
type entry struct {
	frames  int64
	lengths [64 + 1]int64 // of their payloads, in bytes
}

// New begins to count by the map.
func New(m *decode.Map) *Fit {
	return &Fit{m: m, decoder: decode.NewDecoder(m), entries: make([]entry, len(m.Entries)), values: make([]int64, len(m.Signals))}
}

// Add takes the next frame of the log. It does not keep it.
func (f *Fit) Add(frame *decode.Frame) {
	samples := f.decoder.Decode(frame)
	for _, i := range f.decoder.Matched() {
		e := &f.entries[i]
		e.frames++
		e.lengths[min(int(frame.Len), len(e.lengths)-1)]++
	}
	for i := range samples {
		if samples[i].Valid {
			f.values[samples[i].Signal]++
		}
	}
}

// Seen counts the signals that had a value.
func (f *Fit) Seen() int {
	n := 0
	for _, v := range f.values {
		if v > 0 {
			n++
		}
	}
	return n
}

// Misfits says of each signal that does not fit the log why, in the order of the map: its
// field reaches past the end that its frame usually has, or it never had a value.
func (f *Fit) Misfits() []analyze.Cause {
	var list []analyze.Cause
	for i := range f.m.Signals {
		signal := &f.m.Signals[i]
		e, counted := &f.m.Entries[signal.Entry], &f.entries[signal.Entry]
		// How long an answer of several frames is, its last frame does not tell.
		if usual := counted.usual(); counted.frames > 0 && usual <= signal.LastByte() && !e.Polled() {
			list = append(list, analyze.ShortFrame{Signal: signal.Name, Role: signal.Role, Frame: e.Label(), Needs: signal.LastByte() + 1, Bytes: usual})
			continue
		}
		if f.values[i] == 0 {
			list = append(list, analyze.UnseenSignal{Signal: signal.Name, Role: signal.Role, Frame: e.Label(), Frames: counted.frames > 0})
		}
	}
	return list
}

// usual is the length that most of the frames have, in bytes.
func (e *entry) usual() int {
	most := 0
	for n := range e.lengths {
		if e.lengths[n] > e.lengths[most] {
			most = n
		}
	}
	return most
}
