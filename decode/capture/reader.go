package capture

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"math/bits"
	"strconv"
	"unicode/utf8"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/pcapgo"

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
	gate  gate
	tally tally

	classic *pcapgo.Reader // for pcap, else nil
	ng      *pcapgo.NgReader
	digits  int // digits in the fraction of a pcap file's stamps

	section int      // the section to which known belongs
	known   []origin // the interfaces of the section
	names   map[string]string

	frame   decode.Frame
	current *decode.Frame
	err     error // what ended reading; io.EOF at the end, even of a damaged capture
}

// origin is what a frame inherits from its interface.
type origin struct {
	bus    string
	digits int
	unit   pcapgo.NgResolution
	offset int64 // seconds
}

// NewReader returns a Reader that reads an unpacked capture from r. It buffers, so r may be a
// file. The error is an *Error if r is not a capture of a CAN interface, else an error of r.
// The interfaces of a pcapng file are known only once it has been read: if none of them is a
// CAN interface, Scan returns false at the end, and Err returns such an *Error.
func NewReader(r io.Reader) (*Reader, error) {
	c := &Reader{}
	c.gate = gate{in: bufio.NewReaderSize(r, bufferSize), tally: &c.tally}
	head, err := c.gate.in.Peek(fileHeader)
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
	c.gate.order = order
	perSecond := uint32(1_000_000)
	c.digits = 6
	if magic == magicNano {
		perSecond, c.digits = 1_000_000_000, 9
	}
	c.gate.advance = func() error {
		c.gate.advance = func() error { return c.gate.advanceRecord(perSecond) }
		err := c.gate.load(fileHeader)
		c.gate.rest = c.gate.block
		return err
	}
	var err error
	if c.classic, err = pcapgo.NewReader(&c.gate); err != nil {
		return c.notOpened(err)
	}
	return nil
}

// openBlocks begins reading a pcapng file.
func (c *Reader) openBlocks() error {
	c.gate.advance = c.gate.advanceBlock
	var err error
	c.ng, err = pcapgo.NewNgReader(&c.gate, pcapgo.NgReaderOptions{
		WantMixedLinkType: true, // the gate lets only CAN through
		StatisticsCallback: func(iface int, s pcapgo.NgInterfaceStatistics) {
			if s.PacketsDropped != pcapgo.NgNoValue64 {
				c.tally.drops(iface, s.PacketsDropped)
			}
		},
	})
	if err != nil {
		return c.notOpened(err)
	}
	return nil
}

// notOpened returns the error for a capture whose header could not be read.
func (c *Reader) notOpened(err error) error {
	var b broken
	switch {
	case errors.As(c.gate.err, &b) && b.why == sectionVersion:
		return notACapture("a capture of an unknown pcapng version")
	case errors.As(c.gate.err, &b) && b.why == cutShort:
		return notACapture("the capture ends within its header")
	case c.gate.err != nil && !errors.As(c.gate.err, &b):
		return c.gate.err
	}
	return notACapture("the capture's header is damaged: " + err.Error())
}

// Scan reads the next frame. It returns false at the end of the capture or if reading fails;
// Err tells which.
func (c *Reader) Scan() bool {
	c.current = nil
	for c.err == nil {
		data, about, err := c.next()
		if err != nil {
			c.end()
			return false
		}
		c.gate.pending = false
		if why := c.take(data, &about); why != accepted {
			c.tally.reject(why)
			continue
		}
		c.current = &c.frame
		return true
	}
	return false
}

// next returns the next packet, read by pcapgo.
func (c *Reader) next() ([]byte, gopacket.CaptureInfo, error) {
	if c.classic != nil {
		return c.classic.ZeroCopyReadPacketData()
	}
	return c.ng.ZeroCopyReadPacketData()
}

// take turns a packet into the current frame and counts it, or returns why it is rejected.
func (c *Reader) take(data []byte, about *gopacket.CaptureInfo) reason {
	if why := parsePacket(data, about.Length, &c.frame); why != accepted {
		return why
	}
	seconds, nanos := about.Timestamp.Unix(), int64(about.Timestamp.Nanosecond())
	bus, digits := "can0", c.digits
	if c.ng != nil {
		from := c.origin(about.InterfaceIndex)
		bus, digits = from.bus, from.digits
		if from.unit.Binary() {
			seconds, nanos = binaryTime(c.gate.stamp, from.unit.Exponent())
			seconds += from.offset
		}
	}
	if seconds < 0 || seconds > (1<<63-1)/1_000_000_000-1 {
		return timeRange
	}
	c.frame.Time = seconds*1_000_000_000 + nanos
	c.frame.Line, c.frame.Bus = c.tally.info.Lines, bus
	c.tally.accept(&c.frame, digits)
	return accepted
}

// binaryTime converts a stamp in units of 2^-exponent seconds. pcapgo cannot do it exactly,
// as it takes such a unit for a whole number of nanoseconds.
func binaryTime(stamp uint64, exponent uint8) (seconds, nanos int64) {
	high, low := bits.Mul64(stamp&(1<<exponent-1), 1_000_000_000)
	return int64(stamp >> exponent), int64(high<<(64-exponent) | low>>exponent)
}

// origin returns the origin of frames of an interface in the current section.
func (c *Reader) origin(number int) *origin {
	if c.section != c.gate.section {
		c.section, c.known = c.gate.section, c.known[:0]
	}
	for i := len(c.known); i <= number; i++ {
		// The gate lets no packet through whose interface pcapgo does not know.
		about, _ := c.ng.Interface(i)
		digits := 6
		if unit := about.TimestampResolution; unit.Binary() || unit.Exponent() > 6 {
			digits = 9
		}
		c.known = append(c.known, origin{bus: c.busName(about.Name, i), digits: digits, unit: about.TimestampResolution, offset: int64(about.TimestampOffset)})
	}
	return &c.known[number]
}

// busName returns the name of an interface with characters replaced that text logs cannot
// contain. Equal names share one string.
func (c *Reader) busName(name string, number int) string {
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
	if known, ok := c.names[string(clean)]; ok {
		return known
	}
	if c.names == nil {
		c.names = make(map[string]string)
	}
	made := string(clean)
	if len(c.names) < mostNames {
		c.names[made] = made
	}
	return made
}

// end notes why there is no further packet.
func (c *Reader) end() {
	c.err = io.EOF
	why, fault := framing, c.gate.err // framing if pcapgo rejects what the gate let through
	var b broken
	switch {
	case c.gate.pending:
	case errors.As(fault, &b):
		why = b.why
	case errors.Is(fault, io.EOF):
		why = accepted
		if c.ng != nil && !c.gate.seen && c.gate.refused != 0 {
			c.err = refuseLink(c.gate.refused)
		}
	case fault != nil:
		why, c.err = cutByFault, fault
	}
	if why == accepted || why == cutByFault && !c.gate.inside {
		return
	}
	if !c.gate.pending {
		c.tally.packet()
	}
	c.tally.reject(why)
	c.tally.cut = why
	if err := c.gate.drain(); err != nil && why != cutByFault {
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
