package draft

import (
	"math"
	"math/bits"
	"slices"
)

// field is a run of bits of a stream, read as an integer.
type field struct {
	s      *stream
	big    bool // the order of bytes
	hi, n  int  // how many bits lie above its most significant one in a word; how many it has
	signed bool
}

// bit returns the map's number of the bit with so many above it in the word.
func bit(big bool, position int) int {
	if big {
		return 8*(position/8) + 7 - position%8
	}
	return 63 - position
}

// positionOf is the opposite of bit.
func positionOf(big bool, b int) int {
	if big {
		return 8*(b/8) + 7 - b%8
	}
	return 63 - b
}

// start is the field's start as a map has it, from the payload's first byte.
func (f *field) start() int {
	b := bit(f.big, f.hi+f.n-1)
	if f.big {
		b = bit(true, f.hi)
	}
	return b + 8*f.s.from
}

// bits returns the map's numbers of the field's bits in the word, the most significant first.
func (f *field) bits() []int {
	list := make([]int, f.n)
	for i := range list {
		list[i] = bit(f.big, f.hi+i)
	}
	return list
}

// overlaps reports whether two fields of a stream share bits.
func (f *field) overlaps(g *field) bool {
	own := f.bits()
	return slices.ContainsFunc(g.bits(), func(b int) bool { return slices.Contains(own, b) })
}

// word returns a payload with the field's most significant bits first.
func (f *field) word(i int) uint64 {
	if f.big {
		return bits.ReverseBytes64(f.s.w[i])
	}
	return f.s.w[i]
}

// raw returns the field in one frame.
func (f *field) raw(i int) int64 {
	x := f.word(i) << f.hi
	if f.signed {
		return int64(x) >> (64 - f.n)
	}
	return int64(x >> (64 - f.n))
}

// series is a field as numbers over time, without the frames in which it has no value.
type series struct {
	t, v []float64
}

// values returns the field over time. All bits set, far from every other value, means that
// there is none.
func (f *field) values() series {
	out := series{make([]float64, 0, len(f.s.t)), make([]float64, 0, len(f.s.t))}
	none := f.none()
	for i, t := range f.s.t {
		if v := f.raw(i); !none || v != f.ones() {
			out.t, out.v = append(out.t, t), append(out.v, float64(v))
		}
	}
	return out
}

// all returns the field in every frame.
func (f *field) all() []float64 {
	v := make([]float64, len(f.s.w))
	for i := range v {
		v[i] = float64(f.raw(i))
	}
	return v
}

func (f *field) ones() int64 {
	if f.signed {
		return -1
	}
	return 1<<f.n - 1
}

// none reports whether all ones stand for no value.
func (f *field) none() bool {
	if f.n < 8 || f.signed {
		return false
	}
	ones, count, highest := f.ones(), 0, int64(0)
	for i := range f.s.w {
		if v := f.raw(i); v == ones {
			count++
		} else {
			highest = max(highest, v)
		}
	}
	part := share(count, len(f.s.w))
	return part > 0 && part < 0.3 && float64(highest) < 0.95*float64(ones)
}

// carries counts the steps of one of the field, from rest to rest, in which the bit below
// it agrees with being its next bit, and in which it says the opposite.
func (f *field) carries() (agree, contradict int) {
	shift := 63 - f.hi - f.n
	if shift < 0 {
		return 0, 0
	}
	mask := (uint64(1)<<f.n - 1) << (shift + 1)
	last := len(f.s.w) - 1
	previous := uint64(0) // what changed in the field in the step before
	now := f.word(0)
	for i := 0; i < last; i++ {
		next := f.word(i + 1)
		changed := (now ^ next) & mask
		if changed != 0 && previous == 0 {
			var after uint64
			if i+2 <= last {
				after = (next ^ f.word(i+2)) & mask
			}
			if after == 0 {
				step := int64(next&mask)>>(shift+1) - int64(now&mask)>>(shift+1)
				b0, b1 := now>>shift&1, next>>shift&1
				if b0 != b1 && (step == 1 || step == -1) {
					if (step == 1) == (b0 == 1) {
						agree++
					} else {
						contradict++
					}
				}
			}
		}
		previous, now = changed, next
	}
	return agree, contradict
}

// apart returns the share of the flips of the bit below the field around which the field
// stood still.
func (f *field) apart() float64 {
	shift := 63 - f.hi - f.n
	mask := (uint64(1)<<f.n - 1) << (shift + 1)
	reach := max(2, int(0.6/max(f.s.period, 1e-3)))
	moved := make([]int, len(f.s.w)) // steps up to here in which the field moved
	for i := 1; i < len(moved); i++ {
		moved[i] = moved[i-1]
		if (f.word(i)^f.word(i-1))&mask != 0 {
			moved[i]++
		}
	}
	flips, still := 0, 0
	for i := 1; i < len(moved); i++ {
		if (f.word(i)^f.word(i-1))>>shift&1 == 0 {
			continue
		}
		flips++
		if moved[min(i+reach, len(moved)-1)] == moved[max(i-1-reach, 0)] {
			still++
		}
	}
	return share(still, flips)
}

// clearly reports whether one count outweighs another by more than chance would have it.
func clearly(more, less int) bool {
	return more+less >= 8 && float64(more-less) > 2.5*math.Sqrt(float64(more+less))
}

