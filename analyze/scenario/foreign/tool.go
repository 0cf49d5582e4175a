package foreign

import (
	"slices"

	"lull/decode"
)

// tool is a scan tool that asks for the values of service 01 in turn, and the
// car's modules that answer.
type tool struct {
	dice    dice
	answers map[byte]*field // by PID
	asks    [][]byte        // the PIDs of each request
	target  uint32          // 7DF, or 7E0
	padding byte
	padded  bool
	pause   int64 // between the end of an answer and the next request
	reacts  float64
	second  bool // a second module answers what is asked of all

	next   int
	askAt  int64
	answer int64 // when the answer comes, 0: none is due
}

// asked lists what a scan tool may ask for: which quantity, how it is written.
var asked = []struct {
	pid  byte
	role string
	name string
	of   quantity
	scale
}{
	{0x0C, "engine_speed", "polled_engine_speed", engineSpeed, scaled(16, "0.25", "")},
	{0x0D, "vehicle_speed", "polled_road_speed", roadSpeed, scaled(8, "1", "")},
	{0x05, "coolant", "polled_coolant", coolant, scaled(8, "1", "-40")},
	{0x42, "battery_voltage", "polled_voltage", voltage, scaled(16, "0.001", "")},
	{0x04, "", "polled_load", throttle, scaled(8, "0.392157", "")},
	{0x0F, "", "polled_intake", intakeTemperature, scaled(8, "1", "-40")},
	{0x11, "", "polled_throttle", throttle, scaled(8, "0.392157", "")},
	{0x1F, "", "polled_run_time", clock, scaled(16, "1", "")},
	{0x46, "", "polled_outside", outside, scaled(8, "1", "-40")},
	{0x5C, "", "polled_oil", oilTemperature, scaled(8, "1", "-40")},
	{0x5E, "fuel_rate", "polled_fuel_rate", fuelRate, scaled(16, "0.05", "")},
}

func newTool(l *layout) *tool {
	d := l.dice
	t := &tool{dice: newDice(l.seed, 51), answers: map[byte]*field{}, target: oneOf(d, uint32(0x7DF), 0x7E0), padded: d.chance(0.9), padding: oneOf(d, byte(0), 0x55, 0xAA, 0xCC)}
	t.reacts = d.between(2, 30)
	t.second = t.target == 0x7DF && d.chance(0.35)
	var pids []byte
	for i, a := range asked {
		share := []float64{1, 1, 0.9, 0.8, 0.4, 0.4, 0.4, 0.3, 0.2, 0.15, 0.25}[i]
		if !d.chance(share) {
			continue
		}
		f := l.numeric(a.name, a.role, a.of, a.scale)
		f.absent, f.wraps = false, a.pid == 0x1F
		f.start, f.big = 7, true
		if f.length == 8 {
			f.start, f.big = 0, false
		}
		f.late = d.IntN(40)
		if a.pid == 0x0C || a.pid == 0x42 {
			f = l.noisy(f, map[byte]float64{0x0C: 4, 0x42: 0.04}[a.pid])
		}
		t.answers[a.pid] = f
		pids = append(pids, a.pid)
	}
	d.Shuffle(len(pids), func(i, j int) { pids[i], pids[j] = pids[j], pids[i] })
	if d.chance(0.4) { // several at once
		for part := range slices.Chunk(pids, 2+d.IntN(5)) {
			t.asks = append(t.asks, part)
		}
	} else {
		for _, pid := range pids {
			t.asks = append(t.asks, []byte{pid})
		}
		if d.chance(0.4) { // the slow ones seldom
			fast := []byte{0x0C, 0x0D}
			t.asks = nil
			for _, pid := range pids {
				if pid != 0x0C && pid != 0x0D {
					t.asks = append(t.asks, fast[:1], fast[1:], []byte{pid})
				}
			}
			if t.asks == nil {
				t.asks = [][]byte{fast[:1], fast[1:]}
			}
		}
	}
	// All is asked for once in 0.1 to 1 s.
	round := d.between(0.1, 1)
	t.pause = max(seconds(round/float64(len(t.asks)))-seconds(mul(0.001, t.reacts)), 4*ms)
	return t
}

