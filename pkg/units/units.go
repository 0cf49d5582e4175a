// Package units knows the units of the quantities that lull reads: how they are
// spelled, which of them measure the same quantity, and the exact factor between any
// two. It also decides how many digits of a bounded value to show (Round). It never
// guesses: an unknown spelling is an error that names the nearest unit. Start with
// Convert.
package units

import (
	"errors"
	"fmt"
	"math/big"
	"strings"

	"lull/pkg/spelling"
)

// Conversion converts a value from one unit to another: value x Mul / Div + Add.
// Mul and Div are whole numbers, the exact factor in lowest terms, so that 9600 mV
// become exactly 9.6 V, which 9600 x 0.001 is not. The zero Conversion leaves a value
// unchanged.
type Conversion struct {
	Mul, Div, Add float64
}

// Apply returns v converted.
func (c Conversion) Apply(v float64) float64 { return c.ApplyStep(v) + c.Add }

// ApplyStep returns a difference of two values, such as a signal's step, converted.
func (c Conversion) ApplyStep(v float64) float64 {
	if c.Div == 0 {
		return v
	}
	return v * c.Mul / c.Div
}

var (
	// ErrUnknown is wrapped by every *UnknownError.
	ErrUnknown = errors.New("unknown unit")
	// ErrQuantity is wrapped by every *QuantityError.
	ErrQuantity = errors.New("units of different quantities")
)

// UnknownError reports a unit that the package does not know.
type UnknownError struct {
	Unit string
	Near string // a known unit with a similar spelling, or ""
}

func (e *UnknownError) Error() string {
	if e.Near != "" {
		return fmt.Sprintf("unknown unit %q; did you mean %s?", e.Unit, e.Near)
	}
	return fmt.Sprintf("unknown unit %q", e.Unit)
}

// Unwrap returns ErrUnknown.
func (e *UnknownError) Unwrap() error { return ErrUnknown }

// QuantityError reports two known units that measure different quantities.
type QuantityError struct {
	From, To                 string // canonical names
	FromQuantity, ToQuantity string
}

func (e *QuantityError) Error() string {
	return fmt.Sprintf("%s is a unit of %s, %s of %s", e.From, e.FromQuantity, e.To, e.ToQuantity)
}

// Unwrap returns ErrQuantity.
func (e *QuantityError) Unwrap() error { return ErrQuantity }

// unit is one known unit: base value = value x factor + offset, both exact
// fractions.
type unit struct {
	name, quantity, factor, offset string
	also                           []string // other spellings, letter for letter
	// anyCase allows any mix of upper and lower case. KPA can only mean kPa, but mPa
	// is not MPa.
	anyCase bool
}

// table lists the units by quantity, each beginning with its base unit. The factors
// are those of NIST SP 811 appendix B, which are exact by definition: the mile is
// 1609.344 m, the nautical mile 1852 m, the US gallon 3.785411784 L, standard gravity
// 9.80665 m/s2, the pound 0.45359237 kg, the inch 25.4 mm.
var table = []unit{
	{name: "rpm", quantity: "rotational speed", factor: "1", also: []string{"1/min", "r/min", "rev/min", "min-1", "min^-1", "/min", "U/min"}, anyCase: true},

	{name: "km/h", quantity: "speed", factor: "1", also: []string{"kph", "kmh", "kmph", "km/hr"}, anyCase: true},
	{name: "mph", quantity: "speed", factor: "1.609344", also: []string{"mi/h", "mile/h", "miles/h"}, anyCase: true},
	{name: "m/s", quantity: "speed", factor: "3.6", also: []string{"mps", "m/sec"}},
	{name: "kn", quantity: "speed", factor: "1.852", also: []string{"kt", "kts", "knot", "knots"}, anyCase: true},

	{name: "V", quantity: "voltage", factor: "1", also: []string{"v", "volt", "volts", "Volt", "Volts"}},
	{name: "mV", quantity: "voltage", factor: "1/1000", also: []string{"millivolt", "millivolts"}},

	{name: "A", quantity: "current", factor: "1", also: []string{"a", "amp", "amps", "Amp", "Amps", "ampere", "amperes"}},
	{name: "mA", quantity: "current", factor: "1/1000", also: []string{"milliampere", "milliamperes"}},

	{name: "%", quantity: "share", factor: "1", also: []string{"percent", "pct"}, anyCase: true},

	{name: "L/h", quantity: "fuel flow", factor: "1", also: []string{"lph", "L/hr"}, anyCase: true},
	{name: "mL/s", quantity: "fuel flow", factor: "3.6", also: []string{"cm3/s", "cc/s"}, anyCase: true},
	{name: "mL/min", quantity: "fuel flow", factor: "0.06", also: []string{"cm3/min", "cc/min"}, anyCase: true},
	{name: "gal/h", quantity: "fuel flow", factor: "3.785411784", also: []string{"gph", "gal/hr", "usgal/h"}, anyCase: true},

	{name: "kPa", quantity: "pressure", factor: "1", anyCase: true},
	{name: "Pa", quantity: "pressure", factor: "1/1000", also: []string{"pa"}},
	{name: "hPa", quantity: "pressure", factor: "1/10", anyCase: true},
	{name: "MPa", quantity: "pressure", factor: "1000"},
	{name: "bar", quantity: "pressure", factor: "100", anyCase: true},
	{name: "mbar", quantity: "pressure", factor: "1/10", anyCase: true},
	// Pound-force per square inch: 0.45359237 kg x 9.80665 m/s2 / (0.0254 m)^2.
	{name: "psi", quantity: "pressure", factor: "8896443230521/1290320000000", also: []string{"lbf/in2", "lb/in2"}, anyCase: true},

	{name: "m/s2", quantity: "acceleration", factor: "1", also: []string{"m/s^2", "m/s/s", "m/sec2", "m/s**2"}},
	{name: "g", quantity: "acceleration", factor: "9.80665", also: []string{"G", "g0", "gn"}},

	{name: "degC", quantity: "temperature", factor: "1", also: []string{"C", "celsius", "deg C"}, anyCase: true},
	{name: "degF", quantity: "temperature", factor: "5/9", offset: "-160/9", also: []string{"F", "fahrenheit", "deg F"}, anyCase: true},
	{name: "K", quantity: "temperature", factor: "1", offset: "-273.15", also: []string{"kelvin", "Kelvin"}},

	{name: "s", quantity: "time", factor: "1", also: []string{"sec", "second", "seconds"}},
	{name: "ms", quantity: "time", factor: "1/1000", also: []string{"msec", "millisecond", "milliseconds"}},
	{name: "min", quantity: "time", factor: "60", also: []string{"minute", "minutes"}},
	{name: "h", quantity: "time", factor: "3600", also: []string{"hr", "hour", "hours"}},
}

