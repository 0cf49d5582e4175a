package decode

import (
	"math/bits"
	"slices"
)

// Decoder turns frames into samples by means of a Map. It has state, so each stream of
// frames needs its own Decoder; the Map may be shared.
//
// An entry with an id or a pgn matches the frames with that identifier, on its interface
// if it names one. Every matching entry decodes the frame. Answers to polled requests (obd
// and did entries) may span several frames: such an entry matches the frame that completes
// its answer.
type Decoder struct {
	m       *Map
	entries []layout

	standard [1 << 11]span  // entries by 11-bit identifier
	one      [1 << 11]int32 // entry + 1 if it is the only one and no polled answers have this identifier
	extended idTable        // entries by 29-bit identifier
	groups   idTable        // entries by parameter group
	lists    []int          // the lists that spans refer to
	answers  answers        // to polled requests

	samples    []Sample // the result of Decode
	lent       bool     // samples belongs to an entry
	scratch    []Sample // memory for samples that do not
	matched    []int
	isAlone    bool   // the last frame matched only the entry in aloneIn
	aloneIn    [1]int // a slice of one entry, for Matched
	states     []state
	buses      []busEntries
	busEntries // of the last frame's interface
}

// busEntries holds the entries that take frames of one interface.
type busEntries struct {
	bus   string
	onBus []bool              // by entry: whether it takes frames of this interface
	lone  *[1 << 11]loneEntry // by 11-bit identifier
}

// loneEntry is an entry whose identifier no other entry and no polled answers share.
// layout is nil if there is none.
type loneEntry struct {
	*layout
	entry int
}

// layout is an Entry prepared for decoding.
type layout struct {
	fields []field // in the order of Entry.Signals
	// order lists the fields so that each comes after those that select it. It is nil
	// if no field has selectors.
	order []int

	oneSource bool // only frames of one sender, source, in a parameter group
	source    uint32

	short // usable if its need is not 0
}

// state is the sample of a field in one payload, for an entry with selectors.
type state struct {
	sample  Sample
	present bool
}

// NewDecoder returns a Decoder for one stream of frames.
func NewDecoder(m *Map) *Decoder {
	d := &Decoder{m: m, entries: make([]layout, len(m.Entries))}
	standard, extended, groups := map[uint32][]int{}, map[uint32][]int{}, map[uint32][]int{}
	widest := 0
	for i := range m.Entries {
		e := &m.Entries[i]
		d.entries[i] = compileEntry(m, e)
		widest = max(widest, len(e.Signals))
		switch {
		case e.Kind == ByPGN:
			groups[e.PGN] = append(groups[e.PGN], i)
		case e.Kind == ByID && e.Extended:
			extended[e.ID] = append(extended[e.ID], i)
		case e.Kind == ByID:
			standard[e.ID] = append(standard[e.ID], i)
		}
	}
	for id, list := range standard {
		if id < uint32(len(d.standard)) {
			d.standard[id] = d.keep(list)
			if len(list) == 1 && !slices.ContainsFunc(m.Entries, func(e Entry) bool { return e.Polled() && e.Response == id && !e.ResponseExtended }) {
				d.one[id] = int32(list[0]) + 1
			}
		}
	}
	d.extended = newIDTable(extended, d.keep)
	d.groups = newIDTable(groups, d.keep)
	d.states = make([]state, widest)
	d.answers = newAnswers(m, d.keep)
	return d
}

// keep stores a list of entries in d.lists and returns its span.
func (d *Decoder) keep(list []int) span {
	from := len(d.lists)
	d.lists = append(d.lists, list...)
	return span{from: uint32(from), to: uint32(len(d.lists))}
}

// Decode returns the samples of every entry that matches the frame: entries in the order
// of the map, signals in the order of their entry. Invalid values are included with Valid
// false; signals whose selectors do not hold are not included. For error and remote frames
// Decode returns nil. The slice is reused by the next call.
func (d *Decoder) Decode(f *Frame) []Sample {
	if samples := d.alone(f); samples != nil {
		return samples
	}
	d.samples, d.lent, d.matched, d.isAlone = d.scratch[:0], false, d.matched[:0], false
	if f.Flags&(Error|Remote) != 0 {
		return nil
	}
	if f.Bus != d.bus || d.onBus == nil {
		d.enter(f.Bus)
	}
	d.plain(f)
	if len(d.answers.ids.keys) > 0 {
		d.polled(f)
	}
	if !d.lent {
		d.scratch = d.samples[:0]
	}
	return d.samples
}

