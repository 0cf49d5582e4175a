package capture

import (
	"encoding/binary"
	"math"
	"math/bits"
	"strconv"
	"unicode/utf8"
)

// Block types and sizes of pcapng (draft-ietf-opsawg-pcapng). A block consists of its type,
// total length, body, options, and total length again.
const (
	blockSection    = 0x0A0D0D0A
	blockInterface  = 1
	blockPacket     = 2 // obsolete
	blockSimple     = 3
	blockStatistics = 5
	blockEnhanced   = 6

	byteOrderMagic = 0x1A2B3C4D

	smallestBlock = 12
	packetBody    = 28 // offset of the data in packet blocks
	// mostBlock has room for the longest packet and as much for options.
	mostBlock = 2 * mostPacket
	// mostInterfaces is how many interfaces of a section are kept.
	mostInterfaces = 4096

	optionName   = 2 // if_name
	optionDrops  = 5 // isb_ifdrop
	optionUnit   = 9 // if_tsresol
	optionOffset = 14
	// mostOption is the length of the longest option value that is looked at.
	mostOption = 255
)

// iface is what is known of an interface.
type iface struct {
	can    bool
	timed  bool  // its time resolution is supported
	unit   uint8 // if_tsresol
	offset int64 // s
	bus    string
	digits int // of the fraction of its stamps
	// Of a decimal unit: how many of it a second has; how many nanoseconds it has, if it is
	// not shorter than one; how many of it one has.
	second, longer, shorter uint64
}

// time converts a stamp in the interface's units.
func (f *iface) time(stamp uint64) (seconds, nanos int64) {
	if f.unit&0x80 != 0 {
		seconds, nanos = binaryTime(stamp, f.unit&0x7F)
	} else {
		seconds, nanos = int64(stamp/f.second), int64(stamp%f.second*f.longer/f.shorter)
	}
	return seconds + f.offset, nanos
}

// power is 10 to the power of n, up to 19.
func power(n int) uint64 {
	p := uint64(1)
	for range n {
		p *= 10
	}
	return p
}

// binaryTime converts a stamp in units of 2^-exponent seconds.
func binaryTime(stamp uint64, exponent uint8) (seconds, nanos int64) {
	high, low := bits.Mul64(stamp&(1<<exponent-1), 1_000_000_000)
	return int64(stamp >> exponent), int64(high<<(64-exponent) | low>>exponent)
}

// advanceBlock reads the next block of a pcapng file.
func (g *input) advanceBlock() (bool, error) {
	head, err := g.peek(smallestBlock)
	if err != nil {
		return false, err
	}
	if binary.LittleEndian.Uint32(head) == blockSection { // a palindrome, the same in either byte order
		switch uint32(byteOrderMagic) {
		case binary.LittleEndian.Uint32(head[8:]):
			g.order = binary.LittleEndian
		case binary.BigEndian.Uint32(head[8:]):
			g.order = binary.BigEndian
		default:
			return false, broken{framing}
		}
	}
	kind, length := g.order.Uint32(head), g.order.Uint32(head[4:])
	if length < smallestBlock || length%4 != 0 {
		return false, broken{framing}
	}
	switch kind {
	case blockEnhanced, blockPacket, blockSimple:
		return g.packetBlock(kind, length, head[8:])
	case blockSection, blockInterface, blockStatistics:
		if length <= mostBlock {
			break
		}
		if kind == blockStatistics {
			return false, g.skipBlock(length)
		}
		return false, broken{framing}
	default:
		return false, g.skipBlock(length)
	}
	block, err := g.loadBlock(length)
	if err != nil {
		return false, err
	}
	switch kind {
	case blockSection:
		return false, g.sectionBlock(block)
	case blockInterface:
		return false, g.interfaceBlock(block)
	}
	g.statisticsBlock(block)
	return false, nil
}

// loadBlock reads a block and checks that its two lengths agree.
func (g *input) loadBlock(length uint32) ([]byte, error) {
	block, err := g.load(int(length))
	if err != nil {
		return nil, err
	}
	if g.order.Uint32(block[length-4:]) != length {
		return nil, broken{framing}
	}
	return block, nil
}

// skipBlock skips a block without keeping it in memory.
func (g *input) skipBlock(length uint32) error {
	if err := g.skip(int64(length) - 4); err != nil {
		return err
	}
	end, err := g.load(4)
	if err != nil {
		return err
	}
	if g.order.Uint32(end) != length {
		return broken{framing}
	}
	return nil
}

// sectionBlock begins a section, in which interfaces are numbered from 0 again.
func (g *input) sectionBlock(block []byte) error {
	if len(block) < 28 {
		return broken{framing}
	}
	// 1.2 is the same as 1.0.
	if major, minor := g.order.Uint16(block[12:]), g.order.Uint16(block[14:]); major != 1 || minor != 0 && minor != 2 {
		return broken{sectionVersion}
	}
	g.ifaces = g.ifaces[:0]
	g.tally.endSection()
	return nil
}

