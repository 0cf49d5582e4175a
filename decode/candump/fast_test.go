package candump

import (
	"math/rand/v2"
	"testing"

	"lull/decode"
)

// BenchmarkFastLines parses one block of plain lines again and again: the cost of
// a line without reading, merging or decoding it.
func BenchmarkFastLines(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 6))
	var text []byte
	lines := 0
	f := decode.Frame{Time: 1_700_000_000_000_000_000, Bus: "can0", Len: 8}
	for ; len(text) < blockSize; lines++ {
		f.Time += 1000 * (1 + rng.Int64N(500))
		f.ID, f.Flags = rng.Uint32N(0x800), 0
		if lines%8 == 0 {
			f.ID, f.Flags = rng.Uint32N(1<<29), decode.Extended
		}
		for i := range f.Len {
			f.Data[i] = byte(rng.Uint32())
		}
		text = AppendFrame(text, &f)
	}
	block := make([]byte, len(text)+fastReach)
	copy(block, text)
	for name, filter := range map[string]*decode.Filter{"wanted": nil, "passed": {}} {
		b.Run(name, func(b *testing.B) {
			p := fastLines{filter: filter}
			items := make([]item, 0, lines)
			b.SetBytes(int64(len(text)))
			for b.Loop() {
				items, _ = p.parse(items[:0], block[:len(text)])
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(lines), "ns/line")
		})
	}
}
