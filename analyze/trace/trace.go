package trace

import (
	"cmp"
	"slices"

	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

const (
	millisecond = int64(1e6)
	second      = int64(1e9)
)

// Tracer reads a log a second time for the samples in some windows of it, for
// which the Result of the first reading was needed. Its memory is bounded by the
// windows. It keeps of each column of a window the first, lowest, highest and last
// sample, which draw the same picture as all samples do (U. Jugel, Z. Jerzak, G.
// Hackenbroich, V. Markl: M4: a visualization-oriented time series data
// aggregation, Proceedings of the VLDB Endowment 7 (2014), 797 to 808). It is fed
// like a Run, with the same frames and map.
type Tracer struct {
	m                  *decode.Map
	decoder            *decode.Decoder
	streams            *streams.Streams
	requests, inhibits *conditions.Set
	asked, inhibited   []conditions.TruthLog
	episodes           []analyze.Episode    // whose stop onset is still to come, or that are under way
	stands             []analyze.Standstill // alike
	stopped, standing  bool                 // the first of them is under way

	started   bool
	zero, now int64
	due       int64
	part      int

	roles   [decode.RoleCount]bool
	newest  [decode.RoleCount]analyze.TracePoint
	seen    [decode.RoleCount]bool
	broken  [decode.RoleCount]bool // time was set back since the newest
	order   []*tracing             // by part and start
	next    int                    // of order
	active  []*tracing
	results []analyze.Traces // as the windows were given
}

// tracing is a window while it is filled.
type tracing struct {
	analyze.Window
	place  int // among the windows given
	width  int64
	traces [decode.RoleCount]*thinner // nil: not wanted
}

// New prepares the reading. The Result is that of a Run over the log.
func New(m *decode.Map, res *analyze.Result, windows []analyze.Window) *Tracer {
	t := &Tracer{
		m: m, decoder: decode.NewDecoder(m), streams: streams.New(m),
		asked: make([]conditions.TruthLog, len(m.Requests)), inhibited: make([]conditions.TruthLog, len(m.Inhibits)),
		episodes: res.Episodes, stands: res.Standstills, results: make([]analyze.Traces, len(windows)),
	}
	asked := false
	for i, w := range windows {
		w.Columns = max(w.Columns, 1)
		g := &tracing{Window: w, place: i, width: max((w.To-w.From)/int64(w.Columns), 1)}
		for _, role := range w.Roles {
			if m.RoleSignal(role) != nil {
				t.roles[role] = true
				g.traces[role] = newThinner(w, g.width)
			}
		}
		asked = asked || w.Conditions
		t.order = append(t.order, g)
	}
	slices.SortStableFunc(t.order, func(a, b *tracing) int {
		return cmp.Or(cmp.Compare(a.Part, b.Part), cmp.Compare(a.From, b.From))
	})
	var requests, inhibits []decode.Condition
	if asked {
		requests, inhibits = m.Requests, m.Inhibits
	}
	t.requests = conditions.New(m, requests, t.streams)
	t.inhibits = conditions.New(m, inhibits, t.streams)
	t.decoder.Only(func(signal int) bool {
		role := m.Signals[signal].Role
		return role != decode.NoRole && t.roles[role] || t.requests.Uses(signal) || t.inhibits.Uses(signal)
	})
	return t
}

// Push takes the next frame. It does not keep it.
func (t *Tracer) Push(f *decode.Frame) {
	t.clock(f.Time)
	samples := t.decoder.Decode(f)
	matched := t.decoder.Matched()
	if len(matched) == 0 {
		return
	}
	if !t.streams.Usual(f, t.now, matched) {
		t.streams.Seen(f, t.now, matched)
	}
	t.requests.Advance(t.now)
	t.inhibits.Advance(t.now)
	for i := range samples {
		t.sample(&samples[i])
	}
	t.drain()
	if t.now >= t.due {
		t.due = t.now + 100*millisecond
		t.follow()
		t.settle(false)
	}
}

// Pass takes a run of frames that the map does not name.
func (t *Tracer) Pass(p decode.Passed) {
	if p.Count == 0 {
		return
	}
	t.clock(p.First)
	if last := p.Last - t.zero; last != t.now {
		t.now = last
		t.streams.Pass(last)
	}
}

// Finish gives what each window holds, in the order in which they were given.
func (t *Tracer) Finish() []analyze.Traces {
	t.cut()
	for _, g := range append(t.active, t.order[t.next:]...) {
		t.hand(g)
	}
	t.active, t.next = nil, len(t.order)
	return t.results
}

// clock takes the time of the next frame of any kind.
func (t *Tracer) clock(time int64) {
	if !t.started {
		t.started, t.zero = true, time
	}
	now := time - t.zero
	if now < t.now && t.streams.Latest-now > streams.JumpBack {
		t.cut()
		t.part++
		t.due = now
		t.streams.Reset(now)
		t.requests.Reset(now)
		t.inhibits.Reset(now)
		t.drain()
		for i := range t.asked {
			t.asked[i] = conditions.TruthLog{}
		}
		for i := range t.inhibited {
			t.inhibited[i] = conditions.TruthLog{}
		}
		for i := range t.broken {
			t.broken[i] = true
		}
	}
	t.now = now
	t.streams.Tick(now)
	for t.next < len(t.order) {
		g := t.order[t.next]
		if g.Part > t.part || g.Part == t.part && g.From > now {
			break
		}
		t.next++
		if g.Part != analyze.AllParts && g.Part < t.part {
			t.hand(g)
			continue
		}
		for role, k := range g.traces {
			if k != nil && t.seen[role] && !t.broken[role] {
				k.add(t.newest[role])
			}
		}
		t.active = append(t.active, g)
	}
}

// sample hands one decoded value to the conditions and the windows.
func (t *Tracer) sample(s *decode.Sample) {
	s.Time -= t.zero
	t.requests.Take(s)
	t.inhibits.Take(s)
	signal := &t.m.Signals[s.Signal]
	if !s.Valid || signal.Role == decode.NoRole || !t.roles[signal.Role] {
		return
	}
	p := analyze.TracePoint{T: s.Time, Value: signal.ToRole.Apply(s.Value)}
	if decode.Roles[signal.Role].Switch {
		p.Value = 0
		if signal.On(s.Raw) {
			p.Value = 1
		}
	}
	if signal.Role == decode.InhibitCode {
		p.Value = float64(s.Raw)
	}
	if p.Value-p.Value != 0 {
		return // no number in the role's unit
	}
	away := s.Time - t.newest[signal.Role].T
	p.Break = t.broken[signal.Role] || t.seen[signal.Role] && away >= t.patience(s.Signal)
	t.broken[signal.Role] = false
	for _, g := range t.active {
		if k := g.traces[signal.Role]; k != nil {
			k.add(p)
		}
	}
	t.newest[signal.Role], t.seen[signal.Role] = p, true
}

// patience is how long a signal may stay away and its line still be drawn on.
func (t *Tracer) patience(signal int) int64 {
	if t.m.Entries[t.m.Signals[signal].Entry].OnChange {
		return 1<<63 - 1
	}
	if period, ok := t.streams.Period(signal); ok {
		return t.streams.Threshold(period)
	}
	return int64(t.m.Settings.StaleAfter)
}

// drain takes what the conditions found.
func (t *Tracer) drain() {
	for _, side := range []struct {
		c    *conditions.Set
		logs []conditions.TruthLog
	}{{t.requests, t.asked}, {t.inhibits, t.inhibited}} {
		if side.c.Idle() {
			continue
		}
		_ = side.c.Refined() // drawings show the likeliest moment
		for _, x := range side.c.Drain() {
			side.logs[x.Condition].Add(x.At.T, x.To)
		}
	}
}

// follow gives `moves` conditions the references that they had in the Run.
func (t *Tracer) follow() {
	for len(t.episodes) > 0 {
		e := &t.episodes[0]
		if e.Part > t.part || e.Part == t.part && !t.stopped && t.now < e.Stop.High {
			break
		}
		if e.Part == t.part && !t.stopped {
			t.stopped = true
			t.requests.Rebase(e.Stop.T)
		}
		if e.Part == t.part && t.now < endOf(e).High {
			break
		}
		if t.stopped {
			t.requests.Unbase()
		}
		t.stopped, t.episodes = false, t.episodes[1:]
	}
	for len(t.stands) > 0 {
		s := &t.stands[0]
		if t.now < s.Start.High && !t.standing {
			break
		}
		if !t.standing {
			t.standing = true
			t.inhibits.Rebase(s.Start.T)
		}
		if t.now < s.End.High {
			break
		}
		t.inhibits.Unbase()
		t.standing, t.stands = false, t.stands[1:]
	}
	t.drain()
}

// endOf is running, or the last that is known of an episode.
func endOf(e *analyze.Episode) bounds.Instant {
	if e.Running != nil {
		return *e.Running
	}
	end := e.Stop.Instant
	if e.Rest != nil {
		end = *e.Rest
	}
	for i := range e.Cranks {
		end = e.Cranks[i].Instant
	}
	return end
}

// settle hands out the windows of which all is known.
func (t *Tracer) settle(force bool) {
	// A slow sample may tell of a change long before; nothing waits for longer.
	const longest = 10 * second
	told := min(t.requests.PendingUntil(), t.inhibits.PendingUntil())
	t.drain()
	oldest := min(told, t.now-longest)
	kept := t.active[:0]
	for _, g := range t.active {
		over := t.now > g.To+second && (told > g.To || t.now > g.To+longest)
		if g.Part != analyze.AllParts && (over || force) {
			t.hand(g)
			continue
		}
		if g.Conditions {
			oldest = min(oldest, g.From)
		}
		kept = append(kept, g)
	}
	t.active = kept
	for i := range t.asked {
		t.asked[i].Trim(oldest)
	}
	for i := range t.inhibited {
		t.inhibited[i].Trim(oldest)
	}
}

// cut ends what is open where the log, or a stretch of it, ends.
func (t *Tracer) cut() {
	for _, c := range []*conditions.Set{t.requests, t.inhibits} {
		c.Advance(t.streams.Latest)
		c.Finish(t.streams.Latest)
	}
	t.drain()
	t.settle(true)
	if t.stopped {
		t.stopped, t.episodes = false, t.episodes[1:]
	}
	if t.standing {
		t.standing, t.stands = false, t.stands[1:]
	}
}

// hand makes a window's result of what was gathered.
func (t *Tracer) hand(g *tracing) {
	r := &t.results[g.place]
	r.Window = g.Window
	for _, role := range g.Roles {
		if k := g.traces[role]; k != nil {
			r.Signals = append(r.Signals, analyze.Trace{Role: role, Points: k.finish()})
		}
	}
	if g.Conditions {
		r.Requests = stretches(t.asked, g)
		r.Inhibits = stretches(t.inhibited, g)
	}
	clear(g.traces[:]) // what is handed over was copied
}
