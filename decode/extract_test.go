package decode

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.einride.tech/can"
	"pgregory.net/rapid"
)

// patternOf reads a field bit by bit, following the map's bit numbers: a little-endian field
// goes up from its least significant bit; a big-endian field goes down from its most
// significant bit, and from bit 0 of a byte to bit 7 of the next. The last result is false if
// the payload is too short.
func patternOf(s *Signal, payload []byte) (uint64, bool) {
	var pattern uint64
	at := s.Start
	for i := 0; i < s.Length; i++ {
		if at/8 >= len(payload) {
			return 0, false
		}
		bit := uint64(payload[at/8]>>(at%8)) & 1
		switch {
		case !s.BigEndian:
			pattern |= bit << i
			at++
		case at%8 == 0:
			pattern = pattern<<1 | bit
			at += 15
		default:
			pattern = pattern<<1 | bit
			at--
		}
	}
	return pattern, true
}

// fields generates a field within the given number of bytes.
func fields(bytes int) *rapid.Generator[Signal] {
	return rapid.Custom(func(t *rapid.T) Signal {
		length := rapid.IntRange(1, min(64, 8*bytes)).Draw(t, "length")
		from := rapid.IntRange(0, 8*bytes-length).Draw(t, "start")
		s := Signal{Start: from, Length: length, Scale: Identity,
			BigEndian: rapid.Bool().Draw(t, "big endian"), Signed: rapid.Bool().Draw(t, "signed")}
		if s.BigEndian {
			// The same run of bits, counted from the most significant bit of byte 0.
			s.Start = from/8*8 + 7 - from%8
		}
		return s
	})
}

// oneField decodes a payload by a map with one signal.
func oneField(s Signal, kind Kind, payload []byte) Sample {
	d := NewDecoder(mapOf(testEntry{Entry{Kind: kind, ID: 1, Source: -1}, []Signal{s}}))
	d.decodePayload(payload, 0, 0)
	return d.samples[0]
}

// The library numbers the bits of a frame like the map, and in both a big-endian range begins
// at its most significant bit, so start bits need no conversion.
func TestFieldsOfClassicFramesReadAsAnIndependentLibraryReadsThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := fields(8).Draw(t, "field")
		var data can.Data
		copy(data[:], rapid.SliceOfN(rapid.Byte(), 8, 8).Draw(t, "payload"))
		start, length := uint8(s.Start), uint8(s.Length)
		var want int64
		switch {
		case s.Signed && s.BigEndian:
			want = data.SignedBitsBigEndian(start, length)
		case s.Signed:
			want = data.SignedBitsLittleEndian(start, length)
		case s.BigEndian:
			want = int64(data.UnsignedBitsBigEndian(start, length))
		default:
			want = int64(data.UnsignedBitsLittleEndian(start, length))
		}
		value := float64(want)
		if !s.Signed {
			value = float64(uint64(want))
		}
		if diff := cmp.Diff(Sample{Raw: want, Value: value, Valid: true}, oneField(s, ByID, data[:])); diff != "" {
			t.Fatalf("sample (-want +got):\n%s", diff)
		}
	})
}

func TestFieldsOfPayloadsOfAnyLengthReadAsBitByBit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := fields(MaxPayload).Draw(t, "field")
		s.Signed = false
		payload := rapid.SliceOfN(rapid.Byte(), 0, MaxPayload).Draw(t, "payload")
		pattern, whole := patternOf(&s, payload)
		want := Sample{}
		if whole {
			want = Sample{Raw: int64(pattern), Value: float64(pattern), Valid: true}
		}
		if diff := cmp.Diff(want, oneField(s, ByID, payload)); diff != "" {
			t.Fatalf("sample (-want +got):\n%s", diff)
		}
	})
}

func TestFieldsAtTheirExtremes(t *testing.T) {
	last := make([]byte, MaxPayload)
	last[63] = 0x80
	ones := make([]byte, 16)
	for i := range ones {
		ones[i] = 0xFF
	}
	nine := []byte{0x0F, 1, 2, 3, 4, 5, 6, 7, 0xF0}
	tests := []struct {
		name    string
		signal  Signal
		payload []byte
		want    Sample
	}{
		{"bit 511, little endian", Signal{Start: 511, Length: 1}, last, Sample{Raw: 1, Value: 1, Valid: true}},
		{"bit 511, big endian", Signal{Start: 511, Length: 1, BigEndian: true}, last, Sample{Raw: 1, Value: 1, Valid: true}},
		{"bit 511 of 63 bytes", Signal{Start: 511, Length: 1}, last[:63], Sample{}},
		{"64 bits in nine bytes, little endian", Signal{Start: 4, Length: 64}, nine,
			Sample{Raw: 0x0070605040302010, Value: 0x0070605040302010, Valid: true}},
		{"64 bits in nine bytes, big endian", Signal{Start: 3, Length: 64, BigEndian: true}, nine,
			Sample{Raw: -0xFEFDFCFBFAF9F81, Value: 0xF01020304050607F, Valid: true}},
		{"64 bits unsigned", Signal{Start: 0, Length: 64}, ones, Sample{Raw: -1, Value: math.MaxUint64, Valid: true}},
		{"64 bits signed", Signal{Start: 0, Length: 64, Signed: true}, ones, Sample{Raw: -1, Value: -1, Valid: true}},
		{"one bit signed", Signal{Start: 3, Length: 1, Signed: true}, ones, Sample{Raw: -1, Value: -1, Valid: true}},
		{"no payload", Signal{Start: 0, Length: 1}, nil, Sample{}},
		{"one bit beyond the payload", Signal{Start: 1, Length: 16}, ones[:2], Sample{}},
		{"length 0", Signal{Start: 0, Length: 0}, ones, Sample{}},
		{"length 65", Signal{Start: 0, Length: 65}, ones, Sample{}},
		{"negative start", Signal{Start: -1, Length: 8}, ones, Sample{}},
		{"float of 16 bits", Signal{Start: 0, Length: 16, Float: true}, ones, Sample{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, oneField(tt.signal, ByID, tt.payload)); diff != "" {
				t.Errorf("sample (-want +got):\n%s", diff)
			}
		})
	}
}

