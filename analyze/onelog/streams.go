package onelog

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

// streams watches when frames come: it learns periods, and finds modules that
// fall silent and recordings that stop. A stream is what one identifier on one
// interface sends. Times are ns from the first frame.
type streams struct {
	m *decode.Map

	latest int64 // the latest time of any frame
	// gapLimit: from this long on, no frame at all is a gap. It never comes as long as
	// no period is known to judge by. Only entries that the log has shown count, and
	// polled ones only where the map has nothing cyclic.
	gapLimit int64
	gapTotal int64 // ns of all gaps so far
	gaps     gapList
	gapFrom  int64 // the shortest period that gaps are judged by, 0 while unknown
	cyclic   bool  // the map has a cyclic entry: polled ones do not judge gaps

	list    []stream
	index   map[streamKey]int
	entries []entryStream
}

// gapList holds the gaps of the recording in order, since time last ran back.
type gapList []analyze.Gap

// within is how much of from..to lies in gaps.
func (l gapList) within(from, to int64) int64 {
	var sum int64
	for i := len(l) - 1; i >= 0 && l[i].End > from; i-- {
		sum += max(0, min(l[i].End, to)-max(l[i].Start, from))
	}
	return sum
}

// between tells whether a gap lies between two frames.
func (l gapList) between(from, to int64) bool {
	return len(l) > 0 && l.within(from, to) > 0
}

