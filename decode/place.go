package decode

// place returns where the field's bits lie: the first and the last payload byte that hold
// any, and the position of the least significant bit within its byte, which is the first
// byte for little endian and the last for big endian.
func (s *Signal) place() (first, last, shift int) {
	first = s.Start / 8
	if s.BigEndian {
		// Numbered in the order of transmission, in which the most significant bit
		// of a byte comes first, the bits of a big-endian field are contiguous.
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

// Bits returns the numbers of the field's bits, counted like Start, from the least
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