// bytesOf writes a pattern in little-endian order.
func bytesOf(pattern uint64) []byte {
	b := make([]byte, 8)
	for i := range b {
		b[i] = byte(pattern >> (8 * i))
	}
	return b
}

func TestFloatsAndTheirInvalidValues(t *testing.T) {
	single, double := Signal{Length: 32, Float: true}, Signal{Length: 64, Float: true}
	scaled := single
	scaled.Scale = scale("10", "1")
	tests := []struct {
		name    string
		signal  Signal
		pattern uint64
		want    Sample
	}{
		{"single 1.5", single, 0x3FC00000, Sample{Raw: 0x3FC00000, Value: 1.5, Valid: true}},
		{"single -0.1", single, 0xBDCCCCCD, Sample{Raw: 0xBDCCCCCD, Value: float64(float32(-0.1)), Valid: true}},
		{"single scaled", scaled, 0x3FC00000, Sample{Raw: 0x3FC00000, Value: 16, Valid: true}},
		{"single NaN", single, 0x7FC00000, Sample{}},
		{"single infinity", single, 0x7F800000, Sample{}},
		{"single negative infinity", single, 0xFF800000, Sample{}},
		{"double pi", double, math.Float64bits(math.Pi), Sample{Raw: int64(math.Float64bits(math.Pi)), Value: math.Pi, Valid: true}},
		{"double NaN", double, math.Float64bits(math.NaN()), Sample{}},
		{"double infinity", double, math.Float64bits(math.Inf(-1)), Sample{}},
		{"double that the factor makes infinite", Signal{Length: 64, Float: true, Scale: scale("10", "")}, math.Float64bits(1e308), Sample{}},
		{"double denormal", double, 1, Sample{Raw: 1, Value: math.SmallestNonzeroFloat64, Valid: true}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, oneField(tt.signal, ByID, bytesOf(tt.pattern))); diff != "" {
				t.Errorf("little endian (-want +got):\n%s", diff)
			}
			s := tt.signal
			s.BigEndian, s.Start = true, 7
			payload := bytesOf(tt.pattern)
			if s.Length == 32 {
				payload = payload[:4]
			}
			for i, j := 0, len(payload)-1; i < j; i, j = i+1, j-1 {
				payload[i], payload[j] = payload[j], payload[i]
			}
			if diff := cmp.Diff(tt.want, oneField(s, ByID, payload)); diff != "" {
				t.Errorf("big endian (-want +got):\n%s", diff)
			}
		})
	}
}

func TestValuesThatTheMapRulesOutAreInvalid(t *testing.T) {
	ranged := Signal{Length: 8, Scale: scale("0.5", "-10"), HasMin: true, Min: 0, HasMax: true, Max: 90}
	invalid := Signal{Length: 8, Invalid: []int64{0xFE, 0xFF}}
	signed := Signal{Length: 8, Signed: true, Invalid: []int64{-1, -128}}
	tests := []struct {
		name    string
		signal  Signal
		pattern uint64
		want    Sample
	}{
		{"min itself", ranged, 20, Sample{Raw: 20, Value: 0, Valid: true}},
		{"below min", ranged, 19, Sample{}},
		{"max itself", ranged, 200, Sample{Raw: 200, Value: 90, Valid: true}},
		{"above max", ranged, 201, Sample{}},
		{"beside the invalid ones", invalid, 0xFD, Sample{Raw: 0xFD, Value: 0xFD, Valid: true}},
		{"first invalid", invalid, 0xFE, Sample{}},
		{"last invalid", invalid, 0xFF, Sample{}},
		{"signed invalid", signed, 0xFF, Sample{}},
		{"signed lowest invalid", signed, 0x80, Sample{}},
		{"signed valid", signed, 0xFE, Sample{Raw: -2, Value: -2, Valid: true}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, oneField(tt.signal, ByID, bytesOf(tt.pattern))); diff != "" {
				t.Errorf("sample (-want +got):\n%s", diff)
			}
		})
	}
}
