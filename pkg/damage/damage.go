// Package damage damages data the way disks, memory cards and interrupted transfers do.
// Only tests use it. Start with Of.
package damage

import (
	"bytes"
	"encoding/binary"
	"math/rand/v2"
)

// Of returns a copy of data that is damaged in one to three places. At each place a bit
// is flipped, the end is cut off, or a piece is repeated, left out, cleared or
// overwritten. The same random numbers damage the same data in the same way.
func Of(random *rand.Rand, data []byte) []byte {
	const longest = 64 // bytes in a piece
	b := bytes.Clone(data)
	for range 1 + random.IntN(3) {
		if len(b) == 0 {
			return b
		}
		at := random.IntN(len(b))
		to := min(len(b), at+1+random.IntN(longest))
		switch random.IntN(6) {
		case 0:
			b[at] ^= 1 << random.IntN(8)
		case 1:
			b = b[:at]
		case 2:
			b = append(b[:to:to], b[at:]...)
		case 3:
			b = append(b[:at:at], b[to:]...)
		case 4:
			clear(b[at:to])
		case 5:
			for i := at; i < to; i++ {
				b[i] = byte(random.Uint32())
			}
		}
	}
	return b
}

// Length returns a copy of data in which four bytes, which may be a length, are replaced
// by a random number of any size, as a trap for readers that trust lengths.
func Length(random *rand.Rand, data []byte) []byte {
	b := bytes.Clone(data)
	if len(b) >= 4 {
		binary.LittleEndian.PutUint32(b[4*random.IntN(len(b)/4):], random.Uint32()>>random.IntN(32))
	}
	return b
}
