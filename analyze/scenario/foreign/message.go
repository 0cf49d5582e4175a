package foreign

import "lull/decode"

// check is a checksum that a message carries.
type check uint8

const (
	noCheck check = iota
	checkXOR
	checkSum
	checkCRC // CRC-8 of SAE J1850: 0x1D, begun with and inverted by 0xFF
)

// message is one layout of a payload.
type message struct {
	id       uint32
	extended bool
	pgn      uint32 // of SAE J1939, 0: none
	bus      string
	module   string
	length   int
	fields   []*field
	used     [64]bool
	base     [8]byte // bits without meaning

	counter     []int // bits, most significant first
	counterStep int64
	check       check
	checkAt     int
	checkSecret byte // appended to what is summed
	noiseAt     []int

	page     int64 // value of the page byte
	pageBits []int // none: it has no pages

	any [8]byte // OR of all payloads in the log
}

// sender sends one identifier: one message, or its pages in turn.
type sender struct {
	messages []*message
	next     int
	period   int64
	jitter   float64
	late     float64
	changes  bool // also sent as soon as a field changes
	boots    int64
	dice     dice

	due, grid int64
	count     int64
	lastRaw   []int64
	absence   bool
}

// room finds a place for a field in the message; big only orders fields of more
// than one byte, as within a byte both orders are one.
func (m *message) room(d dice, f *field, big bool, aligned float64) bool {
	size := 8 * m.length
	for range 40 {
		start := d.IntN(size)
		switch {
		case f.length >= 8 && f.length <= 16 && d.chance(aligned) || f.length > 16:
			start &^= 7
			if big {
				start += 7
			}
			if f.length%8 != 0 && !big && d.chance(0.5) {
				start += 8 - f.length%8
			}
		case f.length == 4:
			start = start&^3 + map[bool]int{true: 3}[big]
		}
		bits := bitsOf(start, f.length, big)
		if m.free(bits) {
			f.start, f.big = start, big
			if bits[0]/8 == bits[len(bits)-1]/8 { // both orders are one
				f.start, f.big = bits[len(bits)-1], false
			}
			m.take(bits)
			m.fields = append(m.fields, f)
			return true
		}
	}
	return false
}

func (m *message) free(bits []int) bool {
	for _, b := range bits {
		if b < 0 || b >= 8*m.length || m.used[b] {
			return false
		}
	}
	return true
}

func (m *message) take(bits []int) {
	for _, b := range bits {
		m.used[b] = true
	}
}

// bits of a field.
func (f *field) bits() []int { return bitsOf(f.start, f.length, f.big) }

// protect adds counter and checksum where there is room: tidily in the first or the
// last bytes, or anywhere.
func (m *message) protect(d dice, tidy bool) {
	if d.chance(0.35) {
		at := d.IntN(m.length)
		if tidy {
			at = oneOf(d, 0, m.length-1, m.length-1)
		}
		if bits := bitsOf(8*at, 8, false); m.free(bits) {
			m.take(bits)
			m.check, m.checkAt = oneOf(d, checkXOR, checkSum, checkCRC, checkCRC), at
			if d.chance(0.4) {
				m.checkSecret = byte(d.IntN(256))
			}
		}
	}
	if m.check == noCheck && !d.chance(0.4) {
		return
	}
	length := oneOf(d, 4, 4, 4, 2, 3, 8, 6)
	for range 12 {
		start := d.IntN(8 * m.length)
		if tidy {
			start = 8*oneOf(d, 0, 1, m.length-1, m.length-2) + d.IntN(2)*4
		}
		if length >= 4 {
			start &^= 3
		}
		if length == 8 {
			start &^= 7
		}
		bits := bitsOf(start, length, false)
		if m.free(bits) && bits[0]/8 == bits[length-1]/8 {
			m.take(bits)
			m.counter, m.counterStep = bits, 1
			if d.chance(0.06) {
				m.counterStep = 3
			}
			return
		}
	}
}

// furnish fills what is left.
func (m *message) furnish(d dice) {
	if d.chance(0.2) {
		at := d.IntN(m.length)
		if bits := bitsOf(8*at, 8, false); m.free(bits) {
			m.take(bits)
			m.noiseAt = append(m.noiseAt, at)
		}
	}
	fill := oneOf(d, byte(0), 0, 0, 0xFF, byte(d.IntN(256)))
	for i := range m.base {
		m.base[i] = fill
		if d.chance(0.1) {
			m.base[i] = byte(d.IntN(256))
		}
	}
}

// fill writes the payload of one frame.
func (s *sender) fill(m *message, c *car, f *decode.Frame) {
	*f = decode.Frame{ID: m.id, Len: uint8(m.length), Bus: m.bus}
	if m.extended {
		f.Flags = decode.Extended
	}
	data := f.Data[:m.length]
	copy(data, m.base[:])
	for _, x := range m.fields {
		put(data, x.bits(), s.raw(x, c))
	}
	for _, at := range m.noiseAt {
		data[at] = byte(s.dice.Uint64())
	}
	if m.pageBits != nil {
		put(data, m.pageBits, m.page)
	}
	if m.counter != nil {
		put(data, m.counter, s.count)
		s.count += m.counterStep
	}
	if m.check != noCheck {
		data[m.checkAt] = m.sum(data)
	}
}

// raw is what a field of the sender tells now.
func (s *sender) raw(x *field, c *car) int64 {
	if x.absent && s.absence {
		if x.signed {
			return -1 << (x.length - 1)
		}
		return 1<<x.length - 1
	}
	return x.raw(c)
}

// sum is the checksum over all bytes but its own, and over the secret byte.
func (m *message) sum(data []byte) byte {
	sum := byte(0)
	if m.check == checkCRC {
		sum = 0xFF
	}
	add := func(b byte) {
		switch m.check {
		case checkXOR:
			sum ^= b
		case checkSum:
			sum += b
		case checkCRC:
			sum ^= b
			for range 8 {
				if sum&0x80 != 0 {
					sum = sum<<1 ^ 0x1D
				} else {
					sum <<= 1
				}
			}
		}
	}
	for i, b := range data {
		if i != m.checkAt {
			add(b)
		}
	}
	if m.checkSecret != 0 {
		add(m.checkSecret)
	}
	if m.check == checkCRC {
		sum ^= 0xFF
	}
	return sum
}
