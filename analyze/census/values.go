package census

import (
	"bytes"
	"math/bits"

	"lull/decode"
)

const (
	// mostColumns is of how many bytes of payloads, of all identifiers together, values
	// are kept.
	mostColumns = 32768
	// mostPages is how many values a byte that selects a page takes.
	mostPages = 16
)

// values is what the payloads of one identifier held.
type values struct {
	columns []column
	last    [decode.MaxPayload]byte
	length  int // of the last payload; 0 before the first
	begun   bool
	checks  *checks // nil: none is left
}

// column is one byte of all payloads.
type column struct {
	count, pairs, changes int64
	seen                  [4]uint64 // a bit for each value
	bits                  [8]bit
	next                  succession
	with                  [2]pair // with the next byte
}

// bit is how one bit of a byte flips, and how the number above it grows when it does.
type bit struct {
	flips uint32
	// steps are how often the number from this bit on grew by the step, by how many bits
	// of the growth agree with it.
	steps [9]uint32
	score uint32 // of the step against others
	step  uint8
}

// take takes a flip of the bit; growth is of the number from it to the top of the byte,
// which has room bits.
func (b *bit) take(growth uint8, room int) {
	b.flips++
	same := 8
	if d := growth - b.step; d != 0 {
		same = bits.TrailingZeros8(d)
	}
	if same = min(same, room); same < 2 {
		if b.score > 0 {
			b.score--
			return
		}
		b.step, b.steps, same = growth, [9]uint32{}, room
	}
	b.score++
	b.steps[same]++
}

// succession is which value of a byte follows which, as long as they are few.
type succession struct {
	from, to [mostPages]uint8
	values   uint8
	many     bool
	broken   int64 // how often another one followed than before
}

func (s *succession) take(from, to uint8) {
	if s.many {
		return
	}
	at := bytes.IndexByte(s.from[:s.values], from)
	if at < 0 {
		if s.values == mostPages {
			s.many = true
			return
		}
		at = int(s.values)
		s.from[at], s.to[at] = from, to
		s.values++
		return
	}
	if s.to[at] != to {
		s.to[at] = to
		s.broken++
	}
}

// add takes a payload; room is how many columns may still be made.
func (v *values) add(data []byte, room *int) {
	if more := min(len(data)-len(v.columns), *room); more > 0 {
		v.columns = append(v.columns, make([]column, more)...)
		*room -= more
	}
	differs := false
	for i, b := range data {
		if i >= len(v.columns) {
			break
		}
		c := &v.columns[i]
		c.count++
		c.seen[b>>6] |= 1 << (b & 63)
		if i > 0 && (i >= v.length || b != v.last[i] || data[i-1] != v.last[i-1]) {
			v.columns[i-1].pair(data[i-1], b, v.last[i-1], v.last[i], i < v.length)
		}
		if i >= v.length {
			continue
		}
		c.pairs++
		last := v.last[i]
		if b == last {
			continue
		}
		differs = true
		c.changes++
		c.next.take(last, b)
		for x := b ^ last; x != 0; x &= x - 1 {
			at := bits.TrailingZeros8(x)
			c.bits[at].take(b>>at-last>>at, 8-at)
		}
	}
	switch {
	case !v.begun:
		if v.begun = true; len(v.columns) == len(data) {
			v.checks = newChecks(data)
		}
	case v.checks != nil && (differs || len(data) != v.length) && !v.checks.test(data):
		v.checks = nil
	}
	copy(v.last[:], data)
	v.length = len(data)
}

// pair takes a byte and the next one.
func (c *column) pair(first, second, lastFirst, lastSecond uint8, steps bool) {
	for order := range c.with {
		v, upper, lower := pairOf(order, first, second)
		c.with[order].see(v)
		if _, lastUpper, lastLower := pairOf(order, lastFirst, lastSecond); steps {
			c.with[order].step(upper, lower, lastUpper, lastLower)
		}
	}
}

// Byte is what was seen in one byte of an identifier's payloads.
type Byte struct {
	Count   int64 // frames that have it
	Pairs   int64 // of these, directly after another one
	Changes int64 // pairs in which it differs
	// Seen has a bit for each value, value 0 in the lowest of the first.
	Seen  [4]uint64
	Flips [8]int64 // pairs in which a bit differs

	// Counters are the bits that grow by the same step from frame to frame.
	Counters []CounterBits
	// Check is how the byte is worked out from the others; NoCheck where that is not
	// shown in every frame.
	Check Check
	// Pages: it goes through the same few values again and again in the same order, as
	// bytes do that select what the others mean.
	Pages bool
	// Restless: all its bits flip half the time and nothing else is known of it: it may
	// be a checksum, noise or the low byte of a fast value.
	Restless bool

	next [2]pair // it and the next byte as a number, in both orders
}

// CounterBits is a field of a byte that counts up modulo 2 to the power of Bits.
type CounterBits struct {
	Low, Bits int // Low is the lowest bit
	Step      int // odd; 1 for most
}

// Mask is the counter's bits.
func (c CounterBits) Mask() uint8 { return uint8((1<<c.Bits - 1) << c.Low) }

// Least is the least value seen.
func (b *Byte) Least() uint8 { return uint8(fieldRange(b.Seen, 0, 0xFF).Least) }

// Most is the greatest value seen.
func (b *Byte) Most() uint8 { return uint8(fieldRange(b.Seen, 0, 0xFF).Most) }

