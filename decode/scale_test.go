package decode

import (
	"fmt"
	"math"
	"math/big"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// exactly returns raw x factor + offset without rounding, and how many units of its last
// decimal that is.
func exactly(raw *big.Rat, factor, offset string) (value, units *big.Rat) {
	f, _ := new(big.Rat).SetString(factor)
	o, _ := new(big.Rat).SetString(offset)
	digits := max(digitsOf(f), digitsOf(o))
	value = new(big.Rat).Mul(raw, f)
	value.Add(value, o)
	power := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil)
	units = new(big.Rat).Mul(value, new(big.Rat).SetInt(power))
	return value, units.Abs(units)
}

// digitsOf returns the number of decimals of a number that has finitely many.
func digitsOf(r *big.Rat) int {
	digits := 0
	for scaled := new(big.Rat).Set(r); !scaled.IsInt(); digits++ {
		scaled.Mul(scaled, big.NewRat(10, 1))
	}
	return digits
}

// checkNearest compares a scaled value with exact arithmetic. Up to 2^53 units of the last
// decimal it must be the nearest float64. Beyond, an error of one unit in the last place is
// allowed, where the nearest float64 is off by at most half a unit.
func checkNearest(t interface{ Fatalf(string, ...any) }, what string, got float64, value, units *big.Rat) {
	nearest, _ := value.Float64()
	if got == nearest {
		return
	}
	if units.IsInt() && units.Cmp(new(big.Rat).SetInt64(1<<53)) <= 0 {
		t.Fatalf("%s = %v, nearest is %v", what, got, nearest)
	}
	if math.IsInf(got, 0) || math.IsNaN(got) {
		t.Fatalf("%s = %v, nearest is %v", what, got, nearest)
	}
	off := new(big.Rat).Sub(new(big.Rat).SetFloat64(got), value)
	unit := math.Abs(math.Nextafter(nearest, 0) - nearest)
	if off.Abs(off).Cmp(new(big.Rat).SetFloat64(0.7*unit)) > 0 {
		t.Fatalf("%s = %v is off by more than 0.7 units in the last place of %v", what, got, nearest)
	}
}

// decimals generates numbers as people write them, and as they do not.
func decimals() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"0.05", "0.1", "0.25", "0.125", "0.03125", "0.00390625", "1", "100", "1e3", "1e-3",
			"0.392156862745098", "0.39215686274509803921568627", "0.4", "-40", "-273", "-125", "0.0000001", "1e22", "1e-22", "1e-25", "3.6"}),
		rapid.StringMatching(`-?[1-9][0-9]{0,3}(\.[0-9]{1,6})?`),
		rapid.StringMatching(`-?0\.0{0,8}[1-9][0-9]{0,15}`),
		rapid.StringMatching(`-?[1-9][0-9]{0,19}`),
		rapid.StringMatching(`[+-]?[1-9]\.[0-9]{1,30}[eE][+-]?[0-9]{1,2}`),
		rapid.StringMatching(`-?[1-9]\.[0-9]{1,30}e-?2[0-9]{2}`),
	)
}

func raws() *rapid.Generator[int64] {
	return rapid.OneOf(rapid.Int64Range(-256, 256), rapid.Int64Range(-1<<31, 1<<32), rapid.Int64(),
		rapid.SampledFrom([]int64{math.MinInt64, math.MaxInt64, 1 << 53, 1<<53 + 1, -1<<53 - 1, 1 << 31, -1 << 31}))
}

func TestScaleGivesTheNearestValueOfARawInteger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		factor, offset := decimals().Draw(t, "factor"), decimals().Draw(t, "offset")
		if rapid.Bool().Draw(t, "no offset") {
			offset = "0"
		}
		s := scale(factor, offset)
		raw, unsigned := raws().Draw(t, "raw"), rapid.Bool().Draw(t, "unsigned")
		number := new(big.Rat).SetInt64(raw)
		if unsigned {
			number.SetInt(new(big.Int).SetUint64(uint64(raw)))
		}
		value, units := exactly(number, factor, offset)
		what := fmt.Sprintf("%s x %s + %s", number.Num(), factor, offset)
		checkNearest(t, what, s.Int(raw, unsigned), value, units)
	})
}

func TestScaleGivesTheNearestValueOfARawFloat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		factor, offset := decimals().Draw(t, "factor"), decimals().Draw(t, "offset")
		s := scale(factor, offset)
		v := rapid.OneOf(rapid.Float64Range(-1e6, 1e6), rapid.Float64(),
			rapid.Map(rapid.Float32(), func(f float32) float64 { return float64(f) }),
			rapid.Map(rapid.Int64Range(-1<<54, 1<<54), func(i int64) float64 { return float64(i) })).Draw(t, "value")
		value, units := exactly(new(big.Rat).SetFloat64(v), factor, offset)
		checkNearest(t, fmt.Sprintf("%v x %s + %s", v, factor, offset), s.Real(v), value, units)
	})
}

