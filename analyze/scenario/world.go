package scenario

import (
	"math/rand/v2"

	"lull/decode"
)

// world is one drive as it happens.
type world struct {
	plan    *plan
	chance  *rand.Rand
	out     outputs
	curve   curve
	power   power
	body    body
	control control
	driver  driver
	network *traffic
	gearbox gearbox
	each    func() bool // called after every step, if any; false ends the drive
	record  record

	now    int64
	end    int64 // 0: not known yet
	pedal  float64
	steer  float64
	lever  bool
	late   bool
	key    bool
	keyAt  int64 // when the driver turns the key to start; 0: not
	barren int
	giveUp bool

	leg        *leg
	standSince int64
	cabin      float64
	coolant    float64

	starter []starterStep
	away    int64 // until when the body and radio units are resetting
}

// starterStep is a part of the starter that moves at a moment.
type starterStep struct {
	at            int64
	pull, contact bool
	counts        bool
}

func newWorld(p *plan) *world {
	w := &world{plan: p, chance: rand.New(rand.NewPCG(p.seed, 1)), now: p.start}
	w.out.seen = func(c change) { w.record.change(c); w.network.changed(c) }
	w.power = power{machine: p.machine, chargeNow: p.charge}
	w.power.emf = mul(p.machine.nominal/12, 12.1+mul(0.007, p.charge))
	w.power.turned = 0.3
	w.power.backed = w.power.emf
	w.body = body{pressure: 60, holds: p.holds, sagLag: p.sagLag, jerk: 4.5}
	w.coolant = p.coolant
	w.gearbox = p.gearbox
	w.control = control{temper: p.temper, world: w, nextTask: p.start + int64(w.chance.Uint64N(taskPeriod))}
	w.out.value[starterCount] = p.starts
	w.driver = driver{world: w, until: p.start + 1_200_000_000, side: 1}
	w.record = record{world: w}
	w.network = newTraffic(w, p.network)
	w.sense(&w.curve.new)
	return w
}

// longest is how long a drive can be.
const longest = 400_000_000_000

// instant is a moment within the next step, so that nothing that people or
// modules do falls on the grid of the physics.
func (w *world) instant() int64 { return int64(w.chance.Uint64N(uint64(step))) }

// play runs the drive and hands out its frames until yield says no.
func (w *world) play(yield func(*decode.Frame) bool) {
	for w.end == 0 || w.now < w.end {
		if w.keyAt != 0 && w.now >= w.keyAt {
			w.key, w.keyAt = true, 0
		}
		w.driver.run(w.now)
		w.control.run(w.now)
		w.starterMoves()
		w.codes()
		w.power.asked = w.gearbox.move(w.now, w.body.speed, w.pedal, w.power.idle, w.power.speed)
		w.power.regulate(w.plan.smart, w.pedal, w.body.accel)
		w.power.move()
		w.body.move(w.power.speed > 350 && w.power.fuel)
		w.warm()
		w.curve.from, w.curve.old = w.now, w.curve.new
		w.sense(&w.curve.new)
		w.record.curve(&w.curve)
		w.resets()
		next := w.now + step
		if !w.network.send(next, yield) {
			return
		}
		w.out.advance(next)
		w.now = next
		if w.each != nil && !w.each() {
			break
		}
		switch {
		case w.end == 0 && w.driver.stage == stageDone:
			w.end = w.now + seconds(w.plan.end)
		case w.now >= w.plan.start+longest:
			w.end = w.now // a plan that the car cannot carry out
		}
	}
	w.record.finish(w.now)
}

// sense writes the continuous outputs as they are now.
func (w *world) sense(to *[quantityCount]float64) {
	p, b := &w.power, &w.body
	to[engineSpeed] = p.sensed()
	to[roadSpeed] = b.speed
	to[voltage] = p.volts()
	to[current] = p.amperes()
	to[charge] = p.chargeNow
	to[supply] = p.backed
	to[fuelRate] = p.litres()
	to[holdPressure] = b.pressure
	to[acceleration] = b.accel
	to[coolant] = w.coolant
	to[steering] = w.steer
	to[cabinError] = w.cabin
	to[outside] = w.plan.outside
	to[pedal] = w.pedal
}

