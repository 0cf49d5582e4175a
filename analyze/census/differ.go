package census

import (
	"cmp"
	"math/bits"
	"slices"
)

// DifferenceKind is what differs between two sides.
type DifferenceKind uint8

// The kinds, those first that tell most.
const (
	// Switched: a field that never changes on either side has another value on each.
	Switched DifferenceKind = iota
	// Toggled: a field never changes on one side and does on the other.
	Toggled
	// Missing: the identifier is on one side only.
	Missing
	// Ranged: a byte that changes on both sides has other least or greatest values.
	Ranged
)

// Difference is one thing in which two sides of logs differ.
type Difference struct {
	Kind     DifferenceKind
	Bus      string // "" where each log has a single interface
	ID       uint32
	Extended bool
	// Byte, Low and Bits are the field: of Ranged the whole byte. A number of 16 bits is in
	// this byte and the next one; Big says that this one is its upper one.
	Byte, Low, Bits int
	Big             bool
	// Of and Against are the values of the field on both sides, Changes how often it
	// changed on them: the field's bit that flips most.
	Of, Against Range
	Changes     [2]int64
	// Frames that the identifier has on both sides; of Missing one is 0.
	Frames [2]int64
	// Part: the bit below it changes on both sides, so that it may be the top of a
	// number.
	Part bool
	// Apart, of Ranged: no value was seen on both sides.
	Apart bool

	rank  int
	order int64
}

// Differences is what differs between two sides of logs.
type Differences struct {
	List []Difference // those first that are few and clear
	// Counters, Checksums, Pages and Restless are how many fields, on either side, were
	// left out because they change by themselves.
	Counters, Checksums, Pages, Restless int
	// Uncounted are the identifiers whose values are not known: there are too many.
	Uncounted int
}

// place is an identifier on both sides.
type place struct {
	bus      string
	id       uint32
	extended bool
}

// side is an identifier in all logs of one side.
type side struct {
	frames int64
	bytes  []Byte
}

// Differ holds two sides of logs against each other, each counted with Options.Values.
func Differ(of, against []*Result) *Differences {
	named := false
	for _, r := range slices.Concat(of, against) {
		named = named || len(r.Buses) > 1
	}
	a, b := join(of, named), join(against, named)
	var places []place
	for p := range a {
		places = append(places, p)
	}
	for p := range b {
		if a[p] == nil {
			places = append(places, p)
		}
	}
	slices.SortFunc(places, func(p, q place) int {
		return cmp.Or(cmp.Compare(p.bus, q.bus), boolean(p.extended)-boolean(q.extended), cmp.Compare(p.id, q.id))
	})
	d := &Differences{}
	for _, p := range places {
		x, y := a[p], b[p]
		if x == nil {
			x = &side{}
		}
		if y == nil {
			y = &side{}
		}
		d.identifier(p, x, y)
	}
	slices.SortStableFunc(d.List, func(x, y Difference) int {
		return cmp.Or(cmp.Compare(x.rank, y.rank), cmp.Compare(x.order, y.order))
	})
	return d
}

// join adds up what the logs of one side have of each identifier.
func join(logs []*Result, named bool) map[place]*side {
	all := make(map[place]*side)
	for _, r := range logs {
		for i := range r.IDs {
			x := &r.IDs[i]
			if x.Count == 0 {
				continue
			}
			p := place{id: x.ID, extended: x.Extended}
			if named {
				p.bus = x.Bus
			}
			s := all[p]
			if s == nil {
				s = &side{}
				all[p] = s
			}
			s.frames += x.Count
			for at := range x.Bytes {
				if at == len(s.bytes) {
					s.bytes = append(s.bytes, Byte{})
				}
				s.bytes[at].join(&x.Bytes[at])
			}
		}
	}
	return all
}

// join adds what another log has of the same byte. It is a counter or the like where it
// is one in either.
func (b *Byte) join(x *Byte) {
	b.Count += x.Count
	b.Pairs += x.Pairs
	b.Changes += x.Changes
	for i := range b.Seen {
		b.Seen[i] |= x.Seen[i]
	}
	for i := range b.Flips {
		b.Flips[i] += x.Flips[i]
	}
	b.Counters = append(b.Counters[:len(b.Counters):len(b.Counters)], x.Counters...)
	b.Check = max(b.Check, x.Check)
	b.Pages = b.Pages || x.Pages
	b.Restless = b.Restless || x.Restless
	for i := range b.next {
		b.next[i].join(&x.next[i])
	}
}

