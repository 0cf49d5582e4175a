package foreign

import "lull/analyze/scenario"

// quantity is one thing that a module of a car may tell.
type quantity uint8

const (
	engineSpeed quantity = iota
	roadSpeed
	wheelFrontLeft
	wheelFrontRight
	wheelRearLeft
	wheelRearRight
	turbineSpeed // behind torque converter or clutch
	outputSpeed  // of the gearbox
	targetIdle
	voltage
	current
	charge
	supply
	fuelRate
	holdPressure
	acceleration
	lateral
	coolant
	oilTemperature
	intakeTemperature
	outside
	steering
	steeringRate
	pedal
	throttle
	torque
	alternatorDuty
	oilPressure
	brakePressure
	odometer    // m
	fuelCounter // mL
	clock       // s
	uptime      // ms
	fan         // rpm, has nothing to do with the engine's speed
	gear
	lever // of the gearbox: 0 P, 3 D
	brakePressed
	stopCommand
	stopLamp // in the dashboard: also with the key on before the first start
	engineOff
	stopInhibited
	stopAllowed
	starterCommand
	starterFeedback
	starterMode // as SAE J1939 SPN 1675 counts it
	cranking    // the starter turns the engine, or it runs up
	ignition
	turnLamp  // 0 dark, 1 left lit, 2 right lit
	turnLeft  // the left lamp is lit
	turnRight // the right lamp is lit
	turnLever
	airConditioning
	cancelSwitch
	standstill
	running
	inhibitCode
	starterCount
	door
	wanders // a number that goes its own way
	quantityCount
)

// car is what one car does, millisecond by millisecond: what the physics gives
// and what follows from it.
type car struct {
	now  int64
	v    [quantityCount]float64
	dice dice

	past [pastLength][quantityCount]float64 // the last steps, for modules that are late
	at   int

	started   int64
	shut      int64 // the door
	cranks    bool
	wobble    [3]float64
	turnTo    float64
	turnUntil int64
	lampUntil int64
	lampFrom  int64
	lampSide  int64
	halfBlink int64
	nextLamp  int64
	bend      float64
	rich      float64
}

// pastLength is how far back a module can be, in ms.
const pastLength = 256

func newCar(seed int64) *car {
	d := newDice(seed, 31)
	return &car{dice: d, halfBlink: seconds(d.between(0.3, 0.48)), rich: d.between(0.08, 0.2)}
}

func set(v *float64, is bool) {
	*v = 0
	if is {
		*v = 1
	}
}

const dt = 0.001 // s of a step

