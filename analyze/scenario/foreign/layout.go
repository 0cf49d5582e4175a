package foreign

import (
	"fmt"
	"slices"
)

const ms = int64(1_000_000)

// layout is all that is drawn of a car's bus.
type layout struct {
	dice    dice
	kind    Kind
	seed    int64
	manual  bool // of the gearbox
	senders []*sender
	tool    *tool

	tidy     int     // 0 to 2: how regularly and loosely fields are laid out
	bigShare float64 // of the fields in Motorola order
	twoBit   float64
	absent   float64 // of the fields that have a code for "not available"
	twoBuses bool
	loss     float64
	count    int // of fields
	ids      map[uint32]bool
	lacks    map[string]bool
	names    map[string]int
	paged    *sender // takes further pages
	pages    int     // how many it gets
}

// numbers a quantity may be written as, the usual ones several times.
var (
	engineScales = []scale{
		scaled(16, "0.25", ""), scaled(16, "0.25", ""), scaled(16, "0.25", ""), scaled(14, "0.5", ""), scaled(16, "0.25", ""),
		scaled(16, "0.125", ""), scaled(16, "0.125", ""), scaled(16, "1", ""), scaled(13, "1", ""), scaled(14, "1", ""),
		scaled(16, "0.5", ""), scaled(15, "0.25", ""), scaled(15, "0.5", ""), scaled(12, "2", ""), scaled(16, "0.2", ""),
		scaled(16, "0.25", ""), scaled(16, "0.25", ""), scaled(16, "0.125", ""), scaled(16, "1", ""), scaled(14, "0.5", ""),
		scaled(16, "0.25", ""), scaled(16, "0.25", ""), scaled(16, "0.125", ""), scaled(16, "1", ""), scaled(13, "1", ""),
		scaled(12, "3", ""), scaled(10, "10", ""), scaled(16, "0.1", ""),
	}
	coarseEngineScales = []scale{scaled(8, "32", ""), scaled(8, "40", ""), scaled(8, "50", ""), scaled(12, "4", "")}
	roadScales         = []scale{
		scaled(16, "0.01", ""), scaled(16, "0.01", ""), scaled(16, "0.01", ""), scaled(15, "0.01", ""), scaled(16, "0.0078125", ""),
		scaled(16, "0.00390625", ""), scaled(12, "0.1", ""), scaled(13, "0.05", ""), scaled(12, "0.0625", ""), scaled(8, "1", ""),
		scaled(9, "1", ""), scaled(14, "0.02", ""), scaled(16, "0.05625", ""), scaled(16, "0.01", "-100"), scaled(11, "0.1", ""),
		scaled(16, "0.0625", ""), scaled(15, "0.0078125", ""),
	}
	voltageScales = []scale{
		scaled(8, "0.1", ""), scaled(8, "0.1", ""), scaled(8, "0.08", ""), scaled(8, "0.0625", ""), scaled(8, "0.05", "5"), scaled(10, "0.02", ""),
		scaled(12, "0.005", ""), scaled(16, "0.001", ""), scaled(16, "0.001", ""), scaled(14, "0.001", ""), scaled(11, "0.01", ""),
		scaled(12, "0.00390625", ""), scaled(8, "0.05", "4"), scaled(12, "0.01", ""), scaled(9, "0.05", ""),
	}
	currentScales = []scale{
		signedScale(16, "0.1"), signedScale(16, "0.1"), scaled(16, "0.1", "-1000"), signedScale(14, "0.125"), scaled(13, "0.25", "-1024"),
		scaled(16, "0.0625", "-2048"), scaled(12, "1", "-2000"), signedScale(16, "0.03125"), signedScale(12, "1"),
	}
	chargeScales   = []scale{scaled(7, "1", ""), scaled(8, "1", ""), scaled(8, "0.5", ""), scaled(8, "0.4", ""), scaled(16, "0.01", "")}
	fuelScales     = []scale{scaled(16, "0.01", ""), scaled(16, "0.05", ""), scaled(12, "0.05", ""), scaled(8, "0.2", "")}
	holdScales     = []scale{scaled(12, "0.5", ""), scaled(8, "10", ""), scaled(16, "0.1", ""), scaled(10, "2", "")}
	accelScales    = []scale{signedScale(16, "0.01"), signedScale(10, "0.05"), scaled(12, "0.02", "-40"), signedScale(8, "0.1"), scaled(10, "0.03", "-15")}
	coolantScales  = []scale{scaled(8, "1", "-40"), scaled(8, "1", "-40"), scaled(8, "1", "-40"), scaled(8, "0.75", "-48"), scaled(8, "1", "-50"), scaled(9, "0.5", "-40"), scaled(12, "0.1", "-40")}
	steeringScales = []scale{signedScale(16, "0.1"), signedScale(14, "0.1"), signedScale(16, "0.04375"), scaled(15, "0.1", "-1600"), signedScale(12, "0.5")}
	percentScales  = []scale{scaled(8, "0.4", ""), scaled(8, "0.5", ""), scaled(8, "0.392157", ""), scaled(10, "0.1", ""), scaled(7, "1", "")}
	torqueScales   = []scale{scaled(8, "1", ""), scaled(8, "2", ""), scaled(10, "0.5", ""), scaled(16, "0.1", ""), scaled(12, "0.25", ""), scaled(8, "1", ""),
		scaled(8, "1", "-100"), scaled(10, "0.5", "-100"), signedScale(11, "0.5"), scaled(12, "0.25", "-200"), scaled(16, "0.03125", "-1000")}
	pressureScales = []scale{scaled(8, "1", ""), scaled(12, "0.1", ""), scaled(10, "0.3", "-30"), scaled(16, "0.01", "")}
	oilScales      = []scale{scaled(8, "4", ""), scaled(8, "10", ""), scaled(12, "0.5", "")}
	rateScales     = []scale{signedScale(8, "4"), signedScale(16, "0.1"), signedScale(12, "0.5")}
)

