package scenario

// ms is a millisecond in nanoseconds.
const ms = int64(1_000_000)

// petrolNetwork is the bus of the Tallowmere 1.2; the battery sensor's period
// is given, since old ones are slow.
func petrolNetwork(batteryPeriod int64) network {
	return network{bus: "can0", loss: 0.0004, streams: []stream{
		{id: 0x1A0, module: "engine control", length: 8, period: 10 * ms, jitter: 0.04, late: 0.01, counts: 5, noise: 7, fields: []field{
			state(stopCommand, 3, 1), state(starterCommand, 4, 1),
			of(engineSpeed, 16, 16, 0.25, 0), of(pedal, 32, 8, 0.4, 0),
		}},
		{id: 0x1A4, module: "engine control", length: 8, period: 100 * ms, jitter: 0.02, counts: -1, noise: 6, fields: []field{
			of(coolant, 0, 8, 1, -40), state(inhibitCode, 8, 4), state(ignition, 12, 1), of(fuelRate, 16, 16, 0.01, 0),
		}},
		{id: 0x0C8, module: "gearbox", length: 4, period: 20 * ms, jitter: 0.03, counts: 3, noise: 2, fields: []field{
			of(holdPressure, 3, 12, 0.5, 0).asBig(), state(gear, 4, 4),
		}},
		{id: 0x0D2, module: "brake control", length: 6, period: 20 * ms, jitter: 0.03, late: 0.01, counts: 5, noise: -1, fields: []field{
			of(roadSpeed, 7, 16, 0.01, 0).asBig(), state(brake, 16, 1), of(acceleration, 24, 16, 0.01, 0).asSigned(),
		}},
		{id: 0x0D6, module: "steering", length: 4, period: 20 * ms, jitter: 0.03, counts: 3, noise: 2, fields: []field{
			of(steering, 7, 16, 0.1, 0).asBig().asSigned(),
		}},
		{id: 0x3B0, module: "battery sensor", length: 8, period: batteryPeriod, jitter: 0.03, counts: -1, noise: -1, fields: []field{
			of(voltage, 0, 16, 0.001, 0), of(current, 16, 16, 0.1, 0).asSigned(), of(charge, 32, 16, 0.01, 0), of(supply, 48, 12, 0.01, 0),
		}},
		{id: 0x3A0, module: "body unit", length: 4, period: 100 * ms, jitter: 0.05, late: 0.02, counts: -1, noise: -1, resets: true, fields: []field{
			state(airConditioning, 0, 1), state(cancelSwitch, 1, 1), of(cabinError, 8, 8, 0.1, 0).asSigned(), of(outside, 16, 8, 0.5, -40),
		}},
		{id: 0x3A8, module: "body unit", length: 2, period: 1000 * ms, jitter: 0.01, counts: -1, noise: -1, resets: true, changes: true, onChange: turnLamp, fields: []field{
			state(turnLamp, 0, 2),
		}},
		{id: 0x4E0, module: "radio", length: 4, period: 200 * ms, jitter: 0.05, counts: -1, noise: 3, resets: true, fields: []field{
			state(radio, 0, 1),
		}},
		{id: 0x19FF2040, extended: true, module: "starter control", length: 4, period: 500 * ms, jitter: 0.02, counts: -1, noise: -1, fields: []field{
			state(starterCount, 0, 16),
		}},
		{id: 0x0F1, length: 8, period: 100 * ms, jitter: 0.04, counts: 0, noise: 4},
		{id: 0x2F4, length: 5, period: 100 * ms, jitter: 0.05, counts: 1, noise: 2},
		{id: 0x5D0, length: 8, period: 500 * ms, jitter: 0.05, counts: -1, noise: 1},
		{id: 0x18FF30C4, extended: true, length: 8, period: 250 * ms, jitter: 0.05, counts: 7, noise: 0, fill: 0xFF},
	}}
}

// busy adds frames that no map names, as most frames on a car's bus are: about
// 1,700 a second, which with the others is half of what 500 kbit/s can carry.
func busy(n network) network {
	for i := range 12 {
		n.streams = append(n.streams, stream{id: uint32(0x115 + 0x13*i), length: 8, period: 10 * ms, jitter: 0.04, counts: i % 8, noise: (i + 3) % 8})
	}
	for i := range 10 {
		n.streams = append(n.streams, stream{id: uint32(0x2A1 + 0x17*i), length: uint8(4 + i%5), period: 20 * ms, jitter: 0.04, counts: i % 4, noise: -1, fill: byte(i)})
	}
	return n
}

