package decode

import (
	"encoding/binary"
	"math"
)

// field is a Signal prepared for reading: the position of its bits, computed once, and the
// rules that make a value invalid.
type field struct {
	signal int // index into Map.Signals
	spec   *Signal

	first, last int    // first and last payload byte that hold any of its bits
	shift       uint   // position of the least significant bit in its byte
	mask        uint64 // as many one bits as the field is long
	signBit     uint64 // 0 if the field is unsigned
	noneFrom    uint64 // from here on, bit patterns are J1939's error and not-available codes
	hasNone     bool

	// plain marks what nearly all fields are: integers of up to 32 bits within eight
	// bytes that are scaled exactly, without further rules.
	plain    bool
	mul, add int64
	pow      float64

	bigEndian bool
	right     uint // rightOf(first)

	when  []choice
	never bool // its selectors can never hold, which a checked map rules out
}

// choice is a Selector in terms of the fields of its entry.
type choice struct {
	field int
	raws  []int64
}

// compileField prepares a signal for reading. A signal with bits that no payload can have
// gets a last byte beyond every payload, so that its values are always invalid.
func compileField(m *Map, index int, parameterGroup bool) field {
	s := &m.Signals[index]
	f := field{signal: index, spec: s, last: math.MaxInt}
	if s.Length < 1 || s.Length > 64 || s.Start < 0 || s.Float && s.Length != 32 && s.Length != 64 {
		return f
	}
	var shift int
	f.first, f.last, shift = s.place()
	f.shift, f.bigEndian = uint(shift), s.BigEndian
	f.mask = math.MaxUint64 >> (64 - s.Length)
	f.right = f.rightOf(f.first)
	if s.Signed {
		f.signBit = 1 << (s.Length - 1)
	}
	if parameterGroup {
		f.noneFrom, f.hasNone = noneCodes(s.Length)
	}
	const small = 1 << 20 // times 2^32, and an offset as large, is exact in a float64
	if !s.Float && s.Length <= 32 && len(s.Invalid) == 0 && !s.HasMin && !s.HasMax && !f.hasNone &&
		s.Scale.exact && s.Scale.mul > -small && s.Scale.mul < small && s.Scale.add > -small<<30 && s.Scale.add < small<<30 {
		f.plain, f.mul, f.add, f.pow = true, s.Scale.mul, s.Scale.add, s.Scale.pow
	}
	return f
}

// noneCodes returns the lowest bit pattern of a J1939 parameter that means error or not
// available, and whether parameters of that length have such codes (SAE J1939-71, raw
// ranges of transmitted parameters).
func noneCodes(length int) (uint64, bool) {
	switch {
	case length == 2:
		return 2, true
	case length == 4:
		return 14, true
	case length >= 8:
		return 0xFE << (length - 8), true
	}
	return 0, false
}

// rightOf returns how far the field's bits lie from the right end of the word made of the
// eight bytes that begin with byte from, read in the field's byte order. The word must
// contain the whole field.
func (f *field) rightOf(from int) uint {
	if f.bigEndian {
		return uint(from+7-f.last)*8 + f.shift
	}
	return uint(f.first-from)*8 + f.shift
}

// shifted reads the eight bytes that begin with the field's first byte as one word and
// shifts the field's bits to the right end. Bits beyond the payload are shifted out or
// left for the mask.
func (f *field) shifted(eight []byte) uint64 {
	if f.bigEndian {
		return binary.BigEndian.Uint64(eight) >> f.right
	}
	return binary.LittleEndian.Uint64(eight) >> f.right
}

// pattern reads the field's bits. The payload must reach the field's last byte.
func (f *field) pattern(payload []byte) uint64 {
	if f.last-f.first < 8 && f.first+8 <= cap(payload) {
		return f.shifted(payload[f.first:f.first+8]) & f.mask
	}
	// The slow path is for short payloads and for fields that span nine bytes. Bits
	// shifted out on the left belong to the neighbours.
	bytes := payload[f.first : f.last+1]
	var v uint64
	if f.spec.BigEndian {
		for _, b := range bytes[:len(bytes)-1] {
			v = v<<8 | uint64(b)
		}
		return (v<<(8-f.shift) | uint64(bytes[len(bytes)-1]>>f.shift)) & f.mask
	}
	for i := len(bytes) - 1; i > 0; i-- {
		v = v<<8 | uint64(bytes[i])
	}
	return (v<<(8-f.shift) | uint64(bytes[0]>>f.shift)) & f.mask
}

// read returns the field's raw and physical value in a payload, and whether they are
// valid.
func (f *field) read(payload []byte) (raw int64, value float64, valid bool) {
	if f.last >= len(payload) {
		return 0, 0, false
	}
	bits := f.pattern(payload)
	if f.plain {
		raw = int64((bits ^ f.signBit) - f.signBit)
		return raw, float64(raw*f.mul+f.add) / f.pow, true
	}
	if f.hasNone && bits >= f.noneFrom {
		return 0, 0, false
	}
	s := f.spec
	// Two's complement: flipping the sign bit and subtracting it again extends it into
	// all bits above.
	raw = int64((bits ^ f.signBit) - f.signBit)
	if containsRaw(s.Invalid, raw) {
		return 0, 0, false
	}
	switch {
	case !s.Float:
		value = s.Scale.Int(raw, !s.Signed)
	case s.Length == 32:
		value = s.Scale.Real(float64(math.Float32frombits(uint32(bits))))
	default:
		value = s.Scale.Real(math.Float64frombits(bits))
	}
	if math.IsNaN(value) || math.IsInf(value, 0) ||
		s.HasMin && value < s.Min || s.HasMax && value > s.Max {
		return 0, 0, false
	}
	return raw, value, true
}