// Traits of a car that its log does not tell at once.
type Traits struct {
	Kind          Kind
	TwoBuses      bool
	Miles         bool // road speeds are told in miles
	BeginsRunning bool // the log begins after the first start
	EndsDriving   bool // the log ends while the car drives
	Lacks         []string
}

// draw lays out a car's bus.
func draw(seed int64, kind Kind, manual bool) *layout {
	l := &layout{manual: manual, dice: newDice(seed, 11), kind: kind, seed: seed, ids: map[uint32]bool{}, lacks: map[string]bool{}, names: map[string]int{}}
	d := l.dice
	l.bigShare = oneOf(d, 0.03, 0.97, 0.97, 0.03, 0.5)
	l.tidy = oneOf(d, 0, 1, 1, 2)
	l.twoBit, l.absent = 0.08, 0.06
	if d.chance(0.2) {
		l.twoBit = 0.6
	}
	if kind == TwoBit {
		l.twoBit, l.absent = 0.9, 0.75
	}
	l.loss = oneOf(d, 0, 0.0004, 0.003)
	l.twoBuses = d.chance(0.2)
	l.miss()
	switch kind {
	case J1939:
		l.truck()
	case PolledOnly:
		l.tool = newTool(l)
	default:
		l.passengerCar()
		l.strangers(d.IntN(46)+25, d.between(300, 2000))
		if kind == Polled {
			l.tool = newTool(l)
		}
	}
	for _, s := range l.senders {
		for _, m := range s.messages {
			slices.SortFunc(m.fields, func(a, b *field) int { return a.bits()[0] - b.bits()[0] })
		}
	}
	return l
}

// miss draws what the car does not tell.
func (l *layout) miss() {
	d := l.dice
	for _, x := range []struct {
		role  string
		share float64
	}{
		{"stop_command", 0.2}, {"starter_command", 0.25}, {"battery_voltage", 0.05}, {"brake", 0.03}, {"ignition", 0.15},
		{"battery_current", 0.4}, {"battery_charge", 0.4}, {"module_supply", 0.6}, {"fuel_rate", 0.4}, {"hold_pressure", 0.65},
		{"acceleration", 0.4}, {"starter_count", 0.5}, {"inhibit_code", 0.6}, {"coolant", 0.05}, {"turn", 0.1}, {"steering", 0.15}, {"gear", 0.2},
		{"engine_speed", 0}, {"vehicle_speed", 0},
	} {
		share := x.share
		if x.role == "hold_pressure" && l.manual {
			share = 1
		}
		if l.kind == Polled && (x.role == "engine_speed" || x.role == "vehicle_speed" || x.role == "coolant") {
			share = 0.15
		}
		if d.chance(share) {
			l.lacks[x.role] = true
		}
	}
}