// A raw value that nearly cancels the offset leaves only digits that the factor's float64 does
// not have.
func TestScaleKeepsTheDigitsThatAreLeftWhenFactorAndOffsetCancel(t *testing.T) {
	tests := []struct {
		factor, offset string
		raw            int64
		want           float64
	}{
		{"0.39215686274509803921568627", "-100", 255, -1.15e-24},
		{"0.1", "-0.3", 3, 0},
		{"0.333333333333333333333333333333", "-1", 3, -1e-30},
		{"10000000000000000000", "-10000000000000000000", 1, 0},
		{"10000000000000000001", "-10000000000000000000", 1, 1},
		{"1", "-9223372036854775807", math.MaxInt64, 0},
		{"1", "9223372036854775807", math.MinInt64, -1},
	}
	for _, tt := range tests {
		s := scale(tt.factor, tt.offset)
		if got := s.Int(tt.raw, false); got != tt.want {
			t.Errorf("%d x %s + %s = %v, want %v", tt.raw, tt.factor, tt.offset, got, tt.want)
		}
	}
}

func TestScaleTakesFactorAndOffsetAsTheDecimalsWritten(t *testing.T) {
	tests := []struct {
		factor, offset string
		raw            int64
		unsigned       bool
		want           float64
	}{
		{"0.05", "", 192, true, 9.6}, // as float64 9.600000000000001
		{"0.1", "", 3, true, 0.3},    // as float64 0.30000000000000004
		{"0.03125", "-273", 8736, true, 0},
		{"", "-40", 130, true, 90},
		{".5", "+.5", 1, true, 1},
		{"5.", "", 1, true, 5},
		{"-0.5", "1", 3, false, -0.5},
		{"1e3", "", 2, false, 2000},
		{"1E-3", "", 9600, true, 9.6},
		{"100e-2", "", 7, false, 7},
		{"", "", -1, true, math.MaxUint64},
		{"", "", -1, false, -1},
		{"2", "", math.MinInt64, true, 1 << 64},
		{"2", "", math.MinInt64, false, -1 << 64},
		{"1e300", "", 2, false, 2e300},
		{"1e-300", "1e-310", 2, false, 2.0000000001e-300},
		{"1", "1e-99999", 2, false, 2},
		{"1e308", "", 10, false, math.Inf(1)},
	}
	for _, tt := range tests {
		s := scale(tt.factor, tt.offset)
		if got := s.Int(tt.raw, tt.unsigned); got != tt.want {
			t.Errorf("%d x %q + %q = %v, want %v", tt.raw, tt.factor, tt.offset, got, tt.want)
		}
	}
}

func TestScaleOfRawFloatsAtTheEndsOfTheirRange(t *testing.T) {
	tests := []struct {
		factor, offset string
		raw, want      float64
	}{
		{"1", "0", math.SmallestNonzeroFloat64, math.SmallestNonzeroFloat64},
		{"1", "0", math.MaxFloat64, math.MaxFloat64},
		{"0.15", "0", 1e308, 1.5e307}, // 1e308 x 15 would overflow
		{"0.1", "0", 1e-307, 1e-308},
		{"10", "0", math.MaxFloat64, math.Inf(1)},
		{"0.1", "0", math.Inf(-1), math.Inf(-1)},
	}
	for _, tt := range tests {
		s := scale(tt.factor, tt.offset)
		if got := s.Real(tt.raw); got != tt.want {
			t.Errorf("%v x %s + %s = %v, want %v", tt.raw, tt.factor, tt.offset, got, tt.want)
		}
	}
	s := scale("0.1", "0")
	if got := s.Real(math.NaN()); !math.IsNaN(got) {
		t.Errorf("NaN scaled = %v, want NaN", got)
	}
}

// A float64 cannot represent powers of ten above 1e22, so dividing by one is not exact.
func TestScaleGivesTheNearestValueOfVerySmallUnits(t *testing.T) {
	s := scale("1e-25", "")
	for raw := int64(1); raw <= 1000; raw++ {
		value, units := exactly(new(big.Rat).SetInt64(raw), "1e-25", "0")
		checkNearest(t, fmt.Sprintf("%d x 1e-25", raw), s.Int(raw, true), value, units)
	}
}

// For so small a factor, the difference between its decimals and its float64 underflows.
func TestScaleGivesTheNearestValueOfHugeFloatsAndTinyFactors(t *testing.T) {
	const factor = "1.2345678901234567890123e-307"
	s := scale(factor, "")
	for i := 0; i < 200; i++ {
		v := 1e60 + float64(i)*1e57
		value, _ := exactly(new(big.Rat).SetFloat64(v), factor, "0")
		if want, _ := value.Float64(); s.Real(v) != want {
			t.Errorf("%v x %s = %v, nearest is %v", v, factor, s.Real(v), want)
		}
	}
}

// A tenth of these is half way between two float64 numbers, of which one is even; the
// float64 next to 0.1 gives the other.
func TestScaleGivesTheNearestValueOfTheSmallestFloats(t *testing.T) {
	s := scale("0.1", "")
	for _, tt := range []struct{ raw, want float64 }{{5, 0}, {15, 2}, {25, 2}, {35, 4}, {45, 4}, {10, 1}, {-5, 0}, {-25, -2}} {
		if got := s.Real(tt.raw * math.SmallestNonzeroFloat64); got != tt.want*math.SmallestNonzeroFloat64 {
			t.Errorf("%g smallest numbers x 0.1 = %v, want %g of them", tt.raw, got, tt.want)
		}
	}
}

