package streams

import (
	"cmp"
	"math"
	"slices"

	"lull/analyze"
	"lull/decode"
)

const (
	// learnGaps is how many gaps between frames a period is learned from.
	learnGaps = 32
	// leastAbsence is the shortest silence and the shortest gap, in ns.
	leastAbsence = int64(100e6)
	// maxStreams bounds the memory of a map that names a parameter group sent by
	// very many addresses, or of a log of noise; further streams are not watched.
	maxStreams = 4096
)

// Streams watches when frames come: it learns periods, and finds modules that
// fall silent and recordings that stop. A stream is what one identifier on one
// interface sends. Times are ns from the first frame.
type Streams struct {
	m *decode.Map

	Latest int64 // the latest time of any frame
	// gapLimit: from this long on, no frame at all is a gap. It never comes as long as
	// no period is known to judge by. Only entries that the log has shown count, and
	// polled ones only where the map has nothing cyclic.
	gapLimit int64
	gapTotal int64 // ns of all gaps so far
	Gaps     Gaps  // of the recording, since time last ran back
	gapFrom  int64 // the shortest period that gaps are judged by, 0 while unknown
	cyclic   bool  // the map has a cyclic entry: polled ones do not judge gaps

	list    []stream
	index   map[streamKey]int
	entries []entryStream
}

type streamKey struct {
	bus      string
	id       uint32
	extended bool
}

// entryStream is what is known of one of the map's entries.
type entryStream struct {
	period int64 // given, or the shortest learned of its streams; 0 unknown
	last   int   // the stream that matched it last, so that most frames need no look-up; -1 none
	polled learner
}

// stream is one identifier on one interface.
type stream struct {
	learner
	limit    int64 // from this long on, its absence is a silence
	gapTotal int64 // gapTotal at its last frame
	key      streamKey
	cyclic   bool // at least one of entries is

	entries []int // those that match it, but for polled ones
	module  string
	period  int64
}

// New returns a Streams for the frames of m. It knows the periods that m gives and
// learns the others.
func New(m *decode.Map) *Streams {
	s := &Streams{
		m:        m,
		gapLimit: math.MaxInt64,
		index:    make(map[streamKey]int),
		entries:  make([]entryStream, len(m.Entries)),
	}
	for i := range m.Entries {
		e := &m.Entries[i]
		s.entries[i] = entryStream{period: int64(e.Period), last: -1}
		s.entries[i].polled.done = e.Period > 0
		if !e.Polled() && !e.OnChange {
			s.cyclic = true
		}
	}
	return s
}

// Follows reports whether a frame of this time comes neither before the others nor after
// a gap.
func (s *Streams) Follows(now int64) bool { return now >= s.Latest && now-s.Latest < s.gapLimit }

// Next takes the time of a frame that Follows, as nearly all do. Where it is false the time
// is for Tick.
func (s *Streams) Next(now int64) bool {
	if !s.Follows(now) {
		return false
	}
	s.Latest = now
	return true
}

// Tick takes the time of a frame of any kind, mapped or not. Where no frame came
// for longer than the gap threshold before it, it returns that gap. A time that
// runs back is none; the latest time seen so far counts on.
func (s *Streams) Tick(now int64) (analyze.Gap, bool) {
	away := now - s.Latest
	if away <= 0 {
		return analyze.Gap{}, false
	}
	start := s.Latest
	s.Latest = now
	if away < s.gapLimit {
		return analyze.Gap{}, false
	}
	s.gapTotal += away
	s.Gaps = append(s.Gaps, analyze.Gap{Start: start, End: now})
	return analyze.Gap{Start: start, End: now}, true
}

// Pass takes the time of the last of several frames between which, and since the
// one before them, there was no gap.
func (s *Streams) Pass(now int64) { s.Latest = max(s.Latest, now) }

// Regular returns the stream of the frame that was taken last, which matched only this
// entry, and from how long on its absence, in ns, is more than the usual step: a silence, or
// a Hole of its signals. ok is false unless it is cyclic and its period is known.
func (s *Streams) Regular(f *decode.Frame, entry int) (index int, limit int64, ok bool) {
	index = s.entries[entry].last
	if index < 0 || s.m.Entries[entry].OnChange {
		return 0, 0, false
	}
	st := &s.list[index]
	if !st.done || st.key.id != f.ID || st.key.extended != f.Flags.Has(decode.Extended) || st.key.bus != f.Bus {
		return 0, 0, false
	}
	limit = st.limit
	for _, signal := range s.m.Entries[entry].Signals[:min(1, len(s.m.Entries[entry].Signals))] {
		limit = min(limit, s.Hole(signal))
	}
	return index, limit, true
}

// Lead takes further frames of a stream that is Regular, of which the last came at now: no
// two of them were its limit apart, and no gap was between them.
func (s *Streams) Lead(index int, now int64) {
	s.list[index].last, s.list[index].gapTotal = now, s.gapTotal
}

// Seen takes a frame that matched entries of the map, after Tick. It returns the
// silence of this stream that ends with the frame. f.Time is not read.
func (s *Streams) Seen(f *decode.Frame, now int64, entries []int) (analyze.Silence, bool) {
	index := -1
	for _, e := range entries {
		if s.m.Entries[e].Polled() {
			s.seenPolled(e, now)
		} else if index < 0 {
			if index = s.find(f, e, entries); index < 0 {
				return analyze.Silence{}, false
			}
		}
	}
	if index < 0 {
		return analyze.Silence{}, false
	}
	st := &s.list[index]
	if !st.cyclic {
		return analyze.Silence{}, false
	}
	silence, silent := st.silence(now, s.gapTotal)
	if st.step(now) && st.period == 0 {
		s.setPeriod(st, st.median())
	}
	st.gapTotal = s.gapTotal
	return silence, silent
}

