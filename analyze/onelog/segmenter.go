package onelog

import (
	"slices"

	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// segmenter finds episodes, standstills and starter operations in what is recorded,
// and holds those that are open or wait for their last samples.
type segmenter struct {
	*recording
	result *analyze.Result // standstills are handed out to it

	// Settings as nanoseconds.
	hold, window, patience, minStandstill int64

	engine       engine
	ignitionFall *bounds.Instant // the last one
	standX       series.Crossing
	dips         dipFinder
	requestLog   []analyze.Request
	truths       []conditions.TruthLog // of each inhibit

	open      *episode   // stopped, and nothing ended it yet
	pending   []*episode // closed, in order, waiting for their last samples
	cranks    []*crank   // all not yet settled, in order
	stand     *standstill
	standWait []*standstill // ended, waiting for the episodes in them
	stoppedBy []*episode    // of each of result.Standstills, nil where it was not stopped
	// hiddenStarts are when the engine came to run, outside of any episode, by a start
	// that was not seen.
	hiddenStarts []int64
}

func newSegmenter(r *recording, result *analyze.Result) *segmenter {
	set := r.m.Settings
	s := &segmenter{
		recording: r, result: result,
		hold:          int64(set.RunningHold),
		window:        int64(set.RequestWindow),
		patience:      int64(set.NoStartAfter),
		minStandstill: int64(set.MinStandstill),
		truths:        make([]conditions.TruthLog, len(r.m.Inhibits)),
	}
	s.engine.run = series.Crossing{Threshold: set.RunningSpeed, Half: r.halfStep(decode.EngineSpeed), AtIsAbove: true}
	s.engine.rest = series.Crossing{Threshold: set.RestSpeed, Half: r.halfStep(decode.EngineSpeed)}
	s.standX = series.Crossing{Threshold: set.StandstillSpeed, Half: r.halfStep(decode.VehicleSpeed)}
	return s
}

// gap takes a time without any frame.
func (r *segmenter) gap(gap analyze.Gap) {
	if r.open != nil {
		r.open.gapInside = true
	}
	if r.stand != nil && gap.End-gap.Start >= r.minStandstill {
		// The vehicle may have been elsewhere meanwhile.
		r.endStandstill(bounds.At(gap.Start), true)
		r.standX.Reset()
	}
}

// forget starts anew after time ran back, when all that was open is closed.
func (r *segmenter) forget() {
	r.ignitionFall = nil
	r.engine.reset()
	r.standX.Reset()
	r.dips.reset()
	r.requestLog = r.requestLog[:0]
	r.cranks = r.cranks[:0]
	r.drain()
	for i := range r.truths {
		r.truths[i] = conditions.TruthLog{}
	}
}

// drain takes what the conditions found: requests go to the log of requests,
// inhibits to their history of truth.
func (r *segmenter) drain() {
	for _, t := range r.requests.Drain() {
		if t.To == analyze.True && t.Known == analyze.False {
			r.requestLog = append(r.requestLog, analyze.Request{Instant: t.At, Condition: t.Condition})
		}
	}
	for _, t := range r.inhibits.Drain() {
		from := t.At.T
		if t.From == analyze.Unknown {
			// Its instant reaches back to the last sample before, into time of which
			// nothing is known.
			from = t.At.High
		}
		r.truths[t.Condition].Add(from, t.To)
	}
}

// keepFrom is the earliest moment that something open may still ask samples
// for.
func (r *segmenter) keepFrom() int64 {
	back := max(lookBack, r.window+2*second)
	keep := r.now - back
	if fall, falling := r.falling(); falling {
		keep = min(keep, fall-back)
	}
	if o := r.open; o != nil {
		keep = min(keep, r.keepFor(o))
	}
	for _, e := range r.pending {
		if !e.settled {
			keep = min(keep, r.keepFor(e))
		}
		if e.leave != nil {
			keep = min(keep, e.leave.Low-second)
		}
	}
	for _, c := range r.cranks {
		keep = min(keep, c.Low-3*second)
	}
	return keep
}

// falling gives the last fall below running_speed where it may still turn out to
// be a stop.
func (r *segmenter) falling() (int64, bool) {
	e := &r.engine
	return min(e.fall.Low, e.since), e.fallen && r.now-e.fall.High < awaited
}

// notSeenSince is the earliest moment from which on a switch, as far as its
// frames told by now, may have changed.
func (r *segmenter) notSeenSince(switches ...*series.Switched) int64 {
	from := r.now
	for _, s := range switches {
		if s.Seen && s.Delay < 0 {
			from = min(from, s.Last)
		}
	}
	return max(from, r.now-awaited)
}

// reach is how far before a decision, and before a stop onset, samples may be
// asked for.
func (r *segmenter) reach() int64 { return max(3*second, r.window+second) }

// keepFor is the same for one episode. While the engine rests only what may
// precede the restart is kept.
func (r *segmenter) keepFor(e *episode) int64 {
	if e.runDown == nil {
		// Some engines run on for hours in spite of a stop command.
		from := max(e.Stop.Low, r.now-awaited)
		if d := e.decision(); d != nil {
			from = min(from, max(d.Low, e.Stop.Low))
		}
		return from - r.reach()
	}
	from := r.notSeenSince(&r.stop, &r.starter)
	if k := &r.tracks[decode.EngineSpeed]; k.Seen {
		from = min(from, max(k.Last.T, r.now-awaited))
	}
	if d := e.decision(); d != nil {
		from = min(from, d.Low)
	}
	if r.engine.off != nil {
		from = min(from, r.engine.off.Low)
	}
	if e.Running != nil {
		from = min(from, e.Running.Low)
	}
	return from - r.reach()
}

// trim forgets what nothing can ask for any more, so that memory does not grow
// with the log.
func (r *segmenter) trim() {
	if o := r.open; o != nil && o.runDown == nil && o.Rest != nil && r.now > o.Rest.High+second {
		down := series.Window(r.tracks[decode.EngineSpeed].All(), o.Stop.Low-r.reach(), o.Rest.High+second)
		o.runDown = slices.Clone(down)
	}
	keep := r.keepFrom()
	for role := range r.tracks {
		forgotten := r.tracks[role].Trim(keep)
		if decode.Role(role) != decode.HoldPressure {
			continue
		}
		if len(forgotten) == 0 {
			continue
		}
		limit := r.hole(decode.HoldPressure)
		if r.open != nil {
			r.open.holdOn(forgotten, limit)
		}
		for _, e := range r.pending {
			if !e.settled {
				e.holdOn(forgotten, limit)
			}
		}
	}
	for _, k := range r.watched {
		k.Trim(keep)
	}
	r.settleTallies()

	r.requestLog = slices.DeleteFunc(r.requestLog, func(q analyze.Request) bool {
		asks := func(e *episode) bool { return e.mayAsk(q) }
		return q.High < keep && !(r.open != nil && asks(r.open)) && !slices.ContainsFunc(r.pending, asks)
	})
	if n := len(r.requestLog) - maxRequests; n > 0 {
		r.requestLog = slices.Delete(r.requestLog, 0, n)
	}
	needed := keep
	if r.stand != nil {
		needed = min(needed, r.stand.start.T)
	}
	for _, s := range r.standWait {
		needed = min(needed, s.start.T)
	}
	for i := range r.truths {
		r.truths[i].Trim(needed)
	}
	r.code.Trim(needed)
}

// idleRate is what the engine burnt per hour before the stop: over the
// standstill where there is a second of it, else over the five seconds before,
// else as set.
func (r *segmenter) idleRate(stop bounds.Instant) float64 {
	if r.has(decode.FuelRate) {
		if s := r.stand; s != nil && stop.T-s.start.T >= second {
			if rate, ok := s.fuel.median(stop.T); ok {
				return rate
			}
		}
		before := series.Window(r.tracks[decode.FuelRate].All(), stop.T-5*second, stop.T)
		if rate, ok := stats.Median(series.ValuesOf(before)); ok {
			return rate
		}
	}
	return r.m.Settings.IdleFuelRate
}
