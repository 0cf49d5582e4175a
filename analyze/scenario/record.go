package scenario

// Names of the maps' restart requests and inhibits.
const (
	requestBrake    = "brake released"
	requestTurn     = "turn lamp"
	requestSteering = "steering moved"
	requestCharge   = "battery low"

	inhibitCold   = "coolant cold"
	inhibitCabin  = "cabin demand"
	inhibitDriver = "switched off by driver"
)

// codeLabels are the labels of the car's own reasons, by number.
var codeLabels = map[int64]string{
	4: "battery refresh charge", 5: "battery charge low", 6: "brake vacuum weak",
}

// Thresholds that define the true moments.
const (
	trueRunning    = 500.0 // rpm
	trueRest       = 30.0  // rpm
	trueStandstill = 0.5   // km/h
	trueHold       = 300_000_000
	trueNoStart    = 5_000_000_000
)

// record watches outputs and curves and writes down what is true.
type record struct {
	world *world
	truth Truth

	open       *TrueEpisode // not yet ended
	latest     *TrueEpisode // ended, its take-off not yet seen
	steered    float64      // at the stop onset
	lampAt     int64        // when the turn lamp was last on
	fellAt     int64        // last falling passage of trueRunning
	keyedOff   bool         // the engine was turned off by the key
	turning    bool         // the starter is engaged, the engine does not turn yet
	keyCrank   bool         // a key start that has not led to running yet
	early      *TrueRequest // seen before its episode was known
	earlySpeed float64

	volts   [50]float64 // of the last 50 steps
	lowest  float64
	watched bool

	stand  *TrueStandstill
	shares [8]int64 // ns of stoppable time by reason, in the order of reasons
	any    int64
	whole  int64
	lastAt int64 // last frame written, 0: none
}

// change takes note of an output that changed.
func (r *record) change(c change) {
	w := r.world
	switch c.what {
	case stopCommand:
		if c.value == 1 && !w.plan.silentStop {
			r.begin(c.at)
		} else if c.value == 0 && !w.plan.silentStop {
			r.decide(c.at)
			if r.open != nil && w.control.phase == phaseResume {
				r.close("aborted")
			}
		}
	case starterCommand:
		if c.value == 1 && !w.plan.silentStop {
			r.crank(c.at)
		}
	case ignition:
		if c.value == 0 {
			r.keyedOff = true
			if r.open != nil {
				r.close("ignition_off")
			}
		} else {
			r.keyedOff = false
		}
	case brake:
		if c.value == 0 {
			r.request(requestBrake, c.at)
		}
	case turnLamp:
		if c.value != 0 && c.at-r.lampAt > 800_000_000 {
			r.request(requestTurn, c.at)
		}
		r.lampAt = c.at
	}
}

func (r *record) begin(at int64) {
	r.open = &TrueEpisode{Stop: at}
	r.steered = r.world.curve.at(steering, at)
	r.watched = false
	if r.early != nil && r.early.At >= at {
		r.open.Request, r.open.SpeedAtRequest = r.early, r.earlySpeed
	}
	r.early = nil
	if r.stand != nil {
		r.stand.Stopped = true
	}
	if r.keyedOff {
		r.close("ignition_off") // the unit had made up its mind before the key was turned
	}
}

func (r *record) decide(at int64) {
	if e := r.open; e != nil && e.Decision == nil {
		e.Decision = moment(at)
	}
}

func (r *record) request(name string, at int64) {
	e := r.open
	if e == nil {
		// On a car that does not tell its stop command the episode is known only
		// at rest, and the request may lie before that.
		r.early = &TrueRequest{Name: name, At: at}
		r.earlySpeed = r.world.curve.at(engineSpeed, at)
		return
	}
	if e.Request == nil && e.Decision == nil {
		e.Request = &TrueRequest{Name: name, At: at}
		e.SpeedAtRequest = r.world.curve.at(engineSpeed, at)
	}
}

func (r *record) crank(at int64) {
	kind := "key"
	if e := r.open; e != nil {
		kind = "retry"
		if len(e.Cranks) == 0 {
			kind = "restart"
			e.SpeedAtCrank = r.world.curve.at(engineSpeed, at)
			r.watched, r.lowest = true, r.volts[0]
			for _, v := range r.volts {
				r.lowest = min(r.lowest, v)
			}
		}
		r.decide(at)
		e.Cranks = append(e.Cranks, at)
	} else {
		if r.keyCrank {
			kind = "retry"
		}
		r.keyCrank = true
	}
	r.truth.Starts = append(r.truth.Starts, TrueStart{kind, at})
}