// find returns the index of the frame's stream, made where it is new; -1 where
// there are too many.
func (s *Streams) find(f *decode.Frame, entry int, entries []int) int {
	extended := f.Flags.Has(decode.Extended)
	if i := s.entries[entry].last; i >= 0 {
		if k := &s.list[i].key; k.id == f.ID && k.extended == extended && k.bus == f.Bus {
			return i
		}
	}
	key := streamKey{bus: f.Bus, id: f.ID, extended: extended}
	i, ok := s.index[key]
	if !ok {
		if len(s.list) >= maxStreams {
			return -1
		}
		i = s.add(key, entries)
	}
	s.entries[entry].last = i
	return i
}

func (s *Streams) add(key streamKey, entries []int) int {
	st := stream{key: key, limit: math.MaxInt64}
	given := int64(0)
	for _, e := range entries {
		entry := &s.m.Entries[e]
		if entry.Polled() {
			continue
		}
		st.entries = append(st.entries, e)
		if st.module == "" {
			st.module = entry.Module
		}
		if entry.OnChange {
			continue // its period is the slow repeat: no frame is missed by it
		}
		st.cyclic = true
		if p := int64(entry.Period); p > 0 && (given == 0 || p < given) {
			given = p
		}
	}
	i := len(s.list)
	s.list = append(s.list, st)
	s.index[key] = i
	if given > 0 {
		s.list[i].done = true
		s.setPeriod(&s.list[i], given)
	}
	return i
}

// setPeriod makes the period of a cyclic stream known, once. A period of 0, of
// frames that come in heaps of one stamp, is none.
func (s *Streams) setPeriod(st *stream, period int64) {
	if period <= 0 {
		return
	}
	st.period = period
	st.limit = s.Threshold(period)
	for _, e := range st.entries {
		if s.m.Entries[e].OnChange {
			continue
		}
		known := &s.entries[e]
		if s.m.Entries[e].Period == 0 && (known.period == 0 || period < known.period) {
			known.period = period
		}
		s.judgeGapsBy(known.period)
	}
}

func (s *Streams) judgeGapsBy(period int64) {
	if s.gapFrom == 0 || period < s.gapFrom {
		s.gapFrom = period
		s.gapLimit = s.Threshold(period)
	}
}

func (s *Streams) seenPolled(e int, now int64) {
	known := &s.entries[e]
	if known.polled.step(now) && known.period == 0 {
		known.period = known.polled.median()
	}
	if !s.cyclic && known.period > 0 {
		s.judgeGapsBy(known.period)
	}
}

// Threshold is the shortest absence that is more than silence_factor periods and
// at least 100 ms.
func (s *Streams) Threshold(period int64) int64 {
	limit := math.Floor(s.m.Settings.SilenceFactor*float64(period)) + 1
	if limit >= math.MaxInt64 {
		return math.MaxInt64
	}
	return max(int64(limit), leastAbsence)
}

// silence returns the stream's absence up to now where it was long enough without
// the gaps in it. A gap lies wholly in the absence of every stream that was seen
// before it, so the growth of the sum of all gaps is what has to be left out.
func (st *stream) silence(now, gapTotal int64) (analyze.Silence, bool) {
	if !st.seen || now-st.last < st.limit {
		return analyze.Silence{}, false
	}
	away := now - st.last - (gapTotal - st.gapTotal)
	if away < st.limit {
		return analyze.Silence{}, false
	}
	return analyze.Silence{
		ID:       decode.FormatID(st.key.id, st.key.extended),
		Bus:      st.key.bus,
		Module:   st.module,
		Start:    st.last,
		Duration: away,
		Period:   st.period,
	}, true
}

// Period returns the period of the frame that carries a signal: the one given in
// the map, else the one learned, of several senders the shortest. There is none
// yet for the first 32 gaps, and never one for a frame sent on change whose map
// gives none.
func (s *Streams) Period(signal int) (int64, bool) {
	p := s.entries[s.m.Signals[signal].Entry].period
	return p, p > 0
}

// Absence is how long a signal's samples may stay away before they are missed: what
// makes its frame silent. Of a frame sent on change only repeats can be missed, and
// of others none before their period is known.
func (s *Streams) Absence(signal int) int64 {
	period, known := s.Period(signal)
	if entry := &s.m.Entries[s.m.Signals[signal].Entry]; entry.OnChange {
		period, known = int64(entry.Period), entry.Period > 0
	}
	if !known {
		return math.MaxInt64
	}
	return s.Threshold(period)
}

// Reset forgets when frames were last seen, as the clock was set back. Periods
// stay; what was open is closed by nobody.
func (s *Streams) Reset(now int64) {
	s.Latest, s.Gaps = now, nil
	for i := range s.list {
		s.list[i].seen = false
	}
	for i := range s.entries {
		s.entries[i].polled.seen = false
	}
}

// Finish returns the silences that last to the end of the log, by their start.
func (s *Streams) Finish(now int64) []analyze.Silence {
	now = max(now, s.Latest)
	var open []analyze.Silence
	for i := range s.list {
		if silence, ok := s.list[i].silence(now, s.gapTotal); ok {
			open = append(open, silence)
		}
	}
	slices.SortStableFunc(open, func(a, b analyze.Silence) int { return cmp.Compare(a.Start, b.Start) })
	return open
}
