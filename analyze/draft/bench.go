package draft

import (
	"cmp"
	"math"
	"slices"

	"lull/decode"
	"lull/decode/dbc"
	"lull/decode/marks"
)

// bench is where the drafting is done: the streams, and what was found so far.
type bench struct {
	whole   []*stream // as they came
	streams []*stream // their pages
	plain   []*stream // those that are no answers to a scan tool
	answers *polled
	draft   *Draft

	found map[Quantity]series // values of what was found, in its unit
	taken map[spot]bool       // bits that found fields use
	cap   Sureness            // what rests on a guess is a guess
	out   map[Quantity]bool   // what a person left out, of what dates others

	named        bool // the bus follows SAE J1939, whose groups are known
	drive        *drive
	livelyFields []levelled
	slowFields   map[*stream][]field
	switchList   []aSwitch
	voltages     []field
	nominees     map[Quantity][]nominee
	behaved      map[Quantity][]candidate
	marks        []marks.Mark
}

// spot is one bit of a stream.
type spot struct {
	s   *stream
	bit int
}

// Options are what a draft may use besides the frames.
type Options struct {
	Marks    []marks.Mark // on the clock of the first log
	Database *dbc.Database
	// Choices are what a person said of proposals, by the names of signals. Those of
	// quantities that date others are used; Chosen does what the others say.
	Choices map[string]Choice
}

// Draft proposes a map. It is called once, after the last frame.
func (d *Drafter) Draft(o Options) *Draft {
	b := &bench{answers: d.answers, draft: &Draft{Frames: d.frames, Left: d.left, Untimed: d.untimed},
		found: map[Quantity]series{}, taken: map[spot]bool{}, cap: Sure, out: map[Quantity]bool{}, slowFields: map[*stream][]field{}, marks: o.Marks}
	b.whole = d.order
	for _, s := range d.order {
		s.prepare()
		for _, part := range s.pages() {
			b.streams = append(b.streams, part)
			if !part.diagnostic() {
				b.plain = append(b.plain, part)
			}
		}
	}
	b.settle(o.Choices)
	b.standard()
	b.nominated(o.Database)
	b.polled()
	b.withoutOut()
	b.elect(EngineSpeed)
	if !d.untimed {
		b.engine()
		b.tachometer()
		b.newDrive()
		b.cap = Sure
		if s := b.draft.Signal(EngineSpeed); s != nil {
			b.cap = s.FieldIs
		}
		ran := b.drive != nil && b.drive.runs()
		if ran {
			b.elect(BatteryVoltage)
			b.voltage()
			b.elect(VehicleSpeed)
			b.road()
			b.elect(StarterCommand)
			b.propose(StarterCommand)
			b.elect(StopCommand)
			b.propose(StopCommand)
			b.elect(Ignition)
			b.propose(Ignition)
			b.elect(StarterCount)
			b.starterCount()
		}
		b.cap = Sure
		b.marked()
		for q := range quantityCount { // what words alone can say
			b.elect(q)
			switch q {
			case BatteryCurrent:
				if ran {
					b.current()
				}
			case Brake, TurnLamp:
				b.propose(q)
			}
		}
	}
	b.finish()
	return b.draft
}

// has reports whether a quantity was found.
func (b *bench) has(q Quantity) bool { return b.draft.Signal(q) != nil }

// proposal begins a Signal from a field.
func (b *bench) proposal(q Quantity, f field, factor, offset float64) Signal {
	s := Signal{What: q, Name: q.Name(), Entry: f.s.entry(b), Factor: factor, Offset: offset}
	s.Field = f.signal()
	s.Field.Unit = q.Unit()
	s.Page, s.PageValue = f.s.selector()
	return s
}

// signal is the field as the map has it. The code by which a module says that it has no
// value is no value: as a speed it would be one that no engine reaches.
func (f *field) signal() decode.Signal {
	s := decode.Signal{Start: f.start(), Length: f.n, BigEndian: f.big && f.n > 1, Signed: f.signed}
	if f.none() {
		s.Invalid = []int64{f.ones()}
	}
	return s
}

// entry is how the map finds the stream's frames.
func (s *stream) entry(b *bench) decode.Entry {
	e := decode.Entry{Kind: decode.ByID, ID: s.id, Extended: s.extended, Source: -1, Address: -1}
	buses := map[string]bool{}
	for _, other := range b.streams {
		if other.id == s.id && other.extended == s.extended {
			buses[other.bus] = true
		}
	}
	if len(buses) > 1 {
		e.Bus = s.bus
	}
	e.OnChange = s.atOnce
	return e
}

