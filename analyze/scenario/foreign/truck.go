package foreign

// truck lays out a bus of SAE J1939 shape: parameter groups at the places and in
// the scales that the standard gives (from memory and published tables), bits
// without meaning 1, and a few groups of the maker's own.
func (l *layout) truck() {
	d := l.dice
	l.twoBuses = false
	num := func(start int, name, role string, q quantity, s scale) *field {
		return l.placed(start, l.numeric(name, role, q, s))
	}
	engine := num(24, "engine_speed", "engine_speed", engineSpeed, scaled(16, "0.125", ""))
	engine = l.noisy(engine, 3)
	engine.lag = oneOf(d, 0, 0, 0.01, 0.02)
	starter := num(48, "starter_mode", "starter_command", starterMode, scaled(4, "", ""))
	speed := l.slowly(l.noisy(num(8, "vehicle_speed", "vehicle_speed", roadSpeed, scaled(16, "0.00390625", "")), 0.05), 0.05, 20)
	volts := l.noisy(num(32, "battery_voltage", "battery_voltage", voltage, scaled(16, "0.05", "")), 0.05)
	l.groupOf(61444, 0x00, 3, oneOf(d, int64(10), 20, 20, 50), num(16, "torque", "", torque, scaled(8, "1", "-125")), engine, l.only(starter))
	l.groupOf(61443, 0x00, 3, 50, num(8, "pedal", "", pedal, scaled(8, "0.4", "")), num(16, "load", "", throttle, scaled(8, "1", "")))
	l.groupOf(61442, 0x03, 3, oneOf(d, int64(10), 20, 50), num(8, "output_shaft", "", outputSpeed, scaled(16, "0.125", "")), num(40, "input_shaft", "", turbineSpeed, scaled(16, "0.125", "")))
	l.groupOf(61445, 0x03, 6, 100, num(24, "gear", "gear", gear, scaled(8, "1", "-125")))
	brake := num(28, "brake", "brake", brakePressed, scaled(2, "", ""))
	l.groupOf(65265, oneOf(d, byte(0x00), 0x00, 0x0B, 0x17), 6, 100, speed, l.only(brake), num(2, "parking_brake", "", standstill, scaled(2, "", "")))
	battery := []*field{l.only(volts), num(48, "key_switch_voltage", "module_supply", supply, scaled(16, "0.05", ""))}
	if d.chance(0.4) {
		battery = append(battery, num(0, "battery_current", "battery_current", current, scaled(8, "1", "-125")))
	}
	l.groupOf(65271, 0x00, 6, oneOf(d, int64(1000), 1000, 100), battery...)
	l.groupOf(65262, 0x00, 6, 1000, num(0, "coolant", "coolant", coolant, scaled(8, "1", "-40")), num(8, "fuel_temperature", "", outside, scaled(8, "1", "-40")), num(16, "oil_temperature", "", oilTemperature, scaled(16, "0.03125", "-273")))
	if d.chance(0.8) {
		l.groupOf(65266, 0x00, 6, 100, num(0, "fuel_rate", "fuel_rate", fuelRate, scaled(16, "0.05", "")))
	}
	if d.chance(0.8) {
		l.groupOf(65263, 0x00, 6, 500, num(24, "oil_pressure", "", oilPressure, scaled(8, "4", "")))
	}
	if d.chance(0.7) {
		l.groupOf(65269, 0x00, 6, 1000, num(24, "outside", "", outside, scaled(16, "0.03125", "-273")))
	}
	if d.chance(0.6) {
		f := l.slowly(num(0, "front_axle_speed", "vehicle_speed", wheelFrontLeft, scaled(16, "0.00390625", "")), 0.03, 20)
		l.groupOf(65215, 0x0B, 6, 100, f)
	}
	if d.chance(0.6) {
		l.groupOf(65248, 0x17, 6, 1000, l.placed(32, l.wrapping("distance", odometer, scaled(32, "125", ""))))
	}
	if d.chance(0.5) {
		l.groupOf(0, 0x03, 3, oneOf(d, int64(10), 20, 50), num(8, "requested_speed", "", turbineSpeed, scaled(16, "0.125", "")))
	}
	if d.chance(0.3) { // another engine speed, of a second sender of the same group
		l.groupOf(61444, 0x31, 3, 50, num(24, "retarder_speed", "", outputSpeed, scaled(16, "0.125", "")))
	}
	own := []*field{l.only(l.flag("stop_command", "stop_command", stopCommand)), l.only(l.key()), l.flag("stop_lamp", "", stopLamp)}
	if l.has("turn") {
		own = append(own, l.numeric("turn", "turn", turnLamp, scaled(2, "", "")))
	}
	at8 := 0
	for _, f := range own {
		if f != nil {
			f.start, f.inverts = at8, false
			at8 += 2 + 2*d.IntN(3)
		}
	}
	l.groupOf(0xFF00+uint32(d.IntN(200)), oneOf(d, byte(0x00), 0x21, 0x27), 6, oneOf(d, int64(20), 50, 100), own...)
	for range d.IntN(12) {
		s := l.groupOf(0xFE00+uint32(d.IntN(0x1FF)), byte(d.IntN(0x50)), 6, oneOf(d, int64(50), 100, 250, 500, 1000))
		if s == nil {
			continue
		}
		m := s.messages[0]
		for _, f := range l.stranger() {
			m.room(d, f, false, l.aligned())
		}
		m.protect(d, true)
		m.furnish(d)
	}
}

// placed sets where a field lies.
func (l *layout) placed(start int, f *field) *field { f.start = start; return f }

// groupOf sends a parameter group from an address.
func (l *layout) groupOf(group uint32, source byte, priority uint32, period int64, fields ...*field) *sender {
	id := priority<<26 | group<<8 | uint32(source)
	if l.ids[id] {
		return nil
	}
	l.ids[id] = true
	d := l.dice
	m := &message{id: id, extended: true, pgn: group, bus: "can0", module: "truck", length: 8}
	for i := range m.base {
		m.base[i] = 0xFF
	}
	for _, f := range fields {
		if f == nil {
			continue
		}
		m.take(f.bits())
		m.fields = append(m.fields, f)
	}
	l.count++
	s := &sender{messages: []*message{m}, period: period * ms, jitter: d.between(0.01, 0.08), late: d.between(0, 0.02), boots: seconds(d.between(0, 0.5)), dice: newDice(l.seed, uint64(100_000+l.count))}
	l.senders = append(l.senders, s)
	return s
}
