package scenario

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"lull/decode"
)

// sent is how a mapped frame comes to the bus.
type sent string

const (
	cyclic   sent = "cyclic"
	byGroup  sent = "pgn"
	onChange sent = "on change"
	repeated sent = "on change, repeated"
	polled   sent = "polled"
)

// wired is one signal of a frame: where it comes from, and the map's text of it.
type wired struct {
	name, text string
	field      field
}

func continuous(q quantity, name string, factor float64, signed bool, unit, role string) wired {
	f := of(q, 0, 16, factor, 0)
	text := fmt.Sprintf("length: 16, factor: %v, unit: %q", factor, unit)
	if signed {
		f = f.asSigned()
		text += ", signed: true"
	}
	if role != "" {
		text += ", role: " + role
	}
	return wired{name, text, f}
}

func switching(o output, name, role string) wired {
	w := wired{name, "length: 4", state(o, 0, 4)}
	if role != "" {
		w.text += ", role: " + role
	}
	return w
}

// mapped is one frame of the map.
type mapped struct {
	signals []wired
	sent    sent
	period  int64 // 0: sent on change only
	tells   bool  // the map gives the period
}

// bus is what a car of the test sends and how it is mapped.
type bus struct {
	seed                uint64
	frames              []mapped
	hasStop, hasStarter bool
	noisy, crowded      bool
	m                   string
}

// frameOf is the index of the frame that carries a signal, -1 if none does.
func (b *bus) frameOf(signal string) int {
	return slices.IndexFunc(b.frames, func(f mapped) bool {
		return slices.ContainsFunc(f.signals, func(w wired) bool { return w.name == signal })
	})
}

// eventsOnly reports whether the stop command is on a frame that comes only when it changes.
func (b *bus) eventsOnly() bool {
	i := b.frameOf("stop")
	return i >= 0 && b.frames[i].sent == onChange && b.frames[i].period == 0
}

func (b *bus) String() string {
	var parts []string
	for _, f := range b.frames {
		var names []string
		for _, w := range f.signals {
			names = append(names, w.name)
		}
		parts = append(parts, fmt.Sprintf("%s %s/%dms", strings.Join(names, "+"), f.sent, f.period/ms))
	}
	return strings.Join(parts, ", ")
}

// newBus lays a bus over a car: which roles it tells, which signals share a frame,
// how and how often each frame is sent.
func newBus(seed uint64, nominal float64) *bus {
	r := rand.New(rand.NewPCG(seed, 5))
	b := &bus{seed: seed, hasStop: r.IntN(4) > 0, hasStarter: r.IntN(3) > 0, noisy: r.IntN(4) == 0, crowded: r.IntN(4) > 0}
	all := r.IntN(4) // 0 and 1 cyclic, 2 flags on change, 3 polled
	pick := func(periods ...int64) int64 { return periods[r.IntN(len(periods))] * ms }
	add := func(how sent, period int64, signals ...wired) {
		if all == 3 && how != onChange && how != repeated {
			how, period = polled, max(2*period, pick(40, 60, 100))
		}
		if all == 2 && r.IntN(6) == 0 && (how == cyclic || how == byGroup) && len(signals) <= 2 {
			how, period = polled, max(period, 50*ms)
		}
		b.frames = append(b.frames, mapped{signals, how, period, r.IntN(3) == 0 || how == repeated})
	}
	flags := []wired{}
	if b.hasStop {
		flags = append(flags, switching(stopCommand, "stop", "stop_command"))
	}
	if b.hasStarter {
		flags = append(flags, switching(starterCommand, "starter", "starter_command"))
	}
	engine := []wired{continuous(engineSpeed, "engine_speed", 0.25, false, "rpm", "engine_speed")}
	switch how := []sent{cyclic, onChange, repeated}[r.IntN(3)]; {
	case all == 2:
		for _, f := range flags {
			period := int64(0)
			if how == repeated {
				period = pick(100, 200, 1000)
			}
			if how == cyclic {
				period = pick(10, 20)
			}
			add(how, period, f)
		}
	case len(flags) > 0 && (all == 3 || r.IntN(3) == 0):
		add(cyclic, pick(10, 20, 50), flags...)
	default:
		engine = append(engine, flags...)
	}
	how := cyclic
	if r.IntN(5) == 0 {
		how = byGroup
	}
	add(how, pick(10, 10, 20), engine...)
	wheels := []wired{continuous(roadSpeed, "road_speed", 0.01, false, "km/h", "vehicle_speed")}
	pedals := switching(brake, "brake", "")
	pedals.text += ", values: {0: released, 1: pressed}"
	if r.IntN(2) == 0 {
		wheels = append(wheels, continuous(acceleration, "acceleration", 0.01, true, "m/s2", "acceleration"))
	}
	switch {
	case all == 2:
		add([]sent{onChange, repeated}[r.IntN(2)], 1000*ms, pedals)
	case r.IntN(2) == 0:
		add(cyclic, pick(10, 20, 50, 100), pedals)
	case all != 3:
		wheels = append(wheels, pedals)
	default:
		add(cyclic, pick(20, 50), pedals)
	}
	add(cyclic, pick(20, 20, 50), wheels...)
	lamp := switching(turnLamp, "turn", "")
	lamp.text += ", values: {0: off, 1: left, 2: right}"
	add([]sent{repeated, cyclic}[r.IntN(2)], pick(50, 100), lamp)
	add(cyclic, pick(20, 50), continuous(steering, "steering", 0.1, true, "deg", ""))
	add(cyclic, pick(10, 20, 20, 50, 100), continuous(voltage, "voltage", 0.001, false, "V", "battery_voltage"), continuous(current, "current", 0.1, true, "A", "battery_current"))
	add(cyclic, pick(20, 50), continuous(supply, "supply", 0.01, false, "V", "module_supply"), continuous(charge, "charge", 0.01, false, "%", "battery_charge"))
	add(cyclic, pick(20, 50), continuous(holdPressure, "hold", 0.5, false, "kPa", "hold_pressure"))
	add(cyclic, pick(50, 100), switching(ignition, "ignition", "ignition"), continuous(fuelRate, "fuel", 0.01, false, "L/h", "fuel_rate"))
	count := switching(starterCount, "count", "starter_count")
	count.field.length, count.text = 16, "length: 16, role: starter_count"
	add(cyclic, pick(100, 500), count)
	for i := range b.frames {
		f := &b.frames[i]
		if f.sent == onChange {
			f.period, f.tells = 0, false
		}
		for k := range f.signals {
			f.signals[k].field.start = 16 * k
		}
	}
	b.m = b.mapText(nominal)
	return b
}

