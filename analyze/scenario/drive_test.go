package scenario

import (
	"testing"

	"lull/decode"
)

func TestFramesComeInOrderOfTime(t *testing.T) {
	for _, d := range Drives() {
		last, count := int64(0), 0
		d.Frames(func(f *decode.Frame) bool {
			if f.Time <= last {
				t.Fatalf("%s: frame %d at %d follows one at %d", d.Name, count, f.Time, last)
			}
			last = f.Time
			count++
			return true
		})
		if count < 5000 {
			t.Errorf("%s: only %d frames", d.Name, count)
		}
	}
}
