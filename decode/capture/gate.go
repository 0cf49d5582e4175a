package capture

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
)

const (
	// mostPacket is the longest packet that is looked at: MAXIMUM_SNAPLEN of
	// libpcap. A CAN frame has 72 bytes.
	mostPacket = 256 << 10
	bufferSize = 256 << 10
)

// gate stands between the input and pcapgo. It hands on one block a time, and
// only when all of it was read and its lengths were found to agree, so that no
// length in a damaged file is ever believed. Packets that are not to be read are
// counted here and passed over.
type gate struct {
	in    *bufio.Reader
	tally *tally
	order binary.ByteOrder
	// advance takes the next block off the input. It leaves it in rest, or
	// nothing where the block is passed over.
	advance func() error
	block   []byte // scratch
	rest    []byte // what is still to be handed on
	pending bool   // the block handed on last holds a packet, counted but not judged
	inside  bool   // the input ended within a block
	err     error  // why no block follows: io.EOF, a broken, or a fault of the input

	// pcapng alone:
	ifaces  []iface // of the section
	section int     // number of the section, from 1
	stamp   uint64  // of the pending packet, in its interface's unit
	seen    bool    // some interface is a CAN interface
	refused uint32  // link type of the first that is none
}

// broken is the error of a file whose further blocks cannot be told.
type broken struct{ why reason }

func (b broken) Error() string { return b.why.String() }

// Read hands on what pcapgo asks for, never more than one block ahead.
func (g *gate) Read(p []byte) (int, error) {
	for len(g.rest) == 0 {
		if g.err != nil {
			return 0, g.err
		}
		g.err = g.advance()
	}
	n := copy(p, g.rest)
	g.rest = g.rest[n:]
	return n, nil
}

// peek looks at the next n bytes, which begin a block. At the input's clean end
// the error is io.EOF.
func (g *gate) peek(n int) ([]byte, error) {
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

// within words that the input ends within a block.
func (g *gate) within(err error) error {
	g.inside = true
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return broken{cutShort}
	}
	return err
}

// load reads n bytes into the scratch.
func (g *gate) load(n int) error {
	if cap(g.block) < n {
		g.block = make([]byte, max(n, 4096))
	}
	g.block = g.block[:n]
	k, err := io.ReadFull(g.in, g.block)
	g.tally.info.Bytes += int64(k)
	if err != nil {
		return g.within(err)
	}
	return nil
}

// skip passes over n bytes.
func (g *gate) skip(n int64) error {
	k, err := io.CopyN(io.Discard, g.in, n)
	g.tally.info.Bytes += k
	if err != nil {
		return g.within(err)
	}
	return nil
}

// drain reads the input to its end, so that whoever hashes or measures it on the
// way sees the whole of it.
func (g *gate) drain() error {
	k, err := io.Copy(io.Discard, g.in)
	g.tally.info.Bytes += k
	return err
}

// pcap files: a header, then records of a header of their own and the packet
// (draft-ietf-opsawg-pcap).
const (
	fileHeader   = 24
	recordHeader = 16
)

// advanceRecord takes one record of a pcap file off the input. The second's
// fraction must be below perSecond.
func (g *gate) advanceRecord(perSecond uint32) error {
	head, err := g.peek(recordHeader)
	if err != nil {
		return err
	}
	fraction, captured, size := g.order.Uint32(head[4:]), g.order.Uint32(head[8:]), g.order.Uint32(head[12:])
	if captured > mostPacket {
		return broken{framing}
	}
	if err := g.load(recordHeader + int(captured)); err != nil {
		return err
	}
	g.tally.packet()
	if fraction >= perSecond {
		g.tally.reject(timeFraction)
		return nil
	}
	if size < captured { // pcapgo would end there; the packet is whole all the same
		g.order.PutUint32(g.block[12:], captured)
	}
	g.rest, g.pending = g.block, true
	return nil
}
