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

// item is what the fast path makes of one line, and of the lines before it whose
// frames are passed over.
type item struct {
	time int64  // of the frame
	data uint64 // the payload, its first byte lowest
	id   uint32
	line uint32 // in the block, from 0
	at   uint32 // itemOdd: where the line begins in the block
	bus  uint16 // index into the block's names
	flag decode.Flags
	len  uint8
	kind itemKind
	passedRun
}

// passedRun is a run of frames that are passed over.
type passedRun struct {
	n           uint32 // frames
	from        uint32 // line of the first one
	on          uint16 // its interface, as item.bus
	first, last int64  // times
}

type itemKind uint8

const (
	itemFrame  itemKind = iota // a frame that the filter wants, and the run before it
	itemPassed                 // a run that no such frame follows
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
	second        int64

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

// areHexDigits tells whether all sixteen characters are hexadecimal digits. A
// carry out of one that is no ASCII spoils its neighbour, and it all the same.
func areHexDigits(a, b uint64) bool {
	lowerA, lowerB := a|ones*0x20, b|ones*0x20
	fitA := (a+ones*(0x80-'0'))&^(a+ones*(0x7F-'9')) | (lowerA+ones*(0x80-'a'))&^(lowerA+ones*(0x7F-'f'))
	fitB := (b+ones*(0x80-'0'))&^(b+ones*(0x7F-'9')) | (lowerB+ones*(0x80-'a'))&^(lowerB+ones*(0x7F-'f'))
	return fitA&fitB&^(a|b)&tops == tops
}

// fourBytes gives the bytes that eight hexadecimal digits of either case write,
// in the same order. A pair that is none gives any byte.
func fourBytes(v uint64) uint32 {
	nibble := v&(ones*0x0F) + (v>>6&ones)*9
	t := (nibble<<4 | nibble>>8) & pairs
	t = (t | t>>8) & 0x0000FFFF0000FFFF
	return uint32(t | t>>16)
}

// openRun is a run of frames passed over that the next line may lengthen; its
// item is the last one so far. The stamp of its last frame is kept as it is
// written, and worked out when the run ends.
type openRun struct {
	n      uint32 // frames, 0 where no run is open
	second int64  // of the last one, in ns
	micro  uint64 // the rest of its stamp, first digit highest
}

// end writes the run into its item.
func (r *openRun) end(items []item) {
	if r.n > 0 {
		it := &items[len(items)-1]
		it.last, it.n = r.last(), r.n
		r.n = 0
	}
}

func (r *openRun) last() int64 { return r.second + nanoseconds(r.micro) }

// nanoseconds gives what six digits of a second write, first digit highest.
func nanoseconds(micro uint64) int64 {
	return eightDigits(bits.ReverseBytes64(micro)<<16|zeros&0xFFFF) * 1000
}

// parse turns a block into items. text is whole lines, its capacity reaches
// fastReach beyond. The payload of a frame that is not wanted is checked, not
// read.
func (f *fastLines) parse(items []item, text []byte) ([]item, uint32) {
	f.forget()
	f.names = f.names[:0]
	padded := text[:len(text)+fastReach]
	var run openRun
	lines := uint32(0)
	for at := 0; at < len(text); lines++ {
		names := len(f.names)
		{
			b := (*[fastReach]byte)(padded[at:])
			front, middle := binary.LittleEndian.Uint64(b[:]), binary.LittleEndian.Uint64(b[4:])
			if (front != f.front || middle != f.middle) && !f.newSecond(b[:], front, middle) {
				goto odd
			}
			micro := binary.BigEndian.Uint64(b[12:])
			if micro&0xFFFF != ')'<<8|' ' || !areDigits(micro|zeros&0xFFFF) {
				goto odd
			}
			i := stampBytes
			for b[i] == ' ' && i < stampBytes+16 {
				i++
			}
			if binary.LittleEndian.Uint64(b[i:])&f.mask != f.word && !f.newName(b[:], i) {
				goto odd
			}
			i += f.size

			p := (*[64]byte)(b[i:])
			var id uint32
			var flags decode.Flags
			wanted := f.filter == nil
			if p[3] == '#' {
				h, m, l := hex[p[0]], hex[p[1]], hex[p[2]]
				if h > 7 || m|l > 15 {
					goto odd
				}
				id = uint32(h)<<8 | uint32(m)<<4 | uint32(l)
				wanted = wanted || f.filter.WantsStandard(id)
				i += 4
			} else if p[8] == '#' {
				pairs := int32(hexPair[binary.LittleEndian.Uint16(p[:])])<<24 | int32(hexPair[binary.LittleEndian.Uint16(p[2:])])<<16 |
					int32(hexPair[binary.LittleEndian.Uint16(p[4:])])<<8 | int32(hexPair[binary.LittleEndian.Uint16(p[6:])])
				// A pair that is none makes it negative; the flag bits are the
				// general path's to judge.
				if pairs < 0 || pairs > idMask {
					goto odd
				}
				id, flags = uint32(pairs), decode.Extended
				wanted = wanted || f.filter.WantsExtended(id)
				i += 9
			} else {
				goto odd
			}

			d := (*[32]byte)(b[i:])
			first, second := binary.LittleEndian.Uint64(d[:]), binary.LittleEndian.Uint64(d[8:])
			digits := 16
			if d[16] != '\n' || !areHexDigits(first, second) {
				// The next line's place waits for this one's length, but not where it
				// is the full one, the commonest.
				bad, badToo := notHexDigits(first), notHexDigits(second)
				digits = bits.TrailingZeros64(bad) / 8
				if bad == 0 {
					digits += bits.TrailingZeros64(badToo) / 8
				}
				if digits&1 != 0 {
					goto odd
				}
			}
			i += digits
			if b[i] != '\n' {
				more, flag := lineEnd((*[4]byte)(b[i:]))
				if more < 0 {
					goto odd
				}
				i += more
				flags |= flag
			}
			next := at + i + 1
			if next > len(text) {
				goto odd
			}
			if wanted {
				if run.n == 0 {
					items = append(items, item{})
				}
				run.end(items)
				it := &items[len(items)-1]
				it.time = f.second + nanoseconds(micro)
				it.data = (uint64(fourBytes(first)) | uint64(fourBytes(second))<<32) & (1<<(4*digits) - 1)
				it.id, it.line, it.bus = id, lines, uint16(f.recent)
				it.flag, it.len, it.kind = flags, uint8(digits/2), itemFrame
				at = next
				continue
			}
			// A later stamp of the same tenth of a second lies within a passed step.
			// A name that appears for the first time begins a run, so that names are
			// told in the order in which they appear.
			goesOn := run.n > 0 && len(f.names) == names
			if goesOn && (run.second != f.second || micro < run.micro || (micro^run.micro)>>56 != 0) {
				step := f.second + nanoseconds(micro) - run.last()
				goesOn = step >= 0 && step < decode.PassedStep
			}
			if !goesOn {
				run.end(items)
				items = append(items, item{kind: itemPassed,
					passedRun: passedRun{first: f.second + nanoseconds(micro), from: lines, on: uint16(f.recent)}})
			}
			run = openRun{run.n + 1, f.second, micro}
			at = next
			continue
		}
	odd:
		run.end(items)
		items = append(items, item{kind: itemOdd, line: lines, at: uint32(at)})
		if len(f.names) > names {
			// No item tells this name: its next line is the first to do so.
			f.names = f.names[:names]
			f.forget()
		}
		end := bytes.IndexByte(text[at:], '\n')
		if end < 0 {
			end = len(text) - at
		}
		at += end + 1
	}
	run.end(items)
	return items, lines
}

// forget makes the next line look its name up.
func (f *fastLines) forget() { f.recent, f.knownName = -1, knownName{word: 1} }

// lineEnd reads what may follow a payload up to the line end, but for a line end
// alone: a direction, a carriage return. It gives the size without the line end,
// -1 for anything else.
func lineEnd(b *[4]byte) (size int, flag decode.Flags) {
	if b[0] == ' ' {
		switch b[1] {
		case 'R':
			flag = decode.Received
		case 'T':
			flag = decode.Transmitted
		default:
			return -1, 0
		}
		size = 2
	}
	switch {
	case b[size] == '\n':
		return size, flag
	case b[size] == '\r' && b[size+1] == '\n':
		return size + 1, flag
	}
	return -1, 0
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
	f.front, f.middle, f.second = front, middle, seconds*1_000_000_000
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
