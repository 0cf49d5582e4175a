package census

import "math/bits"

// Check is how a byte is worked out from the others of its frame.
type Check uint8

// The kinds of checksums that are recognised. All allow for a constant: a start value, a
// final inversion, or a number of the identifier that is counted in before the payload.
const (
	NoCheck Check = iota
	// CheckXOR: the exclusive or of all bytes of the payload is constant.
	CheckXOR
	// CheckSum: the byte is the sum of the others modulo 256, and a constant.
	CheckSum
	// CheckSumZero: the sum of all bytes modulo 256 is constant.
	CheckSumZero
	// CheckCRC1D and CheckCRC2F: the CRC-8 of SAE J1850 and that of AUTOSAR, by their
	// polynomials, over the other bytes in order.
	CheckCRC1D
	CheckCRC2F
	// CheckCRC1DKey and CheckCRC2FKey: the same, with a constant byte counted in behind
	// the payload.
	CheckCRC1DKey
	CheckCRC2FKey
	checkCount
)

// The polynomials of CRC-8 as published, without their highest term.
const (
	polynomialJ1850   = 0x1D
	polynomialAUTOSAR = 0x2F
)

// crcTable is the table of a CRC-8, highest bit first, not reflected.
type crcTable [256]uint8

func newCRCTable(polynomial uint8) *crcTable {
	var t crcTable
	for i := range t {
		r := uint8(i)
		for range 8 {
			top := r >> 7
			r <<= 1
			if top == 1 {
				r ^= polynomial
			}
		}
		t[i] = r
	}
	return &t
}

var crc1D, crc2F = newCRCTable(polynomialJ1850), newCRCTable(polynomialAUTOSAR)

// over is the CRC of a payload without one of its bytes, begun with 0. A start value, a
// final inversion and bytes before the payload change it by a constant alone, as long as
// the length stays.
func (t *crcTable) over(data []byte, but int) uint8 {
	var r uint8
	for i, b := range data {
		if i != but {
			r = t[r^b]
		}
	}
	return r
}

// leastChecked is how many frames unlike the one before a checksum has to hold in, all of
// them, and leastSums how many different values it has to take meanwhile.
const (
	leastChecked = 32
	leastSums    = 16
)

// checks are the checksums that have held so far in all frames of an identifier.
type checks struct {
	length int
	tested int64 // frames unlike the one before
	// alive has a bit for each byte that may hold the checksum of a kind. Those that are
	// the same for all bytes have one bit for all.
	alive [checkCount]uint64
	want  [checkCount][]uint8 // what stays the same, by byte
	// mirrors has a bit for each byte that has always had a constant distance or a
	// constant exclusive or to this one: with a value sent twice sums prove nothing.
	mirrors [][2]uint64
	first   []byte
}

// newChecks begins with a payload; nil where it is too short to have a checksum.
func newChecks(data []byte) *checks {
	if len(data) < 2 {
		return nil
	}
	c := &checks{length: len(data), first: append([]byte(nil), data...), mirrors: make([][2]uint64, len(data))}
	all := uint64(1)<<len(data) - 1 // of 64 bytes, all ones
	for k := CheckXOR; k < checkCount; k++ {
		c.alive[k] = all
		if k == CheckXOR || k == CheckSumZero {
			c.alive[k] = 1
		}
		c.want[k] = make([]uint8, len(data))
		for at := range data {
			c.want[k][at] = k.rest(data, at)
		}
	}
	for i := range c.mirrors {
		c.mirrors[i] = [2]uint64{all &^ (1 << i), all &^ (1 << i)}
	}
	return c
}

// rest is what stays the same in every frame if the byte is such a checksum.
func (k Check) rest(data []byte, at int) uint8 {
	switch k {
	case CheckXOR:
		var r uint8
		for _, b := range data {
			r ^= b
		}
		return r
	case CheckSumZero, CheckSum:
		var r uint8
		for _, b := range data {
			r += b
		}
		if k == CheckSum {
			r -= 2 * data[at]
		}
		return r
	case CheckCRC1D:
		return crc1D.over(data, at) ^ data[at]
	case CheckCRC2F:
		return crc2F.over(data, at) ^ data[at]
	case CheckCRC1DKey:
		return crc1D[crc1D.over(data, at)] ^ data[at]
	case CheckCRC2FKey:
		return crc2F[crc2F.over(data, at)] ^ data[at]
	}
	return 0
}

// test takes a frame unlike the one before; false where no kind is left.
func (c *checks) test(data []byte) bool {
	if len(data) != c.length {
		return false
	}
	c.tested++
	left := uint64(0)
	for k := CheckXOR; k < checkCount; k++ {
		for rest := c.alive[k]; rest != 0; rest &= rest - 1 {
			if at := bits.TrailingZeros64(rest); k.rest(data, at) != c.want[k][at] {
				c.alive[k] &^= 1 << at
			}
		}
		left |= c.alive[k]
	}
	if c.alive[CheckXOR]|c.alive[CheckSum]|c.alive[CheckSumZero] != 0 {
		for i := range c.mirrors {
			m := &c.mirrors[i]
			for rest := m[0]; rest != 0; rest &= rest - 1 {
				if j := bits.TrailingZeros64(rest); data[i]-data[j] != c.first[i]-c.first[j] {
					m[0] &^= 1 << j
				}
			}
			for rest := m[1]; rest != 0; rest &= rest - 1 {
				if j := bits.TrailingZeros64(rest); data[i]^data[j] != c.first[i]^c.first[j] {
					m[1] &^= 1 << j
				}
			}
		}
	}
	return left != 0
}

// found gives the byte that holds a checksum, and which; NoCheck where none is shown.
func (c *checks) found(list []Byte) (at int, kind Check) {
	if c == nil || c.tested < leastChecked || len(list) < c.length {
		return 0, NoCheck
	}
	var changing uint64
	restless := uint64(0) // change in nearly every frame that is unlike the one before
	for i := range c.length {
		b := &list[i]
		if b.Changes == 0 {
			continue
		}
		changing |= 1 << i
		if b.Changes*10 >= c.tested*9 && b.Values() >= leastSums && len(b.Counters) == 0 {
			restless |= 1 << i
		}
	}
	one := func(mask uint64) bool { return bits.OnesCount64(mask) == 1 }
	for _, k := range []Check{CheckCRC1D, CheckCRC2F, CheckCRC1DKey, CheckCRC2FKey} {
		may := c.alive[k] & changing
		if one(may) && may&restless != 0 && changing != may {
			return bits.TrailingZeros64(may), k
		}
	}
	if bits.OnesCount64(changing) < 3 {
		return 0, NoCheck
	}
	for rest := changing; rest != 0; rest &= rest - 1 {
		if m := &c.mirrors[bits.TrailingZeros64(rest)]; (m[0]|m[1])&changing != 0 {
			return 0, NoCheck
		}
	}
	// A sum that is the same for all bytes does not tell which of them is the checksum:
	// only one may change in nearly every frame.
	for _, k := range []Check{CheckXOR, CheckSum, CheckSumZero} {
		may := c.alive[k]
		if k != CheckSum && may != 0 {
			may = restless
		}
		if may &= restless; !one(may) {
			continue
		}
		at := bits.TrailingZeros64(may)
		// The sum of two slow values is slow, and a value of its own.
		if b := &list[at]; k != CheckXOR && b.Flips[7]*20 < b.Changes {
			continue
		}
		return at, k
	}
	return 0, NoCheck
}
