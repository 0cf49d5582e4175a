package units

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// Published values. SP 811: NIST Special Publication 811 (2008), appendix B and
// the definitions that it restates; DOE: US Department of Energy, fact 861
// (2015), idle fuel consumption, in L/h by 1 US gal = 3.785411784 L.
func TestPublishedFactors(t *testing.T) {
	for _, c := range []struct {
		value    float64
		from, to string
		want     float64
		digits   float64 // relative tolerance: how far the source is written out
		source   string
	}{
		{1, "mph", "km/h", 1.609344, 0, "SP 811: international mile, exact"},
		{1, "mph", "m/s", 0.44704, 0, "SP 811 B.8, exact"},
		{1, "kn", "km/h", 1.852, 0, "SP 811: nautical mile, exact"},
		{1, "km/h", "m/s", 0.2777778, 1e-6, "SP 811 B.8"},
		{1, "psi", "Pa", 6894.757293168, 1e-13, "SP 811 B.8, from exact definitions"},
		{1, "psi", "kPa", 6.894757, 1e-7, "SP 811 B.8"},
		{1, "bar", "kPa", 100, 0, "SP 811, exact"},
		{1, "mbar", "hPa", 1, 0, "SP 811, exact"},
		{2.5, "MPa", "bar", 25, 0, "SP 811, exact"},
		{1, "g", "m/s2", 9.80665, 0, "standard gravity, 3rd CGPM 1901, exact"},
		{1, "gal/h", "L/h", 3.785411784, 0, "US gallon of 231 cubic inches, exact"},
		{1, "gal/h", "mL/s", 1.051503, 1e-6, "SP 811 B.8: 1.051 503 E-06 m3/s"},
		{0.16, "gal/h", "L/h", 0.605666, 1e-6, "DOE, compact sedan, gasoline"},
		{0.16, "gal/h", "mL/s", 0.168241, 2e-6, "DOE, compact sedan, gasoline"},
		{0.39, "gal/h", "L/h", 1.476311, 1e-6, "DOE, large sedan, gasoline"},
		{0.17, "gal/h", "L/h", 0.643520, 1e-6, "DOE, compact sedan, diesel"},
		{0.84, "gal/h", "L/h", 3.179746, 1e-6, "DOE, delivery truck, diesel"},
		{0.97, "gal/h", "mL/s", 1.019958, 1e-6, "DOE, transit bus, diesel"},
		{1, "mL/s", "L/h", 3.6, 0, "by definition"},
		{1, "mL/min", "L/h", 0.06, 0, "by definition"},
		{9600, "mV", "V", 9.6, 0, "by definition"},
		{-250, "mA", "A", -0.25, 0, "by definition"},
		{800, "ms", "s", 0.8, 0, "by definition"},
		{2, "h", "min", 120, 0, "by definition"},
		{32, "degF", "degC", 0, 1e-14, "SP 811: freezing point of water"},
		{212, "degF", "degC", 100, 1e-14, "SP 811"},
		{-40, "degC", "degF", -40, 1e-14, "where the scales meet"},
		{0, "degC", "K", 273.15, 0, "SP 811, exact"},
		{700, "1/min", "rpm", 700, 0, "by definition"},
	} {
		conversion, err := Convert(c.from, c.to)
		if err != nil {
			t.Errorf("%s to %s: %v", c.from, c.to, err)
			continue
		}
		if got := conversion.Apply(c.value); math.Abs(got-c.want) > c.digits*math.Max(math.Abs(c.want), 100) {
			t.Errorf("%v %s = %v %s, want %v (%s)", c.value, c.from, got, c.to, c.want, c.source)
		}
	}
}

// names returns the canonical names of all units.
func names() []string {
	list := make([]string, len(table))
	for i := range table {
		list[i] = table[i].name
	}
	return list
}

func TestTheSameUnitChangesNothing(t *testing.T) {
	for _, name := range names() {
		got, err := Convert(name, name)
		if diff := cmp.Diff(Conversion{Mul: 1, Div: 1}, got); err != nil || diff != "" {
			t.Errorf("%s: %v\n%s", name, err, diff)
		}
	}
}

func TestSpellingsOfOneUnit(t *testing.T) {
	for name, spellings := range map[string]string{
		"rpm": "RPM Rpm 1/min min-1 min⁻¹ r/min /MIN U/min", "km/h": "KPH kph kmh Km/H KM/H", "mph": "MPH mi/h Mph",
		"m/s": "m/s mps", "kn": "knots kt KN", "V": "v volts Volt", "mV": "mV millivolts", "A": "a Amps",
		"%": "percent PCT", "L/h": "l/h L/H lph LPH", "mL/s": "ml/s ML/S cm³/s", "mL/min": "ml/min cc/min", "gal/h": "gph GPH",
		"kPa": "kpa KPA KPa", "hPa": "hpa", "MPa": "MPa", "bar": "Bar BAR", "mbar": "MBAR", "psi": "PSI lbf/in²",
		"m/s2": "m/s² m/s^2 m/s/s", "g": "G", "degC": "°C ℃ C celsius °c", "degF": "°F ℉ F", "K": "kelvin", "s": "sec seconds", "ms": "msec",
	} {
		for _, s := range strings.Fields(spellings) {
			got, err := Convert(" "+s+" ", name)
			if diff := cmp.Diff(Conversion{Mul: 1, Div: 1}, got); err != nil || diff != "" {
				t.Errorf("%q as %s: %v\n%s", s, name, err, diff)
			}
		}
	}
	if _, err := Convert("km / h", "km/h"); err != nil {
		t.Error(err)
	}
}

