package scenario

// phase is what the control unit is about.
type phase uint8

const (
	phaseOff      phase = iota // the engine rests and the unit may not start it
	phaseRun                   // the engine runs
	phaseStopping              // told to stop
	phaseDeciding              // a request was seen
	phaseSpinning              // waiting for the starter to be able to engage
	phaseCrank
	phasePause   // between two cranks
	phaseResume  // a stop was called off
	phaseGivenUp // the engine did not start
)

// control is the engine control unit with its idle-stop logic. It runs every
// 10 ms; what it decides shows on its outputs a little later.
type control struct {
	temper
	world *world

	phase    phase
	nextTask int64
	due      int64 // when the present phase's delay ends
	standing int64 // since when the car stands with the brake pressed; 0: it does not
	fastest  float64
	restAt   int64 // when the engine came to rest in this stop; 0: not yet
	tried    int
	keyed    bool // the starter was asked for by the key
	steered  float64
	lever    bool
}

const taskPeriod = 10_000_000

// run does what is due at a moment.
func (c *control) run(now int64) {
	if now < c.nextTask {
		return
	}
	c.nextTask += taskPeriod
	w := c.world
	shows := now + 200_000 + int64(w.chance.Uint64N(1_700_000))
	if w.out.value[ignition] == 0 {
		if c.phase != phaseOff {
			c.phase = phaseOff
			w.power.fuel, w.power.firing = false, false
			w.out.set(starterCommand, 0, shows)
			w.out.set(stopCommand, 0, shows+300_000_000)
		}
		return
	}
	c.fastest = max(c.fastest, w.body.speed)
	switch c.phase {
	case phaseOff, phaseGivenUp:
		if w.key {
			w.key = false
			c.keyed, c.tried = true, 0
			c.crank(shows)
		}
	case phaseRun:
		c.mayStop(now, shows)
	case phaseStopping:
		c.stopping(now, shows)
	case phaseDeciding:
		if now >= c.due {
			c.decide(now, shows)
		}
	case phaseSpinning:
		c.spinning(now, shows)
	case phaseCrank:
		c.cranking(now, shows)
	case phasePause:
		if now >= c.due {
			c.crank(shows)
		}
	case phaseResume:
		c.phase = phaseRun
	}
}

// mayStop decides whether to stop the engine.
func (c *control) mayStop(now, shows int64) {
	w := c.world
	if w.power.speed < 60 {
		c.phase = phaseOff // it died
		w.power.fuel, w.power.firing = false, false
		return
	}
	below, after := 0.05, c.stopAfter
	if w.leg != nil && w.leg.rolls {
		below, after = 7, 0.12
	}
	slow := w.body.speed <= below
	if !slow || w.out.value[brake] == 0 || c.fastest < 5 {
		c.standing = 0
		return
	}
	if c.standing == 0 {
		c.standing = now
	}
	if now-c.standing < seconds(after) || w.blocked() || w.power.speed > w.power.idle+150 || w.power.speed < w.power.idle-150 {
		return
	}
	c.phase, c.restAt, c.keyed, c.tried = phaseStopping, 0, false, 0
	c.steered, c.lever = w.steer, w.lever
	w.out.set(stopCommand, 1, shows)
	c.due = shows + seconds(c.cutAfter)
}

// stopping lets the engine run down and looks for requests.
func (c *control) stopping(now, shows int64) {
	w := c.world
	if w.power.fuel && now >= c.due {
		w.power.fuel, w.power.firing = false, false
	}
	c.watchRest(now)
	moved := w.steer - c.steered
	asked := w.out.value[brake] == 0 || (w.lever && !c.lever) || moved >= 15 || moved <= -15 || w.power.chargeNow < 65
	if !w.lever {
		c.lever = false
	}
	if asked {
		c.phase, c.due = phaseDeciding, now+seconds(c.react)
	}
}

// watchRest notes when the engine came to rest.
func (c *control) watchRest(now int64) {
	if c.restAt == 0 && c.world.power.speed == 0 {
		c.restAt = now
	}
}

// decide ends the stop.
func (c *control) decide(now, shows int64) {
	w := c.world
	c.watchRest(now)
	if w.power.speed > 600 {
		w.power.fuel, w.power.firing, w.power.target = true, true, w.power.idle
		w.out.set(stopCommand, 0, shows)
		c.phase, c.standing, c.fastest = phaseResume, 0, 0
		return
	}
	w.power.fuel, w.power.firing = false, false
	c.phase = phaseSpinning
	waits := c.catches == 0 && c.restAt == 0
	if !waits || !c.keepsStop {
		w.out.set(stopCommand, 0, shows)
	}
	c.due = now + seconds(c.engage)
	c.spinning(now, shows)
}

// spinning waits until the starter can engage.
func (c *control) spinning(now, shows int64) {
	w := c.world
	c.watchRest(now)
	ready := c.restAt != 0 && now-c.restAt >= seconds(c.settles)
	if c.catches > 0 && c.restAt == 0 {
		ready = w.power.speed <= c.catches && w.power.speed > 110
	}
	if ready && now >= c.due {
		c.crank(shows)
	}
}

// crank turns the starter on.
func (c *control) crank(at int64) {
	w := c.world
	c.phase = phaseCrank
	c.tried++
	p := &w.power
	p.fuel, p.firing, p.sinceCut = true, false, 0
	p.firesAt = p.fireAfter + mul(0.4, w.chance.Float64())
	if p.speed > 100 {
		p.firesAt = 0.7 + mul(0.5, w.chance.Float64()) // it still knows where the crankshaft is
	}
	p.barren = w.barren > 0
	if p.barren {
		w.barren--
	}
	w.out.set(stopCommand, 0, at)
	w.out.set(starterMode, 1, at)
	w.out.set(starterCommand, 1, at)
	c.due = at + seconds(c.holdsCrank)
	if c.keyed {
		c.due = at + seconds(3)
	}
	w.engageStarter(at)
}

// cranking ends the crank when the engine runs or time is up.
func (c *control) cranking(now, shows int64) {
	w := c.world
	switch {
	case w.power.firing && w.power.speed > 430:
		c.release(shows)
		c.phase, c.standing, c.fastest = phaseRun, 0, 0
	case now >= c.due:
		c.release(shows)
		c.phase, c.due = phasePause, now+seconds(0.8)
		if c.tried >= c.tries || w.giveUp {
			c.phase = phaseGivenUp
		}
	}
}

func (c *control) release(at int64) {
	c.world.out.set(starterCommand, 0, at)
	c.world.out.set(starterMode, 0, at)
	c.world.releaseStarter(at)
}
