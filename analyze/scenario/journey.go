package scenario

import (
	"fmt"
	"math/rand/v2"
	"time"

	"lull/decode"
)

// Manner is what kind of journey is wanted.
type Manner struct {
	Truck  bool    // a 24 V diesel
	Waits  float64 // s with the key on before the engine is started
	Steady bool    // the control unit never stops the engine
	Shows  bool    // the driver shows brake, turn lamp and so on before setting off
}

// Journey makes a drive whose engine follows the road through a gearbox, longer
// and less tidy than those of the demonstration: to be laid under buses of other
// cars, by Steps. Its own bus carries nothing.
func Journey(seed int64, m Manner) Drive {
	r := rand.New(rand.NewPCG(uint64(seed), 78))
	between := func(low, high float64) float64 { return low + mul(high-low, r.Float64()) }
	day := time.Date(2026, time.May, 4, 5, 0, 0, 0, time.UTC).UnixNano()
	p := petrolPlan(uint64(seed)*7919+5000, day+seconds(between(0, 86_400))/step*step)

	e := &p.machine
	if m.Truck {
		*e = dieselMachine()
		e.idle = between(560, 700)
		e.friction, e.drag, e.compression = between(360, 520), between(0.4, 0.5), between(450, 700)
		e.fireAfter, e.push, e.flareBy = between(2.2, 3), between(2100, 2800), between(60, 200)
	} else {
		e.idle = between(640, 900)
		e.friction, e.drag, e.compression = between(560, 850), between(0.4, 0.7), between(500, 1250)
		e.fireAfter, e.push, e.flareBy = between(1.4, 2.6), between(3000, 5200), between(120, 480)
	}
	e.resistance = between(0.004, 0.0085)
	e.load = between(12, 45)
	p.smart = between(0, 0.8)
	if r.IntN(3) == 0 {
		p.smart = 0
	}

	p.gearbox = randomGearbox(r, m.Truck, between)
	quick := !m.Truck && r.IntN(3) > 0
	t := &p.temper
	if !quick {
		*t = waitingTemper()
		t.settles, t.keepsStop = between(0.2, 0.5), r.IntN(2) == 0
	}
	t.stopAfter, t.cutAfter = between(0.3, 1.4), between(0.09, 0.16)
	t.react, t.engage = between(0.008, 0.05), between(0.012, 0.06)
	if m.Steady {
		t.stopAfter = 1e6
	}

	p.network = network{}
	p.keyed = m.Waits
	p.blinkFor = seconds(between(0.32, 0.45))
	p.coolant, p.warms, p.outside = between(42, 85), between(0.03, 0.15), nearestHalf(between(-10, 32))
	p.charge, p.starts = between(69, 92), int64(r.IntN(60_000))
	p.holds, p.sagLag = between(350, 500), between(0.3, 1.5)
	p.goAfter = between(0.45, 1.1)
	p.idles = between(0, 10)
	if m.Shows {
		p.shows = showing(r, between)
	}
	fast := 75.0
	if m.Truck {
		fast = 55
	}
	for range 5 + r.IntN(5) {
		l := randomLeg(r, quick, between)
		l.cruise, l.hold = between(18, fast), between(0.5, 6)
		if r.IntN(3) == 0 {
			l.dabs, l.hold = between(0.5, 1.6), between(3, 6)
		}
		if m.Steady {
			l.from, l.after, l.by, l.block, l.rolls = sinceStand, between(1.5, 9), byBrake, noBlock, false
		}
		l.side = 1 + r.Int64N(2)
		if r.IntN(5) < 2 {
			l.lingers = between(1, 7)
		}
		if l.from == sinceStand && !m.Steady && r.IntN(2) == 0 {
			l.after = between(3.5, 12)
		}
		p.legs = append(p.legs, l)
	}
	if m.Steady || r.IntN(4) == 0 {
		p.legs = append(p.legs, leg{cruise: 24, hold: 1, by: byNothing, from: sinceStand, after: between(1, 4)})
	} else {
		p.legs = append(p.legs, arrive())
	}
	return Drive{Name: fmt.Sprintf("journey-%d.log", seed), Title: "a journey made from a seed", plan: &p}
}

// Manual tells that the car has a manual gearbox.
func (d Drive) Manual() bool { return d.plan.gearbox.manual }