// interfaceBlock notes the next interface of the section.
func (g *input) interfaceBlock(block []byte) error {
	if len(block) < 20 {
		return broken{framing}
	}
	if len(g.ifaces) == mostInterfaces {
		return nil // its packets will count as those of an unknown interface
	}
	link := uint32(g.order.Uint16(block[8:]))
	about := iface{can: link == linkSocketCAN, unit: 6}
	name := ""
	g.options(block, 16, func(code uint16, value []byte) {
		switch {
		case code == optionName:
			name = string(value)
		case code == optionOffset && len(value) == 8:
			about.offset = int64(g.order.Uint64(value))
		case code == optionUnit && len(value) > 0:
			about.unit = value[0]
		}
	})
	about.timed, about.digits = unitIsSupported(about.unit), 6
	if about.unit > 6 {
		about.digits = 9
	}
	if exponent := int(about.unit); about.timed && about.unit&0x80 == 0 {
		about.second, about.longer, about.shorter = power(exponent), power(max(9-exponent, 0)), power(max(exponent-9, 0))
	}
	if about.can {
		about.bus, g.seen = g.busName(name, len(g.ifaces)), true
	} else if g.refused == 0 {
		g.refused = link
	}
	g.ifaces = append(g.ifaces, about)
	return nil
}

// unitIsSupported reports whether a second in this unit, an if_tsresol, fits into 64 bits.
func unitIsSupported(unit uint8) bool {
	if unit&0x80 != 0 {
		return unit&0x7F <= 63
	}
	return unit <= 19
}

// busName returns the name of an interface with characters replaced that text logs cannot
// contain. Equal names share one string.
func (g *input) busName(name string, number int) string {
	const most = 64 // bytes; Linux itself allows 15
	clean := make([]byte, 0, most)
	for _, r := range name {
		if r <= ' ' || r == 0x7F || r == '#' || r == utf8.RuneError {
			r = '_'
		}
		if len(clean)+utf8.RuneLen(r) > most {
			break
		}
		clean = utf8.AppendRune(clean, r)
	}
	if len(clean) == 0 {
		clean = strconv.AppendInt(append(clean, "can"...), int64(number), 10)
	}
	if known, ok := g.names[string(clean)]; ok {
		return known
	}
	if g.names == nil {
		g.names = make(map[string]string)
	}
	made := string(clean)
	if len(g.names) < mostNames {
		g.names[made] = made
	}
	return made
}

// statisticsBlock notes the number of frames that a CAN interface lost.
func (g *input) statisticsBlock(block []byte) {
	if len(block) < 24 {
		return
	}
	n := g.order.Uint32(block[8:])
	if uint64(n) >= uint64(len(g.ifaces)) || !g.ifaces[n].can {
		return
	}
	g.options(block, 20, func(code uint16, value []byte) {
		if code == optionDrops && len(value) == 8 {
			if lost := g.order.Uint64(value); lost != math.MaxUint64 { // which says that it is not known
				g.tally.drops(int(n), lost)
			}
		}
	})
}

// packetBlock counts a packet, and takes it if it belongs to a CAN interface. id is the
// four bytes in which all packet blocks but simple ones name their interface.
func (g *input) packetBlock(kind, length uint32, id []byte) (bool, error) {
	number := 0 // simple packets belong to the first interface
	switch kind {
	case blockEnhanced:
		number = int(min(g.order.Uint32(id), mostInterfaces))
	case blockPacket:
		number = int(g.order.Uint16(id))
	}
	known := number < len(g.ifaces)
	why := accepted
	switch {
	case !known:
		why = noInterface
	case kind == blockSimple:
		why = noTime
	case length < packetBody+4:
		return false, broken{framing}
	case length > mostBlock:
		why = packetTooLong
	case !g.ifaces[number].timed:
		why = timeUnit
	}
	if why != accepted || !g.ifaces[number].can {
		if err := g.skipBlock(length); err != nil {
			return false, err
		}
		g.tally.packet()
		if known && !g.ifaces[number].can {
			g.tally.passOver()
		} else {
			g.tally.reject(why)
		}
		return false, nil
	}
	block, err := g.loadBlock(length)
	if err != nil {
		return false, err
	}
	g.tally.packet()
	captured, size := g.order.Uint32(block[20:]), g.order.Uint32(block[24:])
	if captured > length-packetBody-4 {
		g.tally.reject(beyondBlock)
		return false, nil
	}
	from := &g.ifaces[number]
	g.packet = packet{data: block[packetBody : packetBody+captured], size: int(size), bus: from.bus, digits: from.digits}
	g.packet.seconds, g.packet.nanos = from.time(uint64(g.order.Uint32(block[12:]))<<32 | uint64(g.order.Uint32(block[16:])))
	return true, nil
}

// options hands on the options of a block, which begin at from, up to a broken one, but for
// those longer than mostOption.
func (g *input) options(block []byte, from int, take func(code uint16, value []byte)) {
	end := len(block) - 4
	for at := from; at+4 <= end; {
		code, n := g.order.Uint16(block[at:]), int(g.order.Uint16(block[at+2:]))
		size := 4 + (n+3)&^3
		if code == 0 || at+size > end {
			break
		}
		if n <= mostOption {
			take(code, block[at+4:at+4+n])
		}
		at += size
	}
}
