package compare_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/decode"
	"lull/pkg/bounds"
)

// vehicle is a side of two logs: a name and a frame of the engine speed, voltages before the
// starts, of which the median counts, and idle speeds.
func vehicle(name string, id uint32, system float64, volts []float64, idle ...float64) compare.Side {
	m := testMap()
	m.Vehicle, m.Settings.SystemVoltage = name, system
	if id != 0 {
		m.Entries = []decode.Entry{{Kind: decode.ByID, ID: id}}
		m.Role[decode.EngineSpeed] = len(m.Signals)
		m.Signals = append(m.Signals, decode.Signal{Name: "rpm", Role: decode.EngineSpeed})
	}
	s := compare.Side{Map: m}
	for i := range max(len(idle), 1) {
		r := &analyze.Result{}
		if len(idle) > 0 {
			r.IdleSpeed = idle[i]
		}
		s.Logs = append(s.Logs, analyze.Log{Result: r})
	}
	for _, v := range volts {
		s.Logs[0].Result.Starts = append(s.Logs[0].Result.Starts, analyze.Start{Metrics: []analyze.MetricValue{
			{Key: "voltage_min", Value: bounds.Exactly(1)}, {Key: "voltage_before", Value: bounds.Exactly(v)}, {Key: "voltage_before", Value: bounds.Exactly(99), Absent: analyze.NoCrank},
		}})
	}
	return s
}

func TestWhatTellsTwoVehiclesApart(t *testing.T) {
	one := vehicle("van", 0x100, 12, []float64{12, 12.5, 13}, 800, 810)
	for _, test := range []struct {
		name  string
		other compare.Side
		want  compare.Vehicles
		two   bool
	}{
		{"the same", one, compare.Vehicles{}, false},
		{"nothing is known of the other", vehicle("", 0, 12, nil), compare.Vehicles{}, false},
		{"another name alone may be a map written anew", vehicle("bus", 0x100, 12, nil), compare.Vehicles{Names: [2]string{"van", "bus"}}, false},
		{"another frame alone too", vehicle("van", 0x101, 12, nil), compare.Vehicles{Frames: [2]string{"0x100", "0x101"}}, false},
		{"both are two vehicles", vehicle("bus", 0x101, 12, nil), compare.Vehicles{Names: [2]string{"van", "bus"}, Frames: [2]string{"0x100", "0x101"}}, true},
		{"an idle speed that is just no other", vehicle("van", 0x100, 12, nil, 925.7), compare.Vehicles{}, false},
		{"another idle speed may be one and the same engine", vehicle("van", 0x100, 12, nil, 926), compare.Vehicles{Idle: [2]float64{805, 926}}, false},
		{"... but not with another name", vehicle("bus", 0x100, 12, nil, 600, 0), compare.Vehicles{Names: [2]string{"van", "bus"}, Idle: [2]float64{805, 600}}, true},
		{"... nor with another frame", vehicle("van", 0x101, 12, nil, 600), compare.Vehicles{Frames: [2]string{"0x100", "0x101"}, Idle: [2]float64{805, 600}}, true},
		{"a voltage that is just no other", vehicle("van", 0x100, 12, []float64{17.5}), compare.Vehicles{}, false},
		{"another voltage tells alone", vehicle("van", 0x100, 12, []float64{17.6}), compare.Vehicles{Voltage: [2]float64{12.5, 17.6}}, true},
		{"another voltage, lower", vehicle("van", 0x100, 12, []float64{8.9}), compare.Vehicles{Voltage: [2]float64{12.5, 8.9}}, true},
		{"another system's voltage as set", vehicle("van", 0x100, 24, nil), compare.Vehicles{Voltage: [2]float64{12, 24}}, true},
	} {
		got := compare.VehiclesOf(one, test.other)
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
		if got.Two() != test.two {
			t.Errorf("%s: two vehicles: %t", test.name, got.Two())
		}
	}
}