var exactly, folded = spellings()

// spellings returns two maps from spelling to unit: one of all spellings as they are,
// and one of the spellings of anyCase units in lower case.
func spellings() (exactly, folded map[string]*unit) {
	exactly, folded = map[string]*unit{}, map[string]*unit{}
	for i := range table {
		u := &table[i]
		for _, s := range append([]string{u.name}, u.also...) {
			exactly[s] = u
			if u.anyCase {
				folded[strings.ToLower(s)] = u
			}
		}
	}
	return exactly, folded
}

// tidy replaces characters that people type for the same thing by one form.
var tidy = strings.NewReplacer("²", "2", "³", "3", "⁻¹", "-1", "°", "deg", "℃", "degC", "℉", "degF", "µ", "u", "·", "*")

func find(spelling string) *unit {
	s := tidy.Replace(strings.TrimSpace(spelling))
	for _, try := range []string{s, strings.ReplaceAll(s, " ", "")} {
		if u := exactly[try]; u != nil {
			return u
		}
		if u := folded[strings.ToLower(try)]; u != nil {
			return u
		}
	}
	return nil
}

// Convert returns the conversion between two units, each in any known spelling.
// Its error is an *UnknownError or a *QuantityError.
func Convert(from, to string) (Conversion, error) {
	a, b := find(from), find(to)
	if a == nil {
		return Conversion{}, &UnknownError{Unit: from, Near: near(from)}
	}
	if b == nil {
		return Conversion{}, &UnknownError{Unit: to, Near: near(to)}
	}
	if a.quantity != b.quantity {
		return Conversion{}, &QuantityError{From: a.name, To: b.name, FromQuantity: a.quantity, ToQuantity: b.quantity}
	}
	// v x fa + oa = w x fb + ob, so w = v x fa/fb + (oa - ob)/fb.
	fb := fraction(b.factor)
	factor := new(big.Rat).Quo(fraction(a.factor), fb)
	add := new(big.Rat).Sub(fraction(a.offset), fraction(b.offset))
	add.Quo(add, fb)
	var c Conversion
	c.Mul, _ = new(big.Float).SetInt(factor.Num()).Float64()
	c.Div, _ = new(big.Float).SetInt(factor.Denom()).Float64()
	c.Add, _ = add.Float64()
	return c, nil
}

// fraction parses a number of the table; an empty one is 0. A test makes sure that
// they all parse.
func fraction(text string) *big.Rat {
	r := new(big.Rat)
	if text != "" {
		r.SetString(text)
	}
	return r
}

// Name returns lull's name of a unit in any known spelling.
func Name(spelling string) (name string, known bool) {
	if u := find(spelling); u != nil {
		return u.name, true
	}
	return "", false
}

// Like returns the units that measure the same quantity as the given one, including
// that unit itself, or nil if it is unknown.
func Like(unit string) []string {
	u := find(unit)
	if u == nil {
		return nil
	}
	var names []string
	for i := range table {
		if table[i].quantity == u.quantity {
			names = append(names, table[i].name)
		}
	}
	return names
}

// near returns the unit whose spelling differs from the given one only in case, else
// the first whose spelling is one slip away (see spelling.Distance), else "".
func near(unit string) string {
	s := strings.ToLower(tidy.Replace(strings.TrimSpace(unit)))
	for pass := 0; pass < 2; pass++ {
		for i := range table {
			for _, known := range append([]string{table[i].name}, table[i].also...) {
				k := strings.ToLower(known)
				// A single letter is one change away from any other.
				if s == k || pass == 1 && min(len(s), len(k)) > 1 && spelling.Distance(s, k) <= 1 {
					return table[i].name
				}
			}
		}
	}
	return ""
}