// follow takes the next step of the physics.
func (c *car) follow(s *scenario.Step) {
	if c.started == 0 {
		c.started, c.shut = s.Time, s.Time+seconds(c.dice.between(-2, 2))
		c.v[oilTemperature], c.v[intakeTemperature] = s.Coolant-8, s.Outside+12
		c.v[odometer] = float64(c.dice.IntN(200_000_000))
		c.v[fuelCounter] = float64(c.dice.IntN(60_000))
		c.v[clock] = float64(c.dice.IntN(80_000))
		c.v[wanders] = 100
		c.nextLamp = s.Time + seconds(c.dice.between(20, 60))
	}
	c.now = s.Time
	v := &c.v
	age := float64(s.Time-c.started) / 1e9
	for i := range c.wobble {
		c.wobble[i] = toward(c.wobble[i], 0, dt/0.4) + mul(0.055, c.dice.Float64()-0.5)
	}
	v[engineSpeed], v[targetIdle] = s.EngineSpeed, s.TargetIdle
	if s.Running {
		v[engineSpeed] = max(0, s.EngineSpeed+mul(22, c.wobble[0]))
	}
	v[roadSpeed] = s.RoadSpeed
	c.steer(s)
	apart := mul(0.0011, mul(v[steering], limit(s.RoadSpeed/10, 0, 1)))
	apart = limit(apart, -0.12, 0.12)
	v[wheelFrontLeft], v[wheelRearLeft] = mul(s.RoadSpeed, 1+mul(0.6, apart)), mul(s.RoadSpeed, 1+mul(0.5, apart))
	v[wheelFrontRight], v[wheelRearRight] = mul(s.RoadSpeed, 1-mul(0.6, apart)), mul(s.RoadSpeed, 1-mul(0.5, apart))
	v[turbineSpeed] = s.Turbine
	if s.Lever == 0 {
		v[turbineSpeed] = mul(0.985, s.EngineSpeed)
	}
	v[outputSpeed] = mul(s.RoadSpeed, 29.4)
	c.electric(s)
	v[holdPressure], v[coolant], v[outside] = s.HoldPressure, s.Coolant, s.Outside
	v[acceleration] = s.Acceleration + mul(3, mul(c.wobble[1], limit(s.RoadSpeed/20, 0, 1)))
	v[lateral] = mul(0.0006, mul(v[steering], mul(s.RoadSpeed, limit(s.RoadSpeed/30, 0, 1))))
	if s.Running {
		v[oilTemperature] = toward(v[oilTemperature], s.Coolant+4, dt/90)
	}
	v[intakeTemperature] = toward(v[intakeTemperature], s.Outside+10+limit(14-s.RoadSpeed/3, 0, 14), dt/40)
	wanted := s.Pedal
	if s.RoadSpeed > 2 && wanted > 0 {
		wanted = max(0, wanted+mul(60, c.wobble[2]))
	}
	v[pedal] = toward(v[pedal], wanted, dt/0.15)
	closed := 3.0
	if !s.Running {
		closed = 8
	}
	v[throttle] = toward(v[throttle], closed+mul(1.4, v[pedal]), dt/0.08)
	pull := -18.0
	switch {
	case s.EngineSpeed < 30:
		pull = 0
	case s.Running:
		pull = mul(5.5, v[pedal]) + limit(mul(0.05, s.TargetIdle+200-s.EngineSpeed), -25, 35) + mul(60, c.wobble[1])
	}
	v[torque] = toward(v[torque], pull, dt/0.06)
	oil := 0.0
	if s.EngineSpeed > 60 {
		oil = limit(90+mul(0.13, s.EngineSpeed), 0, 480) + mul(25, c.wobble[2])
	}
	lag := 0.35
	if oil == 0 {
		lag = 0.9
	}
	v[oilPressure] = toward(v[oilPressure], oil, dt/lag)
	pressed := 0.0
	if s.Brake {
		pressed = 14 + mul(9, max(0, -s.Acceleration)) + mul(30, max(0, c.wobble[0]))
	}
	v[brakePressure] = toward(v[brakePressure], pressed, dt/0.07)
	v[odometer] += mul(s.RoadSpeed/3.6, dt)
	v[clock] += dt
	v[uptime] = mul(1000, age)
	v[fan] = toward(v[fan], 900+limit(mul(30, s.Coolant-70), 0, 1500)+mul(900, c.wobble[1]), dt/2)
	v[wanders] = limit(v[wanders]+mul(0.4, c.dice.Float64()-0.5), 0, 250)
	v[gear], v[lever] = float64(s.Gear), float64(s.Lever)
	c.flags(s)
	c.at = (c.at + 1) % pastLength
	c.past[c.at] = c.v
}

// steer adds bends of the road to what the driver does for the demonstration.
func (c *car) steer(s *scenario.Step) {
	if s.Time > c.turnUntil {
		c.turnUntil = s.Time + seconds(c.dice.between(1.5, 6))
		c.turnTo = 0
		if c.dice.chance(0.4) {
			c.turnTo = mul(c.dice.between(25, 170), float64(1-2*c.dice.IntN(2)))
		}
	}
	bend := mul(c.turnTo, limit((s.RoadSpeed-5)/10, 0, 1))
	bend = mul(bend, limit(mul(1.6, 1-s.RoadSpeed/90), 0.1, 1))
	old := c.v[steering]
	c.bend = toward(c.bend, bend, dt/0.5)
	c.v[steering] = s.Steering + mul(c.bend, limit(s.RoadSpeed/3, 0, 1)) // straight when it stands
	c.v[steeringRate] = toward(c.v[steeringRate], mul(1000, c.v[steering]-old), dt/0.05)
}