// alone is the fast path of Decode for what nearly all frames are: short ones with an
// 11-bit identifier that only one entry names. For other frames it returns nil.
func (d *Decoder) alone(f *Frame) []Sample {
	if f.Flags&(Error|Remote|Extended) != 0 || f.ID >= uint32(len(d.one)) || f.Bus != d.bus || d.onBus == nil {
		return nil
	}
	l := &d.lone[f.ID]
	if l.layout == nil || !l.reads(f) {
		return nil
	}
	d.isAlone, d.aloneIn[0] = true, l.entry
	return l.read(f)
}

// plain decodes the frame by the entries with an id or a pgn.
func (d *Decoder) plain(f *Frame) {
	if f.Flags&Extended == 0 {
		if f.ID >= uint32(len(d.standard)) {
			return
		}
		for _, i := range d.list(d.standard[f.ID]) {
			d.try(f, i)
		}
		return
	}
	ids, groups := d.list(d.extended.find(f.ID)), d.list(d.groups.find(PGN(f.ID)))
	for len(ids) > 0 && len(groups) > 0 {
		if ids[0] < groups[0] {
			d.try(f, ids[0])
			ids = ids[1:]
		} else {
			d.try(f, groups[0])
			groups = groups[1:]
		}
	}
	for _, i := range ids {
		d.try(f, i)
	}
	for _, i := range groups {
		d.try(f, i)
	}
}

// Matched returns the indices of the entries that the last frame matched, in the order of
// the map, even if all their values are invalid. The slice is reused by the next call of
// Decode.
func (d *Decoder) Matched() []int {
	if d.isAlone {
		return d.aloneIn[:]
	}
	return d.matched
}

func (d *Decoder) list(s span) []int { return d.lists[s.from:s.to] }

// mostBuses is the number of interfaces that the Decoder remembers.
const mostBuses = 16

// enter sets d.busEntries to the entries that take frames of an interface, so that names
// are compared once and not for each frame.
func (d *Decoder) enter(bus string) {
	for i := range d.buses {
		if d.buses[i].bus == bus {
			d.busEntries = d.buses[i]
			return
		}
	}
	d.busEntries = busEntries{bus, make([]bool, len(d.m.Entries)), new([1 << 11]loneEntry)}
	for i := range d.m.Entries {
		d.onBus[i] = d.m.Entries[i].Bus == "" || d.m.Entries[i].Bus == bus
	}
	for id, one := range d.one {
		if entry := int(one) - 1; entry >= 0 && d.onBus[entry] {
			d.lone[id] = loneEntry{&d.entries[entry], entry}
		}
	}
	if len(d.buses) < mostBuses {
		d.buses = append(d.buses, d.busEntries)
	}
}

// try decodes the frame by the entry if its interface and sender match, too.
func (d *Decoder) try(f *Frame, entry int) {
	l := &d.entries[entry]
	if !d.onBus[entry] || l.oneSource && f.ID&0xFF != l.source {
		return
	}
	d.matched = append(d.matched, entry)
	if !l.reads(f) {
		d.decodePayload(f.Payload(), f.Time, entry)
		return
	}
	if samples := l.read(f); len(d.samples) == 0 {
		d.samples, d.lent = samples, true
	} else {
		d.own()
		d.samples = append(d.samples, samples...)
	}
}

// own makes samples a slice of the Decoder's own, so that it can be appended to.
func (d *Decoder) own() {
	if d.lent {
		d.samples, d.lent = append(d.scratch[:0], d.samples...), false
	}
}

