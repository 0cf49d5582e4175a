// Package wire counts the bits that a frame takes on the bus, including stuff bits, from
// what a log contains of the frame. It knows nothing of bit rates and times. Start with
// Bits.
package wire

import "lull/decode"

// Lengths in bits (Bosch, CAN Specification 2.0, parts A and B, 3.1 and 3.2; from memory).
// The trailer follows the stuffed part of a frame: CRC delimiter, acknowledge slot and its
// delimiter, end of frame, and the intermission that keeps the bus busy before the next
// frame.
const (
	trailer   = 1 + 2 + 7 + 3
	crcLength = 15
)

// Lengths in bits of what follows the payload of a CAN FD frame (ISO 11898-1:2015, from
// memory): the stuff count of four bits and the CRC, with a fixed stuff bit before them and
// after every fourth of their bits.
const (
	checkShort = 4 + 17 + 1 + (4+17)/4 // payloads of up to 16 bytes
	checkLong  = 4 + 21 + 1 + (4+21)/4
	shortMost  = 16
)

// Bits returns the number of bits of a frame from its start to the end of the intermission
// after it, if at least one receiver acknowledges it. For classic frames the result is
// exact: the CRC is computed, and each stuff bit follows from the bits before it. All bits
// of an FD frame count alike, although the payload of a frame that switches the bit rate
// takes less time, so a bus load computed from them is an upper bound. For error frames,
// whose length on the bus is unknown, Bits returns 0.
func Bits(f *decode.Frame) int {
	switch {
	case f.Flags.Has(decode.Error):
		return 0
	case f.Flags.Has(decode.FD):
		return flexible(f)
	}
	return classic(f)
}

func classic(f *decode.Frame) int {
	remote := uint64(0)
	if f.Flags.Has(decode.Remote) {
		remote = 1
	}
	code := uint64(f.Len) & 0xF
	if f.RawDLC > 8 {
		code = uint64(f.RawDLC) & 0xF
	}
	var head uint64
	var length int
	if f.Flags.Has(decode.Extended) {
		// Start, 11 bits of the identifier, substitute remote request and
		// identifier extension (both 1), 18 bits of the identifier, remote
		// request, two reserved bits, length code.
		head = uint64(f.ID>>18&0x7FF)<<27 | 3<<25 | uint64(f.ID&0x3FFFF)<<7 | remote<<6 | code
		length = 1 + 11 + 2 + 18 + 1 + 2 + 4
	} else {
		// Start, identifier, remote request, identifier extension (0), a reserved
		// bit, length code.
		head = uint64(f.ID&0x7FF)<<7 | remote<<6 | code
		length = 1 + 11 + 1 + 2 + 4
	}
	payload := f.Payload()
	payload = payload[:min(len(payload), 8)]
	var s stuffing
	s.some(head, length)
	crc := crcSome(0, head, length)
	for _, b := range payload {
		s.byte(b)
		crc = crcByte(crc, b)
	}
	s.some(uint64(crc), crcLength)
	return length + 8*len(payload) + crcLength + s.stuffed + trailer
}

func flexible(f *decode.Frame) int {
	code := lengthCode(int(f.Len))
	tail := uint64(code)
	if f.Flags.Has(decode.BitRateSwitch) {
		tail |= 1 << 5
	}
	if f.Flags.Has(decode.ErrorStateIndicator) {
		tail |= 1 << 4
	}
	var head uint64
	var length int
	if f.Flags.Has(decode.Extended) {
		// Like a classic frame up to the end of the identifier; then remote request
		// substitution (0), FD format (1), a reserved bit (0), bit rate switch, error
		// state indicator, length code.
		head = uint64(f.ID>>18&0x7FF)<<29 | 3<<27 | uint64(f.ID&0x3FFFF)<<9 | 1<<7 | tail
		length = 1 + 11 + 2 + 18 + 3 + 2 + 4
	} else {
		head = uint64(f.ID&0x7FF)<<10 | 1<<7 | tail
		length = 1 + 11 + 2 + 2 + 2 + 4
	}
	payload := f.Payload()
	size := payloadOf(code)
	var s stuffing
	s.some(head, length)
	for i := range size {
		if i < len(payload) {
			s.byte(payload[i])
		} else {
			s.byte(0)
		}
	}
	// A stuff bit that would follow the last bit of the payload coincides with the
	// first fixed one.
	if s.due {
		s.stuffed--
	}
	check := checkShort
	if size > shortMost {
		check = checkLong
	}
	return length + 8*size + s.stuffed + check + trailer
}

// lengthCode returns the smallest length code of an FD frame with room for n bytes.
func lengthCode(n int) int {
	for code := range 16 {
		if payloadOf(code) >= n {
			return code
		}
	}
	return 15
}

func payloadOf(code int) int {
	if code <= 8 {
		return code
	}
	return [...]int{12, 16, 20, 24, 32, 48, 64}[code-9]
}

// stuffing counts the stuff bits that a sender inserts: after five equal bits, one bit of
// the opposite value, which itself counts as the first of the following bits.
type stuffing struct {
	state   uint8 // 0 before the first bit; 1 to 4: that many zeros; 5 to 8: 1 to 4 ones
	due     bool  // the last bit was followed by a stuff bit
	stuffed int
}

// bit returns the state after one more bit.
func (s stuffing) bit(one bool) stuffing {
	from, other := uint8(1), uint8(5)
	if one {
		from, other = other, from
	}
	switch {
	case s.state < from || s.state > from+3:
		s.state, s.due = from, false
	case s.state == from+3:
		s.state, s.due = other, true
		s.stuffed++
	default:
		s.state, s.due = s.state+1, false
	}
	return s
}

// some adds the lowest n bits of v, the highest of them first.
func (s *stuffing) some(v uint64, n int) {
	v <<= 64 - n
	for range n {
		*s = s.bit(v>>63 == 1)
		v <<= 1
	}
}

// byte adds eight bits by means of a table.
func (s *stuffing) byte(b byte) {
	t := &stuffTable[s.state][b]
	s.state, s.due = t.state, t.due
	s.stuffed += t.stuffed
}

var stuffTable = func() (t [9][256]stuffing) {
	for state := range t {
		for b := range t[state] {
			s := stuffing{state: uint8(state)}
			s.some(uint64(b), 8)
			t[state][b] = s
		}
	}
	return t
}()

// polynomial is that of the 15-bit CRC: x15+x14+x10+x8+x7+x4+x3+1.
const polynomial = 0x4599

func crcSome(crc uint16, v uint64, n int) uint16 {
	v <<= 64 - n
	for range n {
		if uint16(v>>63)^(crc>>14) == 1 {
			crc = crc<<1&0x7FFF ^ polynomial
		} else {
			crc = crc << 1 & 0x7FFF
		}
		v <<= 1
	}
	return crc
}

func crcByte(crc uint16, b byte) uint16 {
	return crc<<8&0x7FFF ^ crcTable[byte(crc>>7)^b]
}

var crcTable = func() (t [256]uint16) {
	for b := range t {
		t[b] = crcSome(0, uint64(b), 8)
	}
	return t
}()
