package units

import (
	"math"
	"strconv"
	"strings"
)

// maxDecimals is the greatest number of digits after the point, because times are kept
// in nanoseconds.
const maxDecimals = 9

// Decimals returns how many digits after the point a value between low and high
// deserves: down to one digit below the first digit of high - low, since digits
// further down are unknown. 0.417 in 0.410..0.430 gets three. Digits before the point
// are never dropped. If the spread is negligible (less than one part in 10^12 of the
// value, as float64 arithmetic leaves behind), Decimals allows four significant digits
// without trailing zeros: 12.0344 gets two, 9.5 one, 700 none.
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

// exponent returns the power of ten of the first digit of v. It takes it from the
// decimal form rounded to seven digits, so that 0.43 - 0.42 counts as 0.01 on whichever
// side of 0.01 its float64 lies.
func exponent(v float64) int {
	if v == 0 {
		return 0
	}
	text := strconv.FormatFloat(v, 'e', 6, 64)
	e, _ := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:])
	return e
}

// Round formats a value between low and high with as many digits as Decimals allows. It
// never returns a negative zero.
func Round(value, low, high float64) string {
	text := strconv.FormatFloat(value, 'f', Decimals(value, low, high), 64)
	if strings.HasPrefix(text, "-") && strings.Trim(text, "-0.") == "" {
		return text[1:]
	}
	return text
}