// decodePayload appends an entry's samples of a payload, which may come from one frame or
// from several.
func (d *Decoder) decodePayload(payload []byte, time int64, entry int) {
	l := &d.entries[entry]
	d.own()
	if l.order == nil {
		for i := range l.fields {
			d.samples = append(d.samples, l.fields[i].sample(payload, time))
		}
		return
	}
	states := d.states[:len(l.fields)]
	for _, i := range l.order {
		f := &l.fields[i]
		states[i].present = f.chosen(states)
		if states[i].present {
			states[i].sample = f.sample(payload, time)
		}
	}
	for i := range states {
		if states[i].present {
			d.samples = append(d.samples, states[i].sample)
		}
	}
}

// sample returns the field's Sample in a payload.
func (f *field) sample(payload []byte, time int64) Sample {
	raw, value, valid := f.read(payload)
	return Sample{Time: time, Signal: f.signal, Value: value, Raw: raw, Valid: valid}
}

// chosen reports whether all selectors of the field hold, given the states of the fields
// that come before it in order.
func (f *field) chosen(states []state) bool {
	if f.never {
		return false
	}
	for _, c := range f.when {
		s := &states[c.field]
		if !s.present || !s.sample.Valid || !containsRaw(c.raws, s.sample.Raw) {
			return false
		}
	}
	return true
}

// compileEntry prepares an entry's fields and orders them by their selectors.
func compileEntry(m *Map, e *Entry) layout {
	l := layout{fields: make([]field, len(e.Signals))}
	if e.Kind == ByPGN && e.Source >= 0 {
		l.oneSource, l.source = true, uint32(e.Source)
	}
	position := make(map[int]int, len(e.Signals))
	selected := false
	for i, index := range e.Signals {
		l.fields[i] = compileField(m, index, e.Kind == ByPGN)
		position[index] = i
	}
	for i, index := range e.Signals {
		for _, w := range m.Signals[index].When {
			selected = true
			at, ok := position[w.Signal]
			if !ok {
				l.fields[i].never = true
				continue
			}
			l.fields[i].when = append(l.fields[i].when, choice{field: at, raws: w.Raws})
		}
	}
	if selected {
		l.order = orderFields(l.fields)
	}
	l.short = newShort(&l)
	return l
}

// orderFields returns an order of the fields in which selectors come before the fields
// that they select. Fields that select each other in a circle are marked never.
func orderFields(fields []field) []int {
	order := make([]int, 0, len(fields))
	placed := make([]bool, len(fields))
	for len(order) < len(fields) {
		before := len(order)
		for i := range fields {
			ready := !placed[i]
			for _, c := range fields[i].when {
				ready = ready && placed[c.field]
			}
			if ready {
				placed[i] = true
				order = append(order, i)
			}
		}
		if len(order) > before {
			continue
		}
		for i := range fields {
			if !placed[i] {
				placed[i], fields[i].never = true, true
				order = append(order, i)
			}
		}
	}
	return order
}

// span is a range of Decoder.lists. The zero span is empty.
type span struct{ from, to uint32 }

// idTable maps an identifier or parameter group of up to 29 bits to its entries. It is an
// open-addressed hash table, at most half full, whose empty slots have empty spans.
type idTable struct {
	keys  []uint32
	spans []span
	shift uint
}

func newIDTable(lists map[uint32][]int, keep func([]int) span) idTable {
	if len(lists) == 0 {
		return idTable{}
	}
	log := uint(bits.Len(uint(2*len(lists) - 1)))
	t := idTable{keys: make([]uint32, 1<<log), spans: make([]span, 1<<log), shift: 32 - log}
	for key, list := range lists {
		i := t.home(key)
		for t.spans[i] != (span{}) {
			i = (i + 1) % len(t.keys)
		}
		t.keys[i], t.spans[i] = key, keep(list)
	}
	return t
}

// home returns the slot where the search for a key begins. It uses Fibonacci hashing,
// which spreads identifiers that differ in few bits.
func (t *idTable) home(key uint32) int { return int(key * 0x9E3779B1 >> t.shift) }

func (t *idTable) find(key uint32) span {
	if len(t.keys) == 0 {
		return span{}
	}
	for i := t.home(key); t.spans[i] != (span{}); i = (i + 1) & (len(t.keys) - 1) {
		if t.keys[i] == key {
			return t.spans[i]
		}
	}
	return span{}
}
