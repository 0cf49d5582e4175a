package segment

import (
	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// Crank is one starter operation as it is followed, from its onset until its
// measurements are complete.
type Crank struct {
	analyze.Event
	Part    int   // of the log, counted where time runs back
	Off     int64 // when the starter was seen off again; 0 while on or not known
	Kind    analyze.StartKind
	Episode *Episode        // nil: outside of any
	Running *bounds.Instant // nil: the engine did not come to run, or not yet
	// End is where its windows end if the engine did not run: the next crank, or
	// when it was given up. 0 while neither is known.
	End     int64
	Settled bool // measured
	Metrics []analyze.MetricValue
}

// ran notes that the engine came to run. Where the crank was read off the engine
// speed, it is over then: what sags later is not its doing.
func (c *Crank) ran(rise *bounds.Instant) {
	c.Running = rise
	if c.From == decode.EngineSpeed {
		c.Off = rise.High
	}
}

// touches reports whether the starter was on at any time in low..high.
func (c *Crank) touches(low, high int64) bool {
	return c.Low <= high && (c.Off == 0 || c.Off >= low)
}

// deriveCrank finds the crank onset of an engine that never came to rest and
// whose starter command is not known: the voltage dip, else the lowest speed.
func (r *Segmenter) deriveCrank(o *Episode, rise bounds.Instant) analyze.Event {
	if dip, ok := r.Dips.first(o.Stop.Low, rise.High); ok {
		return analyze.Event{Instant: dip, From: decode.BatteryVoltage}
	}
	low := r.Engine.lowest
	if r.Streams.Gaps.Between(o.Stop.Low, rise.High) {
		low.before, low.after = o.Stop.Low, rise.High // the lowest speed may lie in the gap
	}
	return analyze.Event{Instant: bounds.Instant{Low: min(low.before, low.T), T: low.T, High: max(low.after, low.T)}, From: decode.EngineSpeed}
}

// StarterCommand takes the instant at which the starter turns on or off.
func (r *Segmenter) StarterCommand(on bool, when bounds.Instant) {
	if on {
		r.newCrank(analyze.Event{Instant: when, From: decode.StarterCommand})
		return
	}
	if n := len(r.Cranks); n > 0 && r.Cranks[n-1].Off == 0 {
		r.Cranks[n-1].Off = when.T
	}
}

// newCrank takes a crank onset to the episode or the key start it belongs to.
func (r *Segmenter) newCrank(onset analyze.Event) {
	c := &Crank{Event: onset, Kind: analyze.KeyStart, Part: r.Part}
	owner := r.Open
	if n := len(r.Pending); n > 0 && (owner == nil || onset.T < owner.Stop.T) {
		// The starter's frame may be slower than the engine's, which may even have
		// been stopped again.
		p := r.Pending[n-1]
		if !p.Settled && p.Running != nil && onset.Low <= p.Running.High {
			owner = p
			c.ran(p.Running)
		}
	}
	if owner != nil {
		r.decided(owner)
		c.Episode = owner
		if n := len(owner.Operations); n > 0 {
			owner.Operations[n-1].End = onset.Low
			owner.Operations[n-1].Running = nil
		}
		owner.Operations = append(owner.Operations, c)
		r.Cranks = append(r.Cranks, c)
		return
	}
	if rise := r.Engine.lastRise; rise != nil && onset.Low <= rise.High {
		c.ran(rise) // the same at a key start
	}
	if n := len(r.Cranks); n > 0 {
		before := r.Cranks[n-1]
		if before.Running == nil && before.End == 0 && onset.T-before.T <= r.Patience {
			before.End = onset.Low
			if before.Episode == nil {
				c.Kind = analyze.RetryStart
			}
		}
	}
	r.Cranks = append(r.Cranks, c)
}

// decided notes which requests cannot be told at the moment of the first
// decision.
func (r *Segmenter) decided(o *Episode) {
	if o.WhenDecided() != nil {
		return
	}
	for i := range r.M.Requests {
		if r.Requests.State(i) == analyze.Unknown {
			o.UnknownAsked = append(o.UnknownAsked, i)
		}
	}
}
