package candump

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"lull/decode"
)

const (
	// stampBytes is the width of "(1469439874.299654) ".
	stampBytes = 20
	// fastReach is how far beyond the start of a line the fast path may look before it
	// has found the end of the line. Blocks are padded by that much.
	fastReach = 128
)

// knownName is an interface name as it appears in a line, together with the space after it
// and any spaces before it beyond the first.
type knownName struct {
	word, mask uint64 // of the eight bytes that end with it
	size       int
	index      int // into fastLines.names
}

// newFastLines returns the state of one worker. A nil filter wants every frame.
func newFastLines(filter *decode.Filter) *fastLines {
	f := &fastLines{filter: filter, all: filter == nil}
	if f.all {
		return f // the table below is not needed
	}
	for id := range uint32(1 << 11) {
		text := fmt.Sprintf("%03X#", id)
		known := &f.ids[placeOf(text[0], text[1], text[2])]
		known.text = binary.LittleEndian.Uint32([]byte(text))
		if filter.WantsStandard(id) {
			known.wanted = 1
		}
	}
	return f
}

// noName is a name that occurs in no line.
var noName = knownName{word: 1}

// fastLines parses lines that are plain frames in log form with absolute stamps of six
// decimals, which is true of nearly every line of nearly every log. Its results are the
// same as those of parseLine; all other lines it leaves to parseLine. It is the state of
// one worker.
type fastLines struct {
	filter *decode.Filter
	all    bool // every frame is wanted, and filter is nil

	// The beginning of the previous line, which is "(", ten digits and ".", as the words
	// at 0 and at 4, and its value in ns.
	front, middle uint64
	second        int64

	buffer []byte // for the text of the next block, or nil
	odd    bool   // the current block has a line for the general path

	names     []string    // of this block
	known     []knownName // the same names, in the form in which they are searched
	knownName             // name in the previous line
	other     knownName   // the name before that

	ids    [1 << 13]standardID        // by placeOf
	wanted [mostWanted + 1]wantedLine // of a stretch
}

