package analyze

import (
	"lull/decode"
	"lull/pkg/bounds"
)

const (
	millisecond = int64(1e6)
	second      = int64(1e9)
)

// crank is one starter operation as it is followed, from its onset until its
// measurements are complete.
type crank struct {
	Event
	part    int   // of the log, counted where time runs back
	off     int64 // when the starter was seen off again; 0 while on or not known
	kind    StartKind
	episode *episode
	running *bounds.Instant
	// end is where its windows end if the engine did not run: the next crank, or
	// when it was given up. 0 while neither is known.
	end     int64
	settled bool
	metrics []MetricValue
}

// episode is one stop while it is followed. It is opened at the stop onset,
// closed when something ends it, and settled when every sample that its windows
// reach has come in.
type episode struct {
	Episode
	part      int             // of the log, counted where time runs back
	commanded bool            // a stop command brought it about
	stopFall  *bounds.Instant // the stop command fell
	cranks    []*crank
	below     bool // speed fell surely below running_speed since the onset

	closed  bool
	end     int64 // when it was closed
	outcome Outcome

	settled bool // all but the take-off is measured
	done    bool // ready to be handed out
	reopens bool // engine was stopped again before the vehicle left
	leaves  []leaving
	leave   *leaving // the one that this restart led to

	// What must outlive the tracks while the engine rests.
	runDown      []point // engine speed from the stop onset to rest
	hold         extreme // lowest hold pressure since rest, of what the track forgot
	idleRate     float64 // L/h
	unknownAsked []int   // requests that could not be told at the decision
	gapInside    bool
}

// extreme gathers a lowest value over samples that are no longer kept.
type extreme struct {
	any     bool
	lowest  float64
	seen    bool  // a sample was forgotten, be it before the window
	last    int64 // the last such
	longest int64 // between two samples, the one before the window included
}

func (x *extreme) add(p point) {
	if x.seen {
		x.longest = max(x.longest, p.t-x.last)
	}
	if !x.any || p.v < x.lowest {
		x.lowest = p.v
	}
	x.any, x.seen, x.last = true, true, p.t
}

// holdOn takes hold pressures that are about to be forgotten: what lies before
// rest only bounds the time to the first sample in it.
func (e *episode) holdOn(forgotten []point) {
	if e.Rest == nil {
		return
	}
	for _, p := range forgotten {
		if p.t >= e.Rest.Low {
			e.hold.add(p)
		} else {
			e.hold.seen, e.hold.last = true, p.t
		}
	}
}

// decision is the earlier of the fall of the stop command and the first crank.
func (e *episode) decision() *Event {
	var d *Event
	if e.stopFall != nil {
		d = &Event{*e.stopFall, decode.StopCommand}
	}
	if len(e.cranks) > 0 && (d == nil || e.cranks[0].T < d.T) {
		d = &e.cranks[0].Event
	}
	return d
}

// deadline is when the restart counts as failed, if one was decided.
func (e *episode) deadline(patience int64) (int64, bool) {
	d := e.decision()
	if d == nil {
		return 0, false
	}
	from := d.T
	if n := len(e.cranks); n > 0 {
		from = max(from, e.cranks[n-1].T)
	}
	return from + patience, true
}

// firstCrank is the crank that the windows start from, nil where there is none.
func (e *episode) firstCrank() *Event {
	if len(e.cranks) == 0 {
		return nil
	}
	return &e.cranks[0].Event
}

// windowStart is the first crank, else the decision.
func (e *episode) windowStart() *Event {
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

// findRequest chooses, among the requests that became true, what asked for this
// restart.
func (e *episode) findRequest(log []Request, window int64) {
	d := e.decision()
	if d == nil {
		return
	}
	var found []Request
	waited := e.waitedForRest(window)
	restHigh := d.High
	if e.Rest != nil {
		restHigh = max(restHigh, e.Rest.High)
	}
	for _, r := range log {
		near := r.Touches(d.Low-window, d.High)
		early := waited && r.Touches(e.Stop.Low, restHigh)
		if near || early {
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
func better(a, b Request, decided int64) bool {
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
		e.Outcome = Stalled
	case e.Rest == nil || e.Request != nil && e.Request.T < e.Rest.T:
		e.Outcome = ChangeOfMind
	default:
		e.Outcome = Restarted
	}
}
