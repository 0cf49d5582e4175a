package candump

import (
	"bytes"
	"encoding/binary"
	"slices"
)

// stretch is a part of a block that consists only of what nearly all lines are: frames in
// log form with nothing after the payload, all within one tenth of a second, in order, and
// on the two most recent interfaces.
type stretch struct {
	size   int
	lines  uint32
	wanted int    // number of lines in fastLines.wanted
	before uint32 // offset of the last line
}

// wantedLine is a line of a stretch whose frame is wanted. at and end are byte offsets from
// the start of the stretch.
type wantedLine struct {
	at, end uint32
	line    uint32 // from 0
}

// mostWanted is the greatest number of wanted lines in a stretch. It is also used as a bit
// mask.
const mostWanted = 255

// standardID is an identifier of 11 bits.
type standardID struct {
	text   uint32 // as it is written, with capital letters and the # after it
	wanted uint32 // 1 or 0
}

// placeOf returns the index of an identifier with these three digits in fastLines.ids. For
// other text the result is arbitrary and may be out of range.
func placeOf(a, b, c byte) uint32 {
	return uint32(a)<<10 + uint32(b)<<5 + uint32(c) - ('0'<<10 + '0'<<5 + '0')
}

// stretch returns the stretch with which the rest of a block begins. It is the innermost
// loop of reading a log: its variables are kept in registers, it calls hardly any
// functions, and it does not branch on whether a frame is wanted, which no processor can
// predict.
func (f *fastLines) stretch(rest []byte) stretch {
	whole := len(rest)
	last := stampOf(rest)
	limit := last | (1<<56 - 1) // the last stamp within the same tenth of a second
	lines, wanted := uint32(0), 0
	before := uint32(0)
	for len(rest) > fastReach && wanted < mostWanted {
		b := (*[fastReach]byte)(rest)
		if binary.LittleEndian.Uint64(b[:]) != f.front || binary.LittleEndian.Uint64(b[4:]) != f.middle {
			break
		}
		micro := binary.BigEndian.Uint64(b[12:])
		if !isFraction(micro) || micro < last || micro > limit {
			break
		}
		last = micro
		name := f.size
		if !f.is(b) {
			if name = f.other.size; !f.other.is(b) {
				break
			}
		}
		p := (*[49]byte)(b[stampBytes+name&15:])
		place := placeOf(p[0], p[1], p[2])
		if place >= uint32(len(f.ids)) {
			break
		}
		id := &f.ids[place]
		if id.text != binary.LittleEndian.Uint32(p[:]) {
			break
		}
		size := stampBytes + 4 + 16 + 1 + name
		if p[20] != '\n' || !areHexDigits(binary.LittleEndian.Uint64(p[4:]), binary.LittleEndian.Uint64(p[12:])) {
			digits := payloadDigits(binary.LittleEndian.Uint64(p[4:]), binary.LittleEndian.Uint64(p[12:]))
			if digits&1 != 0 || p[4+digits&31] != '\n' {
				break
			}
			size -= 16 - digits
		}
		if size > len(rest)-fastReach {
			break
		}
		at := uint32(whole - len(rest))
		f.wanted[wanted&mostWanted] = wantedLine{at, at + uint32(size), lines}
		wanted += int(id.wanted)
		rest = rest[size:]
		before = at
		lines++
	}
	return stretch{size: whole - len(rest), lines: lines, wanted: wanted, before: before}
}

// collect appends the items of the stretch at the start of text. line is the number of its
// first line. All lines of a stretch are near each other.
func (f *fastLines) collect(items []item, run *openRun, text []byte, s stretch, line uint32) []item {
	if s.lines == 0 {
		return items
	}
	items = slices.Grow(items, s.wanted+2)
	first := stampOf(text)
	if !run.near(f.second, first) {
		if run.close = false; run.n > 0 && !run.goesOn(f.second, first) {
			items = run.end(items)
		}
	}
	lead := s.lines // lines before the first wanted one
	if s.wanted > 0 {
		lead = f.wanted[0].line
	}
	if lead > 0 && run.n == 0 {
		f.begin(run, text, line, run.near(f.second, first))
	}
	run.n += lead
	if s.wanted > 0 {
		if !run.close {
			if lead > 0 {
				before := bytes.LastIndexByte(text[:f.wanted[0].at-1], '\n') + 1
				run.take(0, f.second, stampOf(text[before:]))
			}
			items = run.end(items)
		}
		n, at, from := run.n, uint32(0), uint32(0)
		for i, w := range f.wanted[:s.wanted] {
			if i > 0 {
				n = w.line - from
			}
			b := (*[fastReach]byte)(text[w.at:])
			items = items[:len(items)+1]
			it := &items[len(items)-1]
			name := f.nameOf(b)
			id := stampBytes + name.size&15
			digits := int(w.end-w.at) - id - 5
			payload := (*[16]byte)(b[id+4:])
			it.time = f.second + nanoseconds(binary.BigEndian.Uint64(b[12:]))
			it.data = (uint64(fourBytes(binary.LittleEndian.Uint64(payload[:]))) |
				uint64(fourBytes(binary.LittleEndian.Uint64(payload[8:])))<<32) & (1<<(4*digits) - 1)
			it.id = uint32(hex[b[id]])<<8 | uint32(hex[b[id+1]])<<4 | uint32(hex[b[id+2]])
			it.line, it.n, it.bus, it.flag, it.len, it.kind = line+w.line, n, uint8(name.index), 0, uint8(digits/2), itemFrame
			at, from = w.end, w.line+1
		}
		run.n = 0
		if n = s.lines - from; n > 0 {
			f.begin(run, text[at:], line+from, true)
			run.n = n
		}
	}
	run.second, run.micro = f.second, stampOf(text[s.before:])
	return items
}

// begin begins a run with the line at the start of text.
func (f *fastLines) begin(run *openRun, text []byte, line uint32, close bool) {
	run.begin(line, f.nameOf((*[fastReach]byte)(text)).index, close, f.second, stampOf(text))
}

// nameOf returns the interface name of a line of a stretch.
func (f *fastLines) nameOf(b *[fastReach]byte) *knownName {
	if f.knownName.is(b) {
		return &f.knownName
	}
	return &f.other
}
