package draft

import (
	"testing"

	"lull/decode/marks"
)

// still is a field that reads the same number ten times a second for ten seconds.
func still(raw uint64) *road {
	s := &stream{page: -1}
	for i := range 101 {
		s.t, s.w = append(s.t, float64(i)/10), append(s.w, raw<<48)
	}
	return &road{field: field{s: s, n: 16}, top: float64(raw)}
}

// Of a true speed of 100 km/h a speedometer shows 100 to 114, as it never shows less and at
// most a tenth and 4 km/h more; half a km/h is rounded. No car goes faster than 300 km/h. Of
// the usual factors 0.01 alone makes 100 of 10000, and 300 of 30000.
func TestAFactorIsAllowedWhereTheSpeedometerMayShowTheValue(t *testing.T) {
	speed := func(v float64, unit string) marks.Mark {
		return marks.Mark{Name: "vehicle_speed", From: 5, To: 5, HasValue: true, Value: v, Unit: unit}
	}
	named := func(name string) marks.Mark { m := speed(100, "km/h"); m.Name = name; return m }
	at := func(from float64) marks.Mark { m := speed(100, "km/h"); m.From, m.To = from, from; return m }
	for _, c := range []struct {
		name string
		raw  uint64
		mark marks.Mark
		ok   bool
		fit  int
	}{
		{"as it is", 10000, speed(100, "km/h"), true, 1},
		{"rounded down", 10000, speed(99.51, "km/h"), true, 1},
		{"less", 10000, speed(99.49, "km/h"), true, 0},
		{"a tenth and 4 km/h more, rounded up", 10000, speed(114.49, "km/h"), true, 1},
		{"still more", 10000, speed(114.51, "km/h"), true, 0},
		{"miles", 10000, speed(62, "mph"), true, 1},
		{"miles, rounded down", 10000, speed(61.65, "MI/H"), true, 1},
		{"fewer miles", 10000, speed(61.63, "mph"), true, 0},
		{"without a unit", 10000, speed(100, ""), true, 1},
		{"a unit of something else", 10000, speed(100, "rpm"), false, 0},
		{"another name for it", 10000, named("Dash"), true, 1},
		{"of something else", 10000, named("coolant"), false, 0},
		{"no value", 10000, marks.Mark{Name: "vehicle_speed", From: 5, To: 5}, false, 0},
		{"at standstill", 10000, speed(0, "km/h"), false, 0},
		{"at the last moment", 10000, at(10), true, 1},
		{"after the log", 10000, at(10.1), true, 0},
		{"as fast as a car goes", 30000, speed(300, "km/h"), true, 1},
		{"faster", 30001, speed(300, "km/h"), true, 0},
	} {
		got, ok := still(c.raw).shown([]marks.Mark{c.mark})
		if ok != c.ok || got.fit != c.fit || c.fit > 0 && got.factor != 0.01 {
			t.Errorf("%s: %+v, %v", c.name, got, ok)
		}
		if ok && (got.at != c.mark.From || got.value != c.mark.Value || got.unit == "") {
			t.Errorf("%s is told as %+v", c.name, got)
		}
	}
}

// The hand may be a second early or late: what the field was in that time may be meant.
func TestAValueIsHeldAgainstTheSecondBeforeAndAfterIt(t *testing.T) {
	m := marks.Mark{Name: "dash", From: 4, To: 6, HasValue: true, Value: 100}
	for _, c := range []struct {
		at      int // tenths of a second, at which alone the field is not 0
		allowed bool
	}{{29, false}, {30, true}, {50, true}, {70, true}, {71, false}} {
		r := still(0)
		r.field.s.w[c.at], r.top = 10000<<48, 10000
		if got, ok := r.shown([]marks.Mark{m}); !ok || got.fit > 0 != c.allowed {
			t.Errorf("at %d tenths: %+v, %v", c.at, got, ok)
		}
	}
}
