package candump

import (
	"bytes"
	"encoding/binary"
	"math/bits"

	"lull/decode"
)

// hexPair gives the byte that two digits write, read as a little-endian word, or
// -1.
var hexPair = func() *[1 << 16]int16 {
	var t [1 << 16]int16
	for i := range t {
		high, low := hex[i&0xFF], hex[i>>8]
		if high|low > 15 {
			t[i] = -1
			continue
		}
		t[i] = int16(high<<4 | low)
	}
	return &t
}()

const (
	// stampBytes is the width of "(1469439874.299654) ".
	stampBytes = 20
	// shortest is the shortest line that the fast path reads: a name of one
	// letter and no payload.
	shortest = stampBytes + len("c 123#")
	// fastReach is how far past a line's start the fast path may look before it
	// has found the line's end. A block ends in that much padding.
	fastReach = 128
)

// item is what the fast path makes of one line, or of several frames that are
// passed over.
type item struct {
	time int64  // of the frame, or of the first one passed over
	data uint64 // the payload, its first byte lowest
	last int64  // passed: time of the last one
	n    uint32 // passed: how many
	id   uint32
	line uint32 // in the block, from 0
	at   uint32 // where the line begins in the block
	bus  uint16 // index into the block's names
	flag decode.Flags
	len  uint8
	kind itemKind
}

type itemKind uint8

const (
	itemFrame  itemKind = iota // a frame that the filter wants
	itemPassed                 // frames that it does not
	itemOdd                    // a line that the general path must read
)

// knownName is an interface name as it was seen, with the space behind it.
type knownName struct {
	word, mask uint64 // of the first eight bytes
	size       int    // with the space
	text       string
}

// fastLines reads the lines of blocks that are plain frames in log form with
// absolute stamps of six decimals, which is what nearly every line of nearly
// every log is. What it reads it reads as parseLine does; everything else it
// leaves to it. It is one worker's scratch.
type fastLines struct {
	filter  *decode.Filter // nil: all frames are wanted
	seconds int64          // of the line before
	high    uint64         // text of those seconds: first eight digits
	low     uint16         // last two
	names   []knownName    // of this block
	recent  int            // index into names
}

const (
	zeros      = 0x3030303030303030
	nibbles    = 0xF0F0F0F0F0F0F0F0
	aboveNines = 0x0606060606060606
)

// areDigits tells whether all eight bytes are decimal digits.
func areDigits(v uint64) bool {
	return v&nibbles == zeros && (v+aboveNines)&nibbles == zeros
}

// eightDigits gives the number that eight digits write, first digit in the
// lowest byte.
func eightDigits(v uint64) int64 {
	v -= zeros
	v = v*10 + v>>8
	v = (v&0x000000FF000000FF)*(100+1_000_000<<32) + (v>>16&0x000000FF000000FF)*(1+10_000<<32)
	return int64(v >> 32)
}

const (
	tops  = 0x8080808080808080
	ones  = 0x0101010101010101
	pairs = 0x00FF00FF00FF00FF
)

// hexDigits reads eight characters as hexadecimal digits of either case, the
// first in the lowest byte, into four bytes in the same order. bad has the top
// bit of each character set that is no digit; bytes with such a character say
// nothing.
func hexDigits(v uint64) (four uint32, bad uint64) {
	c := v &^ tops
	digit := (c + ones*(0x80-'0')) &^ (c + ones*(0x7F-'9'))
	lower := c | ones*0x20
	letter := (lower + ones*(0x80-'a')) &^ (lower + ones*(0x7F-'f'))
	bad = (^(digit | letter) | v) & tops
	nibble := c&(ones*0x0F) + (c>>6&ones)*9
	t := (nibble<<4 | nibble>>8) & pairs
	t = (t | t>>8) & 0x0000FFFF0000FFFF
	return uint32(t | t>>16), bad
}

// parse turns a block into items. text is whole lines, its capacity reaches
// fastReach beyond.
func (f *fastLines) parse(items []item, text []byte) ([]item, uint32) {
	f.names = f.names[:0]
	f.recent = 0
	padded := text[:len(text)+fastReach]
	lines := uint32(0)
	passed := -1 // index of the open run of frames passed over
	var it item
	for at := 0; at < len(text); lines++ {
		before := len(f.names)
		size := f.line(padded[at:at+fastReach], &it)
		it.line, it.at = lines, uint32(at)
		if size == 0 || at+size > len(text) {
			items = append(items, item{kind: itemOdd, line: it.line, at: it.at})
			passed = -1
			end := bytes.IndexByte(text[at:], '\n')
			if end < 0 {
				end = len(text) - at
			}
			at += end + 1
			continue
		}
		at += size
		if f.wants(&it) {
			it.kind = itemFrame
			items = append(items, it)
			passed = -1
			continue
		}
		// A name that appears for the first time begins a run, so that names are
		// told in the order in which they appear.
		if passed >= 0 && len(f.names) == before {
			run := &items[passed]
			if step := it.time - run.last; step >= 0 && step < decode.PassedStep {
				run.last = it.time
				run.n++
				continue
			}
		}
		it.kind, it.last, it.n = itemPassed, it.time, 1
		passed = len(items)
		items = append(items, it)
	}
	return items, lines
}

