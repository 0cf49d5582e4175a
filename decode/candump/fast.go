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
	filter *decode.Filter // nil: all frames are wanted

	// What the line before began with: "(", ten digits and ".", as the words at
	// 0 and at 4, and what they say in ns.
	front, middle uint64
	base          int64

	names  []knownName // of this block
	recent int         // index into names, -1 where there is none
	knownName
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

// notHexDigits has the top bit set of each of eight characters that is no
// hexadecimal digit.
func notHexDigits(v uint64) uint64 {
	c := v &^ tops
	digit := (c + ones*(0x80-'0')) &^ (c + ones*(0x7F-'9'))
	lower := c | ones*0x20
	letter := (lower + ones*(0x80-'a')) &^ (lower + ones*(0x7F-'f'))
	return (^(digit | letter) | v) & tops
}

// fourBytes gives the bytes that eight hexadecimal digits of either case write,
// in the same order. A pair that is none gives any byte.
func fourBytes(v uint64) uint32 {
	nibble := v&(ones*0x0F) + (v>>6&ones)*9
	t := (nibble<<4 | nibble>>8) & pairs
	t = (t | t>>8) & 0x0000FFFF0000FFFF
	return uint32(t | t>>16)
}

// parse turns a block into items. text is whole lines, its capacity reaches
// fastReach beyond.
func (f *fastLines) parse(items []item, text []byte) ([]item, uint32) {
	f.names = f.names[:0]
	f.recent, f.knownName = -1, knownName{word: 1}
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
			if len(f.names) > before {
				// No item tells this name: its next line is the first to do so.
				f.names = f.names[:before]
				f.recent, f.knownName = -1, knownName{word: 1}
			}
			end := bytes.IndexByte(text[at:], '\n')
			if end < 0 {
				end = len(text) - at
			}
			at += end + 1
			continue
		}
		at += size
		if it.kind == itemFrame {
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
		it.last, it.n = it.time, 1
		passed = len(items)
		items = append(items, it)
	}
	return items, lines
}

// line reads the line at the start of b into it and gives the line's size with
// its end, or 0 where the line is not of the plain form. b is longer than any
// plain line. The payload of a frame that is not wanted is checked, not read.
func (f *fastLines) line(b []byte, it *item) int {
	b = b[:fastReach:fastReach]
	front, middle := binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(b[4:])
	if (front != f.front || middle != f.middle) && !f.newSecond(b, front, middle) {
		return 0
	}
	micro := binary.LittleEndian.Uint64(b[12:])
	if micro>>48 != ')'|' '<<8 {
		return 0
	}
	micro = micro<<16 | zeros&0xFFFF
	if !areDigits(micro) {
		return 0
	}
	it.time = f.base + eightDigits(micro)*1000

	i := stampBytes
	for b[i] == ' ' && i < stampBytes+16 {
		i++
	}
	if binary.LittleEndian.Uint64(b[i:])&f.mask != f.word && !f.newName(b, i) {
		return 0
	}
	it.bus = uint16(f.recent)
	i += f.size

	if b[i+3] == '#' {
		h, m, l := hex[b[i]], hex[b[i+1]], hex[b[i+2]]
		if h > 7 || m|l > 15 {
			return 0
		}
		it.id, it.flag, it.kind = uint32(h)<<8|uint32(m)<<4|uint32(l), 0, itemPassed
		if f.filter == nil || f.filter.WantsStandard(it.id) {
			it.kind = itemFrame
		}
		i += 4
	} else if b[i+8] == '#' {
		id := int32(hexPair[binary.LittleEndian.Uint16(b[i:])])<<24 | int32(hexPair[binary.LittleEndian.Uint16(b[i+2:])])<<16 |
			int32(hexPair[binary.LittleEndian.Uint16(b[i+4:])])<<8 | int32(hexPair[binary.LittleEndian.Uint16(b[i+6:])])
		// A pair that is none makes it negative; the flag bits are the general
		// path's to judge.
		if id < 0 || id > idMask {
			return 0
		}
		it.id, it.flag, it.kind = uint32(id), decode.Extended, itemPassed
		if f.filter == nil || f.filter.WantsExtended(it.id) {
			it.kind = itemFrame
		}
		i += 9
	} else {
		return 0
	}
	first, second := binary.LittleEndian.Uint64(b[i:]), binary.LittleEndian.Uint64(b[i+8:])
	bad := notHexDigits(first)
	digits := bits.TrailingZeros64(bad) / 8
	if bad == 0 {
		digits += bits.TrailingZeros64(notHexDigits(second)) / 8
	}
	if digits&1 != 0 {
		return 0
	}
	if it.kind == itemFrame {
		it.data = (uint64(fourBytes(first)) | uint64(fourBytes(second))<<32) & (1<<(4*digits) - 1)
		it.len = uint8(digits / 2)
	}
	i += digits
	if b[i] == '\n' {
		return i + 1
	}
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
		if b[i] == '\n' {
			return i + 1
		}
	}
	if b[i] == '\r' && b[i+1] == '\n' {
		return i + 2
	}
	return 0
}

// newSecond reads what comes before the point of a stamp that differs from the
// one of the line before.
func (f *fastLines) newSecond(b []byte, front, middle uint64) bool {
	high := front>>8 | middle>>32<<56 // the first eight digits
	tail := middle>>40<<48 | zeros>>16
	if b[0] != '(' || b[11] != '.' || !areDigits(high) || !areDigits(tail) {
		return false
	}
	seconds := eightDigits(high)*100 + eightDigits(tail)
	if seconds > mostSeconds {
		return false
	}
	f.front, f.middle, f.base = front, middle, seconds*1_000_000_000
	return true
}

// newName finds the interface name at b[i], which is not the one of the line
// before, among those of the block, or takes it up. False where it is not one
// that a word holds.
func (f *fastLines) newName(b []byte, i int) bool {
	word := binary.LittleEndian.Uint64(b[i:])
	for n := range f.names {
		if k := &f.names[n]; word&k.mask == k.word {
			f.recent, f.knownName = n, *k
			return true
		}
	}
	size := 0
	for size < 8 && b[i+size] != ' ' {
		c := b[i+size]
		if c < ' ' || c >= 0x7F || c == '#' {
			return false
		}
		size++
	}
	if size == 0 || size == 8 || len(f.names) == mostBlockNames {
		return false
	}
	mask := ^uint64(0) >> (64 - 8*(size+1))
	f.knownName = knownName{word & mask, mask, size + 1, string(b[i : i+size])}
	f.recent = len(f.names)
	f.names = append(f.names, f.knownName)
	return true
}

// mostBlockNames bounds the search; a log of noise has more, and is slow.
const mostBlockNames = 64
