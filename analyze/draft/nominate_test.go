package draft

import (
	"slices"
	"testing"
)

func TestANameIsSplitWhereItsCaseChangesAndAtWhatIsNoLetter(t *testing.T) {
	for name, want := range map[string][]string{
		"":               nil,
		"ENG_SPEED":      {"eng", "speed"},
		"EngSpd":         {"eng", "spd"},
		"nMot":           {"n", "mot"},
		"ABSBrakeLamp":   {"abs", "brake", "lamp"},
		"engine.speed-1": {"engine", "speed", "1"},
		"__Öltemp ":      {"oel", "temp"},
		"T15":            {"t15"},
		"Kl15_On":        {"kl", "15", "on"},
		"Supply12V":      {"supply", "12", "v"},
	} {
		if got := wordsOf(name); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// Words of the trade that were written together are taken apart, and others stay whole.
func TestANameWrittenTogetherIsTakenApart(t *testing.T) {
	for name, want := range map[string][]string{
		"VEHSPD":               {"veh", "spd"},
		"enginespeed":          {"engine", "speed"},
		"Turbinendrehzahl":     {"turbine", "n", "drehzahl"},
		"Kühlmitteltemperatur": {"kuehl", "mitteltemperatur"},
		"Radgeschwindigkeit":   {"rad", "geschwindigkeit"},
		"wander":               {"wander"},
		"brk":                  {"brk"},
	} {
		if got := wordsOf(name); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// Names and units as databases have them, in several habits, and what they speak for; where
// two quantities are near each other only the right one is nominated.
func TestNamesAndUnitsSpeakForOneQuantity(t *testing.T) {
	for _, c := range []struct {
		name, message, unit string
		want                []Quantity
	}{
		{"EngineCoolantTemp", "Engine_1", "degC", []Quantity{Coolant}},
		{"MO_Kuehlmittel_Temp", "Motor_1", "C", []Quantity{Coolant}},
		{"MO_Oel_Temp", "Motor_1", "C", nil},
		{"IntakeAirTemp", "Engine_1", "degC", nil},
		{"EngineOilPressure", "Engine_1", "kPa", nil},
		{"BrakePressure", "Brakes", "bar", nil},
		{"ClutchHoldPressure", "Trans_2", "kPa", []Quantity{HoldPressure}},
		{"VEHSPD", "Chassis", "kph", []Quantity{VehicleSpeed}},
		{"WheelSpeedFL", "Chassis", "km/h", nil},
		{"ENGRPM", "Powertrain", "1/min", []Quantity{EngineSpeed}},
		{"TargetIdleSpeed", "Engine_1", "rpm", nil},
		{"LongitudinalAccel", "Dynamics", "m/s^2", []Quantity{Acceleration}},
		{"LateralAccel", "Dynamics", "m/s2", nil},
		{"SteeringWheelAngle", "Steering", "deg", []Quantity{Steering}},
		{"SteeringWheelRate", "Steering", "deg", nil},
		{"SupplyVoltage", "Gateway", "V", []Quantity{BatteryVoltage, ModuleSupply}},
		{"BatteryVoltage", "Battery", "mV", []Quantity{BatteryVoltage}},
		{"StopInhibitReason", "IdleStop", "", []Quantity{InhibitCode}},
		{"StarterCommand", "Engine_1", "", []Quantity{StarterCommand}},
		{"StarterOperations", "Engine_1", "", []Quantity{StarterCount}},
		{"STRT_RLY_ST", "Engine_1", "", []Quantity{StarterCommand}},
		{"EngineSpeed", "Engine_1", "bananas", nil},
	} {
		var got []Quantity
		for i := range roles {
			r := &roles[i]
			words := r.weighs(wordsOf(c.name), wordsOf(c.message))
			_, _, ok := r.inUnit(c.unit)
			if r.number != (c.unit != "") || r.number && !ok {
				continue
			}
			if r.number {
				words += 2
			}
			if words >= leastWords {
				got = append(got, r.what)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s [%s] in %s: %d, want %d", c.name, c.unit, c.message, got, c.want)
		}
	}
}

// Of four signals of four modules three say the same within the tolerance, of which one
// stands still, and a fifth is of the same module as the first.
func TestWhatSeveralModulesSayAlikeWeighsMore(t *testing.T) {
	says := func(id uint32, more float64, moves bool) nominee {
		n := nominee{field: field{s: &stream{id: id}}, moves: moves}
		for i := range 101 {
			n.values.t = append(n.values.t, float64(i)/10)
			n.values.v = append(n.values.v, 50+float64(i)/10+more)
		}
		return n
	}
	list := []nominee{says(1, 0, true), says(2, 1, true), says(3, 1, false), says(4, 20, true), says(1, 0.5, true)}
	agreement(list, 2)
	for i, want := range []float64{0.8, 0.8, 0, 0, 0.8} {
		if list[i].score != want {
			t.Errorf("signal %d: %v, want %v", i, list[i].score, want)
		}
	}
	one := []nominee{says(1, 0, true)}
	if agreement(one, 2); one[0].score != 0 {
		t.Errorf("alone it gains %v", one[0].score)
	}
}