// has tells whether a role is on the bus.
func (l *layout) has(role string) bool { return !l.lacks[role] }

// numeric makes a field of a quantity.
func (l *layout) numeric(name, role string, q quantity, scales ...scale) *field {
	f := &field{scale: oneOf(l.dice, scales...).settled(), of: q, role: role, name: l.unique(name)}
	f.gain = 1
	f.absent = !f.signed && f.length >= 8 && l.dice.chance(l.absent)
	l.count++
	f.chance = newDice(l.seed, uint64(1000+l.count)).Rand
	return f
}

func (l *layout) unique(name string) string {
	l.names[name]++
	if n := l.names[name]; n > 1 {
		return fmt.Sprintf("%s_%d", name, n)
	}
	return name
}

// flag makes a field of one bit, or two with a code for "not available".
func (l *layout) flag(name, role string, q quantity) *field {
	length := 1
	if l.dice.chance(l.twoBit) {
		length = 2
	}
	f := l.numeric(name, role, q, scaled(length, "", ""))
	f.absent = length == 2 && (l.kind == TwoBit || l.dice.chance(0.5))
	f.inverts = length == 1 && l.dice.chance(0.15)
	if l.dice.chance(0.4) {
		f.late = l.dice.IntN(25)
	}
	return f
}

// noisy gives a sensor its noise, often none.
func (l *layout) noisy(f *field, spread float64) *field {
	f.noise = mul(spread, oneOf(l.dice, 0, 0.15, 0.5, 1))
	return f
}

// slowly gives a sensor its lag.
func (l *layout) slowly(f *field, lag float64, late int) *field {
	d := l.dice
	f.lag = mul(lag, oneOf(d, 0, 0.3, 1))
	if late > 0 {
		f.late = d.IntN(late)
	}
	if d.chance(0.25) {
		f.holds = oneOf(d, int64(10), 20, 20, 50)
		f.phase = d.Int64N(f.holds)
	}
	return f
}

// group sends fields together, in as many frames as they need.
func (l *layout) group(module string, period int64, fields ...*field) []*sender {
	d := l.dice
	var made []*sender
	for len(fields) > 0 {
		s, m := l.next(module, period)
		if l.tidy > 0 {
			m.protect(d, true)
		}
		var left []*field
		for _, f := range fields {
			if f == nil {
				continue
			}
			crowded := l.tidy > 0 && f.length > 4 && m.numbers() >= 5-l.tidy
			if crowded || !m.room(d, f, d.chance(l.bigShare), l.aligned()) {
				left = append(left, f)
			}
		}
		if l.tidy == 0 {
			m.protect(d, false)
		}
		m.furnish(d)
		if m.pageBits == nil || m.page == s.messages[0].page {
			made = append(made, s)
			l.senders = append(l.senders, s)
		}
		fields = left
	}
	return made
}

// aligned is the share of numbers that begin with a byte.
func (l *layout) aligned() float64 { return []float64{0.7, 0.93, 1}[l.tidy] }

// numbers is how many numbers a message has.
func (m *message) numbers() int {
	n := 0
	for _, f := range m.fields {
		if f.length > 4 {
			n++
		}
	}
	return n
}

// next is the message that the next fields go to: one of an identifier of its own,
// or a further page of one.
func (l *layout) next(module string, period int64) (*sender, *message) {
	d := l.dice
	if s := l.paged; s != nil {
		first := s.messages[0]
		m := &message{id: first.id, extended: first.extended, module: first.module, bus: first.bus, length: first.length}
		m.turnTo(first.pageBits, first.page+int64(len(s.messages)))
		s.messages = append(s.messages, m)
		if len(s.messages) >= l.pages {
			l.paged = nil
		}
		return s, m
	}
	s := l.sender(module, period)
	m := s.messages[0]
	if l.kind == Pages && module != "other" && d.chance(0.4) {
		m.length = 8
		l.paged, l.pages = s, 2+d.IntN(3)
		start := oneOf(d, 0, 0, 0, 4, 56, 60)
		m.turnTo(bitsOf(start, oneOf(d, 4, 4, 3, 8-start%8), false), d.Int64N(3))
		s.period = max(s.period/2, 10*ms)
	}
	return s, m
}

