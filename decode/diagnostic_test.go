package decode

import (
	"math/big"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The formulas are those of SAE J1979 service 01. Bits count from the byte after the PID, and
// answers are big endian.
func TestPublishedAnswersToServiceOneReadAsPlainPayloads(t *testing.T) {
	percent := scale("0.39215686274509804", "")
	byteOf := func(s Scale) Signal { return Signal{Start: 7, Length: 8, BigEndian: true, Scale: s} }
	wordOf := func(s Scale) Signal { return Signal{Start: 7, Length: 16, BigEndian: true, Scale: s} }
	tests := []struct {
		source  string
		signal  Signal
		payload []byte
		want    float64
	}{
		{"scapy, test/contrib/automotive/obd/obd.uts: PID 05 coolant", byteOf(scale("", "-40")), []byte{0x6E}, 70},
		{"scapy, the same answer: PID 0C engine speed", wordOf(scale("0.25", "")), []byte{0x0A, 0x6B}, 666.75},
		{"scapy, the same answer: PID 15 sensor voltage", byteOf(scale("0.005", "")), []byte{0xA0, 0x78}, 0.8},
		{"scapy, the same answer: PID 15 fuel trim", Signal{Start: 15, Length: 8, BigEndian: true, Scale: scale("0.78125", "-100")}, []byte{0xA0, 0x78}, -6.25},
		{"scapy, service 02: 2080 rpm", wordOf(scale("0.25", "")), []byte{0x20, 0x80}, 2080},
		{"scapy, service 02: PID 05", byteOf(scale("", "-40")), []byte{0x28}, 0},
		{"racket-lang obd2 documentation: 41 0C 0E 70", wordOf(scale("0.25", "")), []byte{0x0E, 0x70}, 924},
		{"common example, no source: 41 0C 1A F8", wordOf(scale("0.25", "")), []byte{0x1A, 0xF8}, 1726},
		{"derived from J1979: 41 42 30 D4", wordOf(scale("0.001", "")), []byte{0x30, 0xD4}, 12.5},
		{"derived from J1979: 41 42 25 80", wordOf(scale("0.001", "")), []byte{0x25, 0x80}, 9.6},
		{"derived from J1979: PID 0C at its end", wordOf(scale("0.25", "")), []byte{0xFF, 0xFF}, 16383.75},
		{"derived from J1979: PID 10 at its end", wordOf(scale("0.01", "")), []byte{0xFF, 0xFF}, 655.35},
		{"derived from J1979: PID 42 at its end", wordOf(scale("0.001", "")), []byte{0xFF, 0xFF}, 65.535},
		{"derived from J1979: PID 5E at its end", wordOf(scale("0.05", "")), []byte{0xFF, 0xFF}, 3276.75},
		{"derived from J1979: PID 0D at its end", byteOf(Identity), []byte{0xFF}, 255},
		{"derived from J1979: PID 11 at its end", byteOf(percent), []byte{0xFF}, 100},
		{"scapy, 41 2F 1A: fuel level 26 x 100/255", byteOf(percent), []byte{0x1A}, 2600.0 / 255},
	}
	for _, tt := range tests {
		t.Run(tt.source, func(t *testing.T) {
			d := NewDecoder(mapOf(testEntry{Entry{Kind: ByOBD, Response: 0x7E8, Address: -1}, []Signal{tt.signal}}))
			d.decodePayload(tt.payload, 5, 0)
			if len(d.samples) != 1 || !d.samples[0].Valid || d.samples[0].Time != 5 {
				t.Fatalf("samples = %+v, want one value at time 5", d.samples)
			}
			if diff := cmp.Diff(tt.want, d.samples[0].Value); diff != "" {
				t.Errorf("value (-want +got):\n%s", diff)
			}
		})
	}
}

// 100/255 has infinitely many decimals, but 19 digits of it are enough for the nearest value of
// every byte.
func TestPercentOfAByteIsTheNearestValue(t *testing.T) {
	percent := scale("0.3921568627450980392", "")
	for raw := int64(0); raw <= 255; raw++ {
		want, _ := big.NewRat(raw*100, 255).Float64()
		if got := percent.Int(raw, true); got != want {
			t.Errorf("%d x 100/255 = %v, want %v", raw, got, want)
		}
	}
}
