package scenario

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// Random makes a drive of a Tallowmere 1.2 that is realistic but not made by
// hand: its engine, control unit, bus, legs and faults follow from the seed.
// Its log needs the map "map.yaml".
func Random(seed int64) Drive {
	r := rand.New(rand.NewPCG(uint64(seed), 77))
	between := func(low, high float64) float64 { return low + mul(high-low, r.Float64()) }
	day := time.Date(2026, time.April, 1, 5, 0, 0, 0, time.UTC).UnixNano()
	p := petrolPlan(uint64(seed)*7919+1000, day+seconds(between(0, 86_400))/step*step)

	m := &p.machine
	m.idle = between(690, 850)
	m.friction, m.drag, m.compression = between(560, 850), between(0.4, 0.7), between(500, 1250)
	m.fireAfter, m.push, m.flareBy = between(1.4, 2.6), between(3000, 5200), between(150, 480)
	m.resistance = between(0.004, 0.0085)
	m.load = between(12, 45)

	quick := r.IntN(3) > 0
	t := &p.temper
	if !quick {
		*t = waitingTemper()
		t.settles, t.keepsStop = between(0.2, 0.5), r.IntN(2) == 0
	}
	t.stopAfter, t.cutAfter = between(0.3, 1.4), between(0.09, 0.16)
	t.react, t.engage = between(0.008, 0.05), between(0.012, 0.06)

	battery := 20 * ms
	if r.IntN(4) == 0 {
		battery = 100 * ms
	}
	p.network = petrolNetwork(battery)
	for i := range p.network.streams {
		s := &p.network.streams[i]
		s.jitter = mul(s.jitter, between(0.3, 2))
		s.late = between(0, 0.03)
	}
	p.network.loss = between(0, 0.001)
	p.coolant, p.outside = between(45, 90), nearestHalf(between(-10, 32))
	p.charge, p.starts = between(69, 92), int64(r.IntN(60_000))
	p.holds, p.sagLag = between(350, 500), between(0.3, 1.5)
	if r.IntN(4) == 0 {
		p.holds = between(20, 200)
	}
	p.goAfter = between(0.45, 1.1)
	if r.IntN(4) == 0 {
		m.backup, m.backupLag = 6, 0.04
		p.resetAt, p.resetFor = between(8.5, 9.6), between(0.7, 2)
	}

	for range 3 + r.IntN(3) {
		p.legs = append(p.legs, randomLeg(r, quick, between))
	}
	if r.IntN(4) == 0 {
		p.legs = append(p.legs, leg{cruise: 24, hold: 1, by: byNothing, from: sinceRest, after: between(1, 4)})
	} else {
		p.legs = append(p.legs, arrive())
	}
	return Drive{Name: fmt.Sprintf("random-%d.log", seed), Title: "a drive made from a seed", Map: "map.yaml", plan: &p}
}

func randomLeg(r *rand.Rand, quick bool, between func(low, high float64) float64) leg {
	l := leg{cruise: between(16, 34), hold: between(0.5, 3), by: byBrake, from: sinceRest, after: between(0.8, 6)}
	switch r.IntN(14) {
	case 0, 1:
		l.by = byTurn
	case 2, 3:
		l.by = bySteering
	case 4:
		l.from, l.after = sinceStop, between(0.005, 0.04) // called off
	case 5, 6:
		l.from, l.after = sinceStop, between(0.3, 0.55) // changes his mind
	case 7:
		l.from, l.after = sinceStand, between(3.5, 6)
		l.block = []block{blockCabin, blockDriver, blockRefresh, blockVacuum, blockHidden}[r.IntN(5)]
	case 8:
		l.block, l.blockFor = []block{blockCabin, blockDriver, blockRefresh}[r.IntN(3)], between(2, 4)
	case 9:
		l.barren = 1
	case 10:
		l.rolls = true
	case 11:
		l.lampOn = true
	}
	return l
}

func nearestHalf(x float64) float64 { return float64(nearest(mul(x, 2))) / 2 }
