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

// gate stands between the input and pcapgo. It hands on one block at a time, and only after
// the block was read completely and its lengths were found consistent, so that pcapgo never
// sees a wrong length. The gate counts and skips packets that are not to be read.
type gate struct {
	in    *bufio.Reader
	tally *tally
	order binary.ByteOrder
	// advance reads the next block into rest. If it skips the block, it leaves rest
	// empty.
	advance func() error
	block   []byte // memory for a block
	rest    []byte // the part of the block that pcapgo has not read yet
	pending bool   // the last block is a packet that is counted but neither accepted nor rejected yet
	inside  bool   // the input ended within a block
	err     error  // why no block follows: io.EOF, a broken, or an error of the input

	// For pcapng only:
	ifaces  []iface // of the section
	section int     // number of the section, from 1
	stamp   uint64  // of the pending packet, in the unit of its interface
	seen    bool    // some interface is a CAN interface
	refused uint32  // link type of the first interface that is not
}

// broken is the error for a file in which the next block cannot be found.
type broken struct{ why reason }

func (b broken) Error() string { return b.why.String() }

// Read returns the bytes of one block after the other. It never reads more than one block
// ahead of pcapgo.
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

// peek returns the next n bytes, with which a block begins. If the input ends before the
// block, the error is io.EOF.
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

// within notes that the input ended within a block and returns the error for that.
func (g *gate) within(err error) error {
	g.inside = true
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return broken{cutShort}
	}
	return err
}

// load reads n bytes into g.block.
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

// skip skips n bytes.
func (g *gate) skip(n int64) error {
	k, err := io.CopyN(io.Discard, g.in, n)
	g.tally.info.Bytes += k
	if err != nil {
		return g.within(err)
	}
	return nil
}

// drain reads the input to its end, so that its hash and length are those of the whole file.
func (g *gate) drain() error {
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
	if size < captured { // the packet is complete, but pcapgo would stop there
		g.order.PutUint32(g.block[12:], captured)
	}
	g.rest, g.pending = g.block, true
	return nil
}