func randomGearbox(r *rand.Rand, truck bool, between func(low, high float64) float64) gearbox {
	g := gearbox{manual: r.IntN(3) == 0, up: between(1900, 2900)}
	ratio, gears, apart := between(105, 140), 5+r.IntN(4), between(1.36, 1.55)
	if truck {
		ratio, gears, apart, g.up = between(150, 220), 8+r.IntN(5), between(1.3, 1.4), between(1300, 1700)
	}
	for range gears {
		g.ratios = append(g.ratios, ratio)
		ratio /= apart
	}
	return g
}

// showing is what a driver shows before setting off, with the engine idling.
func showing(r *rand.Rand, between func(low, high float64) float64) []show {
	var all []show
	at := between(9, 11)
	add := func(what deed, length, pause float64) {
		all = append(all, show{what, at, length})
		at += length + pause
	}
	for range 3 {
		add(deedBrake, between(1.7, 2.4), between(1.6, 2.6))
	}
	add(deedLeft, between(3.5, 5), between(2, 3))
	add(deedRight, between(3.5, 5), between(2, 3))
	add(deedSteering, between(2, 3), between(2.5, 3.5))
	if r.IntN(2) == 0 {
		add(deedAir, between(2.5, 4), between(2, 3))
	}
	if r.IntN(2) == 0 {
		add(deedCancel, between(2, 3), between(2, 3))
	}
	return all
}

// Step is what a car does at the end of a millisecond of a drive.
type Step struct {
	Time int64 // ns since the epoch

	EngineSpeed  float64 // rpm, never negative
	RoadSpeed    float64 // km/h
	Turbine      float64 // rpm, behind torque converter or clutch
	TargetIdle   float64 // rpm
	Voltage      float64
	Current      float64 // A, discharge negative
	Charge       float64 // %
	Supply       float64 // V
	FuelRate     float64 // L/h
	HoldPressure float64 // kPa
	Acceleration float64 // m/s2
	Coolant      float64 // degC
	Steering     float64 // degrees
	Outside      float64 // degC
	Pedal        float64 // %

	Running, StopCommand, Starter, Engaged   bool // Engaged: the starter's contact is closed
	StopAllowed                              bool // the control unit would stop the engine
	Ignition, Brake, AirConditioning, Cancel bool
	TurnLamp, TurnLever, Gear, Lever         int64 // Gear: 0 neutral; Lever: 0 P, 3 D; turns: 1 left, 2 right
	Inhibit, Starts                          int64
}

// Steps hands out the drive millisecond by millisecond until yield says no, and
// returns the truth up to there. The step belongs to the drive until the next one.
func (d Drive) Steps(yield func(*Step) bool) Truth {
	p := *d.plan
	p.network = network{}
	w := newWorld(&p)
	var s Step
	w.each = func() bool {
		w.describe(&s)
		return yield(&s)
	}
	w.play(func(*decode.Frame) bool { return true })
	return w.record.truth
}

// describe writes a step down.
func (w *world) describe(s *Step) {
	c, v, p := &w.curve.new, &w.out.value, &w.power
	*s = Step{
		Time: w.now, EngineSpeed: c[engineSpeed], RoadSpeed: c[roadSpeed], Turbine: w.gearbox.turbine,
		TargetIdle: p.idle, Voltage: c[voltage], Current: c[current], Charge: c[charge], Supply: c[supply],
		FuelRate: c[fuelRate], HoldPressure: c[holdPressure], Acceleration: c[acceleration], Coolant: c[coolant],
		Steering: c[steering], Outside: c[outside], Pedal: c[pedal],
		Running: p.running(), StopCommand: v[stopCommand] == 1, Starter: v[starterCommand] == 1, Engaged: p.contact,
		StopAllowed: !w.blocked(), Ignition: v[ignition] == 1, Brake: v[brake] == 1,
		AirConditioning: v[airConditioning] == 1, Cancel: v[cancelSwitch] == 1,
		TurnLamp: v[turnLamp], Gear: int64(w.gearbox.gear), Lever: v[gear], Inhibit: v[inhibitCode], Starts: v[starterCount],
	}
	if w.lever {
		s.TurnLever = w.driver.side
	}
}