// turnTo makes the message one page of several.
func (m *message) turnTo(bits []int, page int64) {
	m.pageBits, m.page = bits, page
	m.take(bits)
}

// sender is one identifier with an empty message.
func (l *layout) sender(module string, period int64) *sender {
	d := l.dice
	m := &message{module: module, bus: "can0", length: oneOf(d, 8, 8, 8, 8, 8, 8, 8, 7, 6, 5)}
	m.id, m.extended = l.identifier()
	l.count++
	s := &sender{messages: []*message{m}, period: period, jitter: d.between(0.01, 0.1), late: d.between(0, 0.03), boots: seconds(d.between(0, 0.5))}
	if l.kind == TwoBit {
		s.boots = seconds(d.between(0.2, 2))
	}
	s.dice = newDice(l.seed, uint64(100_000+l.count))
	if l.twoBuses && (module == "body unit" || module == "instruments" || module == "other") && d.chance(0.7) {
		m.bus = "can1"
	}
	return s
}

// identifier draws one that is free.
func (l *layout) identifier() (id uint32, extended bool) {
	d := l.dice
	for {
		id, extended = uint32(0x050+d.IntN(0x760)), false
		if id >= 0x7DF && id <= 0x7EF {
			continue
		}
		if d.chance(0.04) {
			id, extended = uint32(0x10000000+d.IntN(0x0F000000)), true
			if d.chance(0.1) {
				id = 0x0CF00400 | uint32(d.IntN(256)) // looks like a group of SAE J1939, and is none
			}
			if id>>16 == 0x18DA || id>>16 == 0x18DB {
				continue
			}
		}
		if !l.ids[id] {
			l.ids[id] = true
			return id, extended
		}
	}
}

// only gives the field where the car tells the role.
func (l *layout) only(f *field) *field {
	if f.role != "" && l.lacks[f.role] {
		return nil
	}
	return f
}

// some gives the field with a probability.
func (l *layout) some(p float64, f *field) *field {
	if !l.dice.chance(p) {
		return nil
	}
	return l.only(f)
}

