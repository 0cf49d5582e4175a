package onelog

import (
	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// crank is one starter operation as it is followed, from its onset until its
// measurements are complete.
type crank struct {
	analyze.Event
	part    int   // of the log, counted where time runs back
	off     int64 // when the starter was seen off again; 0 while on or not known
	kind    analyze.StartKind
	episode *episode
	running *bounds.Instant
	// end is where its windows end if the engine did not run: the next crank, or
	// when it was given up. 0 while neither is known.
	end     int64
	settled bool
	metrics []analyze.MetricValue
}

// ran notes that the engine came to run. Where the crank was read off the engine
// speed, it is over then: what sags later is not its doing.
func (c *crank) ran(rise *bounds.Instant) {
	c.running = rise
	if c.From == decode.EngineSpeed && c.off == 0 {
		c.off = rise.High
	}
}

// touches tells whether the starter was on at any time in low..high.
func (c *crank) touches(low, high int64) bool {
	return c.Low <= high && (c.off == 0 || c.off >= low)
}

// deriveCrank finds the crank onset of an engine that never came to rest and
// whose starter command is not known: the voltage dip, else the lowest speed.
func (r *segmenter) deriveCrank(o *episode, rise bounds.Instant) analyze.Event {
	if dip, ok := r.dips.first(o.Stop.Low, rise.High); ok {
		return analyze.Event{Instant: dip, From: decode.BatteryVoltage}
	}
	low := r.engine.lowest
	if r.streams.Gaps.Between(o.Stop.Low, rise.High) {
		low.before, low.after = o.Stop.Low, rise.High // the lowest speed may lie in the gap
	}
	return analyze.Event{Instant: bounds.Instant{Low: min(low.before, low.T), T: low.T, High: max(low.after, low.T)}, From: decode.EngineSpeed}
}

// starterCommand is called when the starter turns on or off.
func (r *segmenter) starterCommand(on bool, when bounds.Instant) {
	if on {
		r.newCrank(analyze.Event{Instant: when, From: decode.StarterCommand})
		return
	}
	if n := len(r.cranks); n > 0 && r.cranks[n-1].off == 0 {
		r.cranks[n-1].off = when.T
	}
}

// newCrank takes a crank onset to the episode or the key start it belongs to.
func (r *segmenter) newCrank(onset analyze.Event) {
	c := &crank{Event: onset, kind: analyze.KeyStart, part: r.part}
	owner := r.open
	if owner == nil && len(r.pending) > 0 {
		// The starter's frame may be slower than the engine's.
		p := r.pending[len(r.pending)-1]
		if !p.settled && p.Running != nil && onset.Low <= p.Running.High {
			owner = p
			c.ran(p.Running)
		}
	}
	if owner != nil {
		r.decided(owner)
		c.episode = owner
		if n := len(owner.cranks); n > 0 {
			owner.cranks[n-1].end = onset.Low
			owner.cranks[n-1].running = nil
		}
		owner.cranks = append(owner.cranks, c)
		r.cranks = append(r.cranks, c)
		return
	}
	if rise := r.engine.lastRise; rise != nil && onset.Low <= rise.High {
		c.ran(rise) // the same at a key start
	}
	if n := len(r.cranks); n > 0 {
		before := r.cranks[n-1]
		if before.running == nil && before.end == 0 && onset.T-before.T <= r.patience {
			before.end = onset.Low
			if before.episode == nil {
				c.kind = analyze.RetryStart
			}
		}
	}
	r.cranks = append(r.cranks, c)
}

// decided notes which requests cannot be told at the moment of the first
// decision.
func (r *segmenter) decided(o *episode) {
	if o.decision() != nil {
		return
	}
	for i := range r.m.Requests {
		if r.requests.State(i) == analyze.Unknown {
			o.unknownAsked = append(o.unknownAsked, i)
		}
	}
}
