package candump

import (
	"math/rand/v2"
	"testing"

	"lull/decode"
)

// BenchmarkFastLines parses a block of plain lines again and again. It measures the cost of
// parsing a line, without reading, merging and decoding. The lines are typical of a car's bus:
// sixty identifiers, each with a length of its own, most with eight bytes.
func BenchmarkFastLines(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 6))
	var text []byte
	lines := 0
	f := decode.Frame{Time: 1_700_000_000_000_000_000, Bus: "can0"}
	for ; len(text) < blockSize; lines++ {
		f.Time += 1000 * (1 + rng.Int64N(1000))
		which := rng.Uint32N(60)
		f.ID, f.Flags, f.Len = 0x100+which, 0, 8-uint8(which%7/5*which%5)
		if which == 59 {
			f.ID, f.Flags = 0x18FE0000, decode.Extended
		}
		for i := range f.Len {
			f.Data[i] = byte(rng.Uint32())
		}
		text = AppendFrame(text, &f)
	}
	block := make([]byte, len(text)+fastReach)
	copy(block, text)
	filters := []struct {
		name   string
		filter *decode.Filter
	}{
		{"all", nil},
		{"none", &decode.Filter{}},
		{"one in six", filterOf(0x100, 0x106, 0x10C, 0x112, 0x118, 0x11E, 0x124, 0x12A, 0x130, 0x136)},
	}
	for _, wanted := range filters {
		b.Run(wanted.name, func(b *testing.B) {
			p := newFastLines(wanted.filter)
			items := make([]item, 0, lines)
			b.SetBytes(int64(len(text)))
			for b.Loop() {
				items, _ = p.parse(items[:0], block[:len(text)])
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(lines), "ns/line")
		})
	}
}
