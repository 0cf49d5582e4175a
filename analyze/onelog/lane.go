package onelog

import (
	"math"

	"lull/analyze/findings"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/stats"
)

// Nearly every frame of a drive says what the one before it said, or something like it: no
// threshold is crossed, no switch turns, nothing is late. Such a quiet frame is only put
// aside, in the lane of its stream, as a time and a word; what lanes hold is handed on
// signal by signal before the next frame that is not quiet. The order among signals counts
// only where something changes, so this comes to the same as handing on every frame at once.

// lane is the stream of the one entry that its frames match.
type lane struct {
	id       uint32
	extended bool
	bus      string
	len      uint8
	stream   int // of Recording.Streams
	limit    int64
	kept     bool // plausible wants its first frames

	// ready says that the last frame was handed on and all its signals were valid: the
	// next one is quiet if it is the same in steady, and each of ranged in its range.
	ready  bool
	last   int64  // time of the last frame
	word   uint64 // payload of the last frame
	steady uint64 // bits of signals that are quiet only as they are
	ranged []ranged
	bases  int // of the conditions, when ranges were last found

	columns []decode.Column
	times   []int64 // of the frames put aside, with
	words   []uint64
}

// ranged is a signal that is quiet within a range of raw values.
type ranged struct {
	column    *decode.Column
	cuts      []cut
	low, high int64
}

// cut is where a quantity crosses one threshold: it surely lies on one side up to below,
// and on the other from above on.
type cut struct{ below, above int64 }

// mostAside is how many frames a lane puts aside. It bounds memory; more at once would not
// be faster.
const mostAside = 256

// lanes are all lanes of a Run.
type lanes struct {
	standard [1 << 11]*lane
	extended map[uint32]*lane
	entries  []*lane // by entry of the map; nil: none yet
	never    []bool  // by entry: it can have none
	aside    bool    // some frame is put aside
	count    int64   // of all frames that were
	now      int64   // time of the last such frame
	until    int64   // no frame from this moment on is quiet
	bases    int     // of the conditions: ranges found before no longer hold
	points   []series.Point
}

func newLanes(m *decode.Map) lanes {
	return lanes{extended: map[uint32]*lane{}, entries: make([]*lane, len(m.Entries)), never: make([]bool, len(m.Entries)), until: math.MinInt64}
}

// forget has each lane's next frame handed on: time ran back, or ranges hold no longer.
func (l *lanes) forget() {
	for _, k := range l.entries {
		if k != nil {
			k.ready = false
		}
	}
}

// of returns the lane that may be that of a frame, nil if there is none.
func (l *lanes) of(f *decode.Frame) *lane {
	if f.Flags&decode.Extended != 0 {
		return l.extended[f.ID]
	}
	if f.ID < uint32(len(l.standard)) {
		return l.standard[f.ID]
	}
	return nil
}

// quiet puts a frame aside. If it is false the frame is to be pushed, after flush.
func (r *Run) quiet(f *decode.Frame) bool {
	k := r.lanes.of(f)
	if k == nil || !k.ready || f.Flags&(decode.Error|decode.Remote) != 0 || f.Len != k.len || len(k.times) == mostAside {
		return false
	}
	now := f.Time - r.Zero
	if now >= r.lanes.until || now-k.last >= k.limit || f.Bus != k.bus {
		return false
	}
	word := f.Word()
	if word != k.word {
		if (word^k.word)&k.steady != 0 {
			return false
		}
		for i := range k.ranged {
			v := &k.ranged[i]
			if raw := v.column.Raw(word); raw < v.low || raw > v.high {
				return false
			}
		}
	}
	look := now >= r.due
	if look && now >= r.trimDue || !r.Next(f) {
		return false
	}
	if k.kept && r.Plausible.Wants() {
		r.Plausible.Frames = append(r.Plausible.Frames, *f)
	}
	k.last, k.word = now, word
	k.times, k.words = append(k.times, now), append(k.words, word)
	r.lanes.aside, r.lanes.now = true, now
	r.lanes.count++
	if look {
		r.due = now + lookEvery // there is nothing to look after
	}
	return true
}

// follow takes a frame that was pushed, and what entries it matched.
func (r *Run) follow(f *decode.Frame, samples []decode.Sample, entries []int) {
	l := &r.lanes
	l.until = r.quietUntil()
	if bases := r.Requests.Bases() + r.Inhibits.Bases(); bases != l.bases {
		l.bases = bases
		l.forget()
	}
	for _, e := range entries {
		if len(entries) > 1 {
			l.never[e] = true
		}
		k := l.entries[e]
		if k == nil && !l.never[e] {
			k = r.newLane(f, e)
		}
		if k == nil {
			continue
		}
		k.ready = false
		if l.never[e] || k.id != f.ID || k.extended != f.Flags.Has(decode.Extended) || k.bus != f.Bus || f.Len > 8 ||
			len(samples) != len(k.columns) {
			continue
		}
		var regular bool
		if k.stream, k.limit, regular = r.Streams.Regular(f, e); !regular {
			continue
		}
		for i := range k.columns {
			switch r.uses[k.columns[i].Signal].role {
			case decode.EngineSpeed:
				k.limit = min(k.limit, findings.LongestCommand)
			case decode.InhibitCode:
				k.limit = min(k.limit, r.StaleAfter(decode.InhibitCode))
			}
		}
		k.len, k.last, k.word = f.Len, r.Now, f.Word()
		k.ready = r.settled(k, samples)
	}
}

