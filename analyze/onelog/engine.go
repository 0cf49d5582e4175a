package onelog

import (
	"lull/analyze"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

// engine follows the engine speed: whether it runs, turns or rests.
type engine struct {
	run, rest series.Crossing

	// ran: seen running since it last came to rest.
	ran bool
	// fallen: fell below running_speed since, and neither rested nor ran again.
	fallen bool
	fall   bounds.Instant // the last falling crossing, widened to its onset
	lowest lowPoint       // since the fall
	// deepest and since are of the whole sag: a rise in it that did not hold does
	// not end it.
	deepest float64
	since   int64
	// lastRise is the rising crossing by which the engine came to run outside of
	// any episode.
	lastRise *bounds.Instant
	// rose is when the engine last came to run, in an episode or not; 0: not seen.
	rose int64
	// rise is a rising crossing of running_speed that must still hold.
	rise *bounds.Instant
	// off is the engine leaving rest, which must still prove to be no rocking
	// back. Only used where no starter command is seen.
	off *bounds.Instant
}

// lowPoint is the lowest sample with its neighbours in time.
type lowPoint struct {
	series.Point
	before, after int64
	last          int64
}

func (l *lowPoint) start(before int64, p series.Point) {
	*l = lowPoint{Point: p, before: before, after: p.T, last: p.T}
}

func (l *lowPoint) add(p series.Point) {
	if p.V < l.V {
		l.before, l.Point, l.after = l.last, p, p.T
	} else if l.after == l.T {
		l.after = p.T
	}
	l.last = p.T
}

func (e *engine) reset() {
	run, rest := e.run, e.rest
	run.Reset()
	rest.Reset()
	*e = engine{run: run, rest: rest}
}

// runs tells whether the engine runs, as far as it was seen.
func (e *engine) runs() analyze.Truth {
	switch {
	case e.run.Side > 0:
		return analyze.True
	case e.run.Side < 0:
		return analyze.False
	}
	return analyze.Unknown
}

// offRest is how long the engine must surely stay off rest for its leaving rest
// to be a crank and not the crankshaft rocking back.
const offRest = 200 * millisecond

func (r *segmenter) engineSpeed(t int64, v float64) {
	e := &r.engine
	r.result.EngineSpeedSeen = true
	previous := e.run.Previous.T
	if signal := r.m.Role[decode.EngineSpeed]; e.run.Any {
		r.engineAway.Add(previous, t, r.streams, signal)
		if e.off != nil && r.streams.Missed(previous, t, signal) < t {
			e.off.High = t // it may have come back to rest
		}
	}
	runEdge, runWhen := e.run.Add(t, v)
	restEdge, restWhen := e.rest.Add(t, v)
	starter := r.has(decode.StarterCommand)
	if s := r.stand; s != nil && s.ran == analyze.Unknown {
		s.ran = e.runs() // the log begins in a standstill
	}

	if runEdge < 0 {
		e.rise = nil
		e.fall = series.Onset(runWhen, e.run.BeforeNotLower)
		if !e.fallen {
			e.deepest, e.since = v, e.fall.Low
		}
		e.fallen = e.ran
		e.lowest.start(previous, series.Point{T: t, V: v})
		if r.open == nil && e.ran && !r.has(decode.StopCommand) {
			r.requests.Rebase(e.fall.T)
		}
	} else {
		e.lowest.add(series.Point{T: t, V: v})
	}
	e.deepest = min(e.deepest, v)
	if o := r.open; o != nil && e.run.Side < 0 {
		o.below = true
	}
	if restEdge < 0 {
		e.off = nil
		r.rested(restWhen)
	}
	if restEdge > 0 && !starter {
		off := series.Onset(restWhen, e.rest.BeforeNotHigh)
		e.off = &off
	}
	if runEdge > 0 {
		rise := runWhen
		e.rise = &rise
	}
	if e.off != nil && (e.run.Side > 0 || t >= e.off.High+offRest) {
		off := *e.off
		e.off = nil
		if !starter {
			r.newCrank(analyze.Event{Instant: off, From: decode.EngineSpeed})
		}
	}
	if e.run.Side > 0 {
		e.ran = true
		if e.rise != nil && t >= e.rise.High+r.hold {
			rise := *e.rise
			e.rise = nil
			r.running(rise)
		}
		if o := r.open; o != nil && o.stopFall != nil && !o.below && t >= o.stopFall.High+r.hold {
			if r.inGap(*o.stopFall) || r.engineUnseen(o.Stop.Low, t) > 0 {
				r.close(analyze.InGap, t) // it may have been stopped and started in there
			} else {
				r.close(analyze.Aborted, t)
			}
		}
		return
	}
	if o := r.open; o != nil && e.rise == nil && e.off == nil && e.run.Side < 0 {
		if deadline, decided := o.deadline(r.patience); decided && t > deadline {
			r.close(analyze.NoStart, deadline)
		}
	}
}

// rested is called when the engine comes to rest.
func (r *segmenter) rested(when bounds.Instant) {
	e := &r.engine
	ran := e.ran
	e.ran, e.fallen = false, false
	if o := r.open; o != nil {
		if o.Rest == nil {
			r.restedIn(o, when)
		}
		return
	}
	if !ran {
		return
	}
	if r.keyOff(when) {
		if r.stand != nil {
			r.stand.keyedOff(r.turnedOff(e.fall), r.watched)
		}
		return
	}
	// A stop command that was on from the first sample on has no onset to go by.
	stop := analyze.Event{Instant: e.fall, From: decode.EngineSpeed}
	if r.stop.Unseen(stop.Low, stop.High) > 0 {
		stop.Low = min(stop.Low, r.stop.Last) // the command may have risen since
	}
	o := r.begin(stop, r.stop.On && !r.stop.Changed)
	r.restedIn(o, when)
	o.below = true
}

// restedIn notes the rest of an episode. Where it was cranked before, it may have
// rested before, too, if that was not seen.
func (r *segmenter) restedIn(o *episode, when bounds.Instant) {
	if len(o.cranks) > 0 && r.engineUnseen(o.Stop.Low, when.Low) > 0 {
		when.Low = o.Stop.Low
	}
	o.Rest = &when
}

// keyOff tells whether the key brought the engine to rest: the ignition fell
// before, and is still off or fell while the engine slowed down.
func (r *segmenter) keyOff(rest bounds.Instant) bool {
	if !r.ignition.Seen {
		return false
	}
	fall := r.ignitionFall
	if fall == nil {
		return !r.ignition.On // it was off when the log began
	}
	return fall.T < rest.T && (!r.ignition.On || fall.T >= r.engine.fall.Low)
}

// turnedOff is when the key turned the engine off, which fell afterwards.
func (r *segmenter) turnedOff(fall bounds.Instant) bounds.Instant {
	if key := r.ignitionFall; key != nil && key.T < fall.T && key.T >= r.engine.rose {
		return *key
	}
	return fall
}

// running is called when a rising crossing of running_speed has held.
func (r *segmenter) running(rise bounds.Instant) {
	o := r.open
	r.engine.rose = rise.T
	if o == nil {
		o = r.recovered(rise)
	}
	r.engine.fallen = false
	if o == nil {
		if !r.has(decode.StopCommand) {
			r.requests.Unbase() // the sag was no stop
		}
		r.engine.lastRise = &rise
		started := false
		for _, c := range r.cranks {
			if c.episode == nil && c.running == nil && c.end == 0 && c.Low <= rise.High {
				c.ran(&rise)
				started = true
			}
		}
		if !started && r.starter.Unseen(rise.Low-r.patience, rise.High) > 0 {
			r.hiddenStarts = append(r.hiddenStarts, rise.T)
		}
		return
	}
	outcome := analyze.Outcome("")
	if r.inGap(rise) {
		outcome = analyze.InGap
	}
	if len(o.cranks) == 0 && !r.has(decode.StarterCommand) {
		r.newCrank(r.deriveCrank(o, rise))
	}
	o.Running = &rise
	if n := len(o.cranks); n > 0 {
		o.cranks[n-1].ran(&rise)
	}
	r.close(outcome, rise.High)
}

// recovered opens an episode for an engine that sagged and recovered without
// coming to rest, where no stop command is known and the sag was deep enough.
func (r *segmenter) recovered(rise bounds.Instant) *episode {
	e := &r.engine
	if !e.fallen || r.has(decode.StopCommand) {
		return nil
	}
	if r.has(decode.Ignition) && r.ignitionFall != nil && r.ignitionFall.T >= e.since {
		return nil
	}
	cranked := false
	for _, c := range r.cranks {
		cranked = cranked || c.episode == nil && c.touches(e.since, rise.High)
	}
	_, dipped := r.dips.first(e.since, rise.High)
	if e.deepest >= r.engine.run.Threshold/2 && !cranked && !dipped {
		return nil
	}
	o := r.begin(analyze.Event{Instant: e.fall, From: decode.EngineSpeed}, false)
	o.below = true
	return o
}

// stopCommand is called when the stop command rises or falls.
func (r *segmenter) stopCommand(on bool, when bounds.Instant) {
	o := r.open
	if !on {
		if o == nil && len(r.pending) > 0 {
			// It may have fallen before the engine ran, on a slower frame.
			p := r.pending[len(r.pending)-1]
			if !p.settled && p.commanded && p.stopFall == nil && p.Running != nil && when.Low <= p.Running.High {
				p.stopFall = &when
			}
		}
		if o != nil && o.commanded && o.stopFall == nil {
			r.decided(o)
			o.stopFall = &when
		}
		return
	}
	if o != nil {
		switch {
		case !o.commanded && o.Rest != nil && when.Low <= o.Rest.High && len(o.cranks) == 0:
			// The command was there before the engine rested; its frame is slower.
			o.Stop, o.commanded = analyze.Event{Instant: when, From: decode.StopCommand}, true
			r.atOnset(o)
			return
		case (!o.commanded || o.stopFall != nil) && r.engine.rise != nil:
			// It ran for less than running_hold before it was stopped again.
			rise := *r.engine.rise
			r.engine.rise = nil
			r.running(rise)
		case o.commanded && o.stopFall != nil && len(o.cranks) == 0:
			o.stopFall = nil
			o.Notes = append(o.Notes, "the stop command fell and rose again before anything came of it")
			return
		default:
			return
		}
	}
	if r.engine.ran {
		r.begin(analyze.Event{Instant: when, From: decode.StopCommand}, true)
		if fall := r.ignitionFall; fall != nil && !r.ignition.On && fall.T >= r.engine.rose {
			// The key was faster than the stop that the car was about to begin. An
			// ignition that was off before the engine ran is no key, and ends nothing.
			r.close(analyze.IgnitionOff, when.T)
		}
	}
}

// ignitionChanged is called when the ignition turns on or off.
func (r *segmenter) ignitionChanged(on bool, when bounds.Instant) {
	if on {
		return
	}
	r.ignitionFall = &when
	o := r.open
	if o == nil {
		return
	}
	if !o.commanded && o.Rest != nil && when.T < o.Rest.T {
		// The key turned the engine off; the ignition's frame is slower.
		r.open = nil
		r.requests.Unbase()
		for _, c := range o.cranks {
			c.episode = nil
		}
		off := r.turnedOff(o.Stop.Instant)
		for _, s := range r.standWait {
			s.disown(o, off, r.watched)
		}
		if r.stand != nil {
			r.stand.disown(o, off, r.watched)
		}
		return
	}
	r.close(analyze.IgnitionOff, when.T)
}

// begin opens an episode at a stop onset.
func (r *segmenter) begin(stop analyze.Event, commanded bool) *episode {
	o := &episode{Episode: analyze.Episode{Stop: stop}, part: r.part, commanded: commanded, below: r.engine.run.Side < 0}
	r.open = o
	for _, p := range r.pending {
		p.reopens = true
	}
	for _, c := range r.cranks {
		if c.episode == nil && c.running == nil && c.touches(stop.Low, r.now) && c.High >= stop.Low {
			c.episode = o
			o.cranks = append(o.cranks, c)
		}
	}
	for _, s := range r.standWait {
		// The vehicle left before the engine was seen to rest.
		if s.start.T <= stop.T && stop.T <= s.end.T {
			s.stops = append(s.stops, o)
			if !s.open {
				o.left(leaving{s.end, s.start})
			}
		}
	}
	if r.stand != nil {
		r.stand.stops = append(r.stand.stops, o)
	}
	r.atOnset(o)
	return o
}

// atOnset takes what has to be known of the moment of a stop onset.
func (r *segmenter) atOnset(o *episode) {
	stop := o.Stop.Instant
	r.requests.Rebase(stop.T)
	r.drain()
	o.idleRate = r.idleRate(stop)
	o.AtStop = o.AtStop[:0]
	for _, signal := range r.m.Conditions {
		p, seen := series.At(r.watched[signal].All(), stop.T)
		o.AtStop = append(o.AtStop, analyze.Reading{Value: p.V, Seen: seen})
	}
	for _, s := range r.standWait {
		s.stoppedAt(o, r.watched)
	}
	if r.stand != nil {
		r.stand.stoppedAt(o, r.watched)
	}
}

// close ends the open episode. An empty outcome is judged when it is settled.
func (r *segmenter) close(outcome analyze.Outcome, end int64) {
	o := r.open
	r.open = nil
	o.closed, o.outcome, o.end = true, outcome, end
	if n := len(o.cranks); n > 0 && o.cranks[n-1].running == nil {
		o.cranks[n-1].end = end
	}
	r.requests.Unbase()
	r.pending = append(r.pending, o)
}
