package decode

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// truck maps the J1939 parameters that the published frames carry. Positions,
// lengths and scales: SAE J1939-71, as restated by public libraries (the crates
// j1939 and voltage_j1939, the repository libJ1939).
func truck() *Map {
	group := func(pgn uint32) Entry { return Entry{Kind: ByPGN, PGN: pgn, Source: -1} }
	return mapOf(
		testEntry{group(61444), []Signal{ // EEC1
			{Name: "torque_mode", Start: 0, Length: 4},
			{Name: "demanded_torque", Start: 8, Length: 8, Scale: scale("", "-125")},
			{Name: "actual_torque", Start: 16, Length: 8, Scale: scale("", "-125")},
			{Name: "engine_speed", Start: 24, Length: 16, Scale: scale("0.125", "")},
			{Name: "starter_mode", Start: 48, Length: 4, Labels: starterModes()},
		}},
		testEntry{group(65265), []Signal{ // CCVS1
			{Name: "parking_brake", Start: 2, Length: 2},
			{Name: "road_speed", Start: 8, Length: 16, Scale: scale("0.00390625", "")},
			{Name: "cruise_active", Start: 24, Length: 2},
			{Name: "brake", Start: 28, Length: 2},
			{Name: "clutch", Start: 30, Length: 2},
		}},
		testEntry{group(65271), []Signal{ // VEP1
			{Name: "net_current", Start: 0, Length: 8, Scale: scale("", "-125")},
			{Name: "battery", Start: 32, Length: 16, Scale: scale("0.05", "")},
			{Name: "switched_battery", Start: 48, Length: 16, Scale: scale("0.05", "")},
		}},
		testEntry{group(65262), []Signal{ // ET1
			{Name: "coolant", Start: 0, Length: 8, Scale: scale("", "-40")},
			{Name: "oil", Start: 16, Length: 16, Scale: scale("0.03125", "-273")},
		}},
		testEntry{group(65252), []Signal{ // SHUTN
			{Name: "idle_shutdown", Start: 0, Length: 2},
			{Name: "driver_alert", Start: 2, Length: 2},
			{Name: "timer_override", Start: 4, Length: 2},
			{Name: "timer_active", Start: 6, Length: 2},
		}},
		testEntry{group(65266), []Signal{ // LFE
			{Name: "fuel_rate", Start: 0, Length: 16, Scale: scale("0.05", "")},
			{Name: "fuel_economy", Start: 16, Length: 16, Scale: scale("0.001953125", "")},
		}},
		testEntry{group(61443), []Signal{{Name: "pedal", Start: 8, Length: 8, Scale: scale("0.4", "")}}}, // EEC2
	)
}

// starterModes are the states of SPN 1675 (SAE J1939-71; four public libraries
// agree on 0 to 8 and 12 to 15; in older editions 9 to 11 are reserved).
func starterModes() []Label {
	texts := []string{"start not requested", "starter active, gear not engaged", "starter active, gear engaged", "start finished",
		"inhibited: engine already running", "inhibited: engine not ready", "inhibited: driveline engaged", "inhibited: immobilizer",
		"inhibited: starter over-temperature", "reserved", "reserved", "reserved", "inhibited: reason unknown", "error"}
	labels := make([]Label, len(texts))
	for i, text := range texts {
		labels[i] = Label{Raw: int64(i), Text: text}
	}
	return labels
}

// words returns samples as "name=value" or "name=none".
func words(m *Map, samples []Sample) string {
	var out []string
	for _, s := range samples {
		value := "none"
		if s.Valid {
			value = fmt.Sprint(s.Value)
		}
		out = append(out, m.Signals[s.Signal].Name+"="+value)
	}
	return strings.Join(out, " ")
}

