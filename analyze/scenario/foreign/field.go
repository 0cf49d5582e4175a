package foreign

import (
	"math/rand/v2"
	"strconv"
)

// scale is how a quantity is written as a number: as in a map, raw x factor + offset.
type scale struct {
	length         int
	factor, offset string
	signed         bool
	unit           string // where it is not that of the quantity
	each           float64
	zero           float64
}

func scaled(length int, factor, offset string) scale {
	return scale{length: length, factor: factor, offset: offset}
}

func signedScale(length int, factor string) scale {
	return scale{length: length, factor: factor, signed: true}
}

// settled has the numbers of the texts.
func (s scale) settled() scale {
	s.each, s.zero = number(s.factor, 1), number(s.offset, 0)
	return s
}

func number(text string, otherwise float64) float64 {
	if text == "" {
		return otherwise
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic(err) // a mistake in the tables of this package
	}
	return v
}

// sensor is how a module comes to what it tells.
type sensor struct {
	late   int     // ms behind
	lag    float64 // s
	holds  int64   // ms for which it keeps a value; 0: none
	noise  float64 // spread, in the quantity's unit
	rough  float64 // the same as a part of the value
	below  float64 // what is nearer to 0 is told as 0
	gain   float64 // 1 for a true one
	phase  int64   // ms, of what is held
	inner  float64
	value  float64
	fresh  bool
	chance *rand.Rand
}

// field is one field of a payload.
type field struct {
	scale
	sensor
	name  string // in the true map
	role  string // "" where it plays none
	of    quantity
	start int // as in a map
	big   bool

	inverts bool            // one bit: 0 is on
	codes   map[int64]int64 // raw values of a state, where not its own
	wraps   bool            // a counter that begins again at 0
	absent  bool            // all ones where the module does not know
	flips   float64         // chance that a bit without meaning changes from frame to frame
	flipped int64
	walks   float64 // how far a number without meaning goes from frame to frame

	low, high int64 // raw values in the log
	changes   int
	last      int64
	seen      bool
	steps     map[int64]bool // different raw values, up to some
}

// bitsOf lists the bits of a field, most significant first, as 8 x byte + bit.
func bitsOf(start, length int, big bool) []int {
	list := make([]int, 0, length)
	for i := range length {
		switch {
		case !big:
			list = append(list, start+length-1-i)
		default:
			list = append(list, start)
			if start%8 == 0 {
				start += 15
			} else {
				start--
			}
		}
	}
	return list
}

// put writes the lowest bits of a raw number into a payload.
func put(data []byte, bits []int, raw int64) {
	for i, bit := range bits {
		if raw>>(len(bits)-1-i)&1 == 1 {
			data[bit/8] |= 1 << (bit % 8)
		} else {
			data[bit/8] &^= 1 << (bit % 8)
		}
	}
}

// get reads the lowest bits of a raw number from a payload.
func get(data []byte, bits []int) int64 {
	raw := int64(0)
	for _, bit := range bits {
		raw = raw<<1 | int64(data[bit/8]>>(bit%8)&1)
	}
	return raw
}

// slow tells whether the sensor has to be stepped every millisecond.
func (f *field) slow() bool { return f.lag > 0 || f.holds > 0 }

// step lets a slow sensor follow.
func (f *field) step(c *car) {
	x := f.now(c)
	if f.lag > 0 && f.fresh {
		x = toward(f.inner, x, min(1, dt/f.lag))
	}
	f.inner = x
	if f.holds == 0 || !f.fresh || c.now/1_000_000%f.holds == f.phase {
		f.value = x
	}
	f.fresh = true
}

// now is the quantity as it comes to the sensor.
func (f *field) now(c *car) float64 {
	if f.late > 0 {
		return c.before(f.of, f.late)
	}
	return c.v[f.of]
}

// raw is the number that is sent.
func (f *field) raw(c *car) int64 {
	x := f.value
	switch {
	case f.flips > 0:
		if f.chance.Float64() < f.flips {
			f.flipped ^= 1
		}
		return f.flipped
	case f.walks > 0:
		f.value = limit(x+mul(f.walks, normal(f.chance)), 0, float64(int64(1)<<f.length-1))
		return nearest(f.value)
	case !f.slow():
		x = f.now(c)
	}
	if f.rests() && x < 0.05 && x > -0.05 {
		x = 0
	} else if f.noise != 0 {
		x += mul(f.noise, normal(f.chance))
	}
	if f.rough != 0 {
		x += mul(mul(f.rough, x), normal(f.chance))
	}
	if f.rests() && x < f.below {
		x = 0
	}
	n := nearest((mul(x, f.gain) - f.zero) / f.each)
	top := int64(1)<<f.length - 1
	switch {
	case f.wraps:
		return n & top
	case f.signed:
		return min(max(n, -1<<(f.length-1)), 1<<(f.length-1)-1)
	case f.absent && f.length > 1:
		top--
	}
	n = min(max(n, 0), top)
	if f.codes != nil {
		n = f.codes[n]
	}
	if f.inverts {
		n ^= 1
	}
	return n
}

// rests tells that the quantity is a speed, or computed, so that 0 has no noise.
func (f *field) rests() bool {
	switch f.of {
	case torque, pedal, fuelRate, alternatorDuty:
		return true
	}
	return f.of <= outputSpeed
}

// note remembers what the log shows of the field.
func (f *field) note(raw int64) {
	if !f.seen {
		f.low, f.high, f.last, f.seen = raw, raw, raw, true
		f.steps = map[int64]bool{}
	}
	f.low, f.high = min(f.low, raw), max(f.high, raw)
	if raw != f.last {
		f.changes++
	}
	f.last = raw
	if len(f.steps) < 64 {
		f.steps[raw] = true
	}
}

func isWheel(q quantity) bool { return q >= wheelFrontLeft && q <= wheelRearRight }
