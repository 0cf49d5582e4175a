package marks

import (
	"fmt"
	"strings"

	"lull/pkg/failure"
)

// readings are the units in which a dashboard shows something, each with the name of what
// it shows.
var readings = []struct {
	name, unit string
	also       []string // other ways to write the unit, in lower case
}{
	{"vehicle_speed", "km/h", []string{"kmh", "kph", "kmph"}},
	{"vehicle_speed", "mph", []string{"mi/h"}},
	{"engine_speed", "rpm", []string{"1/min", "/min", "u/min", "r/min"}},
	{"coolant", "degC", []string{"\u00B0c", "c", "celsius"}},
}

// Reading reads what a dashboard shows, a number and its unit such as `50 km/h`, as a mark
// without times. The unit says what it is. The error is a *failure.Failure.
func Reading(text string) (Mark, error) {
	text = strings.TrimSpace(text)
	at := strings.LastIndexAny(text, "0123456789.") + 1
	if strings.HasSuffix(strings.ToLower(text), "1/min") { // the one unit with a digit
		at = len(text) - len("1/min")
	}
	value, unit := strings.TrimSpace(text[:at]), strings.TrimSpace(text[at:])
	const hint = "give a number and its unit: km/h, mph, rpm or degC, such as `50 km/h`"
	if n := strings.Count(value, ","); n == 1 && !strings.Contains(value, ".") {
		value = strings.Replace(value, ",", ".", 1)
	}
	v, ok := number(value)
	if !ok {
		return Mark{}, &failure.Failure{Where: fmt.Sprintf("%q", text), What: "not what a dashboard shows", Hint: hint}
	}
	for _, r := range readings {
		if matches(unit, r.unit, r.also) {
			return Mark{Name: r.name, HasValue: true, Value: v, Unit: r.unit}, nil
		}
	}
	if unit == "" {
		return Mark{}, &failure.Failure{Where: fmt.Sprintf("%q", text), What: "the unit is missing", Hint: hint}
	}
	return Mark{}, &failure.Failure{Where: fmt.Sprintf("%q", text), What: fmt.Sprintf("the unit %q is not known", unit), Hint: hint}
}

func matches(unit, name string, also []string) bool {
	if strings.EqualFold(unit, name) {
		return true
	}
	for _, other := range also {
		if strings.EqualFold(unit, other) {
			return true
		}
	}
	return false
}
