package draft

import "testing"

// A checksum goes through as many values as the counter it depends on, and so does each half
// of it: neither selects a page, however slowly the rest changes.
func TestAChecksumSelectsNoPage(t *testing.T) {
	sums := []uint64{0x69, 0xA3, 0xE5, 0x2F}
	s := &stream{size: 8, page: -1}
	for i := range 2000 {
		s.t = append(s.t, float64(i)/100)
		s.w = append(s.w, uint64(i/500)<<16|uint64(i%4)<<8|sums[i%4]<<56)
	}
	s.prepare()
	if got := s.pages(); len(got) != 1 {
		t.Errorf("%d pages, want none", len(got))
	}
}

// Three pages in turn, selected by the upper half of the last byte; a counter from 0 to 14 is
// in step with them, and each page holds a constant. The selector is told from both.
func TestTheFieldThatCountsThroughThePagesSelectsThem(t *testing.T) {
	s := &stream{size: 8, page: -1}
	for i := range 3000 {
		page := uint64(i % 3)
		w := page<<60 | uint64(i%15)<<8 | []uint64{0x71, 0x16, 0xA8}[page]<<16
		w |= []uint64{uint64(i / 40), 0x3C5A, uint64(4000 - i)}[page] << 24
		s.t, s.w = append(s.t, float64(i)/100), append(s.w, w)
	}
	s.prepare()
	start, n, ok := s.pageSelector()
	if !ok || start != 60 || n != 4 {
		t.Errorf("%d bits from %d (%v), want 4 from 60", n, start, ok)
	}
	if got := s.pages(); len(got) != 3 {
		t.Errorf("%d pages, want 3", len(got))
	}
}

// A field that is all ones while its module has no value says so in the map.
func TestACodeForNoValueIsNoValue(t *testing.T) {
	s := &stream{size: 8, page: -1}
	for i := range 1000 {
		w := uint64(3000 + i)
		if i < 50 {
			w = 0xFFFF
		}
		s.t, s.w = append(s.t, float64(i)/100), append(s.w, w)
	}
	s.prepare()
	f := field{s: s, hi: 48, n: 16}
	if x := f.signal(); len(x.Invalid) != 1 || x.Invalid[0] != 0xFFFF {
		t.Errorf("invalid: %v, want 65535", x.Invalid)
	}
}

// A frame is sent when its switch changes, and every half second; a counter in it changes each
// time, and does not hide that. One whose early frames change nothing is only late at times.
func TestAFrameWithACounterIsSentOnChange(t *testing.T) {
	for _, changes := range []bool{true, false} {
		s := &stream{size: 8, page: -1}
		add := func(at float64, on bool) {
			w := uint64(len(s.w) & 63)
			if on {
				w |= 1 << 40
			}
			s.t, s.w = append(s.t, at), append(s.w, w)
		}
		for i := range 200 {
			on := changes && i/7%2 == 1
			add(float64(i)/2, on)
			if i%7 == 6 {
				add(float64(i)/2+0.2, on != changes)
			}
		}
		s.prepare()
		if s.onChange() != changes || changes != (s.late < 0.1) {
			t.Errorf("changes %v: on change %v, late by %v s", changes, s.onChange(), s.late)
		}
	}
}
