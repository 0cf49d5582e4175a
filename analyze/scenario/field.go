package scenario

// field is where a quantity or an output lies in a payload and how its raw
// number is made. It is written beside the maps and not taken from them, so
// that a mistake in either shows.
type field struct {
	start, length  int // as in a map: least significant bit, for big the most significant
	big, signed    bool
	factor, offset float64
	from           quantity
	output         output
	isOutput       bool
}

// of is a field of a continuous quantity.
func of(q quantity, start, length int, factor, offset float64) field {
	return field{start: start, length: length, factor: factor, offset: offset, from: q}
}

// state is a field that holds an output's value as it is.
func state(o output, start, length int) field {
	return field{start: start, length: length, output: o, isOutput: true}
}

func (f field) asBig() field    { f.big = true; return f }
func (f field) asSigned() field { f.signed = true; return f }

// raw is the number that the field sends at a moment.
func (f *field) raw(w *world, now int64) int64 {
	var n int64
	if f.isOutput {
		n = w.out.value[f.output]
	} else {
		n = nearest((w.curve.at(f.from, now) - f.offset) / f.factor)
	}
	low, high := int64(0), int64(1)<<f.length-1
	if f.signed {
		low, high = -1<<(f.length-1), int64(1)<<(f.length-1)-1
	}
	return min(max(n, low), high)
}

// put writes the lowest bits of a raw number into a payload.
func (f *field) put(data []byte, raw int64) {
	at := f.start
	for i := 0; i < f.length; i++ {
		bit := i
		if f.big {
			bit = f.length - 1 - i
		}
		if raw>>bit&1 == 1 {
			data[at/8] |= 1 << (at % 8)
		} else {
			data[at/8] &^= 1 << (at % 8)
		}
		switch {
		case !f.big:
			at++
		case at%8 == 0:
			at += 15 // the most significant bit of the next byte
		default:
			at--
		}
	}
}
