package candump

import (
	"math/bits"
)

// hexPair maps two hexadecimal digits, read as a little-endian word, to their byte, and
// anything else to -1.
var hexPair = func() *[1 << 16]int16 {
	var t [1 << 16]int16
	for i := range t {
		high, low := hex[i&0xFF], hex[i>>8]
		if high|low > 15 {
			t[i] = -1
			continue
		}
		t[i] = int16(high<<4 | low)
	}
	return &t
}()

const (
	zeros      = 0x3030303030303030
	nibbles    = 0xF0F0F0F0F0F0F0F0
	aboveNines = 0x0606060606060606
)

// areDigits reports whether all eight bytes are decimal digits.
func areDigits(v uint64) bool {
	return v&nibbles == zeros && (v+aboveNines)&nibbles == zeros
}

// eightDigits returns the number written with eight decimal digits, the first in the lowest
// byte.
func eightDigits(v uint64) int64 {
	v -= zeros
	v = v*10 + v>>8
	v = (v&0x000000FF000000FF)*(100+1_000_000<<32) + (v>>16&0x000000FF000000FF)*(1+10_000<<32)
	return int64(v >> 32)
}

const (
	tops  = 0x8080808080808080
	ones  = 0x0101010101010101
	pairs = 0x00FF00FF00FF00FF
)

// notHexDigits returns a word with the top bit set in each of the eight bytes that is not a
// hexadecimal digit.
func notHexDigits(v uint64) uint64 {
	c := v &^ tops
	digit := (c + ones*(0x80-'0')) &^ (c + ones*(0x7F-'9'))
	lower := c | ones*0x20
	letter := (lower + ones*(0x80-'a')) &^ (lower + ones*(0x7F-'f'))
	return (^(digit | letter) | v) & tops
}

// areHexDigits reports whether all sixteen characters are hexadecimal digits. A carry out
// of a byte that is not ASCII spoils the result for the bytes after it, but that byte makes
// the whole result false anyway.
func areHexDigits(a, b uint64) bool {
	lowerA, lowerB := a|ones*0x20, b|ones*0x20
	fitA := (a+ones*(0x80-'0'))&^(a+ones*(0x7F-'9')) | (lowerA+ones*(0x80-'a'))&^(lowerA+ones*(0x7F-'f'))
	fitB := (b+ones*(0x80-'0'))&^(b+ones*(0x7F-'9')) | (lowerB+ones*(0x80-'a'))&^(lowerB+ones*(0x7F-'f'))
	return fitA&fitB&^(a|b)&tops == tops
}

// fourBytes returns the bytes written with eight hexadecimal digits of either case, in the
// same order. The byte of an invalid pair is arbitrary.
func fourBytes(v uint64) uint32 {
	nibble := v&(ones*0x0F) + (v>>6&ones)*9
	t := (nibble<<4 | nibble>>8) & pairs
	t = (t | t>>8) & 0x0000FFFF0000FFFF
	return uint32(t | t>>16)
}

// nanoseconds returns the nanoseconds written with six digits of a fraction, the first in
// the highest byte.
func nanoseconds(micro uint64) int64 {
	return eightDigits(bits.ReverseBytes64(micro)<<16|zeros&0xFFFF) * 1000
}

// payloadDigits returns how many of sixteen characters are hexadecimal digits, up to the
// first that is not.
func payloadDigits(first, second uint64) int {
	bad := notHexDigits(first)
	if bad != 0 {
		return bits.TrailingZeros64(bad) / 8
	}
	return 8 + bits.TrailingZeros64(notHexDigits(second))/8
}

// isFraction reports whether the bytes of the word, from the highest on, are the end of a
// stamp: six digits, a bracket and a space.
func isFraction(micro uint64) bool {
	v := micro ^ (zeros&^0xFFFF | ')'<<8 | ' ')
	return (v+aboveNines&^0xFFFF|v)&(nibbles|0xFFFF) == 0
}