// grow returns the length of the field with its most significant bit at a position: as
// far down as carries reach. A field cut short would make every bound wider.
func (s *stream) grow(big bool, hi, most int) int {
	n, top := 1, s.flip[bit(big, hi)]
	certain := 1 // as far as carries leave no doubt
	for n < most && hi+n < 64 {
		b := bit(big, hi+n)
		if b >= 8*s.size {
			break
		}
		flip := s.flip[b]
		f := field{s: s, big: big, hi: hi, n: n}
		agree, contradict := f.carries()
		if clearly(contradict, agree) && agree*10 > contradict {
			break // another field's bit; its own would never agree if it moves by more than one
		}
		if flip == 0 {
			// Only inside a byte, and where a lower one changes in step.
			goesOn := false
			for k := n + 1; k < min(n+5, 64-hi); k++ {
				goesOn = goesOn || s.flip[bit(big, hi+k)] >= 0.5*top
			}
			if n >= 8 || !goesOn {
				break
			}
		} else if !clearly(agree, contradict) {
			if flip < 0.4*top || n >= 6 && f.apart() > 0.5 || n >= 6 && s.signs(b, bit(big, min(hi+n+1, 63))) {
				break
			}
		}
		top = max(top, flip)
		n++
		if clearly(agree, contradict) || clearly(contradict, agree) {
			certain = n
		}
	}
	if certain = max(certain, 6); n > certain {
		n = s.smoothest(big, hi, certain, n)
	}
	for n > 1 && s.flip[bit(big, hi+n-1)] == 0 {
		n--
	}
	return n
}

// smoothest returns at which length, of those between two, a field bends least from frame
// to frame. Its own lower bits take the steps out of it, however noisy it is; those of
// something else add theirs.
func (s *stream) smoothest(big bool, hi, least, most int) int {
	f := field{s: s, big: big, hi: hi, n: most}
	unit := math.Ldexp(1, most-least) // a step of the shortest field
	sums := make([]float64, most-least+1)
	for i := 2; i < len(s.w); i++ {
		a, b, c := f.raw(i-2), f.raw(i-1), f.raw(i)
		if a == b && b == c || math.Abs(float64(a-2*b+c)) > 6*unit {
			continue // at rest, or a jump
		}
		for k := range sums {
			shift := most - least - k
			d := float64(a>>shift-2*(b>>shift)+c>>shift) * math.Ldexp(1, shift)
			sums[k] += d * d
		}
	}
	// Of those that bend as little: one that ends with its byte, else the longest.
	lowest, best := slices.Min(sums), -1
	for k := range sums {
		if sums[k] <= 1.02*lowest && (best < 0 || (hi+least+best)%8 != 0) {
			best = k
		}
	}
	return least + best
}

// signs reports whether a bit mostly changes with the one below, the same way: then it is
// the upper end of a signed number.
func (s *stream) signs(b, below int) bool {
	if b == below || below >= 8*s.size {
		return false
	}
	flips, same := 0, 0
	for i := 1; i < len(s.w); i++ {
		x := s.w[i] ^ s.w[i-1]
		if x>>b&1 == 0 {
			continue
		}
		flips++
		if x>>below&1 == 1 && s.w[i]>>b&1 == s.w[i]>>below&1 {
			same++
		}
	}
	return flips >= 8 && share(same, flips) > 0.7
}

// fields returns the fields that the stream may have: a most significant bit that changes,
// but in no more than the given share of frames, and what lies below it.
func (s *stream) fields(mostFlips float64) []field {
	const short = 3
	var list []field
	for _, big := range []bool{false, true} {
		for hi := range 64 {
			if flip := s.flip[bit(big, hi)]; flip <= 0 || flip > mostFlips {
				continue
			}
			n := s.grow(big, hi, 16)
			if n < short || big && bit(true, hi)/8 == bit(true, hi+n-1)/8 {
				continue // within one byte both orders are one
			}
			list = append(list, field{s: s, big: big, hi: hi, n: n})
		}
	}
	return list
}

// widen returns the field extended upwards over bits that are always 0, or but for a code
// for no value, to the end of its byte and until it can hold what it has to.
func (f field) widen(factor, needed float64) field {
	for f.hi > 0 && f.n < 16 {
		b := bit(f.big, f.hi-1)
		if b >= 8*f.s.size || f.s.selects(b) || !f.onlyInNone(b) {
			break
		}
		if math.Ldexp(factor, f.n) >= needed && b/8 != bit(f.big, f.hi)/8 {
			break
		}
		f.hi--
		f.n++
	}
	return f
}

// onlyInNone reports whether a bit is set never, or only while the field says by all ones that
// it has no value.
func (f *field) onlyInNone(b int) bool {
	if f.s.flip[b] == 0 {
		return f.s.w[0]>>b&1 == 0
	}
	if !f.none() {
		return false
	}
	ones := f.ones()
	for i, w := range f.s.w {
		if (w>>b&1 == 1) != (f.raw(i) == ones) {
			return false
		}
	}
	return true
}

// taller returns the field, and with the bits above that never change, up to each that is
// 1: 12 V that never falls below 8 V hides its upper bits.
func (f field) taller() []field {
	list := []field{f}
	for up := 1; up <= 4; up++ {
		hi := f.hi - up
		if hi < 0 || f.n+up > 16 {
			break
		}
		b := bit(f.big, hi)
		if b >= 8*f.s.size || f.s.flip[b] > 0 || f.s.selects(b) {
			break
		}
		if f.s.w[0]>>b&1 == 1 {
			g := f
			g.hi, g.n = hi, f.n+up
			list = append(list, g)
		}
	}
	return list
}

// distinct returns how many values a list has.
func distinct(v []float64) int {
	return len(slices.Compact(sortedCopy(v)))
}
