package wire

import (
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lull/decode"
)

func frame(id uint32, flags decode.Flags, payload ...byte) *decode.Frame {
	f := &decode.Frame{ID: id, Flags: flags, Len: uint8(len(payload))}
	copy(f.Data[:], payload)
	return f
}

// Without stuff bits, a frame of n bytes takes 47 + 8n bits, or 67 + 8n with a 29-bit
// identifier, including the three bits of intermission. Of the 34 + 8n or 54 + 8n bits
// that are stuffed, at most every fourth after the first is followed by a stuff bit. That
// makes 135 and 160 bits for eight bytes (Bosch, CAN Specification 2.0; the two figures
// are common in texts on response times; from memory).
func TestClassicFramesLieBetweenThePublishedLengths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		payload := rapid.SliceOfN(rapid.SampledFrom([]byte{0, 0xFF, 0x0F, 0xF0, 0x83, 0x55, 7}), 0, 8).Draw(t, "payload")
		extended := rapid.Bool().Draw(t, "extended")
		id := rapid.Uint32Range(0, 0x7FF).Draw(t, "id")
		least, stuffed, flags := 47, 34, decode.Flags(0)
		if extended {
			id = rapid.Uint32Range(0, 0x1FFFFFFF).Draw(t, "id")
			least, stuffed, flags = 67, 54, decode.Extended
		}
		n := 8 * len(payload)
		got := Bits(frame(id, flags, payload...))
		if most := least + n + (stuffed+n-1)/4; got < least+n || got > most {
			t.Errorf("%d bits, want %d to %d", got, least+n, most)
		}
	})
}

func TestThePublishedLengthsOfEightBytes(t *testing.T) {
	plain := func(f *decode.Frame) int { // without its stuff bits
		bits, stuffed := classicBits(f)
		return Bits(f) - stuffBits(bits[:stuffed])
	}
	eight := make([]byte, 8)
	for _, test := range []struct {
		f    *decode.Frame
		want int
	}{
		{frame(0x123, 0, eight...), 111},
		{frame(0x123, decode.Extended, eight...), 131},
		{frame(0x123, 0), 47},
		{frame(0x123, decode.Extended), 67},
	} {
		if got := plain(test.f); got != test.want {
			t.Errorf("%+v: %d bits without stuff bits, want %d", test.f, got, test.want)
		}
	}
	// The most stuff bits that 98 and 118 bits can have, assuming a suitable CRC: after
	// five equal bits, then after every four.
	for bits, want := range map[int]int{34 + 64: 24, 54 + 64: 29} {
		worst := "00000" + strings.Repeat("11110000", 20)
		if got := stuffBits(worst[:bits]); got != want {
			t.Errorf("%d bits: %d stuff bits, want %d", bits, got, want)
		}
		var s stuffing
		for _, b := range worst[:bits] {
			s = s.bit(b == '1')
		}
		if s.stuffed != want {
			t.Errorf("%d bits: %d stuff bits counted, want %d", bits, s.stuffed, want)
		}
	}
}

// The check value of CRC-15/CAN for the digits 1 to 9 is that of the catalogue of
// parametrised CRC algorithms (from memory).
func TestCRCOfTheDigits(t *testing.T) {
	var crc uint16
	for _, b := range []byte("123456789") {
		crc = crcByte(crc, b)
	}
	if crc != 0x059E {
		t.Errorf("0x%04X, want 0x059E", crc)
	}
}

// The result is computed a second time in a simple way: with text of zeros and ones, and
// the CRC by long division.
func TestBitsEqualsASimpleComputation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := &decode.Frame{}
		if rapid.Bool().Draw(t, "extended") {
			f.Flags |= decode.Extended
			f.ID = rapid.Uint32Range(0, 0x1FFFFFFF).Draw(t, "id")
		} else {
			f.ID = rapid.Uint32Range(0, 0x7FF).Draw(t, "id")
		}
		b := rapid.OneOf(rapid.Byte(), rapid.SampledFrom([]byte{0, 0xFF}))
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0:
			copy(f.Data[:], rapid.SliceOfN(b, 8, 8).Draw(t, "data"))
			f.Len = uint8(rapid.IntRange(0, 8).Draw(t, "length"))
			if f.Len == 8 {
				f.RawDLC = rapid.SampledFrom([]uint8{0, 9, 15}).Draw(t, "code")
			}
		case 1:
			f.Flags |= decode.Remote
			f.Len = uint8(rapid.IntRange(0, 8).Draw(t, "length"))
		default:
			f.Flags |= decode.FD | rapid.SampledFrom([]decode.Flags{0, decode.BitRateSwitch, decode.ErrorStateIndicator}).Draw(t, "flags")
			copy(f.Data[:], rapid.SliceOfN(b, 64, 64).Draw(t, "data"))
			f.Len = uint8(rapid.SampledFrom([]int{0, 5, 8, 12, 16, 20, 24, 32, 48, 64}).Draw(t, "length"))
		}
		if got, want := Bits(f), simpleBits(f); got != want {
			t.Errorf("%d, want %d", got, want)
		}
	})
}

