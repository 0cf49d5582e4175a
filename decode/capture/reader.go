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

// HeadSize is how many bytes Is looks at.
const HeadSize = 12

// Magic numbers of pcap files: stamps in microseconds, in nanoseconds, and a form
// of 1999 with longer records that Wireshark and tcpdump still know.
const (
	magicMicro    = 0xA1B2C3D4
	magicNano     = 0xA1B23C4D
	magicModified = 0xA1B2CD34
)

// Is tells by its first bytes, HeadSize where there are so many, whether an input
// is a capture.
func Is(head []byte) bool {
	if len(head) >= HeadSize && binary.LittleEndian.Uint32(head) == blockSection {
		magic := head[8:]
		return binary.LittleEndian.Uint32(magic) == byteOrderMagic || binary.BigEndian.Uint32(magic) == byteOrderMagic
	}
	_, _, ok := pcapMagic(head)
	return ok
}

// pcapMagic tells byte order and kind of a pcap file.
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

// Reader reads frames from a capture, with the same calls and counts as the
// readers of text logs: in Info, and in the places of its remarks, a line is a
// packet, counted from 1 over all interfaces as Wireshark numbers them, and
// columns are 0.
//
// A frame's Bus is the name of its interface in a pcapng file. Where the file
// gives none it is "can" with the interface's number in its section, from 0. A
// pcap file knows of one interface only and not its name: there it is "can0".
type Reader struct {
	gate  gate
	tally tally

	classic *pcapgo.Reader // one of the two
	ng      *pcapgo.NgReader
	digits  int // of stamps in a pcap file

	section int      // of known
	known   []origin // the section's interfaces
	names   map[string]string

	frame   decode.Frame
	current *decode.Frame
	err     error // what ended reading; io.EOF at the end, clean or not
}

// origin is what a frame takes over from its interface.
type origin struct {
	bus    string
	digits int
	unit   pcapgo.NgResolution
	offset int64 // seconds
}

// NewReader reads from r, which holds the capture as it is, not packed. It
// buffers, so r may be a file. The error is an *Error where r is no capture or
// one of another kind of interface, else a fault of r. Of a pcapng file the
// interfaces are known only as it is read; where none of them is a CAN interface
// Scan gives false in the end and Err such an *Error.
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

// openRecords begins a pcap file.
func (c *Reader) openRecords(head []byte) error {
	order, magic, _ := pcapMagic(head)
	if magic == magicModified || order.Uint16(head[4:]) != 2 || order.Uint16(head[6:]) != 4 {
		return &Error{Why: "a pcap file of an old form", Hint: "convert it: editcap -F pcapng OLD NEW", Err: ErrFormat}
	}
	// The upper bits say whether packets end with a checksum.
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

// openBlocks begins a pcapng file.
func (c *Reader) openBlocks() error {
	c.gate.advance = c.gate.advanceBlock
	var err error
	c.ng, err = pcapgo.NewNgReader(&c.gate, pcapgo.NgReaderOptions{
		WantMixedLinkType: true, // the gate has let only CAN through
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

// notOpened words why not even the header could be read.
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

// Scan reads up to the next frame. It gives false at the end of the capture or
// when reading fails; Err tells which.
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

// next has pcapgo read the next packet.
func (c *Reader) next() ([]byte, gopacket.CaptureInfo, error) {
	if c.classic != nil {
		return c.classic.ZeroCopyReadPacketData()
	}
	return c.ng.ZeroCopyReadPacketData()
}

// take makes a packet a frame and counts it.
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

// binaryTime divides a stamp in units of 2^-exponent seconds. pcapgo takes the
// nanoseconds of such a unit for a whole number.
func binaryTime(stamp uint64, exponent uint8) (seconds, nanos int64) {
	high, low := bits.Mul64(stamp&(1<<exponent-1), 1_000_000_000)
	return int64(stamp >> exponent), int64(high<<(64-exponent) | low>>exponent)
}

// origin returns what frames of an interface of the current section take over.
func (c *Reader) origin(number int) *origin {
	if c.section != c.gate.section {
		c.section, c.known = c.gate.section, c.known[:0]
	}
	for i := len(c.known); i <= number; i++ {
		// The gate let no packet through whose interface pcapgo does not know.
		about, _ := c.ng.Interface(i)
		digits := 6
		if unit := about.TimestampResolution; unit.Binary() || unit.Exponent() > 6 {
			digits = 9
		}
		c.known = append(c.known, origin{bus: c.busName(about.Name, i), digits: digits, unit: about.TimestampResolution, offset: int64(about.TimestampOffset)})
	}
	return &c.known[number]
}

// busName makes an interface's name one that text logs could have as well, equal
// ones the same string.
func (c *Reader) busName(name string, number int) string {
	const most = 64 // bytes; Linux allows 15
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

// end takes note of why there is no further packet.
func (c *Reader) end() {
	c.err = io.EOF
	why, fault := framing, c.gate.err // framing: pcapgo objects to what the gate let through
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

// Frame returns the frame that Scan read. The reader owns it until the next Scan;
// it is nil where Scan gave false.
func (c *Reader) Frame() *decode.Frame { return c.current }

// Err returns the fault that ended reading, nil at the capture's own end and where
// it is damaged.
func (c *Reader) Err() error {
	if c.err == io.EOF {
		return nil
	}
	return c.err
}

// Info returns what was counted so far, with the remarks that follow from it:
// rejected_lines, cut_short (also where the capture is damaged and cannot be read
// on), frames_dropped, other_packets and stamps_read_as. The caller owns it. At
// most 1,024 interfaces are named. Packets of interfaces that are no CAN
// interfaces count as Remarked.
func (c *Reader) Info() decode.Info { return c.tally.finish() }
