package decode

import (
	"fmt"
	"math"
	"math/big"
	"math/bits"
	"strconv"
	"strings"
)

// Scale turns raw numbers into physical values: raw x factor + offset, both
// taken as the decimals written. The result is the float64 nearest to the exact
// decimal as long as it has at most 2^53 units of its last decimal; beyond that
// it is within one unit in the last place. So 192 x 0.05 is 9.6, which
// multiplying two float64 does not give.
type Scale struct {
	Factor, Offset float64
	// The exact form: (raw x mul + add) / pow, pow a power of ten up to 1e22,
	// which a float64 holds exactly.
	mul, add int64
	pow      float64
	exact    bool
}

// Identity is the scale of a signal without factor and offset.
var Identity = Scale{Factor: 1, mul: 1, pow: 1, exact: true}

// ParseScale reads factor and offset as they are written in a map. An empty text
// means 1 and 0. A factor of zero, and what is no finite number, is an error.
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
	s := Scale{Factor: f.float, Offset: o.float}
	if f.float == 0 {
		return Scale{}, fmt.Errorf("factor: 0 would make every value the same")
	}
	digits := max(f.digits, o.digits, 0)
	if digits > 22 {
		return s, nil
	}
	mul, okF := f.times(digits)
	add, okO := o.times(digits)
	if okF && okO {
		s.mul, s.add, s.pow, s.exact = mul, add, math.Pow10(digits), true
	}
	return s, nil
}

type decimal struct {
	float  float64
	coeff  *big.Int
	digits int // value = coeff / 10^digits; digits may be negative
}

// times gives the value times 10^digits as an int64, if it is one.
func (d decimal) times(digits int) (int64, bool) {
	up := digits - d.digits
	if d.coeff.Sign() == 0 {
		return 0, true
	}
	if up < 0 || up > 40 {
		return 0, false
	}
	n := new(big.Int).Mul(d.coeff, new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(up)), nil))
	return n.Int64(), n.IsInt64()
}

func parseDecimal(text string) (decimal, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) || strings.ContainsAny(text, "xXpP_") {
		return decimal{}, fmt.Errorf("%q is not a decimal number", text)
	}
	mantissa, exponent := strings.ToLower(text), 0
	if i := strings.IndexByte(mantissa, 'e'); i >= 0 {
		if exponent, err = strconv.Atoi(mantissa[i+1:]); err != nil {
			return decimal{}, fmt.Errorf("%q is not a decimal number", text)
		}
		mantissa = mantissa[:i]
	}
	digits := -exponent
	if i := strings.IndexByte(mantissa, '.'); i >= 0 {
		fraction := strings.TrimRight(mantissa[i+1:], "0")
		digits += len(fraction)
		mantissa = mantissa[:i] + fraction
	}
	coeff, ok := new(big.Int).SetString(strings.TrimPrefix(mantissa, "+"), 10)
	if !ok {
		return decimal{}, fmt.Errorf("%q is not a decimal number", text)
	}
	return decimal{float: v, coeff: coeff, digits: digits}, nil
}

// Step is the distance between two neighbouring values.
func (s Scale) Step() float64 { return math.Abs(s.Factor) }

// Int scales a raw integer; unsigned tells that raw is to be read as a uint64.
func (s Scale) Int(raw int64, unsigned bool) float64 {
	if !s.exact {
		if unsigned {
			return math.FMA(float64(uint64(raw)), s.Factor, s.Offset)
		}
		return math.FMA(float64(raw), s.Factor, s.Offset)
	}
	const small = 1 << 31
	if raw > -small && raw < small && s.mul > -small && s.mul < small {
		if p := raw * s.mul; p < math.MaxInt64/2 && p > math.MinInt64/2 && s.add < small<<30 && s.add > -small<<30 {
			return float64(p+s.add) / s.pow
		}
	}
	return s.wide(raw, unsigned)
}

// wide does the same in 128 bits.
func (s Scale) wide(raw int64, unsigned bool) float64 {
	neg := false
	magnitude := uint64(raw)
	if !unsigned && raw < 0 {
		neg, magnitude = true, -magnitude
	}
	m := uint64(s.mul)
	if s.mul < 0 {
		neg, m = !neg, -m
	}
	hi, lo := bits.Mul64(magnitude, m)
	if neg {
		lo = -lo
		hi = ^hi
		if lo == 0 {
			hi++
		}
	}
	var carry uint64
	lo, carry = bits.Add64(lo, uint64(s.add), 0)
	hi, _ = bits.Add64(hi, uint64(s.add>>63), carry)
	negative := int64(hi) < 0
	if negative {
		lo = -lo
		hi = ^hi
		if lo == 0 {
			hi++
		}
	}
	v := float128(hi, lo) / s.pow
	if negative {
		v = -v
	}
	return v
}

// float128 rounds a 128-bit number once to the nearest float64.
func float128(hi, lo uint64) float64 {
	if hi == 0 {
		return float64(lo)
	}
	shift := bits.LeadingZeros64(hi)
	top := hi<<shift | lo>>(64-shift)
	if lo<<shift != 0 {
		top |= 1 // keeps a tie from being taken for one
	}
	return math.Ldexp(float64(top), 64-shift)
}

// Real scales a number that was a float in the payload.
func (s Scale) Real(v float64) float64 {
	if s.exact {
		return math.FMA(v, float64(s.mul), float64(s.add)) / s.pow
	}
	return math.FMA(v, s.Factor, s.Offset)
}
