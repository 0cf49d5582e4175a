package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestDigitsThatTheBoundsJustify(t *testing.T) {
	for _, c := range []struct {
		value, low, high float64
		want             string
	}{
		{0.417, 0.410, 0.430, "0.417"},
		{0.4171234, 0.410, 0.430, "0.417"},
		{0.425, 0.42, 0.43, "0.425"},     // 0.43-0.42 is 0.010000000000000009
		{0.195, 0.19, 0.20, "0.195"},     // 0.20-0.19 is 0.010000000000000009
		{1.0055, 1.001, 1.010, "1.0055"}, // 0.009
		{0.8, 0.5, 1.1, "0.80"},
		{12.34, 11, 13, "12.3"},
		{1234.56, 1200, 1260, "1235"},
		{1234.56, 1000, 2000, "1235"},
		{55.10512345, 55.105123450, 55.105123461, "55.105123450"},
		{-0.0001, -0.2, 0.1, "0.00"},
		{-0.34, -0.5, -0.1, "-0.34"},
		{12.0344, 12.0344, 12.0344, "12.03"},
		{9.6, 9.6, 9.6, "9.6"},
		{700, 700, 700, "700"},
		{789.25, 789.25, 789.25, "789.2"}, // the nearest even, as strconv rounds
		{123456.7, 123456.7, 123456.7, "123457"},
		{0.00123456, 0.00123456, 0.00123456, "0.001235"},
		{0, 0, 0, "0"},
		{0.1 + 0.2, 0.3, 0.1 + 0.2, "0.3"}, // bounds that differ by rounding alone
		{9.9996, 9.9996, 9.9996, "10"},
		{0.417, 0.430, 0.410, "0.417"}, // bounds in the wrong order
		{math.NaN(), 0, 1, "NaN"},
		{1.25, math.Inf(-1), math.Inf(1), "1"},
	} {
		if got := Round(c.value, c.low, c.high); got != c.want {
			t.Errorf("Round(%v, %v, %v) = %q, want %q", c.value, c.low, c.high, got, c.want)
		}
	}
}

func TestRoundingErrsByLessThanATenthOfTheSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(-1e5, 1e5).Draw(t, "value")
		below := rapid.Float64Range(1e-6, 1e3).Draw(t, "below")
		above := rapid.Float64Range(1e-6, 1e3).Draw(t, "above")
		low, high := value-below, value+above
		text := Round(value, low, high)
		got, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		// Half a unit of the last digit, which is at most a tenth of the spread,
		// or of the digit before the point.
		limit := 0.05 * (high - low) * 1.000001
		if high-low >= 10 {
			limit = 0.5
		}
		if math.Abs(got-value) > limit+1e-12*math.Abs(value) {
			t.Fatalf("Round(%v, %v, %v) = %s", value, low, high, text)
		}
		if strings.HasPrefix(text, "-0") && strings.Trim(text, "-0.") == "" {
			t.Fatalf("negative zero: %s", text)
		}
	})
}

func ExampleRound() {
	fmt.Println(Round(0.41712, 0.410, 0.430), Round(0.41712, 0.3, 0.6), Round(12.0344, 12.0344, 12.0344))
	// Output: 0.417 0.42 12.03
}

func ExampleConvert() {
	c, err := Convert("psi", "kPa")
	fmt.Printf("%.3f %v\n", c.Apply(100), err)
	_, err = Convert("mPa", "kPa")
	fmt.Println(err)
	// Output:
	// 689.476 <nil>
	// unknown unit "mPa"; did you mean MPa?
}
