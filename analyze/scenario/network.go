package scenario

import (
	"math/rand/v2"

	"lull/decode"
)

// stream is one cyclic frame as a module sends it.
type stream struct {
	id       uint32
	extended bool
	module   string
	length   uint8
	period   int64   // ns
	jitter   float64 // part of the period, either way
	late     float64 // chance of being 1 to 2 ms late
	fields   []field
	fill     byte // what bits without meaning are: 0x00, or 0xFF as in J1939
	counts   int  // byte whose low nibble counts frames up, or -1
	noise    int  // byte that looks random, or -1
	onChange output
	changes  bool // also sent when onChange changes
	resets   bool // goes away where the modules' supply is too low
}

// network is all that one bus carries.
type network struct {
	bus     string
	streams []stream
	loss    float64 // chance that a frame is not in the log
}

// wire is the shortest distance between two frames of one bus: a frame of
// eight bytes at 500 kbit/s.
const wire = 240_000

// sender is a stream with its state.
type sender struct {
	stream
	due      int64 // when it would like to send next
	grid     int64 // the same without jitter
	count    byte
	chance   *rand.Rand
	silentTo int64 // resetting until then
	silence  bool  // it was muted and has not been heard since
	last     int64 // moment of its last frame in the log, 0: none
}

// traffic puts the senders' frames on the bus.
type traffic struct {
	world   *world
	network network
	senders []*sender
	free    int64 // when the bus is free again
	loss    *rand.Rand
	frame   decode.Frame
}

func newTraffic(w *world, n network) *traffic {
	t := &traffic{world: w, network: n, loss: rand.New(rand.NewPCG(w.plan.seed, 2))}
	for i, s := range n.streams {
		d := &sender{stream: s, chance: rand.New(rand.NewPCG(w.plan.seed, uint64(100+i)))}
		d.grid = w.plan.start + int64(d.chance.Uint64N(uint64(s.period)))
		d.plan()
		d.due = max(d.due, w.plan.start)
		t.senders = append(t.senders, d)
	}
	return t
}

// plan sets the moment of the next frame.
func (s *sender) plan() {
	s.due = s.grid + nearest(mul(mul(s.jitter, float64(s.chance.Float64())-0.5), float64(s.period)))
	if s.chance.Float64() < s.late {
		s.due += 1_000_000 + int64(s.chance.Uint64N(1_000_000))
	}
	s.grid += s.period
}

// changed brings the next frame of an on-change stream forward.
func (t *traffic) changed(c change) {
	for _, s := range t.senders {
		if s.changes && s.onChange == c.what && c.at >= s.silentTo {
			s.due = c.at + 800_000 + int64(s.chance.Uint64N(7_000_000))
			s.grid = s.due + s.period
		}
	}
}

// mute keeps the senders that reset away until a moment.
func (t *traffic) mute(to int64) {
	for _, s := range t.senders {
		if s.resets {
			s.silentTo = to
			s.grid = to + int64(s.chance.Uint64N(uint64(s.period)))
			s.plan()
			s.silence = true
		}
	}
}

// send hands out the frames that are sent before a moment, in order, and lets
// outputs change between them.
func (t *traffic) send(before int64, yield func(*decode.Frame) bool) bool {
	for len(t.senders) > 0 {
		var first *sender
		for _, s := range t.senders {
			if first == nil || s.due < first.due {
				first = s
			}
		}
		at := max(first.due, t.free)
		at -= at % 1000 // the interface stamps in microseconds
		if at < t.free {
			at += 1000
		}
		if change, ok := t.world.out.next(); ok && change < before && change <= at {
			t.world.out.advance(change)
			continue // it may have brought a frame forward
		}
		if at >= before {
			return true
		}
		t.free = at + wire
		if !t.emit(first, at, yield) {
			return false
		}
	}
	return true
}

// emit fills and hands out one frame.
func (t *traffic) emit(s *sender, at int64, yield func(*decode.Frame) bool) bool {
	w, f := t.world, &t.frame
	*f = decode.Frame{Time: at, Bus: t.network.bus, ID: s.id, Len: s.length}
	if s.extended {
		f.Flags = decode.Extended
	}
	data := f.Data[:s.length]
	for i := range data {
		data[i] = s.fill
	}
	if s.noise >= 0 {
		data[s.noise] = byte(s.chance.Uint64())
	}
	if s.counts >= 0 {
		data[s.counts] = data[s.counts]&0xF0 | s.count&0x0F
		s.count++
	}
	for i := range s.fields {
		s.fields[i].put(data, s.fields[i].raw(w, at))
	}
	s.plan()
	s.due = max(s.due, at+1)
	if t.loss.Float64() < t.network.loss || w.paused(at) {
		return true
	}
	w.record.sent(s, at)
	return yield(f)
}

// paused reports whether the recorder wrote nothing at a moment.
func (w *world) paused(at int64) bool {
	t := float64(at-w.plan.start) / 1e9
	return t >= w.plan.pause[0] && t < w.plan.pause[1]
}
