package trace

import (
	"cmp"
	"slices"

	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/feed"
	"lull/decode"
	"lull/pkg/bounds"
)

// Tracer reads a log a second time for the samples in some windows of it, for
// which the Result of the first reading was needed. Its memory is bounded by the
// windows. It keeps of each column of a window the first, lowest, highest and last
// sample, which draw the same picture as all samples do (U. Jugel, Z. Jerzak, G.
// Hackenbroich, V. Markl: M4: a visualization-oriented time series data
// aggregation, Proceedings of the VLDB Endowment 7 (2014), 797 to 808). It is fed
// like a Run, with the same frames and map.
type Tracer struct {
	*feed.Feed
	asked, inhibited  []conditions.TruthLog
	episodes          []analyze.Episode    // whose stop onset is still to come, or that are under way
	stands            []analyze.Standstill // alike
	stopped, standing bool                 // the first of them is under way, in this part
	due               int64

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
	t.Feed = feed.New(m, requests, inhibits, events{t})
	t.Only(func(signal int) bool {
		role := m.Signals[signal].Role
		return role != decode.NoRole && t.roles[role] || t.Requests.Uses(signal) || t.Inhibits.Uses(signal)
	})
	return t
}

// Push takes the next frame. It does not keep it.
func (t *Tracer) Push(f *decode.Frame) {
	samples, named := t.Feed.Push(f)
	t.begin()
	if !named {
		return
	}
	for i := range samples {
		samples[i].Time = t.Now
		t.sample(&samples[i])
	}
	t.drain()
	if t.Now >= t.due {
		t.due = t.Now + 100*bounds.Millisecond
		t.follow()
		t.settle(false)
	}
}

// Pass takes a run of frames that the map does not name.
func (t *Tracer) Pass(p decode.Passed) {
	t.Feed.Pass(p)
	t.begin()
}

// Finish returns what each window holds, in the order in which they were given.
func (t *Tracer) Finish() []analyze.Traces {
	t.Feed.Finish()
	for _, g := range append(t.active, t.order[t.next:]...) {
		t.hand(g)
	}
	t.active, t.next = nil, len(t.order)
	return t.results
}

// begin opens the windows that the time has come to.
func (t *Tracer) begin() {
	for t.next < len(t.order) {
		g := t.order[t.next]
		if g.Part > t.Part || g.Part == t.Part && g.From > t.Now {
			break
		}
		t.next++
		if g.Part != analyze.AllParts && g.Part < t.Part {
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
	t.Requests.Take(s)
	t.Inhibits.Take(s)
	signal := &t.M.Signals[s.Signal]
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
	if t.M.Entries[t.M.Signals[signal].Entry].OnChange {
		return 1<<63 - 1
	}
	if period, ok := t.Streams.Period(signal); ok {
		return t.Streams.Threshold(period)
	}
	return int64(t.M.Settings.StaleAfter)
}

// drain takes what the conditions found.
func (t *Tracer) drain() {
	for _, side := range []struct {
		c    *conditions.Set
		logs []conditions.TruthLog
	}{{t.Requests, t.asked}, {t.Inhibits, t.inhibited}} {
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
		if !t.over(e.Part, e.Stop.Instant, endOf(e), t.Requests, &t.stopped) {
			break
		}
		t.episodes = t.episodes[1:]
	}
	for len(t.stands) > 0 {
		s := &t.stands[0]
		if !t.over(s.Part, s.Start, s.End, t.Inhibits, &t.standing) {
			break
		}
		t.stands = t.stands[1:]
	}
	t.drain()
}

// over reports whether an episode or a standstill of this part is over. While it is under
// way the conditions are held against its start.
func (t *Tracer) over(part int, start, end bounds.Instant, c *conditions.Set, underWay *bool) bool {
	if part != t.Part {
		return part < t.Part
	}
	if !*underWay && t.Now >= start.High {
		*underWay = true
		c.Rebase(start.T)
	}
	if t.Now < end.High {
		return false
	}
	*underWay = false
	c.Unbase()
	return true
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
	const longest = 10 * bounds.Second
	told := min(t.Requests.PendingUntil(), t.Inhibits.PendingUntil())
	t.drain()
	oldest := t.Now // windows still to come begin later
	kept := t.active[:0]
	for _, g := range t.active {
		over := t.Now > g.To+bounds.Second && (told > g.To || t.Now > g.To+longest)
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

// events are what the feed tells a Tracer.
type events struct{ *Tracer }

// Cut ends what is open where the log, or a stretch of it, ends.
func (t events) Cut(int64, bool) {
	t.drain()
	t.settle(true)
	t.stopped, t.standing = false, false
}

// Restart starts again after time ran back.
func (t events) Restart(now int64) {
	t.due = now
	t.drain()
	clear(t.asked)
	clear(t.inhibited)
	for i := range t.broken {
		t.broken[i] = true
	}
}

// Gap and Silent are of no use here: the first reading told of them.
func (t events) Gap(analyze.Gap)        {}
func (t events) Silent(analyze.Silence) {}

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