// Few frames differ in their stuff bits where a single bit of a head is wrong.
func TestBitsEqualsASimpleComputationForManyFrames(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	for range 20_000 {
		f := &decode.Frame{ID: rng.Uint32() >> rng.IntN(32), Len: uint8(rng.IntN(9))}
		if rng.IntN(2) == 0 {
			f.ID = ^f.ID // many ones in a row
		}
		f.Flags = []decode.Flags{0, decode.Remote, decode.FD, decode.FD | decode.BitRateSwitch, decode.FD | decode.ErrorStateIndicator}[rng.IntN(5)]
		if f.ID &= 0x1FFFFFFF; rng.IntN(2) == 0 {
			f.Flags |= decode.Extended
		} else {
			f.ID &= 0x7FF
		}
		if f.Flags == 0 && f.Len == 8 {
			f.RawDLC = uint8(8 + rng.IntN(8))
		}
		if f.RawDLC == 8 {
			f.RawDLC = 0
		}
		for i := range f.Len {
			f.Data[i] = []byte{0, 0xFF, byte(rng.Uint32())}[rng.IntN(3)]
		}
		if got, want := Bits(f), simpleBits(f); got != want {
			t.Fatalf("%+v: %d bits, want %d", f, got, want)
		}
	}
}

func simpleBits(f *decode.Frame) int {
	if f.Flags.Has(decode.FD) {
		bits, rest := flexibleBits(f)
		return len(bits) + stuffBits(bits[:len(bits)-1]) + rest
	}
	bits, stuffed := classicBits(f)
	return len(bits) + stuffBits(bits[:stuffed]) + 3
}

func binary(v uint64, n int) string {
	var b strings.Builder
	for i := n - 1; i >= 0; i-- {
		b.WriteByte('0' + byte(v>>i&1))
	}
	return b.String()
}

// classicBits returns a frame as text of zeros and ones, and how many of them are stuffed.
func classicBits(f *decode.Frame) (bits string, stuffed int) {
	remote := "0"
	if f.Flags.Has(decode.Remote) {
		remote = "1"
	}
	if f.Flags.Has(decode.Extended) {
		bits = "0" + binary(uint64(f.ID>>18), 11) + "11" + binary(uint64(f.ID), 18) + remote + "00"
	} else {
		bits = "0" + binary(uint64(f.ID), 11) + remote + "00"
	}
	code := f.Len
	if f.RawDLC != 0 {
		code = f.RawDLC
	}
	bits += binary(uint64(code), 4)
	for _, b := range f.Payload() {
		bits += binary(uint64(b), 8)
	}
	rest := []byte(bits + strings.Repeat("0", 15))
	for i := range bits {
		if rest[i] == '1' {
			for k, p := range "1100010110011001" { // x15 to x0
				rest[i+k] ^= byte(p) & 1
			}
		}
	}
	bits += string(rest[len(bits):])
	return bits + "1" + "01" + "1111111", len(bits)
}

// flexibleBits returns an FD frame as text up to the end of its payload, and the number of
// the remaining bits.
func flexibleBits(f *decode.Frame) (bits string, rest int) {
	flag := func(has decode.Flags) string {
		if f.Flags.Has(has) {
			return "1"
		}
		return "0"
	}
	if f.Flags.Has(decode.Extended) {
		bits = "0" + binary(uint64(f.ID>>18), 11) + "11" + binary(uint64(f.ID), 18) + "0" + "1" + "0"
	} else {
		bits = "0" + binary(uint64(f.ID), 11) + "0" + "0" + "1" + "0"
	}
	code := map[uint8]uint64{0: 0, 1: 1, 2: 2, 3: 3, 4: 4, 5: 5, 6: 6, 7: 7, 8: 8, 12: 9, 16: 10, 20: 11, 24: 12, 32: 13, 48: 14, 64: 15}[f.Len]
	bits += flag(decode.BitRateSwitch) + flag(decode.ErrorStateIndicator) + binary(code, 4)
	for _, b := range f.Payload() {
		bits += binary(uint64(b), 8)
	}
	// Stuff count, CRC, fixed stuff bits; delimiter, acknowledge, its delimiter,
	// end of frame, intermission.
	rest = 4 + 17 + 6
	if f.Len > 16 {
		rest = 4 + 21 + 7
	}
	return bits, rest + 1 + 1 + 1 + 7 + 3
}

// stuffBits counts the stuff bits after the bits of the text, including one after the last
// bit.
func stuffBits(bits string) int {
	n, run, last := 0, 0, byte(' ')
	for i := range len(bits) {
		if bits[i] != last {
			last, run = bits[i], 0
		}
		if run++; run == 5 {
			n++
			last, run = last^1, 1
		}
	}
	return n
}

func TestErrorFramesHaveNoBitsOnTheBus(t *testing.T) {
	if got := Bits(frame(4, decode.Error, 0, 4, 0, 0, 0, 0, 0, 0)); got != 0 {
		t.Errorf("%d bits", got)
	}
}

// A log may contain FD frames of lengths that do not exist on the bus: the sender padded
// them.
func TestOddLengthsArePadded(t *testing.T) {
	for _, test := range []struct{ odd, full int }{{9, 12}, {13, 16}, {33, 48}, {64, 64}} {
		a, b := make([]byte, test.odd), make([]byte, test.full)
		if got, want := Bits(frame(1, decode.FD, a...)), Bits(frame(1, decode.FD, b...)); got != want {
			t.Errorf("%d bytes: %d bits, want %d", test.odd, got, want)
		}
	}
	if got := lengthCode(65); got != 15 {
		t.Errorf("code %d of what is too long", got)
	}
}

func BenchmarkBits(b *testing.B) {
	f := frame(0x1A0, 0, 0x12, 0, 0xFF, 0x80, 1, 2, 3, 4)
	for b.Loop() {
		Bits(f)
	}
}
