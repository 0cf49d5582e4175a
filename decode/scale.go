package decode

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Scale converts raw values to physical ones, raw x factor + offset, taking factor and
// offset as the decimals that are written in the map. The result is the float64 nearest to
// the exact decimal if that is at most 2^53 units of its last decimal; beyond that it is
// within one unit in the last place. So 192 x 0.05 is 9.6, which multiplying two float64
// numbers does not give. Use ParseScale to make a Scale; the zero Scale makes every value
// 0.
type Scale struct {
	Factor, Offset float64
	// The decimals as written, less Factor and Offset.
	factorRest, offsetRest float64

	// The exact form, if the decimals are short enough for one:
	// (raw x mul + add) / pow, where pow is a power of ten up to 1e22, which a
	// float64 holds exactly, and add is within 2^61.
	mul, add int64
	pow      float64
	exact    bool
	// Both as written, if exact is false.
	factorText, offsetText string
}

// Identity is the scale of a signal without a factor and an offset.
var Identity = Scale{Factor: 1, mul: 1, pow: 1, exact: true}

// largestExact is the number up to which a float64 holds every integer.
const largestExact = 1 << 53

// ParseScale parses a factor and an offset as written in a map. An empty factor means 1,
// an empty offset 0. A factor of zero and anything but a finite number are errors.
func ParseScale(factor, offset string) (Scale, error) {
	if factor == "" {
		factor = "1"
	}
	if offset == "" {
		offset = "0"
	}
	f, err := parseDecimal(factor)
	if err != nil {
		return Scale{}, fmt.Errorf("factor: %w", err)
	}
	o, err := parseDecimal(offset)
	if err != nil {
		return Scale{}, fmt.Errorf("offset: %w", err)
	}
	if f.float == 0 {
		return Scale{}, fmt.Errorf("factor: 0 would make every value the same")
	}
	s := Scale{Factor: f.float, Offset: o.float, factorRest: f.rest(), offsetRest: o.rest()}
	if digits := max(f.digits, o.digits, 0); digits <= 22 {
		mul, okF := f.times(digits)
		add, okO := o.times(digits)
		if okF && okO && -1<<61 <= add && add <= 1<<61 {
			s.mul, s.add, s.pow, s.exact = mul, add, math.Pow10(digits), true
			return s, nil
		}
	}
	s.factorText, s.offsetText = f.text(), o.text()
	return s, nil
}

// decimal is a number as it was written: coefficient / 10^digits, where digits may be
// negative. A number too small for a float64 is 0.
type decimal struct {
	float       float64
	coefficient *big.Int
	digits      int
}

// text returns the decimal in a canonical form.
func (d decimal) text() string { return fmt.Sprintf("%se%d", d.coefficient, -d.digits) }

// rest returns the decimal less its float64.
func (d decimal) rest() float64 {
	exact, _ := new(big.Rat).SetString(d.text())
	rest, _ := exact.Sub(exact, new(big.Rat).SetFloat64(d.float)).Float64()
	return rest
}

// times returns the value times 10^digits as an int64, if it is one.
func (d decimal) times(digits int) (int64, bool) {
	up := digits - d.digits
	if up > 40 {
		return 0, d.coefficient.Sign() == 0
	}
	n := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(up)), nil)
	n.Mul(n, d.coefficient)
	return n.Int64(), n.IsInt64()
}

func parseDecimal(text string) (decimal, error) {
	bad := fmt.Errorf("%q is not a decimal number", text)
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) || strings.ContainsAny(text, "xXpP_") {
		return decimal{}, bad
	}
	if v == 0 {
		return decimal{coefficient: new(big.Int)}, nil
	}
	mantissa, exponent, _ := strings.Cut(strings.ToLower(text), "e")
	digits := 0
	if exponent != "" {
		e, err := strconv.Atoi(exponent)
		if err != nil {
			return decimal{}, bad
		}
		digits = -e
	}
	whole, fraction, _ := strings.Cut(strings.TrimPrefix(mantissa, "+"), ".")
	digits += len(fraction)
	mantissa = whole + fraction
	for digits > 0 && strings.HasSuffix(mantissa, "0") {
		mantissa, digits = mantissa[:len(mantissa)-1], digits-1
	}
	coefficient, ok := new(big.Int).SetString(mantissa, 10)
	if !ok {
		return decimal{}, bad
	}
	return decimal{float: v, coefficient: coefficient, digits: digits}, nil
}