// warm lets the coolant warm up and the cabin approach what was asked for.
func (w *world) warm() {
	if w.power.running() {
		w.coolant = min(w.coolant+mul(w.plan.warms, stepSeconds), 92)
	}
	wanted := 0.5
	if w.blocks(blockCabin) {
		wanted = 7
	}
	w.cabin = toward(w.cabin, wanted, stepSeconds/0.5)
}

// engageStarter lets the starter follow its command: the solenoid pulls the
// pinion in, then its contact closes.
func (w *world) engageStarter(at int64) {
	pull := at + 9_000_000 + 4*w.instant()
	w.starter = append(w.starter,
		starterStep{at: pull, pull: true, counts: true},
		starterStep{at: pull + 24_000_000, pull: true, contact: true})
}

func (w *world) releaseStarter(at int64) {
	w.starter = append(w.starter, starterStep{at: at + 6_000_000})
}

func (w *world) starterMoves() {
	for len(w.starter) > 0 && w.starter[0].at <= w.now {
		s := w.starter[0]
		w.starter = w.starter[1:]
		w.power.pulling, w.power.contact = s.pull, s.contact
		if s.counts {
			w.out.set(starterCount, w.out.value[starterCount]+1, w.now+w.instant())
		}
		if s.contact {
			w.out.set(starterMode, 2, w.now+w.instant())
			w.record.turns()
		}
	}
}

// refuse prepares what a leg's standstill will be like.
func (w *world) refuse(l *leg) {
	w.leg, w.standSince = l, 0
	w.barren = l.barren
	w.giveUp = l.keyAfter > 0 && l.barren > 0
	if l.block == blockCabin {
		w.out.set(airConditioning, 1, w.now+w.instant())
	}
	if l.block == blockDriver {
		w.out.set(cancelSwitch, 1, w.now+w.instant())
	}
}

// clear ends what refuse began.
func (w *world) clear() {
	w.leg = nil
	w.out.set(airConditioning, 0, w.now+w.instant())
	w.out.set(cancelSwitch, 0, w.now+w.instant())
}

// blocks reports whether this standstill has the given reason, still.
func (w *world) blocks(b block) bool {
	if w.leg == nil || w.leg.block != b {
		return false
	}
	return w.leg.blockFor == 0 || w.standSince == 0 || w.now < w.standSince+seconds(w.leg.blockFor)
}

// blocked reports whether anything keeps the engine running.
func (w *world) blocked() bool {
	if w.blocks(blockHidden) || w.coolant < 40 || w.out.value[cancelSwitch] == 1 || w.out.value[inhibitCode] != 0 {
		return true
	}
	return w.out.value[airConditioning] == 1 && (w.cabin > 3 || w.cabin < -3)
}

// codes sets the car's own reason.
func (w *world) codes() {
	code := int64(0)
	switch {
	case w.blocks(blockRefresh):
		code = 4
	case w.blocks(blockVacuum):
		code = 6
	case w.power.running() && w.power.chargeNow < 66 && w.control.phase == phaseRun:
		code = 5
	}
	if w.blocks(blockDriver) != (w.out.value[cancelSwitch] == 1) && w.leg != nil && w.leg.block == blockDriver && w.standSince != 0 && !w.out.planned(cancelSwitch) {
		w.out.set(cancelSwitch, 1-w.out.value[cancelSwitch], w.now+w.instant())
	}
	if code != w.out.value[inhibitCode] && !w.out.planned(inhibitCode) {
		w.out.set(inhibitCode, code, w.now+w.instant())
	}
}

// resets lets the body and radio units go away where their supply is too low.
func (w *world) resets() {
	if w.plan.resetAt == 0 || w.curve.new[supply] >= w.plan.resetAt || w.now < w.away {
		return
	}
	w.away = w.now + seconds(w.plan.resetFor) + 40*w.instant()
	w.network.mute(w.away)
	w.out.set(radio, 0, w.now+w.instant())
	w.out.set(radio, 1, w.away+6_000_000_000)
}
