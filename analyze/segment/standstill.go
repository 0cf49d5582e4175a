package segment

import (
	"slices"

	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/feed"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

// standstill is one while it is followed.
type standstill struct {
	Start, end bounds.Instant
	open       bool // cut by the log's end
	ran        analyze.Truth
	stops      []*Episode
	snapshots  map[*Episode]map[int]analyze.Reading
	keyOff     *bounds.Instant
	atKeyOff   map[int]analyze.Reading
	measured   map[int]*feed.WindowTally
	Fuel       feed.WindowTally
}

// Departure is the vehicle leaving a standstill.
type Departure struct {
	bounds.Instant
	start bounds.Instant // of that standstill
}

// VehicleSpeed takes a sample of the vehicle speed, in km/h, at t, in ns. It begins and
// ends standstills.
func (r *Segmenter) VehicleSpeed(t int64, v float64) {
	was := r.standing.Side
	edge, when := r.standing.Add(t, v)
	switch {
	case r.standing.Side < 0 && was == 0:
		r.startStandstill(bounds.At(t))
	case edge < 0:
		r.startStandstill(when)
	case edge > 0 && r.Stand != nil:
		left := Departure{when, r.Stand.Start}
		if r.Open != nil {
			r.Open.left(left)
		}
		for _, p := range r.Pending {
			p.left(left)
		}
		r.EndStandstill(when, false)
	}
}

func (r *Segmenter) startStandstill(when bounds.Instant) {
	s := &standstill{Start: when, ran: r.Engine.Runs(), measured: make(map[int]*feed.WindowTally), snapshots: make(map[*Episode]map[int]analyze.Reading)}
	if r.Open != nil {
		s.stops = append(s.stops, r.Open)
	}
	for signal, k := range r.Watched {
		w := &feed.WindowTally{}
		for _, p := range series.Window(k.All(), when.T, r.Now) {
			w.Add(p)
		}
		s.measured[signal], k.Tally = w, w
	}
	if s.ran == analyze.True {
		for _, p := range series.Window(r.Tracks[decode.FuelRate].All(), when.T, r.Now) {
			s.Fuel.Add(p)
		}
	}
	r.Inhibits.Rebase(when.T)
	r.Stand = s
}

// EndStandstill ends the standstill that lasts, if one does. open says that it may have
// gone on where nothing was recorded.
func (r *Segmenter) EndStandstill(when bounds.Instant, open bool) {
	if r.Stand == nil {
		return
	}
	r.Stand.end, r.Stand.open = when, open
	r.standWait = append(r.standWait, r.Stand)
	r.Stand = nil
	for _, k := range r.Watched {
		k.Tally = nil
	}
	r.Inhibits.Unbase()
}

// snapshot keeps the medians up to a stop onset.
func (s *standstill) snapshot(until int64, latest map[int]*feed.Watched) map[int]analyze.Reading {
	readings := make(map[int]analyze.Reading, len(s.measured))
	for signal, w := range s.measured {
		v, seen := w.Median(until)
		if !seen {
			// A slow signal may have no sample in a short standstill.
			var p series.Point
			p, seen = series.At(latest[signal].All(), until)
			v = p.V
		}
		readings[signal] = analyze.Reading{Value: v, Seen: seen}
	}
	return readings
}

// keyedOff notes that the key turned the engine off: from there on there was
// nothing that the car could have stopped.
func (s *standstill) keyedOff(when bounds.Instant, latest map[int]*feed.Watched) {
	if s.keyOff == nil {
		s.keyOff, s.atKeyOff = &when, s.snapshot(when.T, latest)
	}
}

// disown takes back a stop that turned out to be the key's.
func (s *standstill) disown(o *Episode, off bounds.Instant, latest map[int]*feed.Watched) {
	if i := slices.Index(s.stops, o); i >= 0 {
		s.stops = slices.Delete(s.stops, i, i+1)
		s.keyedOff(off, latest)
	}
}

// stoppedAt keeps the medians up to the onset of a stop that lies in the
// standstill.
func (s *standstill) stoppedAt(o *Episode, latest map[int]*feed.Watched) {
	if slices.Contains(s.stops, o) {
		s.snapshots[o] = s.snapshot(o.Stop.T, latest)
	}
}

// settleTallies counts for good what no later stop onset can lie before.
func (r *Segmenter) settleTallies() {
	s := r.Stand
	if s == nil {
		return
	}
	limit := min(r.Now-3*bounds.Second, r.notSeenSince(&r.Stop))
	if fall, falling := r.falling(); falling {
		limit = min(limit, fall)
	}
	for _, w := range s.measured {
		w.SettleBefore(limit)
	}
	s.Fuel.SettleBefore(limit)
}

// FinishStandstills hands out the standstills whose episodes are known, in
// order.
func (r *Segmenter) FinishStandstills(force bool) {
	for len(r.standWait) > 0 {
		s := r.standWait[0]
		for _, o := range s.stops {
			if !o.Settled {
				return
			}
		}
		if !force && r.Inhibits.PendingUntil() < s.end.T {
			return
		}
		if fall, falling := r.falling(); !force && falling && fall <= s.end.T {
			return // the engine may come to rest yet
		}
		out, stopped := r.explain(s)
		r.result.Standstills = append(r.result.Standstills, out)
		r.StoppedBy = append(r.StoppedBy, stopped)
		r.standWait = r.standWait[1:]
	}
}

// explain turns a followed standstill into a result: was it an opportunity, was
// the engine stopped, and if not, what stood in the way.
func (r *Segmenter) explain(s *standstill) (analyze.Standstill, *Episode) {
	out := analyze.Standstill{Part: r.Part, Start: s.Start, End: s.end, Open: s.open}
	cut, measured := s.end.T, map[int]analyze.Reading(nil)
	var first, stopped *Episode
	called := false // a stop was called off, or the engine stalled
	rolling := false
	for _, o := range s.stops {
		rolling = rolling || o.Stop.T <= s.Start.T
		called = called || o.Outcome == analyze.Aborted || o.Outcome == analyze.Stalled
		if first == nil && o.Outcome != analyze.Aborted {
			first = o
		}
		if stopped == nil && o.Outcome != analyze.Aborted && o.Outcome != analyze.Stalled {
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
		measured = s.snapshot(cut, r.Watched)
	}
	switch short := s.end.T-s.Start.T < r.minStandstill; {
	case short && s.open:
		out.NotCounted = analyze.RecordingEnded
	case short:
		out.NotCounted = analyze.TooShort
	case first == nil && s.keyOff != nil && cut-s.Start.T < r.minStandstill:
		out.NotCounted = analyze.KeyTurnedOff // the driver switched off before the car could have stopped
	case s.ran == analyze.False && !rolling:
		out.NotCounted = analyze.EngineWasOff
	case s.ran != analyze.True && !rolling:
		out.NotCounted = analyze.EngineNotSeen
	}
	out.Opportunity = out.NotCounted == ""
	out.Until = cut
	if stopped != nil {
		out.Stopped = true
		delay := bounds.Sub(stopped.Stop.Instant, s.Start)
		out.StopDelay = &analyze.MetricValue{Key: "stop_delay", Unit: "s", Value: delay}
	}

	known, maybe := r.cover(&out, s.Start.T, cut, measured)
	out.Covered = known
	if known >= 0.5 {
		out.Reason = mostly(r.M, &out)
		return out, stopped
	}
	if !out.Opportunity || out.Stopped || called {
		return out, stopped
	}
	if len(maybe.names) > 0 && maybe.share >= 0.5 {
		out.CannotTell = maybe.names
		return out, stopped
	}
	if out.Hidden = r.stopHidden(s.Start.T, cut); out.Hidden > 0 {
		out.CannotTell = []string{r.M.RoleSignal(decode.EngineSpeed).Name}
		return out, stopped
	}
	out.Unexplained = true
	return out, stopped
}

// shortestStop is how long an engine takes at least to be stopped and started.
const shortestStop = bounds.Second / 2

// stopHidden is how much of from..to was not seen, where it is enough to hide a whole
// stop: 0 else.
func (r *Segmenter) stopHidden(from, to int64) int64 {
	if away := max(r.Streams.Gaps.Within(from, to), r.Stop.Unseen(from, to), r.EngineUnseen(from, to)); away >= shortestStop {
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
func (r *Segmenter) cover(out *analyze.Standstill, from, to int64, measured map[int]analyze.Reading) (float64, doubtful) {
	var known, possible []bounds.Span
	var doubt doubtful
	for i := range r.M.Inhibits {
		c := &r.M.Inhibits[i]
		share := analyze.InhibitShare{Condition: i}
		segments := r.truths[i].Segments(from, to)
		var held, unknown int64
		for _, g := range segments {
			switch g.State {
			case analyze.True:
				if g.To <= g.From {
					break // the stop came before the vehicle stood
				}
				held += g.To - g.From
				share.Intervals = append(share.Intervals, [2]int64{g.From, g.To})
				known = append(known, g.Span)
				possible = append(possible, g.Span)
			case analyze.Unknown:
				unknown += g.To - g.From
				possible = append(possible, g.Span)
			}
		}
		share.Share = portion(held, to-from)
		share.State = stateWord(segments, held, unknown, to-from)
		if unknown > 0 {
			doubt.names = append(doubt.names, c.Name)
		}
		c.Expr.Walk(func(e *decode.Expr) {
			if len(e.Children) == 0 {
				share.Measured = append(share.Measured, analyze.Measured{Signal: e.Signal, Value: measured[e.Signal], Against: e.Text})
			}
		})
		out.Inhibits = append(out.Inhibits, share)
	}
	if signal := r.M.RoleSignal(decode.InhibitCode); signal != nil && r.Has(decode.InhibitCode) {
		unknown := false
		for _, g := range r.Code.Segments(from, to, r.StaleAfter(decode.InhibitCode), r.Now) {
			switch {
			case g.State == analyze.Unknown:
				unknown = true
				possible = append(possible, g.Span)
			case g.State == analyze.True:
				known = append(known, g.Span)
				possible = append(possible, g.Span)
				addCode(out, analyze.CodeName(signal, g.Raw), g.Span, to-from)
			}
		}
		if unknown {
			doubt.names = append(doubt.names, signal.Name)
		}
		slices.SortStableFunc(out.Codes, func(a, b analyze.CodeShare) int {
			if a.Share > b.Share {
				return -1
			}
			if a.Share < b.Share {
				return 1
			}
			return 0
		})
	}
	doubt.share = portion(bounds.Union(possible), to-from)
	return portion(bounds.Union(known), to-from), doubt
}

// addCode adds a stretch of a code to its share of the whole time. Stretches come in
// order of time; those that meet are one.
func addCode(s *analyze.Standstill, name string, span bounds.Span, whole int64) {
	at := slices.IndexFunc(s.Codes, func(c analyze.CodeShare) bool { return c.Name == name })
	if at < 0 {
		at = len(s.Codes)
		s.Codes = append(s.Codes, analyze.CodeShare{Name: name})
	}
	c := &s.Codes[at]
	c.Share += portion(span.To-span.From, whole)
	if n := len(c.Intervals); n > 0 && c.Intervals[n-1][1] == span.From {
		c.Intervals[n-1][1] = span.To
	} else if span.To > span.From {
		c.Intervals = append(c.Intervals, [2]int64{span.From, span.To})
	}
}

// mostly names what stood in the way for the greatest share; ties go to the
// inhibits in the map's order, then to the car's own code.
func mostly(m *decode.Map, s *analyze.Standstill) string {
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

func stateWord(segments []conditions.TruthSpan, held, unknown, whole int64) string {
	switch {
	case whole <= 0 && len(segments) > 0:
		return [...]string{analyze.Unknown: "unknown", analyze.False: "false", analyze.True: "true"}[segments[0].State]
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