// Values is how many different values were seen.
func (b *Byte) Values() int {
	n := 0
	for _, w := range b.Seen {
		n += bits.OnesCount64(w)
	}
	return n
}

// Ones are the bits ever seen as 1, Zeros those ever seen as 0.
func (b *Byte) Ones() uint8 { ones, _ := b.states(); return ones }

// Zeros are the bits ever seen as 0.
func (b *Byte) Zeros() uint8 { _, zeros := b.states(); return zeros }

func (b *Byte) states() (ones, zeros uint8) {
	for i, w := range b.Seen {
		for ; w != 0; w &= w - 1 {
			v := uint8(64*i + bits.TrailingZeros64(w))
			ones |= v
			zeros |= ^v
		}
	}
	return ones, zeros
}

// Machine are the bits that say nothing of the car: counters, checksums, pages, and bytes
// of which that is not known.
func (b *Byte) Machine() uint8 {
	if b.Check != NoCheck || b.Restless || b.Pages {
		return 0xFF
	}
	var mask uint8
	for _, c := range b.Counters {
		mask |= c.Mask()
	}
	return mask
}

const (
	// leastPairs is how many frames counters, pages and restless bytes are judged by.
	leastPairs = 16
	// restlessPairs is how many a restless byte is judged by, and restlessValues how many
	// different values it takes.
	restlessPairs, restlessValues = 64, 48
)

// list gives what was seen byte by byte.
func (v *values) list() []Byte {
	if v == nil {
		return nil
	}
	list := make([]Byte, len(v.columns))
	for i := range v.columns {
		c, b := &v.columns[i], &list[i]
		b.Count, b.Pairs, b.Changes, b.Seen = c.count, c.pairs, c.changes, c.seen
		b.next = c.with
		for at := range c.bits {
			b.Flips[at] = int64(c.bits[at].flips)
		}
		b.Counters = c.counters()
	}
	if at, kind := v.checks.found(list); kind != NoCheck {
		list[at].Check, list[at].Counters = kind, nil
	}
	for i := range v.columns {
		c, b := &v.columns[i], &list[i]
		if b.Check != NoCheck || len(b.Counters) > 0 {
			continue
		}
		b.Pages = c.pages()
		b.Restless = c.restless(b.Values())
	}
	return list
}

// counters finds the bits that grow by a step in nearly every frame: 1 in 50 may be lost.
func (c *column) counters() []CounterBits {
	if c.pairs < leastPairs {
		return nil
	}
	var list []CounterBits
	for low := 0; low < 7; low++ {
		b := &c.bits[low]
		agree, size := int64(0), 8-low
		for ; size >= 2; size-- {
			if agree += int64(b.steps[size]); agree*50 < c.pairs*49 {
				continue
			}
			// Bits that were never seen to come round are not known to belong to it.
			for size >= 2 && c.bits[low+size-1].flips < 2 {
				size--
			}
			break
		}
		if size < 2 {
			continue
		}
		list = append(list, CounterBits{Low: low, Bits: size, Step: int(b.step & (1<<size - 1))})
		low += size - 1
	}
	return list
}

// pages reports whether it goes through few values, in nearly every frame to the next one.
func (c *column) pages() bool {
	return c.pairs >= leastPairs && !c.next.many && c.changes*10 >= c.pairs*9 && c.next.values >= 2 &&
		c.next.broken*20 <= c.changes && c.changes >= 3*int64(c.next.values)
}

// restless reports whether all its bits flip in about half the frames that change it.
func (c *column) restless(values int) bool {
	if c.pairs < restlessPairs || 2*c.changes < c.pairs || values < restlessValues {
		return false
	}
	for i := range c.bits {
		if share := float64(c.bits[i].flips) / float64(c.changes); share < 0.3 || share > 0.7 {
			return false
		}
	}
	return true
}

// Range is the least and the greatest value of a field.
type Range struct{ Least, Most uint16 }

// fieldRange is the range of the bits of a mask, moved down by low, over all values seen.
func fieldRange(seen [4]uint64, low int, mask uint8) Range {
	r, any := Range{}, false
	for i, w := range seen {
		for ; w != 0; w &= w - 1 {
			v := uint16(uint8(64*i+bits.TrailingZeros64(w)) & mask >> low)
			if !any {
				r, any = Range{v, v}, true
			}
			r.Least, r.Most = min(r.Least, v), max(r.Most, v)
		}
	}
	return r
}

// Looks is what a byte looks like, in one word.
type Looks string

// What bytes look like.
const (
	LooksConstant Looks = "constant"
	LooksCounter  Looks = "counter" // some of its bits count; the others may be anything
	LooksChecksum Looks = "checksum"
	LooksPages    Looks = "pages"
	LooksRestless Looks = "restless"
	LooksSwitches Looks = "switches" // it changes rarely
	LooksValue    Looks = "value"
)

// rarely is the share of frames up to which a byte holds switches, as 1 in rarely.
const rarely = 100

// Looks tells what the byte looks like.
func (b *Byte) Looks() Looks {
	switch {
	case b.Check != NoCheck:
		return LooksChecksum
	case len(b.Counters) > 0:
		return LooksCounter
	case b.Pages:
		return LooksPages
	case b.Restless:
		return LooksRestless
	case b.Values() <= 1:
		return LooksConstant
	case b.Changes*rarely <= b.Pairs:
		return LooksSwitches
	}
	return LooksValue
}
