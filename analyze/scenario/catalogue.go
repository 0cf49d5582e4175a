package scenario

import "time"

// date is the start of a drive.
func date(month time.Month, day, hour, minute int) int64 {
	return time.Date(2026, month, day, hour, minute, 0, 0, time.UTC).UnixNano()
}

// Pieces of which most drives are made.

// stopFor is a stop that the driver ends with the brake.
func stopFor(s float64) leg {
	return leg{cruise: 24, hold: 1.2, by: byBrake, from: sinceRest, after: s}
}

// keptBy is a standstill at which the engine is kept running.
func keptBy(b block, s float64) leg {
	return leg{cruise: 24, hold: 1.2, by: byBrake, from: sinceStand, after: s, block: b}
}

// changeOfMind releases the brake so long after the stop command.
func changeOfMind(s float64) leg {
	return leg{cruise: 26, hold: 1.4, by: byBrake, from: sinceStop, after: s}
}

// arrive ends a drive: the car stands, the driver turns the ignition off.
func arrive() leg {
	return leg{cruise: 22, hold: 1, by: byNothing, from: sinceStand, after: 0.4, keyOff: true}
}

func makeCatalogue() []Drive {
	return []Drive{
		{Name: "town.log", Map: "map.yaml", plan: townDrive(),
			Title: "every way of asking for a restart, a stop called off, a change of mind"},
		{Name: "kept-running.log", Map: "map.yaml", plan: keptRunningDrive(),
			Title: "what keeps the engine running at a standstill, and one standstill that nothing explains"},
		{Name: "older-car.log", Map: "map.yaml", plan: olderCarDrive(),
			Title: "a car that stops while still rolling and must wait for rest before it can crank; slow battery sensor"},
		{Name: "failed-start.log", Map: "map.yaml", plan: failedStartDrive(),
			Title: "a failed start with a retry, one without, an engine that dies, ignition off during a stop"},
		{Name: "slow-to-go-before.log", Map: "map.yaml", plan: slowToGo(false),
			Title: "complaint: slow to go, radio goes off; a weak battery connection"},
		{Name: "slow-to-go-after.log", Map: "map.yaml", plan: slowToGo(true),
			Title: "the same car with its battery connection cleaned"},
		{Name: "battery-swapped-before.log", Map: "map.yaml", plan: batterySwapped(false),
			Title: "a first try at the same complaint, a short drive: before the battery was replaced"},
		{Name: "battery-swapped-after.log", Map: "map.yaml", plan: batterySwapped(true),
			Title: "with a new battery on the same connection"},
		{Name: "creeps-late-before.log", Map: "map.yaml", plan: creepsLate(false),
			Title: "complaint: often does not stop, sets off late and with a jerk; hydraulic pump and brake vacuum"},
		{Name: "creeps-late-after.log", Map: "map.yaml", plan: creepsLate(true),
			Title: "the same car after the repair"},
		{Name: "van/round.log", Map: "van/map.yaml", plan: vanDrive(),
			Title: "a van that tells neither its stop command nor its starter"},
		{Name: "truck/yard.log", Map: "truck/map.yaml", plan: truckDrive(),
			Title: "a truck with frames of J1939 shape, 24 V"},
	}
}

func townDrive() *plan {
	p := petrolPlan(11, date(time.March, 2, 9, 15))
	p.network = busy(p.network)
	p.charge = 67.2
	p.legs = []leg{
		{cruise: 34, hold: 2, by: byBrake, from: sinceRest, after: 5.3},
		{cruise: 26, hold: 1.5, by: byTurn, from: sinceRest, after: 4.1},
		{cruise: 30, hold: 1.5, by: bySteering, from: sinceRest, after: 3.4},
		changeOfMind(0.04),
		{cruise: 24, hold: 1.2, by: byBrake, from: sinceRest, after: 3.2, lampOn: true},
		changeOfMind(0.45),
		{cruise: 28, hold: 1.5, by: byCharge, from: sinceRest},
		changeOfMind(0.62),
		arrive(),
	}
	return &p
}

func keptRunningDrive() *plan {
	p := petrolPlan(12, date(time.March, 2, 9, 40))
	p.coolant, p.warms, p.outside, p.starts = 30, 0.28, 4, 1213
	late := stopFor(2.6)
	late.block, late.blockFor = blockCabin, 4.5
	p.legs = []leg{
		keptBy(noBlock, 4.2), // the coolant is cold
		{cruise: 36, hold: 6, by: byBrake, from: sinceRest, after: 3},
		keptBy(blockCabin, 4.6),
		keptBy(blockDriver, 4.0),
		keptBy(blockRefresh, 5.1),
		keptBy(blockVacuum, 4.4),
		keptBy(blockHidden, 5.2),
		late,
		stopFor(3),
		arrive(),
	}
	return &p
}

