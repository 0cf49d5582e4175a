package draft

import "testing"

// A lamp blinks now and then, at the rate that the law allows; a bit of a counter may blink
// as fast, and goes with the bit below it.
func TestABlinkingBitOfACounterIsNoLamp(t *testing.T) {
	s := &stream{size: 3, page: -1}
	for i := range 20000 {
		at := float64(i) / 100
		w := uint64(0)
		if on := int(at) % 40; on >= 10 && on < 16 {
			if i/36%2 == 0 {
				w |= 1 // 83 times a minute
			}
			w |= uint64(i/10%8) << 8 // its bit 2 does so 75 times a minute
			if i/60%2 == 0 {
				w |= 1 << 16 // 50 times a minute
			}
		}
		s.t, s.w = append(s.t, at), append(s.w, w)
	}
	s.prepare()
	b := &bench{plain: []*stream{s}}
	list := b.lampBits()
	if len(list) != 1 || list[0].bit != 0 {
		t.Errorf("found %d lamps, want one", len(list))
	}
}