func TestUnknownUnitsAndOtherQuantities(t *testing.T) {
	for _, c := range []struct {
		from, to string
		want     error
		kind     error
		text     string
	}{
		{"mPa", "kPa", &UnknownError{Unit: "mPa", Near: "MPa"}, ErrUnknown, `unknown unit "mPa"; did you mean MPa?`},
		{"MV", "V", &UnknownError{Unit: "MV", Near: "mV"}, ErrUnknown, `unknown unit "MV"; did you mean mV?`},
		{"kap", "kPa", &UnknownError{Unit: "kap", Near: "kPa"}, ErrUnknown, `unknown unit "kap"; did you mean kPa?`},
		{"pris", "psi", &UnknownError{Unit: "pris"}, ErrUnknown, `unknown unit "pris"`},
		{"V", "mvv", &UnknownError{Unit: "mvv", Near: "mV"}, ErrUnknown, `unknown unit "mvv"; did you mean mV?`},
		{"barr", "psi", &UnknownError{Unit: "barr", Near: "bar"}, ErrUnknown, `unknown unit "barr"; did you mean bar?`},
		{"x", "V", &UnknownError{Unit: "x"}, ErrUnknown, `unknown unit "x"`},
		{"", "V", &UnknownError{}, ErrUnknown, `unknown unit ""`},
		{"furlong", "V", &UnknownError{Unit: "furlong"}, ErrUnknown, `unknown unit "furlong"`},
		{"PSI", "kmh", &QuantityError{From: "psi", To: "km/h", FromQuantity: "pressure", ToQuantity: "speed"}, ErrQuantity, "psi is a unit of pressure, km/h of speed"},
	} {
		got, err := Convert(c.from, c.to)
		if diff := cmp.Diff(c.want, err); diff != "" {
			t.Errorf("Convert(%q, %q) (-want +got):\n%s", c.from, c.to, diff)
			continue
		}
		if got != (Conversion{}) || !errors.Is(err, c.kind) || err.Error() != c.text {
			t.Errorf("Convert(%q, %q) = %v, %q", c.from, c.to, got, err)
		}
	}
}

func TestUnitsOfOneQuantity(t *testing.T) {
	if diff := cmp.Diff([]string{"km/h", "mph", "m/s", "kn"}, Like("MPH")); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := Like("furlong"); got != nil {
		t.Errorf("Like of an unknown unit = %v", got)
	}
}

func TestNoSpellingMeansTwoUnits(t *testing.T) {
	seen := map[string]string{}
	for _, u := range table {
		if fraction(u.factor).Sign() <= 0 {
			t.Errorf("%s has the factor %q", u.name, u.factor)
		}
		for _, s := range append([]string{u.name}, u.also...) {
			if other := seen[s]; other != "" {
				t.Errorf("%q means %s and %s", s, other, u.name)
			}
			seen[s] = u.name
			if found := find(s); found == nil || found.name != u.name {
				t.Errorf("%q is not found as %s", s, u.name)
			}
		}
	}
	for _, u := range table { // no case of a spelling may be another unit's spelling
		for _, s := range append([]string{u.name}, u.also...) {
			if other := folded[strings.ToLower(s)]; other != nil && other.name != u.name {
				t.Errorf("%q of %s is also %s in another case", s, u.name, other.name)
			}
		}
	}
}

// Factors are whole numbers below 2^53, so each direction costs two roundings.
func TestThereAndBackAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.SampledFrom(names()).Draw(t, "from")
		to := rapid.SampledFrom(Like(from)).Draw(t, "to")
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		there, err := Convert(from, to)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Convert(to, from)
		if err != nil {
			t.Fatal(err)
		}
		if there.Mul != math.Trunc(there.Mul) || there.Div != math.Trunc(there.Div) || there.Mul >= 1<<53 || there.Div >= 1<<53 {
			t.Fatalf("%s to %s: %v is not a fraction of whole numbers", from, to, there)
		}
		middle := there.Apply(v)
		// Five roundings of half a unit in the last place; where offsets are added,
		// of the larger of the numbers that meet; numbers below 1e-300 lose digits.
		scale := math.Max(math.Abs(v), math.Abs(back.Add))
		scale = math.Max(scale, math.Abs(middle*back.Mul/back.Div))
		if got := back.Apply(middle); math.Abs(got-v) > 5*0x1p-53*scale+1e-300 {
			t.Fatalf("%v %s -> %v %s -> %v", v, from, middle, to, got)
		}
	})
}