// Step returns the distance between the values of neighbouring raw numbers.
func (s *Scale) Step() float64 { return math.Abs(s.Factor) }

// Int scales a raw integer. If unsigned is true, raw is taken as a uint64.
func (s *Scale) Int(raw int64, unsigned bool) float64 {
	if unsigned && raw < 0 {
		return s.precise(twoParts(float64(uint64(raw)>>32), raw))
	}
	// The product as a float64 is accurate enough to rule out an overflow of the
	// integers: 2^62 + 2^61 is well below 2^63.
	if s.exact && math.Abs(float64(raw)*float64(s.mul)) < 1<<62 {
		if n := raw*s.mul + s.add; -largestExact <= n && n <= largestExact {
			return float64(n) / s.pow
		}
	}
	return s.precise(twoParts(float64(raw>>32), raw))
}

// twoParts splits an integer into the nearest float64 and the rest. upper is the upper
// half of raw as a number.
func twoParts(upper float64, raw int64) (v, rest float64) {
	upper *= 1 << 32
	lower := float64(raw & math.MaxUint32)
	v = upper + lower
	return v, lower - (v - upper)
}

// Real scales a number that was a float in the payload. NaN and infinity are returned
// unchanged, and results too large for a float64 become infinity.
func (s *Scale) Real(v float64) float64 {
	if s.exact && s.mul == 1 && s.add == 0 && s.pow == 1 || math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	if math.Abs(v) <= largestExact && v == math.Trunc(v) {
		return s.Int(int64(v), false)
	}
	return s.precise(v, 0)
}

// precise scales v + rest, where |rest| is at most half a unit in v's last place, with
// twice the digits of a float64 (Dekker's and Knuth's error-free sum and product), and in
// exact arithmetic if even these may not be enough.
func (s *Scale) precise(v, rest float64) float64 {
	p := float64(v * s.Factor) // the conversion keeps a compiler from fusing it with a sum
	if !ordinary(p) || !ordinary(s.Factor) {
		return s.rational(v, rest)
	}
	low := math.FMA(v, s.Factor, -p) + (v*s.factorRest + rest*s.Factor)
	sum, sumRest := twoSum(p, s.Offset)
	h, l := twoSum(sum, low+(sumRest+s.offsetRest))
	// A few roundings of 2^-105 each.
	bound := (math.Abs(p) + math.Abs(s.Offset)) * 0x1p-99
	if h+(l-bound) == h+(l+bound) {
		return h
	}
	// Scales in exact form come here only with values of more than 2^53 units, which
	// are often halfway between two float64 numbers: either of them will do.
	if s.exact && bound < math.Abs(h)*0x1p-56 {
		return h
	}
	return s.rational(v, rest)
}

// ordinary reports whether a number is 0 or so far from the limits of a float64 that
// products and their errors neither overflow nor lose digits.
func ordinary(v float64) bool {
	return v == 0 || 0x1p-900 < math.Abs(v) && math.Abs(v) < 0x1p900
}

// twoSum adds without loss: sum is the float64 nearest to a + b, and rest is the error.
func twoSum(a, b float64) (sum, rest float64) {
	sum = a + b
	c := sum - a
	return sum, (a - (sum - c)) + (b - c)
}

// rational scales v + rest in exact arithmetic and rounds once. It allocates, but is
// almost never needed: only if all digits cancel, or at the limits of a float64.
func (s *Scale) rational(v, rest float64) float64 {
	raw := new(big.Rat).SetFloat64(v)
	raw.Add(raw, new(big.Rat).SetFloat64(rest))
	factor, offset := s.decimals()
	value, _ := raw.Add(raw.Mul(raw, factor), offset).Float64()
	return value
}

// decimals returns factor and offset exactly as they were written.
func (s *Scale) decimals() (factor, offset *big.Rat) {
	factor, offset = new(big.Rat), new(big.Rat)
	if s.exact {
		pow, _ := new(big.Float).SetFloat64(s.pow).Int(nil)
		return factor.SetFrac(big.NewInt(s.mul), pow), offset.SetFrac(big.NewInt(s.add), pow)
	}
	if _, ok := factor.SetString(s.factorText); !ok {
		factor.SetFloat64(s.Factor)
	}
	if _, ok := offset.SetString(s.offsetText); !ok {
		offset.SetFloat64(s.Offset)
	}
	return factor, offset
}