// turns notes that the starter takes hold of the engine.
func (r *record) turns() { r.turning = true }

// close ends the open episode.
func (r *record) close(outcome string) {
	r.open.Outcome = outcome
	r.truth.Episodes = append(r.truth.Episodes, *r.open)
	r.latest = &r.truth.Episodes[len(r.truth.Episodes)-1]
	r.open = nil
	if (outcome == "aborted" || outcome == "stalled") && r.stand != nil {
		r.stand.Stopped, r.stand.calledOff = false, true
	}
}

// curve looks for passages of thresholds in one step.
func (r *record) curve(c *curve) {
	w := r.world
	copy(r.volts[:], r.volts[1:])
	r.volts[len(r.volts)-1] = c.new[voltage]
	if r.watched {
		r.lowest = min(r.lowest, c.new[voltage])
	}
	if r.turning && c.new[engineSpeed] > c.old[engineSpeed] {
		r.turning = false
		if w.plan.silentStop {
			r.crank(c.from)
		}
	}
	if at, ok := c.falls(charge, 65); ok {
		r.request(requestCharge, at)
	}
	if r.open != nil {
		for _, level := range [2]float64{r.steered - 15, r.steered + 15} {
			if at, ok := c.rises(steering, level); ok && level > r.steered {
				r.request(requestSteering, at)
			}
			if at, ok := c.falls(steering, level); ok && level < r.steered {
				r.request(requestSteering, at)
			}
		}
	}
	r.engine(c)
	r.road(c)
	r.reasons(c)
}

// engine follows the passages of the engine speed.
func (r *record) engine(c *curve) {
	w := r.world
	if at, ok := c.falls(engineSpeed, trueRunning); ok {
		r.fellAt = at
		if r.open != nil {
			r.open.Running = nil
		}
	}
	if at, ok := c.falls(engineSpeed, trueRest); ok {
		stalled := w.leg != nil && w.leg.stall
		if r.open == nil && !r.keyedOff && (stalled || w.plan.silentStop) && r.fellAt != 0 && !r.keyCrank {
			r.begin(r.fellAt)
			r.open.Outcome = map[bool]string{true: "stalled"}[stalled && !w.plan.silentStop]
		}
		if e := r.open; e != nil && e.Rest == nil && len(e.Cranks) == 0 {
			e.Rest = moment(at)
		}
	}
	if at, ok := c.rises(engineSpeed, trueRunning); ok {
		r.keyCrank = false
		if e := r.open; e != nil && len(e.Cranks) > 0 {
			e.Running = moment(at)
		}
	}
	e := r.open
	if e == nil {
		if l := r.latest; l != nil && r.watched && l.Running != nil && c.from >= *l.Running+500_000_000 {
			l.VoltageMin, r.watched = r.lowest, false
		}
		return
	}
	if e.Running != nil && c.from >= *e.Running+trueHold {
		switch {
		case e.Outcome == "stalled":
			r.close("stalled")
		case e.Rest == nil || (e.Request != nil && e.Request.At < *e.Rest):
			r.close("change_of_mind")
		default:
			r.close("restarted")
		}
		return
	}
	if e.Running == nil && e.Decision != nil && c.from > *e.Decision+trueNoStart &&
		(len(e.Cranks) == 0 || c.from > e.Cranks[len(e.Cranks)-1]+trueNoStart) {
		r.close("no_start")
		r.watched = false
	}
}

// finish ends what the log's end cuts off.
func (r *record) finish(now int64) {
	if r.open != nil {
		r.close("log_end")
	}
	if r.stand != nil {
		r.endStand(now)
	}
	for _, s := range r.world.network.senders {
		if s.silence {
			r.silence(s, now)
		}
	}
	r.truth.Start, r.truth.End = r.world.plan.start, now
	r.truth.SourceResistance = mul(1000, r.world.plan.machine.resistance)
}

// sent takes note of a frame that came into the log.
func (r *record) sent(s *sender, at int64) {
	if s.silence {
		r.silence(s, at)
	}
	s.last, s.silence = at, false
	if r.lastAt != 0 && at-r.lastAt > 500_000_000 {
		r.truth.Gaps = append(r.truth.Gaps, [2]int64{r.lastAt, at})
	}
	r.lastAt = at
}

func (r *record) silence(s *sender, end int64) {
	if s.last != 0 && !s.changes && end-s.last > max(5*s.period, 100_000_000) {
		r.truth.Silences = append(r.truth.Silences, TrueSilence{s.module, s.last, end, s.period})
	}
}