// passengerCar lays out the modules of a car.
func (l *layout) passengerCar() {
	d := l.dice
	pick := func(periods ...int64) int64 { return oneOf(d, periods...) * ms }
	copies := 1 + d.IntN(4)
	road := func(name string, q quantity, scales ...scale) *field {
		f := l.slowly(l.noisy(l.numeric(name, "vehicle_speed", q, scales...), 0.08), 0.05, 20)
		f.below = oneOf(d, 0, 0, 0.15, 0.3)
		if l.kind == Miles && f.offset == "" {
			f.unit, f.gain = "mph", 1/1.609344
		}
		return f
	}
	engine := l.noisy(l.numeric("engine_speed", "engine_speed", engineSpeed, engineScales...), 4)
	engine.rough, engine.below = oneOf(d, 0, 0, 0.001, 0.003), oneOf(d, 0.0, 0, 15, 25)
	engine.lag = oneOf(d, 0, 0, 0.01, 0.02)
	if d.chance(0.2) {
		engine.holds = oneOf(d, int64(10), 20)
		engine.phase = d.Int64N(engine.holds)
	}
	again := func(name string, coarse float64) *field {
		scales := engineScales
		if d.chance(coarse) {
			scales = coarseEngineScales
		}
		f := l.slowly(l.noisy(l.numeric(name, "engine_speed", engineSpeed, scales...), 8), 0.1, 60)
		f.below = oneOf(d, 0.0, 0, 40, 60)
		return f
	}

	onEvents := func(s []*sender, p float64) {
		if !d.chance(p) {
			return
		}
		for _, x := range s {
			x.changes, x.period = true, pick(200, 500, 1000)
		}
	}
	flagsBeside := d.IntN(3) // 0: with the engine speed, else in messages of their own
	stop, starter := l.only(l.flag("stop_command", "stop_command", stopCommand)), l.only(l.flag("starter_command", "starter_command", starterCommand))
	first := []*field{l.only(engine), l.some(0.7, l.slowly(l.noisy(l.numeric("torque", "", torque, torqueScales...), 3), 0.05, 20)),
		l.some(0.6, l.slowly(l.numeric("pedal", "", pedal, percentScales...), 0, 20)), l.some(0.5, l.flag("running", "", running))}
	switches := []*field{l.some(0.7, l.flag("stop_lamp", "", stopLamp)), l.some(0.5, l.flag("engine_off", "", engineOff)),
		l.some(0.5, l.flag("stop_inhibited", "", stopInhibited)), l.some(0.5, l.flag("stop_allowed", "", stopAllowed)),
		l.some(0.25, l.feedback()), l.some(0.25, l.flag("cranking", "", cranking)),
		l.only(l.numeric("inhibit_code", "inhibit_code", inhibitCode, scaled(4, "", ""), scaled(3, "", ""), scaled(8, "", ""))),
		l.only(l.counts())}
	if flagsBeside == 0 {
		first = append(first, stop, starter)
	} else {
		switches = append([]*field{stop, starter}, switches...)
	}
	l.group("engine control", pick(10, 10, 10, 20, 20, 25), first...)
	onEvents(l.group("engine control", pick(10, 20, 20, 50, 100), switches...), 0.12)
	l.group("engine control", pick(20, 50, 100), l.slowly(l.noisy(l.numeric("throttle", "", throttle, percentScales...), 0.3), 0.05, 20),
		l.some(0.8, l.numeric("target_idle", "", targetIdle, engineScales...)), l.some(0.5, l.slowly(l.numeric("alternator_duty", "", alternatorDuty, percentScales...), 0.1, 0)),
		l.some(0.6, l.slowly(l.noisy(l.numeric("oil_pressure", "", oilPressure, oilScales...), 6), 0.1, 0)))
	l.group("engine control", pick(100, 100, 200, 500, 1000), l.only(l.numeric("coolant", "coolant", coolant, coolantScales...)),
		l.some(0.7, l.numeric("intake", "", intakeTemperature, coolantScales...)), l.some(0.7, l.numeric("oil_temperature", "", oilTemperature, coolantScales...)),
		l.only(l.slowly(l.numeric("fuel_rate", "fuel_rate", fuelRate, fuelScales...), 0.1, 0)), l.some(0.6, l.wrapping("fuel_counter", fuelCounter, scaled(16, "", ""), scaled(8, "", ""))))

	turbine := l.slowly(l.noisy(l.numeric("turbine", "", turbineSpeed, engineScales...), 5), 0.03, 20)
	if l.manual || d.chance(0.15) {
		turbine = nil // a manual gearbox has no sensor there
	}
	gearbox := []*field{turbine,
		l.some(0.4, l.slowly(l.numeric("output_shaft", "", outputSpeed, engineScales...), 0.03, 20)),
		l.only(l.numeric("gear", "gear", gear, scaled(4, "", ""))), l.some(0.6, l.numeric("lever", "", lever, scaled(4, "", ""), scaled(3, "", ""))),
		l.only(l.slowly(l.noisy(l.numeric("hold_pressure", "hold_pressure", holdPressure, holdScales...), 4), 0.02, 10))}
	if copies >= 2 {
		gearbox = append(gearbox, l.only(again("engine_speed", 0.1)))
	}
	l.group("gearbox", pick(10, 20, 20, 25, 50), gearbox...)

	wheel := oneOf(d, roadScales...)
	for wheel.length < 11 {
		wheel = oneOf(d, roadScales...)
	}
	var wheels []*field
	for i := range 4 {
		f := road(fmt.Sprintf("wheel_%d", i+1), wheelFrontLeft+quantity(i), wheel)
		f.gain = mul(f.gain, d.between(0.992, 1.008))
		wheels = append(wheels, f)
	}
	if d.chance(0.85) && l.has("vehicle_speed") {
		l.group("brake control", pick(10, 20, 20), wheels...)
	}
	slowing := l.only(l.slowly(l.noisy(l.numeric("acceleration", "acceleration", acceleration, accelScales...), 0.12), 0.03, 20))
	l.group("brake control", pick(10, 20, 20, 40, 50), l.only(road("vehicle_speed", roadSpeed, roadScales...)), l.only(l.flag("brake", "brake", brakePressed)),
		l.some(0.5, l.flag("standstill", "", standstill)), slowing)
	l.group("brake control", pick(10, 20, 50), l.slowly(l.noisy(l.numeric("brake_pressure", "", brakePressure, pressureScales...), 0.6), 0.03, 10),
		l.some(0.6, l.noisy(l.numeric("lateral", "", lateral, accelScales...), 0.1)), l.some(0.5, l.flag("brake", "brake", brakePressed)))
	l.group("steering", pick(10, 20, 20), l.only(l.slowly(l.noisy(l.numeric("steering", "steering", steering, steeringScales...), 0.2), 0.02, 10)),
		l.some(0.6, l.noisy(l.numeric("steering_rate", "", steeringRate, rateScales...), 2)))

	onEvents(l.group("body unit", pick(50, 100, 100, 200), l.only(l.key()), l.flag("air_conditioning", "", airConditioning),
		l.some(0.6, l.flag("cancel_switch", "", cancelSwitch)), l.flag("door", "", door), l.some(0.4, l.flag("brake", "brake", brakePressed)),
		l.some(0.5, l.numeric("outside", "", outside, scaled(8, "0.5", "-40"), scaled(8, "1", "-50")))), 0.25)
	if l.has("turn") {
		onEvents(l.group("body unit", pick(20, 50, 100, 100), l.turns()...), 0.3)
	}
	fast := pick(10, 20, 20, 50, 100, 100, 200, 500, 1000)
	volts := l.only(l.slowly(l.noisy(l.numeric("battery_voltage", "battery_voltage", voltage, voltageScales...), 0.06), 0.02, 20))
	l.group("battery sensor", fast, volts,
		l.only(l.slowly(l.noisy(l.numeric("battery_current", "battery_current", current, currentScales...), 3), 0.02, 20)), l.only(l.numeric("battery_charge", "battery_charge", charge, chargeScales...)))
	l.group("gateway", pick(20, 50, 100, 200), l.only(l.slowly(l.noisy(l.numeric("module_supply", "module_supply", supply, voltageScales...), 0.05), 0.02, 10)),
		l.some(0.5, l.key()), l.some(0.4, l.numeric("vehicle_time", "", clock, scaled(17, "", ""), scaled(24, "0.1", ""))))
	dash := road("displayed_speed", roadSpeed, roadScales...)
	dash.gain = mul(dash.gain, d.between(1.005, 1.05))
	dash.lag = 0.2
	dashboard := []*field{l.some(0.8, dash), l.wrapping("odometer", odometer, scaled(16, "1", ""), scaled(24, "100", ""), scaled(16, "0.5", ""))}
	if copies >= 3 {
		dashboard = append(dashboard, l.only(again("engine_speed", 0.4)))
	}
	l.group("instruments", pick(20, 50, 100, 100, 200), dashboard...)
	if copies >= 4 {
		l.group("all-wheel drive", pick(20, 50, 100), l.only(again("engine_speed", 0.3)), l.some(0.6, road("vehicle_speed", roadSpeed, roadScales...)),
			l.some(0.5, l.flag("brake", "brake", brakePressed)), l.some(0.5, l.slowly(l.numeric("pedal", "", pedal, percentScales...), 0.1, 40)))
	}
}

