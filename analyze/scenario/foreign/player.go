package foreign

import (
	"lull/analyze/scenario"
	"lull/decode"
)

// wire is the shortest distance between two frames of one bus.
const wire = 240_000

// player puts the frames of one drive on the bus.
type player struct {
	u      *Unknown
	layout *layout
	car    *car
	loss   dice
	slow   []*field
	free   map[string]int64
	queue  []queued // frames to be sent as they are, by time
	ready  int64    // since when the ignition is on, 0: it is off
	frame  decode.Frame
	notes  bool
}

// queued is a frame that waits for the bus.
type queued struct {
	at    int64
	frame decode.Frame
}

func newPlayer(u *Unknown, l *layout) *player {
	p := &player{u: u, layout: l, car: newCar(u.seed), loss: newDice(u.seed, 41), free: map[string]int64{}}
	for _, s := range l.senders {
		for _, m := range s.messages {
			for _, f := range m.fields {
				if f.slow() {
					p.slow = append(p.slow, f)
				}
			}
		}
	}
	if l.tool != nil {
		for _, f := range l.tool.answers {
			if f.slow() {
				p.slow = append(p.slow, f)
			}
		}
	}
	return p
}

// play runs the drive until the recording ends.
func (p *player) play(yield func(*decode.Frame) bool) {
	first := true
	p.u.drive.Steps(func(s *scenario.Step) bool {
		p.car.follow(s)
		if first {
			first = false
			for _, x := range p.layout.senders {
				x.grid = s.Time + int64(x.dice.Uint64N(uint64(x.period)))
				x.due = x.grid
			}
		}
		switch {
		case !s.Ignition:
			p.ready = 0
		case p.ready == 0:
			p.ready = s.Time
		}
		for _, f := range p.slow {
			f.step(p.car)
		}
		for _, x := range p.layout.senders {
			x.watch(p)
		}
		if t := p.layout.tool; t != nil {
			t.run(p)
		}
		return p.send(s.Time, yield) && s.Time < p.u.to
	})
}

// watch sends a message early when something in it changed, and lets the module
// know what it does not know.
func (s *sender) watch(p *player) {
	s.absence = p.ready == 0 || p.car.now < p.ready+s.boots
	if !s.changes {
		return
	}
	m := s.messages[0]
	changed := false
	for i, f := range m.fields {
		if f.noise != 0 || f.rough != 0 || f.flips != 0 || f.walks != 0 || f.length > 4 {
			continue
		}
		raw := s.raw(f, p.car)
		for len(s.lastRaw) <= i {
			s.lastRaw = append(s.lastRaw, raw)
		}
		changed = changed || raw != s.lastRaw[i]
		s.lastRaw[i] = raw
	}
	if changed {
		s.due = min(s.due, p.car.now+800_000+int64(s.dice.Uint64N(6_000_000)))
		s.grid = s.due
	}
}

// enqueue lets a frame wait until a moment.
func (p *player) enqueue(at int64, f decode.Frame) {
	i := len(p.queue)
	for i > 0 && p.queue[i-1].at > at {
		i--
	}
	p.queue = append(p.queue, queued{})
	copy(p.queue[i+1:], p.queue[i:])
	p.queue[i] = queued{at, f}
}

// send hands out what is sent until a moment.
func (p *player) send(until int64, yield func(*decode.Frame) bool) bool {
	for {
		var first *sender
		at := until + 1
		for _, s := range p.layout.senders {
			if s.due <= until {
				if x := max(s.due, p.free[s.messages[0].bus]); x < at {
					first, at = s, x
				}
			}
		}
		if len(p.queue) > 0 {
			if x := max(p.queue[0].at, p.free[p.queue[0].frame.Bus]); x < at {
				first, at = nil, x
			}
		}
		if at > until {
			return true
		}
		at -= at % 1000 // the interface stamps in microseconds
		var m *message
		if first != nil {
			m = first.messages[first.next]
			first.next = (first.next + 1) % len(first.messages)
			first.fill(m, p.car, &p.frame)
			first.plan(at)
		} else {
			p.frame = p.queue[0].frame
			p.queue = p.queue[:copy(p.queue, p.queue[1:])]
		}
		p.frame.Time = at
		p.free[p.frame.Bus] = at + wire + 1000
		if at < p.u.from || p.loss.chance(p.layout.loss) {
			continue
		}
		if p.notes && m != nil {
			p.note(first, m)
		}
		if !yield(&p.frame) {
			return false
		}
	}
}

// plan sets the moment of the next frame.
func (s *sender) plan(at int64) {
	s.grid += s.period
	s.due = s.grid + nearest(mul(mul(s.jitter, s.dice.Float64()-0.5), float64(s.period)))
	if s.dice.chance(s.late) {
		s.due += 1_000_000 + int64(s.dice.Uint64N(1_000_000))
	}
	s.due = max(s.due, at+1)
}

// note remembers what the log shows of a frame.
func (p *player) note(s *sender, m *message) {
	for i, b := range p.frame.Payload() {
		m.any[i] |= b
	}
	for _, f := range m.fields {
		raw := get(p.frame.Data[:], f.bits())
		if f.absent && raw == int64(1)<<f.length-1 {
			continue
		}
		f.note(raw)
	}
}
