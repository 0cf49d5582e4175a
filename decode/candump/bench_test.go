package candump

import (
	"strings"
	"testing"
)

func BenchmarkReader(b *testing.B) {
	for name, line := range map[string]string{
		"log":     "(1735270588.936508) can0 123#1122334455667788\n",
		"console": " (1735270588.936508)  can0  123   [8]  11 22 33 44 55 66 77 88\n",
	} {
		b.Run(name, func(b *testing.B) {
			const lines = 10_000
			log := strings.Repeat(line, lines)
			b.SetBytes(int64(len(log)))
			for b.Loop() {
				r := NewReader(strings.NewReader(log), Options{})
				for r.Scan() {
				}
			}
		})
	}
}