func TestPublishedJ1939Frames(t *testing.T) {
	tests := []struct {
		source  string
		id      uint32
		payload []byte
		want    string
	}{
		{"genset controller manual, option J (CAN bus J1939): 700 rpm", 0x0CF00400, []byte{0xFF, 0x7D, 0x7D, 0xE0, 0x15, 0xFF, 0xF0, 0xFF},
			"torque_mode=none demanded_torque=0 actual_torque=0 engine_speed=700 starter_mode=0"},
		{"tests of the crate j1939: demanded 109 %", 0x0CF00400, []byte{0xF0, 0xEA, 0x7D, 0, 0, 0, 0xF0, 0xFF},
			"torque_mode=0 demanded_torque=109 actual_torque=0 engine_speed=0 starter_mode=0"},
		{"tests of the crate j1939 (truncates to 789)", 0x0CF00400, []byte{0xF3, 0x91, 0x91, 0xAA, 0x18, 0, 0xF3, 0xFF},
			"torque_mode=3 demanded_torque=20 actual_torque=20 engine_speed=789.25 starter_mode=3"},
		{"documentation of the crate voltage_j1939: 0x4E20", 0x0CF00400, []byte{0, 0, 0, 0x20, 0x4E, 0, 0, 0},
			"torque_mode=0 demanded_torque=-125 actual_torque=-125 engine_speed=2500 starter_mode=0"},
		{"documentation of the crate pamoja-can: raw 8000", 0x0CF00400, []byte{0, 0, 0, 0x40, 0x1F, 0, 0, 0},
			"torque_mode=0 demanded_torque=-125 actual_torque=-125 engine_speed=1000 starter_mode=0"},
		{"last valid code, J1939-71: 8031.875 rpm", 0x0CF00400, []byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFA, 0xFF, 0xFF, 0xFF},
			"torque_mode=none demanded_torque=none actual_torque=none engine_speed=8031.875 starter_mode=none"},
		{"error code FE00, J1939-71", 0x0CF00400, []byte{0xFE, 0xFE, 0xFE, 0x00, 0xFE, 0xFF, 0xFE, 0xFF},
			"torque_mode=none demanded_torque=none actual_torque=none engine_speed=none starter_mode=none"},
		{"not available, J1939-71", 0x0CF00400, []byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF},
			"torque_mode=none demanded_torque=none actual_torque=none engine_speed=none starter_mode=none"},
		{"documentation of the crate voltage_j1939: 130 is 90 degC", 0x18FEEE00, []byte{0x82, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF},
			"coolant=90 oil=none"},
		{"derived from J1939-71: largest temperatures", 0x18FEEE00, []byte{0xFA, 0xFF, 0xFF, 0xFA, 0xFF, 0xFF, 0xFF, 0xFF},
			"coolant=210 oil=1734.96875"},
		{"derived from J1939-71: 0x3C00 / 256, brake released", 0x18FEF100, []byte{0xFF, 0x00, 0x3C, 0xCF, 0xFF, 0xFF, 0xFF, 0xFF},
			"parking_brake=none road_speed=60 cruise_active=none brake=0 clutch=none"},
		{"derived from J1939-71: brake depressed", 0x18FEF100, []byte{0xFF, 0x00, 0x3C, 0xDF, 0xFF, 0xFF, 0xFF, 0xFF},
			"parking_brake=none road_speed=60 cruise_active=none brake=1 clutch=none"},
		{"derived from J1939-71: FAFF / 256 km/h, brake in error", 0x18FEF100, []byte{0xF3, 0xFF, 0xFA, 0xEF, 0xFF, 0xFF, 0xFF, 0xFF},
			"parking_brake=0 road_speed=250.99609375 cruise_active=none brake=none clutch=none"},
		{"derived from J1939-71: 248 and 192 x 0.05 V", 0x18FEF700, []byte{0xFF, 0xFF, 0xFF, 0xFF, 0xF8, 0x00, 0xC0, 0x00},
			"net_current=none battery=12.4 switched_battery=9.6"},
		{"derived from J1939-71: largest voltage", 0x18FEF700, []byte{0xFA, 0xFF, 0xFF, 0xFF, 0xFF, 0xFA, 0xFF, 0xFB},
			"net_current=125 battery=3212.75 switched_battery=3225.55"},
		{"derived from J1939-71: 0x41, engine stopped by the idle timer", 0x18FEE400, []byte{0x41, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF},
			"idle_shutdown=1 driver_alert=0 timer_override=0 timer_active=1"},
		{"derived from J1939-71: largest fuel rate and economy", 0x18FEF200, []byte{0xFF, 0xFA, 0xFF, 0xFA, 0xFF, 0xFF, 0xFF, 0xFF},
			"fuel_rate=3212.75 fuel_economy=125.498046875"},
		{"derived from J1939-71: 250 x 0.4 %", 0x0CF00300, []byte{0xFF, 0xFA, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, "pedal=100"},
	}
	m := truck()
	d := NewDecoder(m)
	for _, tt := range tests {
		t.Run(tt.source, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, words(m, d.Decode(dataFrame(tt.id, Extended, tt.payload...)))); diff != "" {
				t.Errorf("samples (-want +got):\n%s", diff)
			}
		})
	}
}