// electric is what battery, alternator and supply show.
func (c *car) electric(s *scenario.Step) {
	v := &c.v
	lamps := 0.0
	if s.Brake {
		lamps += 0.04
	}
	if v[turnLamp] != 0 {
		lamps += 0.05
	}
	v[voltage] = s.Voltage - lamps + mul(0.35, c.wobble[2])
	v[supply] = s.Supply - mul(0.5, lamps) + mul(0.25, c.wobble[1])
	v[charge] = s.Charge
	if s.Running {
		v[alternatorDuty] = toward(v[alternatorDuty], 45+mul(25, s.Voltage-14.1)+mul(60, c.wobble[0])-mul(0.004, s.EngineSpeed), dt/1.4) // it takes the load on slowly
	} else {
		v[alternatorDuty] = toward(v[alternatorDuty], 0, dt/0.1)
	}
	v[current] = s.Current + mul(14, c.wobble[0]) - mul(60, lamps)
	if s.Running {
		v[current] += mul(0.35, v[alternatorDuty]) - 10
	}
	flow := 0.0
	if s.FuelRate > 0 {
		flow = s.FuelRate + mul(c.rich, mul(v[pedal], s.EngineSpeed/1500))
		if v[pedal] < 1 && s.RoadSpeed > 15 && s.EngineSpeed > s.TargetIdle+300 {
			flow = 0 // overrun
		}
	}
	v[fuelRate] = toward(v[fuelRate], flow, dt/0.1)
	v[fuelCounter] += mul(v[fuelRate], 1.0/3600)
}

// flags are what switches, lamps and commands are.
func (c *car) flags(s *scenario.Step) {
	v := &c.v
	set(&v[brakePressed], s.Brake)
	set(&v[stopCommand], s.StopCommand)
	set(&v[ignition], s.Ignition)
	set(&v[airConditioning], s.AirConditioning)
	set(&v[cancelSwitch], s.Cancel)
	set(&v[standstill], s.RoadSpeed < 0.3)
	set(&v[running], s.Running)
	set(&v[engineOff], s.Ignition && s.EngineSpeed < 20)
	off := s.Ignition && s.EngineSpeed < 60
	set(&v[stopLamp], off || s.StopCommand && s.EngineSpeed < 400)
	set(&v[stopAllowed], s.StopAllowed && s.Ignition && s.RoadSpeed < 12)
	set(&v[stopInhibited], !s.StopAllowed)
	set(&v[starterCommand], s.Starter)
	set(&v[starterFeedback], s.Engaged)
	v[starterMode] = v[starterCommand] + v[starterFeedback]
	switch {
	case s.EngineSpeed > s.TargetIdle-100 || s.EngineSpeed < 20:
		c.cranks = false
	case s.Starter && s.Engaged:
		c.cranks = true
	}
	set(&v[cranking], c.cranks)
	v[inhibitCode], v[starterCount] = float64(s.Inhibit), float64(s.Starts)
	c.lamps(s)
	set(&v[door], s.Time < c.shut)
}

// lamps adds turn lamps on the way to those of the physics.
func (c *car) lamps(s *scenario.Step) {
	v := &c.v
	lamp, lever := s.TurnLamp, s.TurnLever
	if s.TurnLamp == 0 && s.TurnLever == 0 {
		if c.lampUntil == 0 && s.Time > c.nextLamp && s.RoadSpeed > 16 {
			c.lampFrom, c.lampUntil = s.Time, s.Time+seconds(c.dice.between(2.5, 6))
			c.lampSide = 1 + c.dice.Int64N(2)
		}
		if c.lampUntil != 0 && (s.Time > c.lampUntil || s.RoadSpeed < 7) {
			c.lampUntil = 0
			c.nextLamp = s.Time + seconds(c.dice.between(8, 50))
		}
		if c.lampUntil != 0 {
			lever = c.lampSide
			if (s.Time-c.lampFrom)/c.halfBlink%2 == 0 {
				lamp = c.lampSide
			}
		}
	} else {
		c.lampUntil = 0
	}
	v[turnLamp], v[turnLever] = float64(lamp), float64(lever)
	set(&v[turnLeft], lamp == 1)
	set(&v[turnRight], lamp == 2)
}

// before is what a quantity was some milliseconds ago.
func (c *car) before(q quantity, late int) float64 {
	return c.past[(c.at-late+pastLength)%pastLength][q]
}
