package capture

import "encoding/binary"

// Blocks of pcapng (draft-ietf-opsawg-pcapng): type, total length, body, options,
// total length once more.
const (
	blockSection    = 0x0A0D0D0A
	blockInterface  = 1
	blockPacket     = 2 // obsolete
	blockSimple     = 3
	blockStatistics = 5
	blockEnhanced   = 6

	byteOrderMagic = 0x1A2B3C4D

	smallestBlock = 12
	packetBody    = 28 // where the data of packet blocks begins
	// mostBlock is a packet with as much room for options.
	mostBlock = 2 * mostPacket
	// mostInterfaces is how many interfaces of one section are known.
	mostInterfaces = 4096

	optionName   = 2 // if_name
	optionDrops  = 5 // isb_ifdrop
	optionUnit   = 9 // if_tsresol
	optionOffset = 14
	// mostOption is the longest value of an option that is handed on.
	mostOption = 255
)

// iface is what the gate knows of an interface.
type iface struct {
	can   bool
	timed bool  // its unit of time is one that is read
	unit  uint8 // if_tsresol
}

// advanceBlock takes one block of a pcapng file off the input.
func (g *gate) advanceBlock() error {
	head, err := g.peek(smallestBlock)
	if err != nil {
		return err
	}
	if binary.LittleEndian.Uint32(head) == blockSection { // the same either way
		switch uint32(byteOrderMagic) {
		case binary.LittleEndian.Uint32(head[8:]):
			g.order = binary.LittleEndian
		case binary.BigEndian.Uint32(head[8:]):
			g.order = binary.BigEndian
		default:
			return broken{framing}
		}
	}
	kind, length := g.order.Uint32(head), g.order.Uint32(head[4:])
	if length < smallestBlock || length%4 != 0 {
		return broken{framing}
	}
	switch kind {
	case blockEnhanced, blockPacket, blockSimple:
		return g.packetBlock(kind, length, head[8:])
	case blockSection, blockInterface, blockStatistics:
		if length <= mostBlock {
			break
		}
		if kind == blockStatistics {
			return g.skipBlock(length)
		}
		return broken{framing}
	default:
		return g.skipBlock(length)
	}
	if err := g.loadBlock(length); err != nil {
		return err
	}
	switch kind {
	case blockSection:
		return g.sectionBlock()
	case blockInterface:
		return g.interfaceBlock()
	}
	g.statisticsBlock()
	return nil
}

// loadBlock reads a block into the scratch and holds its two lengths against
// each other.
func (g *gate) loadBlock(length uint32) error {
	if err := g.load(int(length)); err != nil {
		return err
	}
	if g.order.Uint32(g.block[length-4:]) != length {
		return broken{framing}
	}
	return nil
}

// skipBlock passes over a block without holding it.
func (g *gate) skipBlock(length uint32) error {
	if err := g.skip(int64(length) - 4); err != nil {
		return err
	}
	if err := g.load(4); err != nil {
		return err
	}
	if g.order.Uint32(g.block) != length {
		return broken{framing}
	}
	return nil
}

// sectionBlock begins a section: its interfaces are numbered anew.
func (g *gate) sectionBlock() error {
	if len(g.block) < 28 {
		return broken{framing}
	}
	major, minor := g.order.Uint16(g.block[12:]), g.order.Uint16(g.block[14:])
	if major != 1 || minor != 0 && minor != 2 {
		return broken{sectionVersion}
	}
	g.order.PutUint16(g.block[14:], 0) // 1.2 is the same, which pcapgo does not know
	g.ifaces = g.ifaces[:0]
	g.section++
	g.tally.endSection()
	g.shorten(24)
	g.rest = g.block
	return nil
}

// interfaceBlock describes the section's next interface.
func (g *gate) interfaceBlock() error {
	if len(g.block) < 20 {
		return broken{framing}
	}
	if len(g.ifaces) == mostInterfaces {
		return nil // its packets are of an unknown interface
	}
	link := uint32(g.order.Uint16(g.block[8:]))
	about := iface{can: link == linkSocketCAN, unit: 6, timed: true}
	g.keepOptions(16, func(code uint16, value []byte) bool {
		switch code {
		case optionName, optionOffset:
			return true
		case optionUnit:
			if len(value) == 0 {
				return false
			}
			about.unit = value[0]
			about.timed = unitIsRead(about.unit)
			return about.timed
		}
		return false
	})
	g.rest = g.block
	g.ifaces = append(g.ifaces, about)
	switch {
	case about.can:
		g.seen = true
	case g.refused == 0:
		g.refused = link
	}
	return nil
}

// unitIsRead reports whether times in this unit, an if_tsresol, fit 64 bits a second.
// pcapgo takes a written 0, whole seconds, for no unit at all.
func unitIsRead(unit uint8) bool {
	if unit&0x80 != 0 {
		return unit&0x7F <= 63
	}
	return unit > 0 && unit <= 19
}

// statisticsBlock hands on how many frames a CAN interface lost.
func (g *gate) statisticsBlock() {
	if len(g.block) < 24 {
		return
	}
	if n := g.order.Uint32(g.block[8:]); uint64(n) >= uint64(len(g.ifaces)) || !g.ifaces[n].can {
		return
	}
	g.keepOptions(20, func(code uint16, value []byte) bool { return code == optionDrops && len(value) == 8 })
	g.rest = g.block
}

// packetBlock counts a packet, and hands it on if it is one of a CAN interface.
// id are the four bytes in which all packet blocks but simple ones name theirs.
func (g *gate) packetBlock(kind, length uint32, id []byte) error {
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
		return broken{framing}
	case length > mostBlock:
		why = packetTooLong
	case !g.ifaces[number].timed:
		why = timeUnit
	}
	if why != accepted || !g.ifaces[number].can {
		if err := g.skipBlock(length); err != nil {
			return err
		}
		g.tally.packet()
		if known && !g.ifaces[number].can {
			g.tally.passOver()
		} else {
			g.tally.reject(why)
		}
		return nil
	}
	if err := g.loadBlock(length); err != nil {
		return err
	}
	g.tally.packet()
	captured := g.order.Uint32(g.block[20:])
	if captured > length-packetBody-4 {
		g.tally.reject(beyondBlock)
		return nil
	}
	g.stamp = uint64(g.order.Uint32(g.block[12:]))<<32 | uint64(g.order.Uint32(g.block[16:]))
	// The options of packets, comments and checksums, are of no use here.
	g.shorten(packetBody + (int(captured)+3)&^3)
	g.rest, g.pending = g.block, true
	return nil
}

// keepOptions leaves of the loaded block's options, which begin at from, those
// that keep wants and that are no longer than mostOption. Behind a broken one
// there are none.
func (g *gate) keepOptions(from int, keep func(code uint16, value []byte) bool) {
	end, out := len(g.block)-4, from
	for at := from; at+4 <= end; {
		code, n := g.order.Uint16(g.block[at:]), int(g.order.Uint16(g.block[at+2:]))
		size := 4 + (n+3)&^3
		if code == 0 || at+size > end {
			break
		}
		if n <= mostOption && keep(code, g.block[at+4:at+4+n]) {
			out += copy(g.block[out:], g.block[at:at+size])
		}
		at += size
	}
	g.shorten(out)
}

// shorten ends the loaded block's body there, and says so in both its lengths.
func (g *gate) shorten(end int) {
	g.block = g.block[:end+4]
	g.order.PutUint32(g.block[4:], uint32(end+4))
	g.order.PutUint32(g.block[end:], uint32(end+4))
}