func TestStarterModesReadAsTheirLabelsAndTheLastTwoAsNone(t *testing.T) {
	m := truck()
	d := NewDecoder(m)
	var got []string
	for mode := byte(0); mode < 16; mode++ {
		s := d.Decode(dataFrame(0x0CF00400, Extended, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xF0|mode, 0xFF))[4]
		text := "none"
		if s.Valid {
			text = fmt.Sprintf("%d %s", s.Raw, m.Signals[s.Signal].LabelOf(s.Raw))
		}
		got = append(got, text)
	}
	want := []string{"0 start not requested", "1 starter active, gear not engaged", "2 starter active, gear engaged", "3 start finished",
		"4 inhibited: engine already running", "5 inhibited: engine not ready", "6 inhibited: driveline engaged", "7 inhibited: immobilizer",
		"8 inhibited: starter over-temperature", "9 reserved", "10 reserved", "11 reserved", "12 inhibited: reason unknown", "13 error",
		"none", "none"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("starter modes (-want +got):\n%s", diff)
	}
}

// The raw ranges are those of SAE J1939-71. For lengths that its table does not list, they
// follow from the eight most significant bits.
func TestErrorAndNotAvailableCodesOfEveryLengthAreNone(t *testing.T) {
	tests := []struct {
		length     int
		lastValid  uint64
		firstNone  uint64
		everything bool // all patterns are values
	}{
		{1, 1, 0, true}, {2, 1, 2, false}, {3, 7, 0, true}, {4, 0xD, 0xE, false}, {5, 0x1F, 0, true}, {6, 0x3F, 0, true}, {7, 0x7F, 0, true},
		{8, 0xFD, 0xFE, false}, {9, 0x1FB, 0x1FC, false}, {12, 0xFDF, 0xFE0, false}, {16, 0xFDFF, 0xFE00, false}, {24, 0xFDFFFF, 0xFE0000, false},
		{32, 0xFDFFFFFF, 0xFE000000, false}, {64, 0xFDFFFFFFFFFFFFFF, 0xFE00000000000000, false},
	}
	for _, tt := range tests {
		for _, signed := range []bool{false, true} {
			s := Signal{Length: tt.length, Signed: signed}
			if !oneField(s, ByPGN, bytesOf(tt.lastValid)).Valid {
				t.Errorf("%d bits (signed %v): %X is none, should be a value", tt.length, signed, tt.lastValid)
			}
			if tt.everything {
				continue
			}
			all := uint64(1)<<tt.length - 1
			for _, pattern := range []uint64{tt.firstNone, all} {
				if got := oneField(s, ByPGN, bytesOf(pattern)); got != (Sample{}) {
					t.Errorf("%d bits (signed %v): %X is %+v, should be none", tt.length, signed, pattern, got)
				}
				if !oneField(s, ByID, bytesOf(pattern)).Valid {
					t.Errorf("%d bits (signed %v): %X is none in an entry given by id", tt.length, signed, pattern)
				}
			}
		}
	}
	minusHuge := uint64(0xFF7FFFFF) // the lowest single, a value unless it is a J1939 parameter
	if got := oneField(Signal{Length: 32, Float: true}, ByPGN, bytesOf(minusHuge)); got != (Sample{}) {
		t.Errorf("a float whose pattern begins with FF is %+v, should be none", got)
	}
}

func TestParameterGroupOfAnIdentifier(t *testing.T) {
	tests := []struct {
		id, want uint32
		source   string
	}{
		{0x1823FF40, 0x02300, "can-utils, can-j1939-kickstart: broadcast"},
		{0x18234140, 0x02300, "can-utils, can-j1939-kickstart: to address 41"},
		{0x1923FF80, 0x12300, "can-utils, can-j1939-kickstart"},
		{0x19234080, 0x12300, "can-utils, can-j1939-kickstart"},
		{0x1B21FF80, 0x32100, "can-utils, can-j1939-kickstart"},
		{0x1BFFFF80, 0x3FFFF, "can-utils, can-j1939-kickstart"},
		{0x0CF00400, 61444, "derived from SAE J1939-21"},
		{0x18FEF100, 65265, "derived from SAE J1939-21"},
		{0x18FEE6EE, 65254, "derived from SAE J1939-21"},
		{0x0CFE6CEE, 65132, "derived from SAE J1939-21"},
		{0x18EAFF00, 59904, "derived from SAE J1939-21"},
		{0x18DB33F1, 0xDB00, "derived from ISO 15765-4 and SAE J1939-21"},
	}
	for _, tt := range tests {
		if got := PGN(tt.id); got != tt.want {
			t.Errorf("PGN(%08X) = %05X, want %05X (%s)", tt.id, got, tt.want, tt.source)
		}
	}
}