// first is where the first gap between two frames begins; the second where there is
// none.
func (l gapList) first(from, to int64) int64 {
	for i := len(l) - 1; i >= 0 && l[i].End > from; i-- {
		to = min(to, max(l[i].Start, from))
	}
	return to
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

// learner takes the median of the first gaps.
type learner struct {
	last int64
	seen bool
	done bool
	gaps []int64
}

func newStreams(m *decode.Map) *streams {
	s := &streams{
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

// next takes the time of a frame that comes next, neither before the others nor
// after a gap, as nearly all do. Where it is false the time is for tick.
func (s *streams) next(now int64) bool {
	if now < s.latest || now-s.latest >= s.gapLimit {
		return false
	}
	s.latest = now
	return true
}

// tick takes the time of a frame of any kind, mapped or not. Where no frame came
// for longer than the gap threshold before it, it returns that gap. A time that
// runs back is none; the latest time seen so far counts on.
func (s *streams) tick(now int64) (analyze.Gap, bool) {
	away := now - s.latest
	if away <= 0 {
		return analyze.Gap{}, false
	}
	start := s.latest
	s.latest = now
	if away < s.gapLimit {
		return analyze.Gap{}, false
	}
	s.gapTotal += away
	s.gaps = append(s.gaps, analyze.Gap{Start: start, End: now})
	return analyze.Gap{Start: start, End: now}, true
}

// pass takes the time of the last of several frames between which, and since the
// one before them, there was no gap.
func (s *streams) pass(now int64) { s.latest = max(s.latest, now) }

// usual takes a frame that matched one cyclic entry, on the stream that matched it
// last and in time, as nearly all do. Where it is false the frame is for seen.
func (s *streams) usual(f *decode.Frame, now int64, entries []int) bool {
	if len(entries) != 1 || s.entries[entries[0]].last < 0 {
		return false
	}
	st := &s.list[s.entries[entries[0]].last]
	away := now - st.last
	if !st.done || !st.cyclic || away < 0 || away >= st.limit || st.key.id != f.ID ||
		st.key.extended != (f.Flags&decode.Extended != 0) || st.key.bus != f.Bus {
		return false
	}
	st.last, st.gapTotal = now, s.gapTotal
	return true
}

// seen takes a frame that matched entries of the map, after tick. It returns the
// silence of this stream that ends with the frame. f.Time is not read.
func (s *streams) seen(f *decode.Frame, now int64, entries []int) (analyze.Silence, bool) {
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
func (s *streams) find(f *decode.Frame, entry int, entries []int) int {
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

func (s *streams) add(key streamKey, entries []int) int {
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
func (s *streams) setPeriod(st *stream, period int64) {
	if period <= 0 {
		return
	}
	st.period = period
	st.limit = s.threshold(period)
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

func (s *streams) judgeGapsBy(period int64) {
	if s.gapFrom == 0 || period < s.gapFrom {
		s.gapFrom = period
		s.gapLimit = s.threshold(period)
	}
}

func (s *streams) seenPolled(e int, now int64) {
	known := &s.entries[e]
	if known.polled.step(now) && known.period == 0 {
		known.period = known.polled.median()
	}
	if !s.cyclic && known.period > 0 {
		s.judgeGapsBy(known.period)
	}
}

// threshold is the shortest absence that is more than silence_factor periods and
// at least 100 ms.
func (s *streams) threshold(period int64) int64 {
	limit := math.Floor(s.m.Settings.SilenceFactor*float64(period)) + 1
	if limit >= math.MaxInt64 {
		return math.MaxInt64
	}
	return max(int64(limit), leastAbsence)
}

// step takes a frame's time and tells whether the gaps just became enough. A
// time that runs back is as if the frame had come with the one before.
func (l *learner) step(now int64) bool {
	if !l.seen {
		l.seen, l.last = true, now
		return false
	}
	away := max(now-l.last, 0)
	l.last += away
	if l.done {
		return false
	}
	if l.gaps == nil {
		l.gaps = make([]int64, 0, learnGaps)
	}
	l.gaps = append(l.gaps, away)
	l.done = len(l.gaps) == learnGaps
	return l.done
}

// median of the gaps, which it sorts and lets go.
func (l *learner) median() int64 {
	slices.Sort(l.gaps)
	a, b := l.gaps[learnGaps/2-1], l.gaps[learnGaps/2]
	l.gaps = nil
	return a + (b-a)/2
}

// silence gives the stream's absence up to now where it was long enough without
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

// period gives the period of the frame that carries a signal: the one given in
// the map, else the one learned, of several senders the shortest. There is none
// yet for the first 32 gaps, and never one for a frame sent on change whose map
// gives none.
func (s *streams) period(signal int) (int64, bool) {
	p := s.entries[s.m.Signals[signal].Entry].period
	return p, p > 0
}

// absence is how long a signal's samples may stay away before they are missed: what
// makes its frame silent. Of a frame sent on change only repeats can be missed, and
// of others none before their period is known.
func (s *streams) absence(signal int) int64 {
	period, known := s.period(signal)
	if entry := &s.m.Entries[s.m.Signals[signal].Entry]; entry.OnChange {
		period, known = int64(entry.Period), entry.Period > 0
	}
	if !known {
		return math.MaxInt64
	}
	return s.threshold(period)
}

// hole is how long a signal's samples may stay away from a window of a restart before
// the window counts as not seen there: as soon as two frames in a row, or one polled
// answer, are missed, long before that makes a frame silent.
func (s *streams) hole(signal int) int64 {
	limit := s.absence(signal)
	if period, known := s.period(signal); known && limit < math.MaxInt64 {
		missed := period * 5 / 2
		if s.m.Entries[s.m.Signals[signal].Entry].Polled() {
			missed = period * 7 / 4
		}
		limit = min(limit, max(missed, leastAbsence))
	}
	return limit
}

// pauses keeps the last times between two samples of a signal that are long enough to
// be missed.
type pauses struct {
	spans [8]span
	count int // of all that there were
}

// add takes the times of two samples of a signal.
func (p *pauses) add(last, t int64, s *streams, signal int) {
	if t-last < leastAbsence {
		return
	}
	if missed := s.missed(last, t, signal); missed < t {
		p.spans[p.count%len(p.spans)] = span{missed, t}
		p.count++
	}
}

// missed is from when on a signal was not known that has samples at last and t; t
// where it was. On a frame sent on change a gap may have hidden any number of changes,
// up to the next one.
func (s *streams) missed(last, t int64, signal int) int64 {
	switch {
	case t-last >= s.hole(signal):
		return last
	case s.m.Entries[s.m.Signals[signal].Entry].OnChange:
		return s.gaps.first(last, t)
	}
	return t
}

// unseen is how much of from..to the signal was not seen: in such pauses, and in gaps
// of the recording. last is its newest sample.
func (p *pauses) unseen(from, to, last int64, s *streams, signal int) int64 {
	var away int64
	for _, pause := range p.spans {
		away += max(0, min(pause.to, to)-max(pause.from, from))
	}
	away += max(0, to-max(s.missed(last, s.latest, signal), last, from))
	return max(away, s.gaps.within(from, to))
}

// reset forgets when frames were last seen, as the clock was set back. Periods
// stay; what was open is closed by nobody.
func (s *streams) reset(now int64) {
	s.latest, s.gaps = now, nil
	for i := range s.list {
		s.list[i].seen = false
	}
	for i := range s.entries {
		s.entries[i].polled.seen = false
	}
}

// finish gives the silences that last to the end of the log, by their start.
func (s *streams) finish(now int64) []analyze.Silence {
	now = max(now, s.latest)
	var open []analyze.Silence
	for i := range s.list {
		if silence, ok := s.list[i].silence(now, s.gapTotal); ok {
			open = append(open, silence)
		}
	}
	slices.SortStableFunc(open, func(a, b analyze.Silence) int { return cmp.Compare(a.Start, b.Start) })
	return open
}
