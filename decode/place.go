package decode

// place says where the field's bits lie: the first and the last payload byte that
// hold some, and how far the least significant bit is from bit 0 of its byte, the
// first one for little endian, the last one for big endian.
func (s *Signal) place() (first, last, shift int) {
	first = s.Start / 8
	if s.BigEndian {
		// Counted in the order of transmission, where the most significant bit of
		// a byte comes first, a big-endian field is one run of bits.
		end := first*8 + 7 - s.Start%8 + s.Length - 1
		return first, end / 8, 7 - end%8
	}
	return first, (s.Start + s.Length - 1) / 8, s.Start % 8
}

// LastByte returns the last payload byte that holds bits of the field.
func (s *Signal) LastByte() int {
	_, last, _ := s.place()
	return last
}

// Bits lists the field's bit numbers, counted as Start is, from the least
// significant bit up.
func (s *Signal) Bits() []int {
	first, last, shift := s.place()
	bits := make([]int, s.Length)
	for i := range bits {
		at := shift + i
		if s.BigEndian {
			bits[i] = (last-at/8)*8 + at%8
		} else {
			bits[i] = first*8 + at
		}
	}
	return bits
}