// key is the ignition, which is known as long as anything is sent.
func (l *layout) key() *field {
	f := l.flag("ignition", "ignition", ignition)
	f.absent = false
	return f
}

// feedback is what the starter's relay tells of itself.
func (l *layout) feedback() *field {
	f := l.flag("starter_feedback", "", starterFeedback)
	f.late = 20 + l.dice.IntN(80)
	return f
}

// counts is the counter of starter operations.
func (l *layout) counts() *field {
	f := l.numeric("starter_count", "starter_count", starterCount, scaled(16, "", ""), scaled(16, "", ""), scaled(20, "", ""), scaled(24, "", ""))
	f.wraps, f.absent = true, false
	return f
}

// wrapping is a number that only grows, and begins again at 0.
func (l *layout) wrapping(name string, q quantity, scales ...scale) *field {
	f := l.numeric(name, "", q, scales...)
	f.wraps, f.absent = true, false
	return f
}

// turns are the turn lamps: two bits apart or one field, and the lever beside.
func (l *layout) turns() []*field {
	d := l.dice
	var all []*field
	if d.chance(0.6) {
		for i, name := range []string{"turn_left", "turn_right"} {
			f := l.numeric(name, "turn", turnLeft+quantity(i), scaled(1, "", ""))
			f.inverts = d.chance(0.08)
			all = append(all, f)
		}
	} else {
		all = append(all, l.numeric("turn", "turn", turnLamp, scaled(2, "", "")))
	}
	return append(all, l.some(0.6, l.numeric("turn_lever", "", turnLever, scaled(2, "", ""))))
}