// quietUntil is the moment from which on the next frame, whatever it says, must be pushed.
func (r *Run) quietUntil() int64 {
	if r.pushAll {
		return math.MinInt64
	}
	until := r.CalmUntil()
	if due := min(r.Requests.Due(), r.Inhibits.Due()); due < until {
		until = due + 1
	}
	if r.Waits() {
		until = min(until, r.due)
	}
	return until
}

// newLane opens the lane of an entry, for a frame that matches it alone. It is nil where
// there can be none.
func (r *Run) newLane(f *decode.Frame, entry int) *lane {
	l := &r.lanes
	columns, ok := r.Columns(entry)
	for i := range r.M.Entries {
		e := &r.M.Entries[i]
		ok = ok && !(e.Polled() && e.Response == f.ID) // an answer may take the frame besides
	}
	for i := range columns {
		least, most := columns[i].Range()
		for _, raw := range []int64{least, most} {
			ok = ok && stats.Finite(r.M.Signals[columns[i].Signal].ToRole.Apply(columns[i].Value(raw)))
		}
	}
	if !ok || l.of(f) != nil {
		l.never[entry] = !ok
		return nil
	}
	k := &lane{id: f.ID, extended: f.Flags.Has(decode.Extended), bus: f.Bus, columns: columns, bases: -1}
	for _, s := range r.M.Entries[entry].Signals {
		k.kept = k.kept || r.M.Signals[s].Role != decode.NoRole
	}
	l.entries[entry] = k
	if k.extended {
		l.extended[f.ID] = k
	} else {
		l.standard[f.ID] = k
	}
	return k
}

// settled finds where the next frame of a lane is quiet, after one with these samples. It
// reports whether it can be at all.
func (r *Run) settled(k *lane, samples []decode.Sample) bool {
	if k.bases != r.lanes.bases {
		k.bases = r.lanes.bases
		r.findRanges(k)
	}
	for i := range samples {
		s := &samples[i]
		if u := &r.uses[s.Signal]; !s.Valid || u.request && !r.Requests.Steady(s.Signal) || u.inhibit && !r.Inhibits.Steady(s.Signal) {
			return false
		}
	}
	for i := range k.ranged {
		if v := &k.ranged[i]; !v.around(v.column.Raw(k.word)) {
			return false
		}
	}
	return true
}

// around sets the range to all raw values that lie on the same side of every cut as raw.
// It is false where that side is not sure.
func (v *ranged) around(raw int64) bool {
	if raw >= v.low && raw <= v.high {
		return true
	}
	low, high := v.column.Range()
	for _, c := range v.cuts {
		switch {
		case raw <= c.below:
			high = min(high, c.below)
		case raw >= c.above:
			low = max(low, c.above)
		default:
			v.low, v.high = 1, 0
			return false
		}
	}
	v.low, v.high = low, high
	return true
}

// findRanges finds which signals of a lane are quiet only as they are, and the cuts of
// the others.
func (r *Run) findRanges(k *lane) {
	k.steady, k.ranged = 0, k.ranged[:0]
	for i := range k.columns {
		c := &k.columns[i]
		u := &r.uses[c.Signal]
		requests, exact := r.Requests.Ends(c.Signal)
		inhibits, exactly := r.Inhibits.Ends(c.Signal)
		switch u.role {
		case decode.StopCommand, decode.StarterCommand, decode.Ignition, decode.StarterCount, decode.InhibitCode:
			exact = true
		}
		if exact || exactly {
			k.steady |= c.Bits()
			continue
		}
		v := ranged{column: c, low: 1}
		for _, end := range append(requests, inhibits...) {
			v.cut(func(raw int64) int8 { return end(c.Value(raw)) })
		}
		for _, crossing := range r.Thresholds(u.role) {
			v.cut(func(raw int64) int8 { return crossing.SideOf(u.signal.ToRole.Apply(c.Value(raw))) })
		}
		for _, code := range c.Codes() {
			v.cuts = append(v.cuts, cut{code - 1, code + 1})
		}
		if s := u.signal; s.HasMin {
			v.cut(func(raw int64) int8 { return side(c.Value(raw) >= s.Min) })
		}
		if s := u.signal; s.HasMax {
			v.cut(func(raw int64) int8 { return side(c.Value(raw) > s.Max) })
		}
		if len(v.cuts) > 0 {
			k.ranged = append(k.ranged, v)
		}
	}
}

func side(above bool) int8 {
	if above {
		return 1
	}
	return -1
}

// cut adds where a side that goes but one way with the raw value changes.
func (v *ranged) cut(side func(raw int64) int8) {
	least, most := v.column.Range()
	first, last := side(least), side(most)
	if first == last && first != 0 {
		return
	}
	c := cut{least - 1, most + 1}
	if first != 0 {
		c.below = search(least, most, func(raw int64) bool { return side(raw) != first }) - 1
	}
	if last != 0 {
		c.above = search(least, most, func(raw int64) bool { return side(raw) == last })
	}
	v.cuts = append(v.cuts, c)
}

// search returns the first of least..most for which f, which goes from false to true, is
// true; most if there is none.
func search(least, most int64, f func(int64) bool) int64 {
	for least < most {
		if middle := least + (most-least)/2; f(middle) {
			most = middle
		} else {
			least = middle + 1
		}
	}
	return most
}