// onChange reports whether the frames come when something changes, and else rarely: of those
// that come early most change a bit that is no counter's or checksum's.
func (s *stream) onChange() bool {
	if s.page >= 0 || len(s.t) < 5 || s.period <= 0.3 {
		return false
	}
	calm := uint64(0)
	for bit, flip := range s.flip {
		if flip < 0.2 {
			calm |= 1 << bit
		}
	}
	early, changed := 0, 0
	for i := 1; i < len(s.w); i++ {
		if s.t[i]-s.t[i-1] < 0.8*s.period {
			early++
			if (s.w[i]^s.w[i-1])&calm != 0 {
				changed++
			}
		}
	}
	return early >= 3 && float64(changed) >= 0.8*float64(early)
}

// put takes a proposal over, unless its bits are used already. It reports whether it did.
func (b *bench) put(s Signal, f field, values series) bool {
	if (b.has(s.What) && s.What != Marked && s.What != TurnLamp) || b.out[s.What] {
		return false
	}
	if !b.unclaimed(&f) {
		return false
	}
	for _, bit := range f.bits() {
		b.taken[spot{f.s, bit}] = true
	}
	s.FieldIs, s.ScaleIs = min(s.FieldIs, b.cap), min(s.ScaleIs, b.cap)
	b.draft.Signals = append(b.draft.Signals, s)
	if s.What != Marked {
		b.found[s.What] = values
	}
	return true
}

// unclaimed reports whether no bit of a field is used by what was found.
func (b *bench) unclaimed(f *field) bool {
	return !slices.ContainsFunc(f.bits(), func(bit int) bool { return !b.free(f.s, bit) })
}

// free reports whether a bit is not used by what was found.
func (b *bench) free(s *stream, bit int) bool { return !b.taken[spot{s, bit}] }

// scaled is the field's values in a unit.
func (f *field) scaled(factor, offset float64) series {
	x := f.values()
	for i := range x.v {
		x.v[i] = x.v[i]*factor + offset
	}
	return x
}

// slow returns the fields of a stream whose top bit flips in no more than 35 % of frames,
// worked out once.
func (b *bench) slow(s *stream) []field {
	list, ok := b.slowFields[s]
	if !ok {
		list = s.fields(0.35)
		b.slowFields[s] = list
	}
	return list
}

// finish orders the proposals, decides which belong into the map and lists what is missing.
func (b *bench) finish() {
	d := b.draft
	slices.SortStableFunc(d.Signals, func(x, y Signal) int { return cmp.Compare(x.What, y.What) })
	for i := range d.Signals {
		s := &d.Signals[i]
		s.Written = s.FieldIs > Guess || s.What == EngineSpeed || s.What == VehicleSpeed
	}
	if b.drive != nil {
		d.Drive = DriveFacts{Known: true, Starts: len(b.drive.cranks), Stops: len(b.drive.stops), Ran: b.drive.runs(), Rested: len(b.drive.rests) > 0}
	}
	for _, q := range []Quantity{EngineSpeed, VehicleSpeed, BatteryVoltage, StopCommand, StarterCommand, Ignition, Brake, TurnLamp, Coolant} {
		if !b.has(q) {
			d.Missing = append(d.Missing, Missing{q, b.why(q)})
		}
	}
	d.Unfollowed = slices.DeleteFunc(d.Unfollowed, func(name string) bool {
		q, known := quantityOfMark[name]
		return known && q != TurnLamp && b.has(q) // the other lamp is another switch
	})
}

// why says why a quantity was not found, as far as that is known.
func (b *bench) why(q Quantity) Why {
	engine := b.draft.Signal(EngineSpeed)
	switch {
	case b.draft.Untimed:
		return NoTimes
	case q == EngineSpeed || q == TurnLamp || q == Coolant:
		return NothingAlike
	case engine == nil:
		return NoEngine
	case q == Brake:
		if !b.has(VehicleSpeed) {
			return NeverStood
		}
		return NothingAlike
	case q == VehicleSpeed:
		return NothingAlike
	case b.drive == nil || len(b.drive.rests) == 0:
		return NeverStopped
	case len(b.drive.cranks) == 0:
		return NeverStarted
	case len(b.drive.cranks) == 1:
		return TooFewStarts
	}
	return NothingAlike
}

// newDrive dates what the engine did by the speed that was found.
func (b *bench) newDrive() {
	x, ok := b.found[EngineSpeed]
	if !ok {
		return
	}
	clean := series{}
	for i, v := range x.v {
		if !math.IsNaN(v) {
			clean.t, clean.v = append(clean.t, x.t[i]), append(clean.v, v)
		}
	}
	if len(clean.t) > 2 {
		b.drive = newDrive(clean)
	}
}