// strangers fills the bus with frames that nobody wants, up to so many
// identifiers and so many frames a second.
func (l *layout) strangers(identifiers int, rate float64) {
	d := l.dice
	for _, s := range l.senders {
		rate -= 1e9 / float64(s.period)
	}
	for n := identifiers - len(l.senders); n > 0; n-- {
		share := rate / float64(n)
		period := int64(1000)
		for _, p := range []int64{1000, 500, 200, 100, 50, 40, 25, 20, 10} {
			if 1000/float64(p) <= mul(share, d.between(0.5, 2.5)) {
				period = p
			}
		}
		s := l.group("other", period*ms, l.stranger()...)
		for _, x := range s {
			rate -= 1e9 / float64(x.period)
		}
	}
}

// stranger is what one of these frames holds.
func (l *layout) stranger() []*field {
	d := l.dice
	var all []*field
	for range 1 + d.IntN(4-l.tidy) {
		if l.tidy == 2 && d.chance(0.4) {
			continue
		}
		switch d.IntN(9) {
		case 0:
			f := l.numeric("bit", "", door, scaled(1, "", ""))
			f.flips = oneOf(d, 0.0005, 0.003, 0.02, 0.3)
			all = append(all, f)
		case 1:
			f := l.numeric("walk", "", wanders, scaled(oneOf(d, 8, 10, 12, 16), "", ""))
			f.walks, f.value, f.absent = d.between(0.3, 20), mul(d.Float64(), float64(int64(1)<<f.length)), false
			all = append(all, f)
		case 2:
			all = append(all, l.numeric("temperature", "", oneOf(d, oilTemperature, intakeTemperature, outside), coolantScales...))
		case 3:
			all = append(all, l.wrapping("time", oneOf(d, clock, uptime, uptime), scaled(8, "", ""), scaled(16, "", ""), scaled(24, "", ""), scaled(16, "10", "")))
		case 4:
			if d.chance(0.3) {
				all = append(all, l.slowly(l.numeric("torque", "", torque, torqueScales...), 0.2, 100))
			} else {
				all = append(all, l.slowly(l.numeric("load", "", oneOf(d, pedal, throttle, alternatorDuty), percentScales...), 0.2, 100))
			}
		case 5:
			all = append(all, l.numeric("fan", "", fan, engineScales...))
		case 6:
			if d.chance(0.3) {
				all = append(all, l.slowly(l.numeric("pressure", "", oneOf(d, brakePressure, oilPressure), pressureScales[:2]...), 0.1, 50))
			} else {
				all = append(all, l.slowly(l.noisy(l.numeric("force", "", oneOf(d, acceleration, lateral, steeringRate), accelScales...), 0.1), 0.1, 50))
			}
		case 7:
			all = append(all, l.wrapping("distance", odometer, scaled(8, "0.1", ""), scaled(16, "0.02", "")))
		case 8:
			all = append(all, l.flag("state", "", oneOf(d, standstill, running, engineOff, door, airConditioning, stopAllowed)))
		}
	}
	return all
}