// parse turns a block into items and returns them with the number of lines. text consists
// of complete lines, and its capacity reaches fastReach beyond its end. The payload of a
// frame that is not wanted is only checked.
func (f *fastLines) parse(items []item, text []byte) ([]item, uint32) {
	f.names, f.known = f.names[:0], f.known[:0]
	f.knownName, f.other, f.odd = noName, noName, false
	var run openRun
	lines := uint32(0)
	alone := 0 // number of lines to read before trying a stretch again
	for rest := text[:len(text)+fastReach]; len(rest) > fastReach; lines++ {
		if alone > 0 {
			alone--
		} else if !f.all {
			s := f.stretch(rest)
			if s.lines == 0 {
				alone = 16 // the lines may have another form
			} else {
				items = f.collect(items, &run, rest, s, lines)
				lines += s.lines
				if rest = rest[s.size:]; len(rest) == fastReach {
					break
				}
			}
		}
		names := len(f.names)
		{
			b := (*[fastReach]byte)(rest)
			if (binary.LittleEndian.Uint64(b[:]) != f.front || binary.LittleEndian.Uint64(b[4:]) != f.middle) && !f.newSecond(b) {
				goto odd
			}
			micro := binary.BigEndian.Uint64(b[12:])
			if !isFraction(micro) {
				goto odd
			}
			if !f.is(b) && !f.newName(b) {
				goto odd
			}
			size := stampBytes + f.size&15
			p := (*[49]byte)(b[size:])
			var d *[40]byte // the payload and what follows
			var id uint32
			var flags decode.Flags
			var wanted bool
			if p[3] == '#' {
				h, m, l := hex[p[0]], hex[p[1]], hex[p[2]]
				if h > 7 || m|l > 15 {
					goto odd
				}
				id = uint32(h)<<8 | uint32(m)<<4 | uint32(l)
				wanted = f.all || f.filter.WantsStandard(id)
				d = (*[40]byte)(p[4:])
				size += 4
			} else if p[8] == '#' {
				pairs := int32(hexPair[binary.LittleEndian.Uint16(p[:])])<<24 | int32(hexPair[binary.LittleEndian.Uint16(p[2:])])<<16 |
					int32(hexPair[binary.LittleEndian.Uint16(p[4:])])<<8 | int32(hexPair[binary.LittleEndian.Uint16(p[6:])])
				// An invalid pair makes pairs negative. Identifiers with flag bits
				// are left to the general path.
				if pairs < 0 || pairs > idMask {
					goto odd
				}
				id, flags = uint32(pairs), decode.Extended
				wanted = f.all || f.filter.WantsExtended(id)
				d = (*[40]byte)(p[9:])
				size += 9
			} else {
				goto odd
			}

			first, second := binary.LittleEndian.Uint64(d[:]), binary.LittleEndian.Uint64(d[8:])
			digits := 16
			if d[16] != '\n' || !areHexDigits(first, second) {
				// The place of the next line depends on the length of this one, so
				// the full length, which is the most common one, is tried first.
				digits = payloadDigits(first, second)
				if digits&1 != 0 {
					goto odd
				}
				if d[digits&31] != '\n' {
					more, flag := lineEnd((*[4]byte)(d[digits&31:]))
					if more < 0 {
						goto odd
					}
					size += more
					flags |= flag
				}
			}
			size += digits + 1
			if size > len(rest)-fastReach {
				goto odd
			}
			rest = rest[size:]
			// A name that appears for the first time begins a new item, so that names
			// are reported in the order of their appearance.
			near := run.near(f.second, micro) && len(f.names) == names
			if wanted {
				if !run.close || !near {
					items = run.end(items)
				}
				items = append(items, item{
					time: f.second + nanoseconds(micro),
					data: (uint64(fourBytes(first)) | uint64(fourBytes(second))<<32) & (1<<(4*digits) - 1),
					id:   id, line: lines, n: run.n, bus: uint8(f.index), flag: uint8(flags), len: uint8(digits / 2), kind: itemFrame})
				run.n = 0
				run.take(0, f.second, micro)
				continue
			}
			if run.n > 0 && (len(f.names) > names || !near && !run.goesOn(f.second, micro)) {
				items = run.end(items)
			}
			if run.n == 0 {
				run.begin(lines, f.index, near, f.second, micro)
			}
			run.close = run.close && near
			run.take(1, f.second, micro)
			continue
		}
	odd:
		items, f.odd = run.end(items), true
		run = openRun{}
		at := len(text) + fastReach - len(rest)
		items = append(items, item{kind: itemOdd, line: lines, data: uint64(at)})
		if len(f.names) > names {
			// No item reports this name, so its next line must be the first to do so.
			f.names, f.known = f.names[:names], f.known[:names]
			f.knownName, f.other = noName, noName
		}
		if n := lineEnds(text[at:]); n > 0 { // one item stands for all these empty lines
			rest = rest[n:]
			lines += uint32(n - 1)
		} else if end := bytes.IndexByte(text[at:], '\n'); end >= 0 {
			rest = rest[end+1:]
		} else {
			rest = rest[len(rest)-fastReach:]
		}
	}
	return run.end(items), lines
}

// lineEnd parses what may stand between a payload and the line end: a direction and a
// carriage return. It returns its size, or -1 for anything else.
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

// newSecond parses the part of a stamp before the point, if it differs from that of the
// previous line.
func (f *fastLines) newSecond(b *[fastReach]byte) bool {
	front, middle := binary.LittleEndian.Uint64(b[:]), binary.LittleEndian.Uint64(b[4:])
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

// newName looks up an interface name that differs from that of the previous line among the
// names of the block, or adds it. It returns false if the name and the spaces around it do
// not fit into a word.
func (f *fastLines) newName(b *[fastReach]byte) bool {
	if f.other.is(b) {
		f.knownName, f.other = f.other, f.knownName
		return true
	}
	for n := range f.known {
		if f.known[n].is(b) {
			f.knownName, f.other = f.known[n], f.knownName
			return true
		}
	}
	from := stampBytes
	for from < stampBytes+8 && b[from] == ' ' {
		from++
	}
	to := from
	for to < stampBytes+8 && b[to] != ' ' {
		if c := b[to]; c < ' ' || c >= 0x7F || c == '#' {
			return false
		}
		to++
	}
	if to == from || to == stampBytes+8 || len(f.names) == mostBlockNames {
		return false
	}
	size := to + 1 - stampBytes
	k := knownName{mask: ^uint64(0) << (64 - 8*size), size: size, index: len(f.names)}
	k.word = binary.LittleEndian.Uint64(b[stampBytes+size-8:]) & k.mask
	f.names, f.known = append(f.names, string(b[from:to])), append(f.known, k)
	f.knownName, f.other = k, f.knownName
	return true
}

// is reports whether this is the name in a line.
func (k *knownName) is(b *[fastReach]byte) bool {
	return binary.LittleEndian.Uint64(b[stampBytes-8+k.size&15:])&k.mask == k.word
}

// mostBlockNames bounds the search. Only garbage has more names, and is slow to read.
const mostBlockNames = 64
