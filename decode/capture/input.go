package capture

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
)

const (
	// mostPacket is the length of the longest packet that is read: MAXIMUM_SNAPLEN of
	// libpcap. A CAN frame has at most 72 bytes.
	mostPacket = 256 << 10
	bufferSize = 256 << 10
)

// input reads block after block of a capture. What a block says of its own length is checked
// before it is believed; packets that are not to be read are counted and skipped.
type input struct {
	in    *bufio.Reader
	tally *tally
	order binary.ByteOrder
	// advance reads the next block. It reports whether that is a packet, now in packet; it is
	// counted, and neither accepted nor rejected yet. The error is io.EOF, a broken, or one of
	// the input.
	advance func() (bool, error)
	packet  packet
	block   []byte // memory for blocks that are longer than the buffer
	inside  bool   // the input ended within a block

	// For pcapng only:
	ifaces  []iface // of the section
	names   map[string]string
	seen    bool   // some interface is a CAN interface
	refused uint32 // link type of the first interface that is not
}

// packet is one packet as it lies in its file.
type packet struct {
	data           []byte // until the next block is read
	size           int    // its length on the interface, of which data may be only the beginning
	seconds, nanos int64
	bus            string
	digits         int // of the fraction of its stamp
}

// broken is the error for a file in which the next block cannot be found.
type broken struct{ why reason }

func (b broken) Error() string { return b.why.String() }

// peek returns the next n bytes, with which a block begins. If the input ends before the
// block, the error is io.EOF.
func (g *input) peek(n int) ([]byte, error) {
	head, err := g.in.Peek(n)
	if err == nil {
		return head, nil
	}
	if len(head) == 0 && errors.Is(err, io.EOF) {
		return nil, io.EOF
	}
	if len(head) == 0 {
		return nil, err
	}
	return nil, g.within(err)
}

// within notes that the input ended within a block and returns the error for that.
func (g *input) within(err error) error {
	g.inside = true
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return broken{cutShort}
	}
	return err
}

// load reads n bytes, which are kept until the next call.
func (g *input) load(n int) ([]byte, error) {
	if n <= bufferSize {
		block, err := g.in.Peek(n)
		g.tally.info.Bytes += int64(len(block))
		if _, gone := g.in.Discard(len(block)); err != nil || gone != nil {
			return nil, g.within(errors.Join(err, gone))
		}
		return block, nil
	}
	if cap(g.block) < n {
		g.block = make([]byte, n)
	}
	g.block = g.block[:n]
	k, err := io.ReadFull(g.in, g.block)
	g.tally.info.Bytes += int64(k)
	if err != nil {
		return nil, g.within(err)
	}
	return g.block, nil
}

// skip skips n bytes.
func (g *input) skip(n int64) error {
	k, err := io.CopyN(io.Discard, g.in, n)
	g.tally.info.Bytes += k
	if err != nil {
		return g.within(err)
	}
	return nil
}

// drain reads the input to its end, so that its hash and length are those of the whole file.
func (g *input) drain() error {
	k, err := io.Copy(io.Discard, g.in)
	g.tally.info.Bytes += k
	return err
}

// Sizes of the header of a pcap file and of the header of each record, which is followed by
// the packet (draft-ietf-opsawg-pcap).
const (
	fileHeader   = 24
	recordHeader = 16
)

// advanceRecord reads the next record of a pcap file. Time stamps have a fraction of a second
// in units of 1/perSecond.
func (g *input) advanceRecord(perSecond uint32, digits int) (bool, error) {
	head, err := g.peek(recordHeader)
	if err != nil {
		return false, err
	}
	seconds, fraction, captured, size := g.order.Uint32(head), g.order.Uint32(head[4:]), g.order.Uint32(head[8:]), g.order.Uint32(head[12:])
	if captured > mostPacket {
		return false, broken{framing}
	}
	record, err := g.load(recordHeader + int(captured))
	if err != nil {
		return false, err
	}
	g.tally.packet()
	if fraction >= perSecond {
		g.tally.reject(timeFraction)
		return false, nil
	}
	// What says that it is shorter than what was captured is complete.
	g.packet = packet{data: record[recordHeader:], size: int(max(size, captured)), bus: "can0", digits: digits,
		seconds: int64(seconds), nanos: int64(fraction) * int64(1_000_000_000/perSecond)}
	return true, nil
}