func olderCarDrive() *plan {
	p := petrolPlan(13, date(time.March, 3, 8, 5))
	p.temper = waitingTemper()
	p.network = petrolNetwork(100 * ms)
	p.charge, p.starts = 77, 28410
	p.pause = [2]float64{31.2, 33.9}
	p.legs = []leg{
		{cruise: 24, hold: 1.2, by: byBrake, from: sinceRest, after: 4, rolls: true},
		{cruise: 42, hold: 6, by: byBrake, from: sinceRest, after: 3.5, rolls: true},
		changeOfMind(0.60),
		{cruise: 24, hold: 1.2, by: byTurn, from: sinceRest, after: 2.8},
		changeOfMind(0.45),
		stopFor(3.3),
		arrive(),
	}
	return &p
}

func failedStartDrive() *plan {
	p := petrolPlan(14, date(time.March, 3, 16, 20))
	p.outside, p.starts = -2, 1219
	retry, never := stopFor(4), stopFor(3.5)
	retry.barren = 1
	never.barren, never.keyAfter = 1, 6
	p.legs = []leg{
		stopFor(3),
		retry,
		{cruise: 24, hold: 1.2, by: byBrake, from: sinceStand, after: 2.6, stall: true, keyAfter: 1.1},
		never,
		{cruise: 24, hold: 1.2, by: byBrake, from: sinceRest, after: 3, keyOff: true, keyAfter: 3.5},
		stopFor(3),
		{cruise: 24, hold: 1.2, by: byNothing, from: sinceRest, after: 2.2},
	}
	return &p
}

func slowToGo(repaired bool) *plan {
	p := petrolPlan(15, date(time.March, 9, 7, 50))
	p.starts = 20511
	p.machine.resistance = 0.0128
	p.machine.backup, p.machine.backupLag = 6, 0.04
	p.temper.holdsCrank = 2.5
	p.resetAt, p.resetFor = 8.1, 1.25
	if repaired {
		p.seed, p.start, p.starts, p.coolant = 16, date(time.March, 10, 15, 10), 20526, 77
		p.machine.resistance = 0.0056
	}
	for i := range 10 {
		p.legs = append(p.legs, stopFor(2.4+mul(0.23, float64(i%4))))
	}
	p.legs[4].by = byTurn
	p.legs[7].by = bySteering
	p.legs = append(p.legs, arrive())
	return &p
}

// batterySwapped is the car of slowToGo before its connection was cleaned, in two
// drives too short to show anything.
func batterySwapped(swapped bool) *plan {
	p := slowToGo(false)
	p.seed, p.start, p.starts = 25, date(time.March, 6, 16, 20), 20490
	if swapped {
		p.seed, p.start, p.starts = 26, date(time.March, 7, 9, 5), 20497
	}
	p.legs = []leg{stopFor(2.6), stopFor(3.1), stopFor(2.4), arrive()}
	return p
}

func creepsLate(repaired bool) *plan {
	p := petrolPlan(17, date(time.March, 16, 11, 0))
	p.starts, p.coolant = 9054, 80
	p.holds, p.sagLag, p.slips = 55, 2.1, true
	vacuum, hidden := blockVacuum, blockHidden
	if repaired {
		p.seed, p.start, p.starts = 18, date(time.March, 18, 10, 25), 9070
		p.holds, p.sagLag = 430, 0.6
		vacuum, hidden = noBlock, noBlock
	}
	kept := func(b block, s float64) leg {
		if b == noBlock {
			return stopFor(3.4)
		}
		return keptBy(b, s)
	}
	p.legs = []leg{
		stopFor(4.1), stopFor(3.7), kept(vacuum, 3.6), stopFor(4.4), stopFor(3.5), kept(vacuum, 3.9), stopFor(4.0),
		kept(hidden, 3.5), stopFor(3.8), stopFor(4.2), stopFor(3.6), arrive(),
	}
	return &p
}

func vanDrive() *plan {
	p := petrolPlan(19, date(time.March, 20, 6, 30))
	p.network, p.silentStop = vanNetwork(), true
	p.temper = waitingTemper()
	p.legs = []leg{
		stopFor(4), stopFor(6),
		{cruise: 30, hold: 2, by: byTurn, from: sinceRest, after: 3},
		changeOfMind(0.64),
		keptBy(blockHidden, 4.5),
		stopFor(3.2),
		arrive(),
	}
	return &p
}

func truckDrive() *plan {
	p := petrolPlan(20, date(time.March, 23, 13, 45))
	p.network, p.machine = truckNetwork(), dieselMachine()
	p.temper = waitingTemper()
	p.coolant = 71
	p.legs = []leg{stopFor(5), stopFor(7), keptBy(blockHidden, 6), stopFor(4.5), changeOfMind(0.5), stopFor(5.5),
		{cruise: 22, hold: 1, by: byNothing, from: sinceStand, after: 0.2}}
	p.end = 0.4
	return &p
}
