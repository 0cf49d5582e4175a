package scenario

// stage is where a driver is within a leg.
type stage uint8

const (
	stageKey  stage = iota // before the first start
	stageWarm              // the engine runs, not yet under way
	stageShow              // shows what its switches do
	stageGo                // wants to set off
	stageDrive
	stageBrake
	stageStand
	stageAsked // has asked for the restart
	stageDone
)

// driver carries out the legs.
type driver struct {
	world *world
	stage stage
	leg   int
	until int64
	// moments of this standstill; 0 where not yet
	standAt, stopAt, restAt, askAt, runAt int64
	keyAt                                 int64
	blinks                                bool
	nextBlink                             int64
	steerTo                               float64
	brisk                                 float64 // 0.85..1.15, how this leg is driven
	side                                  int64   // of the turn lamp
	dabTo                                 int64   // the brake is pressed on the way until then
	dabbed                                bool
	showFrom                              int64 // since when the driver shows things; 0: not yet
	shown                                 int   // how many
	showing                               bool
}

// enter begins a stage.
func (d *driver) enter(s stage, until int64) { d.stage, d.until = s, until }

// run does what the driver does in the step from now on.
func (d *driver) run(now int64) {
	w := d.world
	d.hands(now)
	switch d.stage {
	case stageKey:
		if now >= d.until {
			d.turnKey(now)
			d.enter(stageWarm, w.keyAt)
		}
	case stageWarm:
		if w.power.running() && now >= d.until+2_500_000_000+seconds(w.plan.idles) {
			d.enter(stageShow, now)
		}
		if d.stage == stageShow && len(w.plan.shows) == 0 {
			d.askAt, d.runAt = now, now
			d.enter(stageGo, now)
		}
	case stageShow:
		if d.present(now) {
			w.out.set(gear, 3, now+200*ms)
			d.askAt, d.runAt = now, now
			d.enter(stageGo, now)
		}
	case stageGo:
		d.setOff(now)
	case stageDrive:
		d.drive(now)
	case stageBrake:
		d.slow(now)
	case stageStand:
		d.stand(now)
	case stageAsked:
		d.asked(now)
	case stageDone:
		w.body.wanted = 0
	}
}

// turnKey turns the ignition on and has the engine started.
func (d *driver) turnKey(now int64) {
	w := d.world
	if w.plan.keyed == 0 {
		w.out.set(brake, 1, now+w.instant())
		w.out.set(ignition, 1, now+w.instant())
		w.out.set(gear, 3, now+400_000_000)
		w.out.set(radio, 1, now+900_000_000)
		w.keyAt = now + 600_000_000 + w.instant()
		return
	}
	w.out.set(ignition, 1, now+w.instant())
	w.keyAt = now + seconds(w.plan.keyed) + w.instant()
	w.out.set(brake, 1, w.keyAt-seconds(0.3+w.chance.Float64()))
	if len(w.plan.shows) == 0 {
		w.out.set(gear, 3, w.keyAt+1_500_000_000+40*w.instant())
	}
}

// now is the present leg.
func (d *driver) now() *leg { return &d.world.plan.legs[d.leg] }

// setOff presses the pedal and lets the clutch take the load.
func (d *driver) setOff(now int64) {
	w := d.world
	if w.out.value[brake] == 1 && !w.out.planned(brake) {
		w.out.set(brake, 0, now+w.instant())
	}
	if now < d.askAt+seconds(w.plan.goAfter+d.now().lingers) || now < d.runAt+80_000_000 || w.out.value[brake] == 1 {
		return
	}
	w.pedal = 18
	if w.body.filled < 1 {
		w.late = true // the pedal is down before the clutch can take the load
		return
	}
	d.brisk = 0.85 + mul(0.3, w.chance.Float64())
	w.body.jerk = mul(4.5, d.brisk)
	if w.late && !w.plan.slips {
		w.body.jerk = 26
	}
	w.body.wanted = 1.5
	d.enter(stageDrive, 0)
}

// grabsAt is the speed at which a clutch that was filled too late, and slips, takes
// hold: the car creeps off and is then jerked forward.
const grabsAt = 2.5 // km/h

// drive keeps the speed of the leg.
func (d *driver) drive(now int64) {
	w := d.world
	l := d.now()
	if w.body.speed > 6 {
		w.late, d.blinks = false, false
		w.body.jerk = 4.5
	}
	if d.dab(now, l) {
		return
	}
	if w.body.speed < l.cruise {
		w.pedal, w.body.wanted = 22, mul(1.7, d.brisk)
		switch {
		case !w.late || !w.plan.slips:
		case w.body.speed < grabsAt:
			w.body.wanted = 0.6
		default:
			w.body.jerk = 26
		}
		return
	}
	w.pedal, w.body.wanted = 9, 0
	if d.until == 0 {
		d.until = now + seconds(mul(l.hold, d.brisk))
	}
	if now >= d.until {
		w.pedal = 0
		w.out.set(brake, 1, now+w.instant())
		if l.lampOn {
			d.blink(now)
		}
		w.refuse(l)
		d.dabTo, d.dabbed = 0, false
		if d.side = 1; l.side == 2 {
			d.side = 2
		}
		d.standAt, d.stopAt, d.restAt, d.askAt, d.runAt = 0, 0, 0, 0, 0
		d.enter(stageBrake, 0)
	}
}

