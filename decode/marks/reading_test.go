package marks

import (
	"strings"
	"testing"
)

func TestTheUnitSaysWhatADashboardShows(t *testing.T) {
	for text, want := range map[string]Mark{
		"50 km/h":      {Name: "vehicle_speed", Value: 50, Unit: "km/h"},
		" 50kmh ":      {Name: "vehicle_speed", Value: 50, Unit: "km/h"},
		"31 MPH":       {Name: "vehicle_speed", Value: 31, Unit: "mph"},
		"1500 rpm":     {Name: "engine_speed", Value: 1500, Unit: "rpm"},
		"850 1/min":    {Name: "engine_speed", Value: 850, Unit: "rpm"},
		"-4,5 degC":    {Name: "coolant", Value: -4.5, Unit: "degC"},
		"90 \u00B0C":   {Name: "coolant", Value: 90, Unit: "degC"},
		"90.5 Celsius": {Name: "coolant", Value: 90.5, Unit: "degC"},
	} {
		want.HasValue = true
		if got, err := Reading(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for text, want := range map[string]string{
		"":           "not what a dashboard shows",
		"km/h":       "not what a dashboard shows",
		"fifty km/h": "not what a dashboard shows",
		"1/min":      "not what a dashboard shows",
		"NaN rpm":    "not what a dashboard shows",
		"50":         "the unit is missing",
		"50 bar":     `the unit "bar" is not known`,
		"5 0 rpm":    "not what a dashboard shows",
	} {
		if m, err := Reading(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %+v, %v, want %q", text, m, err, want)
		}
	}
}
