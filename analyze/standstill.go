package analyze

import (
	"slices"

	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// windowTally counts the values of one signal since a standstill began, the
// newest of them apart, since the stop onset is known only after the fact.
type windowTally struct {
	settled stats.Tally
	recent  []point
}

func (w *windowTally) add(p point) { w.recent = append(w.recent, p) }

// settleBefore counts what lies before the moment for good.
func (w *windowTally) settleBefore(moment int64) {
	n := 0
	for n < len(w.recent) && w.recent[n].t < moment {
		w.settled.Add(w.recent[n].v)
		n++
	}
	w.recent = w.recent[:copy(w.recent, w.recent[n:])]
}

// median of what lies at or before the moment.
func (w *windowTally) median(until int64) (float64, bool) {
	var more []float64
	for _, p := range w.recent {
		if p.t <= until {
			more = append(more, p.v)
		}
	}
	return w.settled.Median(more)
}

// standstill is one while it is followed.
type standstill struct {
	start, end bounds.Instant
	open       bool // cut by the log's end
	ran        Truth
	stops      []*episode
	snapshots  map[*episode]map[int]Reading
	keyOff     *bounds.Instant
	atKeyOff   map[int]Reading
	measured   map[int]*windowTally
	fuel       windowTally
}

// leaving is the vehicle leaving a standstill.
type leaving struct {
	bounds.Instant
	start bounds.Instant // of that standstill
}

func (r *Run) vehicleSpeed(t int64, v float64) {
	was := r.standX.side
	edge, when := r.standX.add(t, v)
	switch {
	case r.standX.side < 0 && was == 0:
		r.startStandstill(bounds.At(t))
	case edge < 0:
		r.startStandstill(when)
	case edge > 0 && r.stand != nil:
		left := leaving{when, r.stand.start}
		if r.open != nil {
			r.open.left(left)
		}
		for _, p := range r.pending {
			p.left(left)
		}
		r.endStandstill(when, false)
	}
}

func (r *Run) startStandstill(when bounds.Instant) {
	s := &standstill{start: when, ran: r.engine.runs(), measured: make(map[int]*windowTally), snapshots: make(map[*episode]map[int]Reading)}
	if r.open != nil {
		s.stops = append(s.stops, r.open)
	}
	for signal, k := range r.watched {
		w := &windowTally{}
		for _, p := range window(k.all(), when.T, r.now) {
			w.add(p)
		}
		s.measured[signal], r.uses[signal].tally = w, w
	}
	if s.ran == True {
		for _, p := range window(r.tracks[decode.FuelRate].all(), when.T, r.now) {
			s.fuel.add(p)
		}
	}
	r.inhibits.rebase(when.T)
	r.stand = s
}

func (r *Run) endStandstill(when bounds.Instant, open bool) {
	if r.stand == nil {
		return
	}
	r.stand.end, r.stand.open = when, open
	r.standWait = append(r.standWait, r.stand)
	r.stand = nil
	for signal := range r.watched {
		r.uses[signal].tally = nil
	}
	r.inhibits.unbase()
}

// snapshot keeps the medians up to a stop onset.
func (s *standstill) snapshot(until int64, latest map[int]*track) map[int]Reading {
	readings := make(map[int]Reading, len(s.measured))
	for signal, w := range s.measured {
		v, seen := w.median(until)
		if !seen {
			// A slow signal may have no sample in a short standstill.
			var p point
			p, seen = at(latest[signal].all(), until)
			v = p.v
		}
		readings[signal] = Reading{v, seen}
	}
	return readings
}

// keyedOff notes that the key turned the engine off: from there on there was
// nothing that the car could have stopped.
func (s *standstill) keyedOff(when bounds.Instant, latest map[int]*track) {
	if s.keyOff == nil {
		s.keyOff, s.atKeyOff = &when, s.snapshot(when.T, latest)
	}
}

// disown takes back a stop that turned out to be the key's.
func (s *standstill) disown(o *episode, off bounds.Instant, latest map[int]*track) {
	if i := slices.Index(s.stops, o); i >= 0 {
		s.stops = slices.Delete(s.stops, i, i+1)
		s.keyedOff(off, latest)
	}
}

// stoppedAt keeps the medians up to the onset of a stop that lies in the
// standstill.
func (s *standstill) stoppedAt(o *episode, latest map[int]*track) {
	if slices.Contains(s.stops, o) {
		s.snapshots[o] = s.snapshot(o.Stop.T, latest)
	}
}

// settleTallies counts for good what no later stop onset can lie before.
func (r *Run) settleTallies() {
	s := r.stand
	if s == nil {
		return
	}
	limit := min(r.now-3*second, r.notSeenSince(&r.stop))
	if fall, falling := r.falling(); falling {
		limit = min(limit, fall)
	}
	for _, w := range s.measured {
		w.settleBefore(limit)
	}
	s.fuel.settleBefore(limit)
}

// finishStandstills hands out the standstills whose episodes are known, in
// order.
func (r *Run) finishStandstills(force bool) {
	for len(r.standWait) > 0 {
		s := r.standWait[0]
		for _, o := range s.stops {
			if !o.settled && !force {
				return
			}
		}
		if !force && r.inhibits.pendingUntil() < s.end.T {
			return
		}
		if fall, falling := r.falling(); !force && falling && fall <= s.end.T {
			return // the engine may come to rest yet
		}
		out, stopped := r.explain(s)
		r.result.Standstills = append(r.result.Standstills, out)
		r.stoppedBy = append(r.stoppedBy, stopped)
		r.standWait = r.standWait[1:]
	}
}

// explain turns a followed standstill into a result: was it an opportunity, was
// the engine stopped, and if not, what stood in the way.
func (r *Run) explain(s *standstill) (Standstill, *episode) {
	out := Standstill{Start: s.start, End: s.end, Open: s.open}
	cut, measured := s.end.T, map[int]Reading(nil)
	var first, stopped *episode
	called := false // a stop was called off, or the engine stalled
	rolling := false
	for _, o := range s.stops {
		rolling = rolling || o.Stop.T <= s.start.T
		called = called || o.Outcome == Aborted || o.Outcome == Stalled
		if first == nil && o.Outcome != Aborted {
			first = o
		}
		if stopped == nil && o.Outcome != Aborted && o.Outcome != Stalled {
			stopped = o
		}
	}
	switch {
	case first != nil:
		cut, measured = first.Stop.T, s.snapshots[first]
	case s.keyOff != nil:
		cut, measured = s.keyOff.T, s.atKeyOff
	}
	if measured == nil {
		measured = s.snapshot(cut, r.watched)
	}
	out.Opportunity = s.end.T-s.start.T >= r.minStandstill && (s.ran == True || rolling)
	if first == nil && s.keyOff != nil && cut-s.start.T < r.minStandstill {
		out.Opportunity = false // the driver switched off before the car could have stopped
	}
	out.Until = cut
	if stopped != nil {
		out.Stopped = true
		delay := bounds.Sub(stopped.Stop.Instant, s.start)
		out.StopDelay = &MetricValue{Key: "stop_delay", Unit: "s", Value: delay}
	}

	known, maybe := r.cover(&out, s.start.T, cut, measured)
	out.Covered = known
	if known >= 0.5 {
		out.Reason = mostly(r.m, &out)
		return out, stopped
	}
	if !out.Opportunity || out.Stopped || called {
		return out, stopped
	}
	if len(maybe.names) > 0 && maybe.share >= 0.5 {
		out.CannotTell = maybe.names
		return out, stopped
	}
	if out.Hidden = r.stopHidden(s.start.T, cut); out.Hidden > 0 {
		out.CannotTell = []string{r.m.RoleSignal(decode.EngineSpeed).Name}
		return out, stopped
	}
	out.Unexplained = true
	return out, stopped
}

// shortestStop is how long an engine takes at least to be stopped and started.
const shortestStop = second / 2

// stopHidden is how much of from..to was not seen, where it is enough to hide a whole
// stop: 0 else.
func (r *Run) stopHidden(from, to int64) int64 {
	if away := max(r.streams.gaps.within(from, to), r.stop.unseen(from, to), r.engineUnseen(from, to)); away >= shortestStop {
		return away
	}
	return 0
}

// doubtful is what could stand in the way for all that can be told.
type doubtful struct {
	names []string
	share float64 // of the time in which something stood or may have stood in the way
}

// cover fills in how each inhibit and the car's own code stood over from..to, and
// gives the share of the time that at least one of them stood in the way.
func (r *Run) cover(out *Standstill, from, to int64, measured map[int]Reading) (float64, doubtful) {
	var known, possible []span
	var doubt doubtful
	for i := range r.m.Inhibits {
		c := &r.m.Inhibits[i]
		share := InhibitShare{Condition: i}
		segments := r.truths[i].segments(from, to)
		var held, unknown int64
		for _, g := range segments {
			switch g.state {
			case True:
				if g.to <= g.from {
					break // the stop came before the vehicle stood
				}
				held += g.to - g.from
				share.Intervals = append(share.Intervals, [2]int64{g.from, g.to})
				known = append(known, g.span)
				possible = append(possible, g.span)
			case Unknown:
				unknown += g.to - g.from
				possible = append(possible, g.span)
			}
		}
		share.Share = portion(held, to-from)
		share.State = stateWord(segments, held, unknown, to-from)
		if unknown > 0 {
			doubt.names = append(doubt.names, c.Name)
		}
		c.Expr.Walk(func(e *decode.Expr) {
			if len(e.Children) == 0 {
				share.Measured = append(share.Measured, Measured{e.Signal, measured[e.Signal], e.Text})
			}
		})
		out.Inhibits = append(out.Inhibits, share)
	}
	if signal := r.m.RoleSignal(decode.InhibitCode); signal != nil && r.has(decode.InhibitCode) {
		unknown := false
		for _, g := range r.code.segments(from, to, r.staleAfter(decode.InhibitCode), r.now) {
			switch {
			case g.state == Unknown:
				unknown = true
				possible = append(possible, g.span)
			case g.state == True:
				known = append(known, g.span)
				possible = append(possible, g.span)
				out.addCode(CodeName(signal, g.raw), portion(g.to-g.from, to-from))
			}
		}
		if unknown {
			doubt.names = append(doubt.names, signal.Name)
		}
		slices.SortStableFunc(out.Codes, func(a, b CodeShare) int {
			if a.Share > b.Share {
				return -1
			}
			if a.Share < b.Share {
				return 1
			}
			return 0
		})
	}
	doubt.share = portion(union(possible), to-from)
	return portion(union(known), to-from), doubt
}

func (s *Standstill) addCode(name string, share float64) {
	for i := range s.Codes {
		if s.Codes[i].Name == name {
			s.Codes[i].Share += share
			return
		}
	}
	s.Codes = append(s.Codes, CodeShare{name, share})
}

// mostly names what stood in the way for the greatest share; ties go to the
// inhibits in the map's order, then to the car's own code.
func mostly(m *decode.Map, s *Standstill) string {
	name, share := "", 0.0
	for _, i := range s.Inhibits {
		if i.Share > share {
			name, share = m.Inhibits[i.Condition].Name, i.Share
		}
	}
	for _, c := range s.Codes {
		if c.Share > share {
			name, share = c.Name, c.Share
		}
	}
	return name
}

func stateWord(segments []truthSpan, held, unknown, whole int64) string {
	switch {
	case whole <= 0 && len(segments) > 0:
		return [...]string{Unknown: "unknown", False: "false", True: "true"}[segments[0].state]
	case held == whole && whole > 0:
		return "true"
	case held > 0:
		return "mixed"
	case unknown > 0 || whole <= 0:
		return "unknown"
	}
	return "false"
}

func portion(part, whole int64) float64 {
	if whole <= 0 {
		return 0
	}
	return float64(part) / float64(whole)
}
