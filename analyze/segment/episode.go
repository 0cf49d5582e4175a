package segment

import (
	"slices"

	"lull/analyze"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

// Episode is one stop while it is followed. It is opened at the stop onset,
// closed when something ends it, and settled when every sample that its windows
// reach has come in.
type Episode struct {
	analyze.Episode
	commanded  bool            // a stop command brought it about
	StopFall   *bounds.Instant // the stop command fell
	FallHidden bool            // it may have fallen where it was not seen
	Operations []*Crank        // in order
	below      bool            // speed fell surely below running_speed since the onset

	End     int64 // when it was closed
	outcome analyze.Outcome

	Settled    bool // all but the take-off is measured
	Done       bool // ready to be handed out
	Reopens    bool // engine was stopped again before the vehicle left
	Departures []Departure
	Departure  *Departure // the one that this restart led to
	// DepartureComing: as long as there is none, it may still come.
	DepartureComing bool

	// What must outlive the tracks while the engine rests.
	RunDown      map[decode.Role][]series.Point // from the stop onset to rest, of Keep.RunDown; nil before
	Rested       map[decode.Role]Extremes       // since rest, of what the tracks of Keep.InRest forgot
	IdleRate     float64                        // L/h
	UnknownAsked []int                          // requests that could not be told where they may have asked
	Undecided    bool                           // when the restart was decided was not seen
	GapInside    bool                           // of the recording
}

// Extremes gathers the lowest and the highest value of samples that are no longer kept.
type Extremes struct {
	Samples         int
	Lowest, Highest float64
	Seen            bool  // a sample was forgotten, in the window or before it
	Last            int64 // the last such
	Longest         int64 // between two samples, the one before the window included
	Away            int64 // sum of what lies in the window of the times between two samples that were long enough to be missed
}

// Add takes the next sample of a window that begins at from; from limit on one is missed.
func (x *Extremes) Add(p series.Point, from, limit int64) {
	if x.Seen {
		x.Longest = max(x.Longest, p.T-x.Last)
		if p.T-x.Last >= limit {
			x.Away += p.T - max(x.Last, from)
		}
	}
	if x.Samples == 0 {
		x.Lowest, x.Highest = p.V, p.V
	}
	x.Lowest, x.Highest = min(x.Lowest, p.V), max(x.Highest, p.V)
	x.Seen, x.Last = true, p.T
	x.Samples++
}

// restOn takes samples of a role that are about to be forgotten: what lies before
// rest only bounds the time to the first sample in it.
func (e *Episode) restOn(role decode.Role, forgotten []series.Point, limit int64) {
	if e.Rest == nil {
		return
	}
	x := e.Rested[role]
	for _, p := range forgotten {
		if p.T >= e.Rest.Low {
			x.Add(p, e.Rest.Low, limit)
		} else {
			x.Seen, x.Last = true, p.T
		}
	}
	if e.Rested == nil {
		e.Rested = make(map[decode.Role]Extremes)
	}
	e.Rested[role] = x
}

// WhenDecided returns when the restart was decided: the earlier of the fall of the stop
// command and the first crank, nil where neither was seen.
func (e *Episode) WhenDecided() *analyze.Event {
	if len(e.Operations) == 0 {
		if e.StopFall == nil {
			return nil
		}
		return &analyze.Event{Instant: *e.StopFall, From: decode.StopCommand}
	}
	d := e.Operations[0].Event
	if e.FallHidden {
		d.Low = min(d.Low, e.Stop.Low)
	}
	if fall := e.StopFall; fall != nil {
		if fall.T <= d.T {
			d.From = decode.StopCommand
		}
		// Either may turn out to be the earlier one.
		d.Low, d.T, d.High = min(d.Low, fall.Low), min(d.T, fall.T), min(d.High, fall.High)
	}
	return &d
}

// deadline is when the restart counts as failed, if one was decided.
func (e *Episode) deadline(patience int64) (int64, bool) {
	d := e.WhenDecided()
	if d == nil {
		return 0, false
	}
	from := d.High // a wide instant accuses nobody
	if n := len(e.Operations); n > 0 {
		from = max(from, e.Operations[n-1].High)
	}
	return from + patience, true
}

// FirstCrank returns the crank that the windows start from, nil if there is none.
func (e *Episode) FirstCrank() *analyze.Event {
	if len(e.Operations) == 0 {
		return nil
	}
	return &e.Operations[0].Event
}

// WindowStart returns the first crank, else the decision, else nil.
func (e *Episode) WindowStart() *analyze.Event {
	if c := e.FirstCrank(); c != nil {
		return c
	}
	return e.WhenDecided()
}

// RestartFrom is from when on the restart may show: the first crank or the decision,
// else patience before running, and not before rest. ok is false where there is none.
func (e *Episode) RestartFrom(patience int64) (from int64, ok bool) {
	if start := e.WindowStart(); start != nil {
		return start.Low, true
	}
	if e.Running == nil {
		return 0, false
	}
	from = max(e.Running.Low-patience, e.Stop.Low)
	if e.Rest != nil {
		from = max(from, e.Rest.Low)
	}
	return from, true
}

// WindowEnd is running's instant, else where the episode ended.
func (e *Episode) WindowEnd() bounds.Instant {
	if e.Running != nil {
		return *e.Running
	}
	return bounds.At(e.End)
}

// waitedForRest reports whether the car could only start the engine once it stood:
// it decided or cranked before rest, or soon after.
func (e *Episode) waitedForRest(window int64) bool {
	d := e.WhenDecided()
	if d == nil {
		return false
	}
	if e.Rest == nil || d.T < e.Rest.T {
		return true
	}
	c := e.FirstCrank()
	return c != nil && c.T <= e.Rest.T+2*window
}

// asking gives where a request may lie that asked for this restart.
func (e *Episode) asking(d *analyze.Event, window int64) []bounds.Span {
	spans := []bounds.Span{{From: d.Low - window, To: d.High}}
	if e.waitedForRest(window) {
		early := bounds.Span{From: e.Stop.Low, To: d.High}
		if e.Rest != nil {
			early.To = max(early.To, e.Rest.High)
		}
		spans = append(spans, early)
	}
	return spans
}

// FindUnknown notes which requests may have asked for a restart without being seen.
func (r *Segmenter) FindUnknown(e *Episode) {
	d := e.WhenDecided()
	if e.Running == nil || e.Request != nil {
		return
	}
	if d == nil {
		e.Undecided = r.Stop.Unseen(e.Stop.Low, e.Running.High) > 0 || r.Starter.Unseen(e.Stop.Low, e.Running.High) > 0
		return
	}
	for _, s := range e.asking(d, r.Window) {
		for i := range r.M.Requests {
			if r.Requests.Unseen(i, s.From, s.To) && !slices.Contains(e.UnknownAsked, i) {
				e.UnknownAsked = append(e.UnknownAsked, i)
			}
		}
	}
	slices.Sort(e.UnknownAsked)
}

// StopUnseen reports whether a stop command may have risen, and fallen again, without
// being seen.
func (r *Segmenter) StopUnseen(e *Episode) bool {
	if e.commanded || e.Rest == nil || !r.Has(decode.StopCommand) {
		return false
	}
	away := r.Stop.Unseen(e.Stop.Low-bounds.Second, e.Rest.High)
	if away > 0 {
		e.Notes = append(e.Notes, analyze.CommandUnseen{Role: decode.StopCommand, Length: away})
	}
	return away > 0
}

// FindRequest chooses, among the requests that became true, what asked for this
// restart.
func (e *Episode) FindRequest(log []analyze.Request, window int64) {
	d := e.WhenDecided()
	if d == nil {
		return
	}
	var found []analyze.Request
	spans := e.asking(d, window)
	for _, r := range log {
		if slices.ContainsFunc(spans, func(s bounds.Span) bool { return r.Touches(s.From, s.To) }) {
			found = append(found, r)
		}
	}
	best := -1
	for i, r := range found {
		if best < 0 || better(r, found[best], d.High) {
			best = i
		}
	}
	if best < 0 {
		return
	}
	chosen := found[best]
	e.Request = &chosen
	for i, r := range found {
		if i != best {
			e.Also = append(e.Also, r)
		}
	}
}

// better reports whether a goes before b: those not after the decision first,
// among them the earliest.
func better(a, b analyze.Request, decided int64) bool {
	inA, inB := a.High <= decided, b.High <= decided
	if inA != inB {
		return inA
	}
	return a.T < b.T
}

// Judge names the outcome of a closed episode whose end did not name it.
func (e *Episode) Judge(stopRole bool) {
	switch {
	case e.outcome != "":
		e.Outcome = e.outcome
	case stopRole && !e.commanded && e.Rest != nil:
		e.Outcome = analyze.Stalled
	case e.Rest == nil || e.Request != nil && e.Request.T < e.Rest.T:
		e.Outcome = analyze.ChangeOfMind
	default:
		e.Outcome = analyze.Restarted
	}
}

// mayAsk reports whether a request may still be what asked for the episode's
// restart, because the car had to wait for rest.
func (e *Episode) mayAsk(q analyze.Request) bool {
	return !e.Settled && q.High >= e.Stop.Low && (e.Rest == nil || q.Low <= e.Rest.High)
}
