package units

import (
	"math"
	"strconv"
	"strings"
)

// maxDecimals is the most digits after the point: times are kept in
// nanoseconds.
const maxDecimals = 9

// Decimals says how many digits after the point a value known to lie between
// low and high deserves: down to one digit below the first digit of high - low,
// since what lies further down is unknown. 0.417 in 0.410..0.430 gets three.
// Digits before the point are never dropped. Where the bounds have no spread to
// speak of (less than one part in 10^12 of the value, which is what arithmetic on
// float64 leaves behind) it is four significant digits, without trailing zeros:
// 12.0344 gets two, 9.5 one, 700 none.
func Decimals(value, low, high float64) int {
	spread := math.Abs(high - low)
	if math.IsNaN(spread) || math.IsInf(spread, 0) || math.IsNaN(value) || math.IsInf(value, 0) {
		return 0
	}
	if spread > math.Abs(value)*1e-12 {
		return min(max(1-exponent(spread), 0), maxDecimals)
	}
	decimals := min(max(3-exponent(value), 0), maxDecimals)
	text := strconv.FormatFloat(value, 'f', decimals, 64)
	if point := strings.IndexByte(text, '.'); point >= 0 {
		return len(strings.TrimRight(text, "0")) - point - 1
	}
	return 0
}

// exponent returns the power of ten of the first digit. It reads it off the decimal
// form, rounded to seven digits, so that 0.43 - 0.42 counts as 0.01 whichever
// side of it the float64 lies on.
func exponent(v float64) int {
	if v == 0 {
		return 0
	}
	text := strconv.FormatFloat(v, 'e', 6, 64)
	e, _ := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:])
	return e
}

// Round writes a value known to lie between low and high with the digits that
// Decimals justifies. It never writes a negative zero.
func Round(value, low, high float64) string {
	text := strconv.FormatFloat(value, 'f', Decimals(value, low, high), 64)
	if strings.HasPrefix(text, "-") && strings.Trim(text, "-0.") == "" {
		return text[1:]
	}
	return text
}
