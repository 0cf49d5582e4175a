package capture

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"

	"lull/decode"
)

// HeadSize is how many bytes Is needs at most.
const HeadSize = 12

// Magic numbers of pcap files: with stamps in microseconds, with stamps in nanoseconds, and
// in a format of 1999 with longer records that Wireshark and tcpdump still know.
const (
	magicMicro    = 0xA1B2C3D4
	magicNano     = 0xA1B23C4D
	magicModified = 0xA1B2CD34
)

// Is reports whether an input is a capture, by its first bytes. head should have HeadSize
// bytes, unless the input is shorter.
func Is(head []byte) bool {
	if len(head) >= HeadSize && binary.LittleEndian.Uint32(head) == blockSection {
		magic := head[8:]
		return binary.LittleEndian.Uint32(magic) == byteOrderMagic || binary.BigEndian.Uint32(magic) == byteOrderMagic
	}
	_, _, ok := pcapMagic(head)
	return ok
}

// pcapMagic returns the byte order and the magic number of a pcap file.
func pcapMagic(head []byte) (order binary.ByteOrder, magic uint32, ok bool) {
	if len(head) < 4 {
		return nil, 0, false
	}
	for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
		switch magic := order.Uint32(head); magic {
		case magicMicro, magicNano, magicModified:
			return order, magic, true
		}
	}
	return nil, 0, false
}

// Reader reads frames from a capture, with the same methods and counts as the readers of
// text logs. In Info and in the places of its remarks, a line is a packet, counted from 1
// over all interfaces like in Wireshark, and columns are 0.
//
// In a pcapng file the Bus of a frame is the name of its interface or, if the file has no
// name for it, "can" with the number of the interface in its section, from 0. A pcap file
// has only one interface, without a name, whose Bus is "can0".
type Reader struct {
	input input
	tally tally
	ng    bool // pcapng, else pcap

	frame   decode.Frame
	current *decode.Frame
	err     error // what ended reading; io.EOF at the end, even of a damaged capture
}

// NewReader returns a Reader that reads an unpacked capture from r. It buffers, so r may be a
// file. The error is an *Error if r is not a capture of a CAN interface, else an error of r.
// The interfaces of a pcapng file are known only once it has been read: if none of them is a
// CAN interface, Scan returns false at the end, and Err returns such an *Error.
func NewReader(r io.Reader) (*Reader, error) {
	c := &Reader{}
	c.input = input{in: bufio.NewReaderSize(r, bufferSize), tally: &c.tally}
	head, err := c.input.in.Peek(fileHeader)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if !Is(head) {
		return nil, notACapture("neither a pcap nor a pcapng capture")
	}
	if len(head) < fileHeader {
		return nil, notACapture("the capture ends within its header")
	}
	if binary.LittleEndian.Uint32(head) == blockSection {
		err = c.openBlocks()
	} else {
		err = c.openRecords(head)
	}
	if err != nil {
		return nil, err
	}
	return c, nil
}

// openRecords begins reading a pcap file.
func (c *Reader) openRecords(head []byte) error {
	order, magic, _ := pcapMagic(head)
	if magic == magicModified || order.Uint16(head[4:]) != 2 || order.Uint16(head[6:]) != 4 {
		return &Error{Why: "a pcap file in an old format", Hint: "convert it: editcap -F pcapng OLD NEW", Err: ErrFormat}
	}
	// The upper bits tell whether packets end with a checksum.
	if link := order.Uint32(head[20:]) & 0xFFFF; link != linkSocketCAN {
		return refuseLink(link)
	}
	c.input.order = order
	perSecond, digits := uint32(1_000_000), 6
	if magic == magicNano {
		perSecond, digits = 1_000_000_000, 9
	}
	c.input.advance = func() (bool, error) { return c.input.advanceRecord(perSecond, digits) }
	if _, err := c.input.load(fileHeader); err != nil {
		return notOpened(err)
	}
	return nil
}

// openBlocks begins reading a pcapng file, which a section begins.
func (c *Reader) openBlocks() error {
	c.ng, c.input.advance = true, c.input.advanceBlock
	if _, err := c.input.advance(); err != nil {
		return notOpened(err)
	}
	return nil
}

// notOpened returns the error for a capture whose header could not be read.
func notOpened(err error) error {
	var b broken
	switch {
	case !errors.As(err, &b):
		return err
	case b.why == sectionVersion:
		return notACapture("a capture of an unknown pcapng version")
	case b.why == cutShort:
		return notACapture("the capture ends within its header")
	}
	return notACapture("the capture's header is damaged: " + b.why.String())
}

// Scan reads the next frame. It returns false at the end of the capture or if reading fails;
// Err tells which.
func (c *Reader) Scan() bool {
	c.current = nil
	for c.err == nil {
		is, err := c.input.advance()
		if err != nil {
			c.end(err)
			return false
		}
		if !is {
			continue
		}
		if why := c.take(&c.input.packet); why != accepted {
			c.tally.reject(why)
			continue
		}
		c.current = &c.frame
		return true
	}
	return false
}

// take turns a packet into the current frame and counts it, or returns why it is rejected.
func (c *Reader) take(p *packet) reason {
	if why := parsePacket(p.data, p.size, &c.frame); why != accepted {
		return why
	}
	if p.seconds < 0 || p.seconds > (1<<63-1)/1_000_000_000-1 {
		return timeRange
	}
	c.frame.Time = p.seconds*1_000_000_000 + p.nanos
	c.frame.Line, c.frame.Bus = c.tally.info.Lines, p.bus
	c.tally.accept(&c.frame, p.digits)
	return accepted
}

// end notes why there is no further packet.
func (c *Reader) end(fault error) {
	c.err = io.EOF
	why := accepted
	var b broken
	switch {
	case errors.As(fault, &b):
		why = b.why
	case errors.Is(fault, io.EOF):
		if c.ng && !c.input.seen && c.input.refused != 0 {
			c.err = refuseLink(c.input.refused)
		}
	default:
		why, c.err = cutByFault, fault
	}
	if why == accepted || why == cutByFault && !c.input.inside {
		return
	}
	c.tally.packet()
	c.tally.reject(why)
	c.tally.cut = why
	if err := c.input.drain(); err != nil && why != cutByFault {
		c.err = err
	}
}

// Frame returns the frame that Scan read, or nil if Scan returned false. The next Scan
// overwrites it.
func (c *Reader) Frame() *decode.Frame { return c.current }

// Err returns the error that ended reading. It is nil at the regular end of the capture and
// if the capture is damaged.
func (c *Reader) Err() error {
	if c.err == io.EOF {
		return nil
	}
	return c.err
}

// Info returns what was counted so far, with the resulting remarks: rejected_lines,
// cut_short (also if the capture is damaged and cannot be read further), frames_dropped,
// other_packets and stamps_read_as. The caller owns the result. At most 1,024 interfaces are
// named. Packets of interfaces other than CAN count as Remarked.
func (c *Reader) Info() decode.Info { return c.tally.finish() }