func TestScaleMadeOfFloatsTakesThemAsTheyAre(t *testing.T) {
	s := Scale{Factor: 0.25, Offset: -40}
	if got := s.Int(160, true); got != 0 {
		t.Errorf("160 x 0.25 - 40 = %v, want 0", got)
	}
	// Neither quotients nor products of float64 numbers give these exactly.
	s = Scale{Factor: 1e308, Offset: -1e308}
	if got := s.Int(1, true); got != 0 {
		t.Errorf("1 x 1e308 - 1e308 = %v, want 0", got)
	}
	if got := new(Scale).Int(7, true); got != 0 {
		t.Errorf("the zero Scale makes 7 into %v, want 0", got)
	}
}

func TestParseScaleGivesEqualScalesForEqualNumbers(t *testing.T) {
	for _, same := range [][]string{
		{"0.1", "0.10", "1e-1", "+0.1", ".1", "10e-2", "0.1E0"},
		{"1", "", "1.0", "1.", "10e-1"},
		{"1.5e-30", "15e-31", "0.0000000000000000000000000000015"},
	} {
		want := scale(same[0], "")
		for _, text := range same[1:] {
			if got := scale(text, "0.00"); got != want {
				t.Errorf("%q: %+v, but %q: %+v", text, got, same[0], want)
			}
		}
	}
	if got := scale("", ""); got != Identity {
		t.Errorf("no factor and offset: %+v, want Identity %+v", got, Identity)
	}
}

func TestParseScaleRefusesAnythingButNumbers(t *testing.T) {
	tests := []struct{ factor, offset, want string }{
		{"0", "", "factor: 0 would make every value the same"},
		{"-0.0e5", "", "factor: 0 would make every value the same"},
		{"1e-400", "", "factor: 0 would make every value the same"},
		{"half", "", `factor: "half" is not a decimal number`},
		{"0x10", "", `factor: "0x10" is not a decimal number`},
		{"1_000", "", `factor: "1_000" is not a decimal number`},
		{"1e309", "", `factor: "1e309" is not a decimal number`},
		{"inf", "", `factor: "inf" is not a decimal number`},
		{"", "nan", `offset: "nan" is not a decimal number`},
		{"", "1,5", `offset: "1,5" is not a decimal number`},
		{"", "1e", `offset: "1e" is not a decimal number`},
		{"", "--1", `offset: "--1" is not a decimal number`},
		{"", ".", `offset: "." is not a decimal number`},
		{"", " 1", `offset: " 1" is not a decimal number`},
	}
	for _, tt := range tests {
		_, err := ParseScale(tt.factor, tt.offset)
		if err == nil {
			t.Errorf("ParseScale(%q, %q) gives no error", tt.factor, tt.offset)
			continue
		}
		if diff := cmp.Diff(tt.want, err.Error()); diff != "" {
			t.Errorf("ParseScale(%q, %q) (-want +got):\n%s", tt.factor, tt.offset, diff)
		}
	}
}

func TestStepIsTheSizeOfTheFactor(t *testing.T) {
	s := scale("-0.25", "3")
	if got := s.Step(); got != 0.25 {
		t.Errorf("step = %v, want 0.25", got)
	}
}

// The usual scales must not need exact arithmetic, which allocates.
func TestScalingAllocatesNothing(t *testing.T) {
	scales := []Scale{Identity, scale("0.05", ""), scale("0.03125", "-273"), scale("0.392156862745098", ""),
		scale("0.39215686274509803921568627", ""), scale("1e-25", "3.3")}
	sum := 0.0
	allocs := testing.AllocsPerRun(100, func() {
		for i := range scales {
			for _, raw := range []int64{0, 1, 255, 65535, -40, 1 << 40, math.MaxInt64} {
				sum += scales[i].Int(raw, raw >= 0) + scales[i].Real(float64(raw)+0.3)
			}
		}
	})
	if allocs != 0 {
		t.Errorf("%v allocations (sum %v), want none", allocs, sum)
	}
}

func FuzzParseScale(f *testing.F) {
	for _, seed := range []string{"0.05", "1e3", "-40", "1e-310", "0.39215686274509803921568627", "1e99999999", "."} {
		f.Add(seed, int64(255))
	}
	f.Fuzz(func(t *testing.T, text string, raw int64) {
		s, err := ParseScale("", text)
		if err != nil || text == "" {
			return
		}
		if len(text) > 100 || strings.Contains(strings.ToLower(text), "e") {
			s.Int(raw, false) // must not panic; exact arithmetic would take long
			return
		}
		value, units := exactly(new(big.Rat).SetInt64(raw), "1", text)
		checkNearest(t, fmt.Sprintf("%d + %s", raw, text), s.Int(raw, false), value, units)
	})
}
