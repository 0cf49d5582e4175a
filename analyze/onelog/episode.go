package onelog

import (
	"fmt"
	"slices"

	"lull/analyze"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

const (
	millisecond = int64(1e6)
	second      = int64(1e9)
)

// episode is one stop while it is followed. It is opened at the stop onset,
// closed when something ends it, and settled when every sample that its windows
// reach has come in.
type episode struct {
	analyze.Episode
	part       int             // of the log, counted where time runs back
	commanded  bool            // a stop command brought it about
	stopFall   *bounds.Instant // the stop command fell
	fallHidden bool            // it may have fallen where it was not seen
	cranks     []*crank
	below      bool // speed fell surely below running_speed since the onset

	closed  bool
	end     int64 // when it was closed
	outcome analyze.Outcome

	settled bool // all but the take-off is measured
	done    bool // ready to be handed out
	reopens bool // engine was stopped again before the vehicle left
	leaves  []leaving
	leave   *leaving // the one that this restart led to
	// leaveComing: as long as there is none, it may still come.
	leaveComing bool

	// What must outlive the tracks while the engine rests.
	runDown      []series.Point // engine speed from the stop onset to rest
	hold         extreme        // lowest hold pressure since rest, of what the track forgot
	idleRate     float64        // L/h
	unknownAsked []int          // requests that could not be told where they may have asked
	undecided    bool           // when the restart was decided was not seen
	gapInside    bool
}

// extreme gathers a lowest value over samples that are no longer kept.
type extreme struct {
	samples int
	lowest  float64
	seen    bool  // a sample was forgotten, be it before the window
	last    int64 // the last such
	longest int64 // between two samples, the one before the window included
	away    int64 // sum of the times between two samples that were long enough to be missed
}

// add takes the next sample; from limit on one is missed.
func (x *extreme) add(p series.Point, limit int64) {
	if x.seen {
		x.longest = max(x.longest, p.T-x.last)
		if p.T-x.last >= limit {
			x.away += p.T - x.last
		}
	}
	if x.samples == 0 || p.V < x.lowest {
		x.lowest = p.V
	}
	x.seen, x.last = true, p.T
	x.samples++
}

// holdOn takes hold pressures that are about to be forgotten: what lies before
// rest only bounds the time to the first sample in it.
func (e *episode) holdOn(forgotten []series.Point, limit int64) {
	if e.Rest == nil {
		return
	}
	for _, p := range forgotten {
		if p.T >= e.Rest.Low {
			e.hold.add(p, limit)
		} else {
			e.hold.seen, e.hold.last = true, p.T
		}
	}
}

// decision is the earlier of the fall of the stop command and the first crank.
func (e *episode) decision() *analyze.Event {
	if len(e.cranks) == 0 {
		if e.stopFall == nil {
			return nil
		}
		return &analyze.Event{Instant: *e.stopFall, From: decode.StopCommand}
	}
	d := e.cranks[0].Event
	if e.fallHidden {
		d.Low = min(d.Low, e.Stop.Low)
	}
	if fall := e.stopFall; fall != nil {
		if fall.T <= d.T {
			d.From = decode.StopCommand
		}
		// Either may turn out to be the earlier one.
		d.Low, d.T, d.High = min(d.Low, fall.Low), min(d.T, fall.T), min(d.High, fall.High)
	}
	return &d
}

// deadline is when the restart counts as failed, if one was decided.
func (e *episode) deadline(patience int64) (int64, bool) {
	d := e.decision()
	if d == nil {
		return 0, false
	}
	from := d.High // a wide instant accuses nobody
	if n := len(e.cranks); n > 0 {
		from = max(from, e.cranks[n-1].High)
	}
	return from + patience, true
}

// firstCrank is the crank that the windows start from, nil where there is none.
func (e *episode) firstCrank() *analyze.Event {
	if len(e.cranks) == 0 {
		return nil
	}
	return &e.cranks[0].Event
}

// windowStart is the first crank, else the decision.
func (e *episode) windowStart() *analyze.Event {
	if c := e.firstCrank(); c != nil {
		return c
	}
	return e.decision()
}

// windowEnd is running's instant, else where the episode ended.
func (e *episode) windowEnd() bounds.Instant {
	if e.Running != nil {
		return *e.Running
	}
	return bounds.At(e.end)
}

// waitedForRest tells whether the car could only start the engine once it stood:
// it decided or cranked before rest, or soon after.
func (e *episode) waitedForRest(window int64) bool {
	d := e.decision()
	if d == nil {
		return false
	}
	if e.Rest == nil || d.T < e.Rest.T {
		return true
	}
	c := e.firstCrank()
	return c != nil && c.T <= e.Rest.T+2*window
}

// asking gives where a request may lie that asked for this restart.
func (e *episode) asking(d *analyze.Event, window int64) []bounds.Span {
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

// findUnknown notes which requests may have asked for a restart without being seen.
func (r *segmenter) findUnknown(e *episode) {
	d := e.decision()
	if e.Running == nil || e.Request != nil {
		return
	}
	if d == nil {
		e.undecided = r.stop.Unseen(e.Stop.Low, e.Running.High) > 0 || r.starter.Unseen(e.Stop.Low, e.Running.High) > 0
		return
	}
	for _, s := range e.asking(d, r.window) {
		for i := range r.m.Requests {
			if r.requests.Unseen(i, s.From, s.To) && !slices.Contains(e.unknownAsked, i) {
				e.unknownAsked = append(e.unknownAsked, i)
			}
		}
	}
	slices.Sort(e.unknownAsked)
}

// stopUnseen tells whether a stop command may have risen, and fallen again, without
// being seen.
func (r *segmenter) stopUnseen(e *episode) bool {
	if e.commanded || e.Rest == nil || !r.has(decode.StopCommand) {
		return false
	}
	away := r.stop.Unseen(e.Stop.Low-second, e.Rest.High)
	if away > 0 {
		e.Notes = append(e.Notes, fmt.Sprintf("%s was not seen for %s: whether the engine stalled is not known", decode.StopCommand, lengthText(away)))
	}
	return away > 0
}

// findRequest chooses, among the requests that became true, what asked for this
// restart.
func (e *episode) findRequest(log []analyze.Request, window int64) {
	d := e.decision()
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

// better tells whether a goes before b: those not after the decision first,
// among them the earliest.
func better(a, b analyze.Request, decided int64) bool {
	inA, inB := a.High <= decided, b.High <= decided
	if inA != inB {
		return inA
	}
	return a.T < b.T
}

// judge names the outcome of a closed episode whose end did not name it.
func (e *episode) judge(stopRole bool) {
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
