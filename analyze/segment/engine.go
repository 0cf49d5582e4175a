package segment

import (
	"lull/analyze"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

// Engine follows the engine speed: whether it runs, turns or rests.
type Engine struct {
	Run, Rest series.Crossing // of running_speed and of rest_speed

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
	// Rise is a rising crossing of running_speed that must still hold.
	Rise *bounds.Instant
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

func (e *Engine) reset() {
	run, rest := e.Run, e.Rest
	run.Reset()
	rest.Reset()
	*e = Engine{Run: run, Rest: rest}
}

// Runs returns whether the engine runs, as far as it was seen.
func (e *Engine) Runs() analyze.Truth {
	switch {
	case e.Run.Side > 0:
		return analyze.True
	case e.Run.Side < 0:
		return analyze.False
	}
	return analyze.Unknown
}

// offRest is how long the engine must surely stay off rest for its leaving rest
// to be a crank and not the crankshaft rocking back.
const offRest = 200 * bounds.Millisecond

// EngineSpeed takes a sample of the engine speed, in rpm, at t, in ns. It opens and
// closes episodes.
func (r *Segmenter) EngineSpeed(t int64, v float64) {
	e := &r.Engine
	r.result.EngineSpeedSeen = true
	previous := e.Run.Previous.T
	if signal := r.M.Role[decode.EngineSpeed]; e.Run.Any {
		r.EngineAway.Add(previous, t, r.Streams, signal)
		if e.off != nil && r.Streams.Missed(previous, t, signal) < t {
			e.off.High = t // it may have come back to rest
		}
	}
	runEdge, runWhen := e.Run.Add(t, v)
	restEdge, restWhen := e.Rest.Add(t, v)
	starter := r.Has(decode.StarterCommand)
	if s := r.Stand; s != nil && s.ran == analyze.Unknown {
		s.ran = e.Runs() // the log begins in a standstill
	}

	if runEdge < 0 {
		e.Rise = nil
		e.fall = series.Onset(runWhen, e.Run.BeforeNotLower)
		if !e.fallen {
			e.deepest, e.since = v, e.fall.Low
		}
		e.fallen = e.ran
		e.lowest.start(previous, series.Point{T: t, V: v})
		if r.Open == nil && e.ran && !r.Has(decode.StopCommand) {
			r.Requests.Rebase(e.fall.T)
		}
	} else {
		e.lowest.add(series.Point{T: t, V: v})
	}
	e.deepest = min(e.deepest, v)
	if o := r.Open; o != nil && e.Run.Side < 0 {
		o.below = true
	}
	if restEdge < 0 {
		e.off = nil
		r.rested(restWhen)
	}
	if restEdge > 0 && !starter {
		off := series.Onset(restWhen, e.Rest.BeforeNotHigh)
		e.off = &off
	}
	if runEdge > 0 {
		rise := runWhen
		e.Rise = &rise
	}
	if e.off != nil && (e.Run.Side > 0 || t >= e.off.High+offRest) {
		off := *e.off
		e.off = nil
		if !starter {
			r.newCrank(analyze.Event{Instant: off, From: decode.EngineSpeed})
		}
	}
	if e.Run.Side > 0 {
		e.ran = true
		if e.Rise != nil && t >= e.Rise.High+r.hold {
			rise := *e.Rise
			e.Rise = nil
			r.running(rise)
		}
		if o := r.Open; o != nil && o.StopFall != nil && !o.below && t >= o.StopFall.High+r.hold {
			if r.InGap(*o.StopFall) || r.EngineUnseen(o.Stop.Low, t) > 0 {
				r.Close(analyze.InGap, t) // it may have been stopped and started in there
			} else {
				r.Close(analyze.Aborted, t)
			}
		}
		return
	}
	if o := r.Open; o != nil && e.Rise == nil && e.off == nil && e.Run.Side < 0 {
		if deadline, decided := o.deadline(r.Patience); decided && t > deadline {
			r.Close(analyze.NoStart, deadline)
		}
	}
}

// rested is called when the engine comes to rest.
func (r *Segmenter) rested(when bounds.Instant) {
	e := &r.Engine
	ran := e.ran
	e.ran, e.fallen = false, false
	if o := r.Open; o != nil {
		if o.Rest == nil {
			r.restedIn(o, when)
		}
		return
	}
	if !ran {
		return
	}
	if r.keyOff(when) {
		if r.Stand != nil {
			r.Stand.keyedOff(r.turnedOff(e.fall), r.Watched)
		}
		return
	}
	// A stop command that was on from the first sample on has no onset to go by.
	stop := analyze.Event{Instant: e.fall, From: decode.EngineSpeed}
	if r.Stop.Unseen(stop.Low, stop.High) > 0 {
		stop.Low = min(stop.Low, r.Stop.Last) // the command may have risen since
	}
	o := r.begin(stop, r.Stop.On && !r.Stop.Changed)
	r.restedIn(o, when)
	o.below = true
	if fall := r.ignitionFall; fall != nil && !r.Ignition.On {
		// The key came after rest, but before the engine was seen to rest.
		r.Close(analyze.IgnitionOff, fall.T)
	}
}

// restedIn notes the rest of an episode. Where it was cranked before, it may have
// rested before, too, if that was not seen.
func (r *Segmenter) restedIn(o *Episode, when bounds.Instant) {
	if len(o.Operations) > 0 && r.EngineUnseen(o.Stop.Low, when.Low) > 0 {
		when.Low = o.Stop.Low
	}
	o.Rest = &when
}

// keyOff reports whether the key brought the engine to rest: the ignition fell
// before, and is still off or fell while the engine slowed down.
func (r *Segmenter) keyOff(rest bounds.Instant) bool {
	if !r.Ignition.Seen {
		return false
	}
	fall := r.ignitionFall
	if fall == nil {
		return !r.Ignition.On // it was off when the log began
	}
	return fall.T < rest.T && (!r.Ignition.On || fall.T >= r.Engine.fall.Low)
}

// turnedOff is when the key turned the engine off, which fell afterwards.
func (r *Segmenter) turnedOff(fall bounds.Instant) bounds.Instant {
	if key := r.ignitionFall; key != nil && key.T < fall.T && key.T >= r.Engine.rose {
		return *key
	}
	return fall
}

// running is called when a rising crossing of running_speed has held.
func (r *Segmenter) running(rise bounds.Instant) {
	o := r.Open
	r.Engine.rose = rise.T
	if o == nil {
		o = r.recovered(rise)
	}
	r.Engine.fallen = false
	if o == nil {
		if !r.Has(decode.StopCommand) {
			r.Requests.Unbase() // the sag was no stop
		}
		r.Engine.lastRise = &rise
		started := false
		for _, c := range r.Cranks {
			if c.Episode == nil && c.Running == nil && c.End == 0 && c.Low <= rise.High {
				c.ran(&rise)
				started = true
			}
		}
		if !started && r.Starter.Unseen(rise.Low-r.Patience, rise.High) > 0 {
			r.result.HiddenStarts = append(r.result.HiddenStarts, rise.T)
		}
		return
	}
	outcome := analyze.Outcome("")
	if r.InGap(rise) {
		outcome = analyze.InGap
	}
	if len(o.Operations) == 0 && !r.Has(decode.StarterCommand) {
		r.newCrank(r.deriveCrank(o, rise))
	}
	o.Running = &rise
	if n := len(o.Operations); n > 0 {
		o.Operations[n-1].ran(&rise)
	}
	r.Close(outcome, rise.High)
}

// recovered opens an episode for an engine that sagged and recovered without
// coming to rest, where no stop command is known and the sag was deep enough.
func (r *Segmenter) recovered(rise bounds.Instant) *Episode {
	e := &r.Engine
	if !e.fallen || r.Has(decode.StopCommand) {
		return nil
	}
	if r.Has(decode.Ignition) && r.ignitionFall != nil && r.ignitionFall.T >= e.since {
		return nil
	}
	cranked := false
	for _, c := range r.Cranks {
		cranked = cranked || c.Episode == nil && c.touches(e.since, rise.High)
	}
	_, dipped := r.Dips.first(e.since, rise.High)
	if e.deepest >= r.Engine.Run.Threshold/2 && !cranked && !dipped {
		return nil
	}
	o := r.begin(analyze.Event{Instant: e.fall, From: decode.EngineSpeed}, false)
	o.below = true
	return o
}

// StopCommand takes the instant at which the stop command rises or falls.
func (r *Segmenter) StopCommand(on bool, when bounds.Instant) {
	o := r.Open
	if !on {
		if o == nil && len(r.Pending) > 0 {
			// It may have fallen before the engine ran, on a slower frame.
			p := r.Pending[len(r.Pending)-1]
			if !p.Settled && p.commanded && p.StopFall == nil && p.Running != nil && when.Low <= p.Running.High {
				p.StopFall = &when
			}
		}
		if o != nil && o.commanded && o.StopFall == nil {
			r.decided(o)
			o.StopFall = &when
		}
		return
	}
	if o != nil {
		switch {
		case !o.commanded && o.Rest != nil && when.Low <= o.Rest.High && len(o.Operations) == 0:
			// The command was there before the engine rested; its frame is slower.
			o.Stop, o.commanded = analyze.Event{Instant: when, From: decode.StopCommand}, true
			r.atOnset(o)
			return
		case (!o.commanded || o.StopFall != nil) && r.Engine.Rise != nil:
			// It ran for less than running_hold before it was stopped again.
			rise := *r.Engine.Rise
			r.Engine.Rise = nil
			r.running(rise)
		case o.commanded && o.StopFall != nil && len(o.Operations) == 0:
			o.StopFall = nil
			o.Notes = append(o.Notes, analyze.StopTakenBack{})
			return
		default:
			return
		}
	}
	if r.Engine.ran {
		r.begin(analyze.Event{Instant: when, From: decode.StopCommand}, true)
		if fall := r.ignitionFall; fall != nil && !r.Ignition.On && fall.T >= r.Engine.rose {
			// The key was faster than the stop that the car was about to begin. An
			// ignition that was off before the engine ran is no key, and ends nothing.
			r.Close(analyze.IgnitionOff, when.T)
		}
	}
}

// IgnitionChanged takes the instant at which the ignition turns on or off.
func (r *Segmenter) IgnitionChanged(on bool, when bounds.Instant) {
	if on {
		return
	}
	r.ignitionFall = &when
	o := r.Open
	if o == nil {
		return
	}
	if !o.commanded && o.Rest != nil && when.T < o.Rest.T {
		// The key turned the engine off; the ignition's frame is slower.
		r.Open = nil
		r.Requests.Unbase()
		for _, c := range o.Operations {
			c.Episode = nil
		}
		off := r.turnedOff(o.Stop.Instant)
		for _, s := range r.standWait {
			s.disown(o, off, r.Watched)
		}
		if r.Stand != nil {
			r.Stand.disown(o, off, r.Watched)
		}
		return
	}
	r.Close(analyze.IgnitionOff, when.T)
}

// begin opens an episode at a stop onset.
func (r *Segmenter) begin(stop analyze.Event, commanded bool) *Episode {
	o := &Episode{Episode: analyze.Episode{Stop: stop, Part: r.Part}, commanded: commanded, below: r.Engine.Run.Side < 0}
	r.Open = o
	for _, p := range r.Pending {
		p.Reopens = true
	}
	for _, c := range r.Cranks {
		if c.Episode == nil && c.Running == nil && c.High >= stop.Low {
			c.Episode = o
			o.Operations = append(o.Operations, c)
		}
	}
	for _, s := range r.standWait {
		// The vehicle left before the engine was seen to rest.
		if s.Start.T <= stop.T && stop.T <= s.end.T {
			s.stops = append(s.stops, o)
			if !s.open {
				o.left(Departure{s.end, s.Start})
			}
		}
	}
	if r.Stand != nil {
		r.Stand.stops = append(r.Stand.stops, o)
	}
	r.atOnset(o)
	return o
}

// atOnset takes what has to be known of the moment of a stop onset.
func (r *Segmenter) atOnset(o *Episode) {
	stop := o.Stop.Instant
	r.Requests.Rebase(stop.T)
	r.Drain()
	o.IdleRate = r.idleRate(stop)
	o.AtStop = o.AtStop[:0]
	for _, signal := range r.M.Circumstances {
		p, seen := series.At(r.Watched[signal].All(), stop.T)
		o.AtStop = append(o.AtStop, analyze.Reading{Value: p.V, Seen: seen})
	}
	for _, s := range r.standWait {
		s.stoppedAt(o, r.Watched)
	}
	if r.Stand != nil {
		r.Stand.stoppedAt(o, r.Watched)
	}
}

// Close ends the open episode, which there must be, at the moment end. An empty
// outcome is judged when it is settled.
func (r *Segmenter) Close(outcome analyze.Outcome, end int64) {
	o := r.Open
	r.Open = nil
	o.outcome, o.End = outcome, end
	if n := len(o.Operations); n > 0 && o.Operations[n-1].Running == nil {
		o.Operations[n-1].End = end
	}
	r.Requests.Unbase()
	r.Pending = append(r.Pending, o)
}