func (f *fastLines) wants(it *item) bool {
	switch {
	case f.filter == nil:
		return true
	case it.flag&decode.Extended != 0:
		return f.filter.WantsExtended(it.id)
	}
	return f.filter.WantsStandard(it.id)
}

// line reads the line at the start of b into it and gives the line's size with
// its end, or 0 where the line is not of the plain form. b is longer than any
// plain line.
func (f *fastLines) line(b []byte, it *item) int {
	b = b[:fastReach:fastReach]
	if b[0] != '(' || b[11] != '.' || b[18] != ')' || b[19] != ' ' {
		return 0
	}
	high, low := binary.LittleEndian.Uint64(b[1:]), binary.LittleEndian.Uint16(b[9:])
	if high != f.high || low != f.low {
		tail := uint64(low)<<48 | zeros>>16
		if !areDigits(high) || !areDigits(tail) {
			return 0
		}
		f.high, f.low = high, low
		f.seconds = eightDigits(high)*100 + eightDigits(tail)
	}
	if f.seconds > mostSeconds {
		return 0
	}
	micro := binary.LittleEndian.Uint64(b[11:])>>8<<16 | zeros&0xFFFF
	if !areDigits(micro) {
		return 0
	}
	it.time = f.seconds*1_000_000_000 + eightDigits(micro)*1000

	i := stampBytes
	for b[i] == ' ' && i < stampBytes+16 {
		i++
	}
	bus := f.name(b, i)
	if bus < 0 {
		return 0
	}
	it.bus = uint16(bus)
	i += f.names[bus].size

	var size int
	if b[i+3] == '#' {
		h, m, l := hex[b[i]], hex[b[i+1]], hex[b[i+2]]
		if h > 7 || m|l > 15 {
			return 0
		}
		it.id, it.flag = uint32(h)<<8|uint32(m)<<4|uint32(l), 0
		size = 4
	} else if b[i+8] == '#' {
		id := int32(hexPair[binary.LittleEndian.Uint16(b[i:])])<<24 | int32(hexPair[binary.LittleEndian.Uint16(b[i+2:])])<<16 |
			int32(hexPair[binary.LittleEndian.Uint16(b[i+4:])])<<8 | int32(hexPair[binary.LittleEndian.Uint16(b[i+6:])])
		// A pair that is none makes it negative; the flag bits are the general
		// path's to judge.
		if id < 0 || id > idMask {
			return 0
		}
		it.id, it.flag = uint32(id), decode.Extended
		size = 9
	} else {
		return 0
	}
	i += size
	low4, bad := hexDigits(binary.LittleEndian.Uint64(b[i:]))
	digits := bits.TrailingZeros64(bad) / 8
	data := uint64(low4)
	if bad == 0 {
		high4, bad := hexDigits(binary.LittleEndian.Uint64(b[i+8:]))
		digits += bits.TrailingZeros64(bad) / 8
		data |= uint64(high4) << 32
	}
	if digits&1 != 0 {
		return 0
	}
	it.data = data & (1<<(4*digits) - 1)
	it.len = uint8(digits / 2)
	i += digits
	if b[i] == ' ' {
		switch b[i+1] {
		case 'R':
			it.flag |= decode.Received
		case 'T':
			it.flag |= decode.Transmitted
		default:
			return 0
		}
		i += 2
	}
	if b[i] == '\n' {
		return i + 1
	}
	if b[i] == '\r' && b[i+1] == '\n' {
		return i + 2
	}
	return 0
}

// name finds the interface name at b[i] among those of the block, or takes it
// up. It gives -1 where the name is not one that a word holds.
func (f *fastLines) name(b []byte, i int) int {
	word := binary.LittleEndian.Uint64(b[i:])
	if f.recent < len(f.names) {
		if k := &f.names[f.recent]; word&k.mask == k.word {
			return f.recent
		}
	}
	for n := range f.names {
		if k := &f.names[n]; word&k.mask == k.word {
			f.recent = n
			return n
		}
	}
	size := 0
	for size < 8 && b[i+size] != ' ' {
		c := b[i+size]
		if c < ' ' || c >= 0x7F || c == '#' {
			return -1
		}
		size++
	}
	if size == 0 || size == 8 || len(f.names) == mostBlockNames {
		return -1
	}
	mask := ^uint64(0) >> (64 - 8*(size+1))
	f.names = append(f.names, knownName{word & mask, mask, size + 1, string(b[i : i+size])})
	f.recent = len(f.names) - 1
	return f.recent
}

// mostBlockNames bounds the search; a log of noise has more, and is slow.
const mostBlockNames = 64
