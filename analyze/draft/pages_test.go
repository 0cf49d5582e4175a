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