// petrolPlan is a sound Tallowmere 1.2 on a mild day.
func petrolPlan(seed uint64, start int64) plan {
	return plan{
		seed: seed, start: start, machine: petrolMachine(), temper: quickTemper(),
		end: 2, charge: 81, coolant: 74, warms: 0.05, outside: 12, starts: 1203,
		holds: 430, sagLag: 0.6, goAfter: 0.75, network: petrolNetwork(20 * ms),
	}
}

// vanNetwork is the bus of the Tallowmere van, which tells neither its stop
// command nor its starter.
func vanNetwork() network {
	return network{bus: "can0", loss: 0.0004, streams: []stream{
		{id: 0x220, module: "engine control", length: 8, period: 10 * ms, jitter: 0.04, late: 0.01, counts: 7, noise: 6, fields: []field{
			of(engineSpeed, 7, 16, 0.25, 0).asBig(), of(coolant, 16, 8, 1, -40), of(fuelRate, 24, 16, 0.01, 0),
		}},
		{id: 0x228, module: "brake control", length: 5, period: 20 * ms, jitter: 0.03, late: 0.01, counts: 4, noise: -1, fields: []field{
			of(roadSpeed, 0, 16, 0.01, 0), state(brake, 18, 2),
		}},
		{id: 0x360, module: "body unit", length: 4, period: 100 * ms, jitter: 0.05, late: 0.02, counts: -1, noise: -1, resets: true, fields: []field{
			state(ignition, 0, 1), state(turnLamp, 4, 2), of(outside, 8, 8, 0.5, -40),
		}},
		{id: 0x3C2, module: "body unit", length: 6, period: 20 * ms, jitter: 0.03, counts: 5, noise: -1, fields: []field{
			of(voltage, 0, 12, 0.01, 0), of(current, 16, 16, 0.1, 0).asSigned(),
		}},
		{id: 0x0F1, length: 8, period: 50 * ms, jitter: 0.04, counts: 0, noise: 4},
		{id: 0x18FF30C4, extended: true, length: 8, period: 250 * ms, jitter: 0.05, counts: 7, noise: 0, fill: 0xFF},
	}}
}

// truckNetwork is a bus of SAE J1939 shape: parameter groups of that standard
// at its positions and resolutions, unused bits 1.
func truckNetwork() network {
	return network{bus: "can1", loss: 0.0004, streams: []stream{
		{id: 0x0CF00400, extended: true, module: "engine", length: 8, period: 20 * ms, jitter: 0.03, late: 0.01, counts: -1, noise: -1, fill: 0xFF, fields: []field{
			of(engineSpeed, 24, 16, 0.125, 0), state(starterMode, 48, 4),
		}},
		{id: 0x18FEF100, extended: true, module: "engine", length: 8, period: 100 * ms, jitter: 0.03, counts: -1, noise: -1, fill: 0xFF, fields: []field{
			of(roadSpeed, 8, 16, 1.0/256, 0), state(brake, 28, 2),
		}},
		{id: 0x18FEF200, extended: true, module: "engine", length: 8, period: 100 * ms, jitter: 0.03, counts: -1, noise: -1, fill: 0xFF, fields: []field{
			of(fuelRate, 0, 16, 0.05, 0),
		}},
		{id: 0x18FEEE00, extended: true, module: "engine", length: 8, period: 1000 * ms, jitter: 0.02, counts: -1, noise: -1, fill: 0xFF, fields: []field{
			of(coolant, 0, 8, 1, -40),
		}},
		{id: 0x18FEF700, extended: true, module: "engine", length: 8, period: 1000 * ms, jitter: 0.02, counts: -1, noise: -1, fill: 0xFF, fields: []field{
			of(voltage, 32, 16, 0.05, 0),
		}},
		{id: 0x18FEE400, extended: true, module: "engine", length: 8, period: 1000 * ms, jitter: 0.01, counts: -1, noise: -1, fill: 0xFF, changes: true, onChange: stopCommand, fields: []field{
			state(stopCommand, 0, 2),
		}},
		{id: 0x0CF00203, extended: true, module: "gearbox", length: 8, period: 20 * ms, jitter: 0.04, counts: 7, noise: 2, fill: 0xFF},
		{id: 0x18F0010B, extended: true, module: "brakes", length: 8, period: 100 * ms, jitter: 0.04, counts: -1, noise: 1, fill: 0xFF},
	}}
}
