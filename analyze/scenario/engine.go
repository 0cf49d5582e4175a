package scenario

import "math"

// machine is what engine, starter and battery of one car are made of.
type machine struct {
	idle        float64 // rpm
	friction    float64 // rpm/s lost whatever the speed
	drag        float64 // rpm/s lost for each rpm
	compression float64 // rpm/s, the swing of the compression torque
	fireAfter   float64 // compressions until the first one fires
	push        float64 // rpm/s that combustion adds while running up
	flareBy     float64 // rpm above idle that the run-up aims at

	nominal     float64 // V, 12 or 24
	resistance  float64 // ohm, battery and its connections
	starterOhm  float64 // ohm, starter and its cable
	backEMF     float64 // V per rpm
	starterPull float64 // rpm/s per A
	load        float64 // A that the car draws with the engine off
	backup      float64 // V that the backed-up supply holds
	backupLag   float64 // s that it rides through
}

func petrolMachine() machine {
	return machine{
		idle: 760, friction: 700, drag: 0.5, compression: 1150,
		fireAfter: 1.75, push: 4200, flareBy: 420,
		nominal: 12, resistance: 0.0055, starterOhm: 0.017, backEMF: 0.031, starterPull: 5.0,
		load: 24, backup: 11.3, backupLag: 0.25,
	}
}

// power is the state of engine, starter and battery.
type power struct {
	machine
	speed    float64 // rpm, signed: an engine that comes to rest may rock back
	turned   float64 // compressions since the log's start
	sinceCut float64 // compressions since the starter began to turn the engine
	fuel     bool
	firing   bool // the mixture burns
	firesAt  float64
	barren   bool // the mixture does not burn in this attempt
	target   float64

	contact   bool // the starter's main contact is closed
	pulling   bool // its solenoid is pulled in
	amps      float64
	emf       float64
	chargeNow float64
	heavy     bool    // strong consumers are on
	asked     float64 // rpm that gearbox and pedal ask for, 0: idle
	lifted    float64 // V by which the alternator is regulated above its usual voltage
	backed    float64
}

const stepSeconds = 0.001

// move advances by one step.
func (p *power) move() {
	scale := p.nominal / 12
	wanted := 0.0
	switch {
	case p.contact:
		wanted = max(p.emf-mul(p.backEMF, p.speed), 0) / (p.resistance + p.starterOhm)
	case p.pulling:
		wanted = 38
	}
	p.amps = toward(p.amps, wanted, stepSeconds/0.004)

	torque := 0.0
	if p.contact {
		torque += mul(p.starterPull, p.amps)
	}
	squeeze := mul(p.compression, wave(p.turned))
	if p.fuel && p.firing {
		lag := 0.7
		if p.asked > p.target {
			lag = 0.15
		}
		p.target = toward(p.target, max(p.idle, p.asked), stepSeconds/lag)
		torque += limit(mul(p.target-p.speed, 14), -900, p.push) + p.friction + mul(p.drag, p.speed)
		squeeze = mul(squeeze, 0.25)
	}
	before := p.speed
	change := mul(torque-squeeze-mul(p.drag, before), stepSeconds)
	hold := mul(p.friction, stepSeconds)
	if before == 0 {
		hold = mul(hold, 1.35) // it sticks
	}
	switch after := before + change; {
	case after > hold:
		p.speed = after - hold
	case after < -hold:
		p.speed = after + hold
	default:
		p.speed = 0 // friction holds it
	}
	moved := mul(p.speed, stepSeconds/30)
	p.turned += moved
	if p.fuel && !p.firing && !p.barren && p.speed > 90 {
		p.sinceCut += moved
		if p.sinceCut >= p.firesAt {
			p.firing, p.target = true, p.idle+p.flareBy
		}
	}

	rest := mul(scale, 12.1+mul(0.007, p.chargeNow))
	lag := 1.6
	if p.running() {
		rest, lag = mul(scale, 14.1+p.lifted), 0.9
	}
	p.emf = toward(p.emf, rest, stepSeconds/lag)
	switch {
	case p.running() && p.chargeNow < 68:
		p.chargeNow += mul(0.9, stepSeconds)
	case p.running():
		p.chargeNow = min(p.chargeNow+mul(0.02, stepSeconds), 95)
	case p.heavy:
		p.chargeNow -= mul(0.4, stepSeconds)
	default:
		p.chargeNow -= mul(0.01, stepSeconds)
	}
	p.backed = p.support()
}

// regulate lets a regulated alternator charge while the car slows down and rest
// while it speeds up.
func (p *power) regulate(by, pedal, accel float64) {
	switch {
	case by == 0:
		return
	case accel < -0.5:
		p.lifted = toward(p.lifted, by, stepSeconds/0.8)
	case pedal > 15:
		p.lifted = toward(p.lifted, -by, stepSeconds/1.5)
	default:
		p.lifted = toward(p.lifted, 0, stepSeconds/2)
	}
}

// running reports whether the engine runs by itself, and so the alternator.
func (p *power) running() bool { return p.fuel && p.firing && p.speed > 500 }

// amperes at the battery, discharge negative.
func (p *power) amperes() float64 {
	if p.running() && p.amps < 20 {
		return 9 - p.amps
	}
	return -p.load - p.amps
}

// volts at the battery's terminals.
func (p *power) volts() float64 { return p.emf + mul(p.resistance, p.amperes()) }

// support is the modules' supply: what the battery gives, or what a reservoir
// still holds. It fills quickly and empties over backupLag.
func (p *power) support() float64 {
	v := p.volts() - mul(0.1, p.nominal/12)
	if v > p.backed {
		return toward(p.backed, v, stepSeconds/0.02)
	}
	return max(v, toward(p.backed, v, stepSeconds/p.backupLag), min(p.backup, p.backed))
}

// litres is the fuel flow in L/h.
func (p *power) litres() float64 {
	if !p.fuel || !p.firing {
		return 0
	}
	return mul(0.62, 0.4+mul(0.6, max(p.speed, 0)/p.idle))
}

// sensed is the speed as a sensor without sense of direction tells it.
func (p *power) sensed() float64 { return math.Abs(p.speed) }

func dieselMachine() machine {
	return machine{
		idle: 640, friction: 430, drag: 0.45, compression: 600,
		fireAfter: 2.6, push: 2400, flareBy: 110,
		nominal: 24, resistance: 0.006, starterOhm: 0.020, backEMF: 0.083, starterPull: 1.9,
		load: 18, backup: 22.5, backupLag: 0.25,
	}
}