func (d *Differences) identifier(p place, x, y *side) {
	one := Difference{Bus: p.bus, ID: p.id, Extended: p.extended, Frames: [2]int64{x.frames, y.frames}}
	if x.frames == 0 || y.frames == 0 {
		one.Kind = Missing
		one.rank = rankMissing
		d.List = append(d.List, one)
		return
	}
	if x.bytes == nil && y.bytes == nil {
		d.Uncounted++
		return
	}
	taken := d.numbers(one, x, y)
	for at := range min(len(x.bytes), len(y.bytes)) {
		if taken[at] {
			continue
		}
		one.Byte = at
		d.byte(one, &x.bytes[at], &y.bytes[at])
	}
}

// The ranks of differences: what a person did once or twice stands first.
const (
	rankSwitch  = iota // bits that never change, and differ
	rankToggle         // one or two bits that change on one side alone, not often
	rankMissing        // an identifier
	rankValue          // a byte that never changes, and differs in many bits
	rankTop            // bits that belong to a number, or change often
	rankApart          // ranges that have nothing in common
	rankRange
)

// often is the share of frames from which on a bit is no switch, as 1 in often.
const often = 10

func (d *Differences) byte(one Difference, x, y *Byte) {
	if x.Count == 0 || y.Count == 0 {
		return
	}
	machine := x.Machine() | y.Machine()
	switch {
	case x.Check != NoCheck || y.Check != NoCheck:
		d.Checksums++
	case x.Restless || y.Restless:
		d.Restless++
	case x.Pages || y.Pages:
		d.Pages++
	case machine != 0:
		d.Counters++
	}
	if machine == 0xFF {
		return
	}
	ones, zeros := [2]uint8{x.Ones(), y.Ones()}, [2]uint8{x.Zeros(), y.Zeros()}
	moving := [2]uint8{ones[0] & zeros[0], ones[1] & zeros[1]}
	both := moving[0] & moving[1]
	apart := ^(moving[0] | moving[1]) & (ones[0] ^ ones[1]) // never change, and differ
	differ := (apart | moving[0] ^ moving[1]) &^ machine
	if bits.OnesCount8(differ) > 2 && moving == [2]uint8{} {
		// Two values of one byte, not some switches in it.
		one.Bits, one.Of, one.Against = 8, fieldRange(x.Seen, 0, 0xFF), fieldRange(y.Seen, 0, 0xFF)
		one.Kind, one.rank = Switched, rankValue
		d.List = append(d.List, one)
		return
	}
	for rest := differ; rest != 0; {
		low := bits.TrailingZeros8(rest)
		size := bits.TrailingZeros8(^(rest >> low))
		mask := uint8((1<<size - 1) << low)
		rest &^= mask
		f := one
		f.Low, f.Bits = low, size
		f.Of, f.Against = fieldRange(x.Seen, low, mask), fieldRange(y.Seen, low, mask)
		for i := low; i < low+size; i++ {
			f.Changes = [2]int64{max(f.Changes[0], x.Flips[i]), max(f.Changes[1], y.Flips[i])}
		}
		f.Part = low > 0 && both>>(low-1)&1 == 1
		f.order = f.Changes[0] + f.Changes[1]
		f.Kind, f.rank = Toggled, rankToggle
		if mask&^apart == 0 {
			f.Kind, f.rank, f.order = Switched, rankSwitch, 0
		}
		frequent := f.Changes[0]*often > x.Pairs || f.Changes[1]*often > y.Pairs
		switch {
		case f.Part || frequent || f.Kind == Toggled && min(one.Frames[0], one.Frames[1]) < leastPairs || size > 2 && f.Kind == Toggled:
			f.rank = rankTop
		}
		d.List = append(d.List, f)
	}
	if differ != 0 || both == 0 {
		return
	}
	low := bits.TrailingZeros8(^machine)
	size := 8 - low - bits.LeadingZeros8(^machine)
	// Counters in the middle of a byte leave no single field.
	mask := uint8((1<<size - 1) << low)
	if mask&machine != 0 {
		return
	}
	of, against := fieldRange(x.Seen, low, mask), fieldRange(y.Seen, low, mask)
	if of == against {
		return
	}
	one.Kind, one.Low, one.Bits, one.Of, one.Against = Ranged, low, size, of, against
	one.Changes = [2]int64{x.Changes, y.Changes}
	one.ranged()
	d.List = append(d.List, one)
}

// ranged ranks a difference of two ranges: by how much of the two together only one of them
// has, the most first.
func (f *Difference) ranged() {
	f.rank = rankRange
	whole := int64(max(f.Of.Most, f.Against.Most)) - int64(min(f.Of.Least, f.Against.Least)) + 1
	common := max(0, int64(min(f.Of.Most, f.Against.Most))-int64(max(f.Of.Least, f.Against.Least))+1)
	f.order = common * 1000 / whole
	if common == 0 {
		f.rank, f.Apart = rankApart, true
	}
}
