package capture

import "encoding/binary"

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
	// mostOption is the length of the longest option value that is handed on.
	mostOption = 255
)

// iface is what the gate knows of an interface.
type iface struct {
	can   bool
	timed bool  // its time resolution is supported
	unit  uint8 // if_tsresol
}

// advanceBlock reads the next block of a pcapng file.
func (g *gate) advanceBlock() error {
	head, err := g.peek(smallestBlock)
	if err != nil {
		return err
	}
	if binary.LittleEndian.Uint32(head) == blockSection { // a palindrome, the same in either byte order
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

// loadBlock reads a block into g.block and checks that its two lengths agree.
func (g *gate) loadBlock(length uint32) error {
	if err := g.load(int(length)); err != nil {
		return err
	}
	if g.order.Uint32(g.block[length-4:]) != length {
		return broken{framing}
	}
	return nil
}

// skipBlock skips a block without keeping it in memory.
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

// sectionBlock begins a section, in which interfaces are numbered from 0 again.
func (g *gate) sectionBlock() error {
	if len(g.block) < 28 {
		return broken{framing}
	}
	major, minor := g.order.Uint16(g.block[12:]), g.order.Uint16(g.block[14:])
	if major != 1 || minor != 0 && minor != 2 {
		return broken{sectionVersion}
	}
	g.order.PutUint16(g.block[14:], 0) // pcapgo does not know that 1.2 is the same as 1.0
	g.ifaces = g.ifaces[:0]
	g.section++
	g.tally.endSection()
	g.shorten(24)
	g.rest = g.block
	return nil
}

// interfaceBlock notes the next interface of the section.
func (g *gate) interfaceBlock() error {
	if len(g.block) < 20 {
		return broken{framing}
	}
	if len(g.ifaces) == mostInterfaces {
		return nil // its packets will count as those of an unknown interface
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
			about.timed = unitIsSupported(about.unit)
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

// unitIsSupported reports whether a second in this unit, an if_tsresol, fits into 64 bits. A
// unit of 0, for whole seconds, is not supported, because pcapgo takes it for no unit at all.
func unitIsSupported(unit uint8) bool {
	if unit&0x80 != 0 {
		return unit&0x7F <= 63
	}
	return unit > 0 && unit <= 19
}

// statisticsBlock hands on the number of frames that a CAN interface lost.
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

// packetBlock counts a packet, and hands it on if it belongs to a CAN interface. id is the
// four bytes in which all packet blocks but simple ones name their interface.
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
	// Drop the options of the packet, such as comments and checksums, which nobody needs.
	g.shorten(packetBody + (int(captured)+3)&^3)
	g.rest, g.pending = g.block, true
	return nil
}

// keepOptions removes the options of the loaded block, which begin at from, except those for
// which keep returns true and that are no longer than mostOption. It also removes all options
// after a broken one.
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

// shorten cuts the body of the loaded block off at end, and adjusts both its lengths.
func (g *gate) shorten(end int) {
	g.block = g.block[:end+4]
	g.order.PutUint32(g.block[4:], uint32(end+4))
	g.order.PutUint32(g.block[end:], uint32(end+4))
}