// run asks and answers.
func (t *tool) run(p *player) {
	now := p.car.now
	if t.askAt == 0 {
		t.askAt = now + seconds(t.dice.between(0.5, 3))
	}
	if t.answer != 0 && now >= t.answer {
		t.reply(p)
	}
	if t.answer == 0 && now >= t.askAt {
		t.ask(p)
	}
}

// ask sends the next request.
func (t *tool) ask(p *player) {
	pids := t.asks[t.next]
	f := decode.Frame{ID: t.target, Bus: "can0"}
	t.fill(&f, append([]byte{byte(1 + len(pids)), 0x01}, pids...))
	p.enqueue(p.car.now, f)
	t.answer = p.car.now + seconds(mul(0.001, t.reacts+mul(12, t.dice.Float64())))
	if p.ready == 0 || t.dice.chance(0.004) {
		t.answer = 0 // nobody answers
		t.askAt = p.car.now + seconds(0.25)
		t.next = (t.next + 1) % len(t.asks)
	}
}

// reply answers the request: in one frame, or by ISO 15765-2 in several.
func (t *tool) reply(p *player) {
	payload := []byte{0x41}
	for _, pid := range t.asks[t.next] {
		f := t.answers[pid]
		raw := f.raw(p.car)
		if p.notes && p.car.now >= p.u.from && p.car.now <= p.u.to {
			f.note(raw)
		}
		payload = append(payload, pid)
		if f.length == 16 {
			payload = append(payload, byte(raw>>8))
		}
		payload = append(payload, byte(raw))
	}
	at := p.car.now
	if len(payload) <= 7 {
		f := decode.Frame{ID: 0x7E8, Bus: "can0"}
		t.fill(&f, append([]byte{byte(len(payload))}, payload...))
		p.enqueue(at, f)
	} else {
		f := decode.Frame{ID: 0x7E8, Bus: "can0"}
		t.fill(&f, append([]byte{0x10 | byte(len(payload)>>8), byte(len(payload))}, payload[:6]...))
		p.enqueue(at, f)
		at += seconds(t.dice.between(0.0006, 0.004))
		f = decode.Frame{ID: 0x7E0, Bus: "can0"}
		t.fill(&f, []byte{0x30, 0, 0})
		p.enqueue(at, f)
		number := byte(1)
		for part := range slices.Chunk(payload[6:], 7) {
			at += seconds(t.dice.between(0.0006, 0.006))
			f = decode.Frame{ID: 0x7E8, Bus: "can0"}
			t.fill(&f, append([]byte{0x20 | number&0x0F}, part...))
			p.enqueue(at, f)
			number++
		}
	}
	if pids := t.asks[t.next]; t.second && len(pids) == 1 && (pids[0] == 0x0C || pids[0] == 0x0D) {
		raw := t.answers[pids[0]].raw(p.car)
		f := decode.Frame{ID: 0x7E9, Bus: "can0"}
		data := []byte{3, 0x41, pids[0], byte(raw)}
		if pids[0] == 0x0C {
			data = []byte{4, 0x41, 0x0C, byte(raw >> 8), byte(raw)}
		}
		t.fill(&f, data)
		p.enqueue(at+seconds(t.dice.between(0.001, 0.01)), f)
	}
	t.answer = 0
	t.next = (t.next + 1) % len(t.asks)
	t.askAt = at + t.pause + seconds(mul(0.003, t.dice.Float64()))
}

// fill writes a payload, padded or not.
func (t *tool) fill(f *decode.Frame, data []byte) {
	f.Len = uint8(len(data))
	if t.padded {
		f.Len = 8
		for i := range f.Data[:8] {
			f.Data[i] = t.padding
		}
	}
	copy(f.Data[:], data)
}