// mapText is the bus's map. Its limits are set by the test.
func (b *bus) mapText(nominal float64) string {
	var t strings.Builder
	t.WriteString("format: 1\nframes:\n")
	for i, f := range b.frames {
		switch f.sent {
		case byGroup:
			fmt.Fprintf(&t, "  - pgn: %d\n", 0xFF10+i)
		case polled:
			fmt.Fprintf(&t, "  - did: {id: 0x%X, response: 0x7E8}\n", 0xF400+i)
		default:
			fmt.Fprintf(&t, "  - id: 0x%X\n", 0x200+i)
		}
		if f.sent == onChange || f.sent == repeated {
			t.WriteString("    sent: on_change\n")
		}
		if f.tells {
			fmt.Fprintf(&t, "    period: %dms\n", f.period/ms)
		}
		t.WriteString("    signals:\n")
		for _, w := range f.signals {
			fmt.Fprintf(&t, "      %s: {start: %d, %s}\n", w.name, w.field.start, w.text)
		}
	}
	fmt.Fprintf(&t, `restart_requests:
  - {name: %s, when: {signal: brake, is: released}}
  - {name: %s, bridge: 800ms, when: {signal: turn, is_not: off}}
  - {name: %s, when: {signal: steering, moves: 15}}
  - {name: %s, by: system, when: {signal: charge, below: 65}}
settings: {system_voltage: %v, low_voltage: %v}
`, requestBrake, requestTurn, requestSteering, requestCharge, nominal, nominal*0.8)
	return t.String()
}

// seen is one frame of a log and which of the bus's it is, -1 for one that is not
// mapped.
type seen struct {
	of    int
	frame decode.Frame
}

// play lets the bus carry a course.
func (b *bus) play(c *course) []*seen {
	var all []*seen
	for i := range b.frames {
		r := rand.New(rand.NewPCG(b.seed, uint64(100+i)))
		for _, at := range b.frames[i].times(c, r) {
			all = append(all, &seen{i, b.frame(i, c, at-at%1000)})
		}
	}
	for at := c.from; b.crowded && at < c.to; at += 7 * ms {
		all = append(all, &seen{-1, decode.Frame{Time: at, Bus: "can0", ID: 0x123, Len: 8}})
	}
	slices.SortStableFunc(all, func(x, y *seen) int { return cmp.Compare(x.frame.Time, y.frame.Time) })
	return all
}

// times are when a frame is sent.
func (f *mapped) times(c *course, r *rand.Rand) []int64 {
	var times []int64
	jitter := 0.03
	if f.sent == polled {
		jitter = 0.2
	}
	if f.sent == onChange || f.sent == repeated {
		for _, w := range f.signals {
			for _, x := range c.changes[w.field.output] {
				times = append(times, x.at+800_000+r.Int64N(7_000_000))
			}
		}
		slices.Sort(times)
		if f.sent == onChange {
			return times
		}
		var more []int64
		last := c.from + r.Int64N(f.period)
		more = append(more, last)
		for _, at := range append(times, c.to) {
			for last+f.period < at {
				last += f.period
				more = append(more, last)
			}
			last = at
		}
		times = append(times, more...)
		slices.Sort(times)
		return times
	}
	for at := c.from + r.Int64N(f.period); at < c.to-f.period; at += f.period {
		times = append(times, at+int64(jitter*r.Float64()*float64(f.period)))
	}
	return times
}

// frame fills one frame.
func (b *bus) frame(i int, c *course, at int64) decode.Frame {
	f := &b.frames[i]
	x := decode.Frame{Time: at, Bus: "can0", ID: uint32(0x200 + i), Len: uint8(2 * len(f.signals))}
	data := x.Data[:]
	switch f.sent {
	case byGroup:
		x.ID, x.Flags = uint32(0x18FF1000+i<<8), decode.Extended
	case polled:
		x.ID, x.Len = 0x7E8, 8
		data[0], data[1], data[2], data[3] = byte(3+2*len(f.signals)), 0x62, 0xF4, byte(i)
		data = data[4:]
	}
	for k := range f.signals {
		f.signals[k].field.put(data, f.signals[k].field.rawOf(c, at))
	}
	return x
}

// rawOf is raw for a course.
func (f *field) rawOf(c *course, at int64) int64 {
	if f.isOutput {
		return c.output(f.output, at)
	}
	n := nearest(c.at(f.from, at) / f.factor)
	if f.signed {
		return n
	}
	return max(n, 0)
}