// dab presses the brake on the way for a moment; it tells whether it does.
func (d *driver) dab(now int64, l *leg) bool {
	w := d.world
	if l.dabs == 0 || d.dabbed || d.until == 0 || now < d.until-seconds(mul(l.hold, 0.6)) {
		return false
	}
	if d.dabTo == 0 {
		d.dabTo = now + seconds(l.dabs)
		w.out.set(brake, 1, now+w.instant())
		w.out.set(brake, 0, d.dabTo)
	}
	d.dabbed = now >= d.dabTo
	w.pedal, w.body.wanted = 0, -1.4
	return !d.dabbed
}

// slow brakes to a standstill.
func (d *driver) slow(now int64) {
	w := d.world
	w.body.wanted = mul(-1.9, d.brisk)
	if w.body.speed < 5 {
		w.body.wanted = -1.1
	}
	if w.body.speed == 0 {
		w.body.wanted = 0
		d.standAt = now
		w.standSince = now
		d.enter(stageStand, 0)
	}
	d.note(now)
}

// note remembers when engine and stop command changed.
func (d *driver) note(now int64) {
	w := d.world
	if d.stopAt == 0 && w.out.value[stopCommand] == 1 {
		d.stopAt = now
	}
	if d.stopAt != 0 && d.restAt == 0 && w.power.speed == 0 {
		d.restAt = now
	}
}

// stand waits for the moment to ask.
func (d *driver) stand(now int64) {
	w, l := d.world, d.now()
	d.note(now)
	if l.stall && now > d.standAt+300_000_000 {
		w.power.fuel, w.power.firing = false, false
	}
	from := [...]int64{sinceStand: d.standAt, sinceStop: d.stopAt, sinceRest: d.restAt}[l.from]
	if from == 0 {
		return
	}
	if l.by == byCharge {
		w.power.heavy = d.restAt != 0
		if w.out.value[stopCommand] == 0 && d.restAt != 0 {
			d.ask(now)
		}
		return
	}
	if now < from+seconds(l.after) {
		return
	}
	switch l.by {
	case byTurn:
		d.blink(now)
	case bySteering:
		d.steerTo = w.steer + 42
	case byBrake:
		if l.keyOff {
			w.out.set(ignition, 0, now+w.instant())
		} else if !l.stall {
			w.out.set(brake, 0, now+w.instant())
		}
	case byNothing:
		if l.keyOff {
			w.out.set(ignition, 0, now+w.instant())
		}
		d.enter(stageDone, 0)
		return
	}
	d.ask(now)
}

// ask notes that the driver, or the car itself, has asked.
func (d *driver) ask(now int64) {
	d.askAt = now
	d.keyAt = 0
	l := d.now()
	if l.stall {
		d.world.keyAt = now + seconds(l.keyAfter)
	}
	d.enter(stageAsked, 0)
}

// asked waits for the engine and goes on.
func (d *driver) asked(now int64) {
	w, l := d.world, d.now()
	if d.runAt == 0 && w.power.running() && w.out.value[stopCommand] == 0 && w.out.value[starterCommand] == 0 {
		d.runAt = now
		if now == d.askAt {
			d.runAt = now + 1
		}
	}
	if d.runAt == 0 {
		if w.control.phase == phaseGivenUp || (w.control.phase == phaseOff && !l.stall) {
			if d.keyAt == 0 && l.keyAfter > 0 {
				d.keyAt = now + seconds(l.keyAfter)
				if w.out.value[ignition] == 0 {
					w.out.set(ignition, 1, d.keyAt-500_000_000)
				}
				w.keyAt = d.keyAt
			}
		}
		return
	}
	w.power.heavy = false
	w.clear()
	d.leg++
	if d.leg >= len(w.plan.legs) {
		d.leg--
		d.enter(stageDone, 0)
		return
	}
	d.enter(stageGo, 0)
}

// hands moves what the hands hold: steering wheel and turn lamp.
func (d *driver) hands(now int64) {
	w := d.world
	most := mul(110, stepSeconds)
	w.steer += limit(d.steerTo-w.steer, -most, most)
	if d.stage == stageDrive {
		d.steerTo = mul(6, wave(float64(now%6_000_000_000)/6e9))
	}
	w.lever = d.blinks
	if d.blinks && now >= d.nextBlink {
		on := d.side
		if w.out.value[turnLamp] != 0 {
			on = 0
		}
		w.out.set(turnLamp, on, now+w.instant())
		d.nextBlink = now + d.halfBlink()
	}
	if !d.blinks && w.out.value[turnLamp] != 0 && now >= d.nextBlink {
		w.out.set(turnLamp, 0, now+w.instant())
		d.nextBlink = now + d.halfBlink()
	}
}

// halfBlink is half a period of the turn lamp.
func (d *driver) halfBlink() int64 {
	if b := d.world.plan.blinkFor; b != 0 {
		return b
	}
	return 340_000_000
}

// blink turns the turn lamp on.
func (d *driver) blink(now int64) {
	d.blinks, d.nextBlink = true, now
}
