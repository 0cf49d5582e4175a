package sigmap

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

var whole = cmp.AllowUnexported(decode.Scale{})

// scale compiles factor and offset as written in a map.
func scale(t *testing.T, factor, offset string) decode.Scale {
	t.Helper()
	s, err := decode.ParseScale(factor, offset)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// roles fills Map.Role.
func roles(playing map[decode.Role]int) (all [decode.RoleCount]int) {
	for r := range all {
		all[r] = -1
	}
	for r, i := range playing {
		all[r] = i
	}
	return all
}

func parse(t *testing.T, text string) *decode.Map {
	t.Helper()
	m, err := Parse("map.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestTwentyMistakesAreTwentyErrors(t *testing.T) {
	data, err := os.ReadFile("testdata/twenty.yaml")
	if err != nil {
		t.Fatal(err)
	}
	_, err = Parse("twenty.yaml", data)
	var list Errors
	if !errors.As(err, &list) {
		t.Fatalf("got %v, want Errors", err)
	}
	if len(list) != 20 {
		t.Errorf("%d errors, want 20", len(list))
	}
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		if a.Line > b.Line || a.Line == b.Line && a.Column > b.Column {
			t.Errorf("%d:%d stands before %d:%d", a.Line, a.Column, b.Line, b.Column)
		}
	}
	golden(t, "twenty.golden", list.Show()+"\n\n"+list.Error()+"\n")
}

func TestTheExampleCompilesToThisMap(t *testing.T) {
	m, err := Load("testdata/example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile("testdata/example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(data)
	one := decode.Identity
	onOff := []decode.Label{{Raw: 0, Text: "off"}, {Raw: 1, Text: "on"}}
	leaf := func(op decode.Op, signal int, a, b float64, text string) *decode.Expr {
		return &decode.Expr{Op: op, Signal: signal, A: a, B: b, Text: text}
	}
	is := func(op decode.Op, signal int, text string, raws ...int64) *decode.Expr {
		return &decode.Expr{Op: op, Signal: signal, Raws: raws, Text: text}
	}
	want := &decode.Map{
		Name: "example.yaml", SHA256: hex.EncodeToString(sum[:]), Vehicle: "Tallowmere 1.2", Notes: "free text",
		Entries: []decode.Entry{
			{Line: 5, ID: 0x1A0, Source: -1, Address: -1, Bus: "can0", Module: "engine control", Signals: []int{0, 1, 2, 3, 4, 5, 6}},
			{Line: 16, ID: 0x2B0, Source: -1, Address: -1, Period: 20 * time.Millisecond, Signals: []int{7, 8, 9, 10, 11, 12, 13}},
			{Line: 26, ID: 0x3A0, Source: -1, Address: -1, Period: time.Second, OnChange: true, Module: "battery sensor", Signals: []int{14, 15, 16, 17, 18, 19}},
			{Kind: decode.ByPGN, Line: 37, PGN: 61444, Source: 0, Address: -1, Signals: []int{20}},
			{Kind: decode.ByOBD, Line: 41, Mode: 1, PID: 0x0C, Response: 0x7E8, Source: -1, Address: -1, Signals: []int{21}},
			{Kind: decode.ByDID, Line: 44, DID: 0xF40D, Response: 0x18DAF110, ResponseExtended: true, Source: -1, Address: 0xF1, Signals: []int{22}},
		},
		Signals: []decode.Signal{
			{Name: "engine_speed", Line: 9, Start: 16, Length: 16, Scale: scale(t, "0.25", ""), Unit: "rpm", Role: decode.EngineSpeed},
			{Name: "stop_lamp", Line: 10, Start: 3, Length: 1, Scale: one, Role: decode.StopCommand},
			{Name: "gear", Line: 11, Start: 8, Length: 4, Scale: one, Labels: []decode.Label{{Raw: 0, Text: "P"}, {Raw: 1, Text: "R"}, {Raw: 2, Text: "N"}, {Raw: 3, Text: "D"}}},
			{Name: "oil_temp", Line: 12, Start: 40, Length: 8, Scale: scale(t, "", "-40"), Unit: "degC", Invalid: []int64{0xFE, 0xFF}},
			{Name: "page", Line: 13, Start: 4, Length: 3, Scale: one},
			{Name: "mode_detail", Line: 14, Start: 32, Length: 8, Scale: one, When: []decode.Selector{{Signal: 4, Raws: []int64{2}}}},
			{Name: "mode_hours", Line: 15, Start: 32, Length: 8, Scale: one, When: []decode.Selector{{Signal: 4, Raws: []int64{3, 4}}}},
			// mph: 1609.344 m by definition (NIST SP 811), so 1.609344 = 25146/15625.
			{Name: "speed", Entry: 1, Line: 19, Start: 7, Length: 16, BigEndian: true, Scale: scale(t, "0.01", ""), Unit: "mph", Role: decode.VehicleSpeed, ToRole: decode.Conversion{Mul: 25146, Div: 15625}},
			{Name: "steering_angle", Entry: 1, Line: 20, Start: 16, Length: 16, Signed: true, Scale: scale(t, "0.1", ""), Unit: "deg"},
			{Name: "brake", Entry: 1, Line: 21, Start: 32, Length: 1, Scale: one, Labels: []decode.Label{{Raw: 0, Text: "released"}, {Raw: 1, Text: "pressed"}}},
			{Name: "turn", Entry: 1, Line: 22, Start: 33, Length: 2, Scale: one, Labels: []decode.Label{{Raw: 0, Text: "off"}, {Raw: 1, Text: "left"}, {Raw: 2, Text: "right"}}},
			{Name: "cancel_switch", Entry: 1, Line: 23, Start: 35, Length: 1, Scale: one, Labels: onOff},
			{Name: "ac", Entry: 1, Line: 24, Start: 36, Length: 1, Scale: one, Labels: onOff},
			{Name: "cabin_error", Entry: 1, Line: 25, Start: 40, Length: 8, Signed: true, Scale: scale(t, "0.5", ""), Unit: "degC"},
			{Name: "charge", Entry: 2, Line: 31, Length: 8, Scale: scale(t, "0.5", ""), Unit: "%", Role: decode.BatteryCharge},
			{Name: "battery", Entry: 2, Line: 32, Start: 8, Length: 16, Scale: one, Unit: "mV", HasMin: true, HasMax: true, Max: 32000, Role: decode.BatteryVoltage, ToRole: decode.Conversion{Mul: 1, Div: 1000}},
			{Name: "coolant", Entry: 2, Line: 33, Start: 24, Length: 8, Scale: scale(t, "", "-40"), Unit: "degC"},
			{Name: "outside_temp", Entry: 2, Line: 34, Start: 32, Length: 8, Scale: scale(t, "", "-40"), Unit: "degC"},
			{Name: "reason", Entry: 2, Line: 35, Start: 40, Length: 4, Scale: one, Role: decode.InhibitCode, Clear: []int64{0, 15},
				Labels: []decode.Label{{Raw: 0, Text: "none"}, {Raw: 1, Text: "coolant cold"}, {Raw: 15, Text: "ok"}}},
			{Name: "starter", Entry: 2, Line: 36, Start: 44, Length: 2, Scale: one, Role: decode.StarterCommand, HasActive: true, Active: []int64{1, 2},
				Labels: []decode.Label{{Raw: 0, Text: "off"}, {Raw: 1, Text: "on"}, {Raw: 2, Text: "held"}}},
			{Name: "eec1_speed", Entry: 3, Line: 40, Start: 24, Length: 16, Scale: scale(t, "0.125", ""), Unit: "rpm"},
			{Name: "obd_speed", Entry: 4, Line: 43, Start: 7, Length: 16, BigEndian: true, Scale: scale(t, "0.25", ""), Unit: "rpm"},
			{Name: "did_speed", Entry: 5, Line: 47, Length: 8, Scale: one, Unit: "km/h"},
		},
		Role: roles(map[decode.Role]int{
			decode.EngineSpeed: 0, decode.StopCommand: 1, decode.VehicleSpeed: 7, decode.BatteryCharge: 14,
			decode.BatteryVoltage: 15, decode.InhibitCode: 18, decode.StarterCommand: 19,
		}),
		Circumstances: []int{16, 17},
		Requests: []decode.Condition{
			{Name: "brake released", Line: 50, Expr: is(decode.OpIs, 9, "is released", 0)},
			{Name: "turn lamp", Line: 51, Bridge: 800 * time.Millisecond, Expr: is(decode.OpIsNot, 10, "is not off", 0)},
			{Name: "steering moved", Line: 52, Expr: leaf(decode.OpMoves, 8, 15, 0, "moves 15")},
			{Name: "battery low", By: decode.BySystem, Line: 53, For: 200 * time.Millisecond, Expr: leaf(decode.OpBelow, 14, 65, 0, "below 65")},
		},
		Inhibits: []decode.Condition{
			{Name: "coolant cold", Line: 55, Expr: leaf(decode.OpBelow, 16, 40, 0, "below 40")},
			{Name: "cabin demand", Line: 56, Expr: &decode.Expr{Op: decode.OpAll, Children: []*decode.Expr{
				is(decode.OpIs, 12, "is on", 1), leaf(decode.OpOutside, 13, -3, 3, "outside -3 to 3"),
			}}},
			{Name: "switched off by driver", Line: 57, Expr: is(decode.OpIs, 11, "is on", 1)},
			{Name: "not in drive", Line: 58, Expr: &decode.Expr{Op: decode.OpNot, Children: []*decode.Expr{
				{Op: decode.OpAny, Children: []*decode.Expr{
					is(decode.OpIs, 2, "is D or N", 3, 2),
					{Op: decode.OpIs, Signal: 2, Numbers: []float64{7}, Text: "is 7"},
				}},
			}}},
		},
		Limits: []decode.Limit{
			{Metric: "restart_latency", HasMax: true, Max: 0.6},
			{Metric: "voltage_min", HasMin: true, Min: 8.5},
		},
		Settings: decode.DefaultSettings(), // the example writes the defaults out
	}
	if diff := cmp.Diff(want, m, whole); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// The parameter groups are those of SAE J1939-71: EEC1 61444 with engine speed
// in bytes 4 and 5 and starter mode in byte 7, VEP1 65271 with battery potential
// in bytes 5 and 6, LFE 65266 with fuel rate in bytes 1 and 2, CCVS 65265 with
// the brake switch in byte 4 bits 5 and 6.
func TestAMapOfParameterGroups(t *testing.T) {
	m := parse(t, `format: 1
frames:
  - pgn: 0xF004
    source: 0x00
    signals:
      engine: {start: 24, length: 16, factor: 0.125, unit: rpm, role: engine_speed}
      starter_mode: {start: 48, length: 4, role: inhibit_code, values: {0: not requested, 5: engine not ready, 6: driveline engaged, 12: unknown}, clear: [0, not requested]}
  - pgn: 65271
    signals:
      potential: {start: 32, length: 16, factor: 0.05, unit: V, role: battery_voltage}
  - pgn: 65266
    signals:
      fuel: {start: 0, length: 16, factor: 0.05, unit: L/h, role: fuel_rate}
  - pgn: 65265
    signals:
      brake: {start: 28, length: 2, values: {0: released, 1: pressed}}
  - pgn: 0xEA00
    period: 1s
inhibits:
  - {name: braking, when: {signal: brake, is: pressed}}
`)
	one := decode.Identity
	want := &decode.Map{
		Name: "map.yaml", SHA256: m.SHA256,
		Entries: []decode.Entry{
			{Kind: decode.ByPGN, Line: 3, PGN: 61444, Source: 0, Address: -1, Signals: []int{0, 1}},
			{Kind: decode.ByPGN, Line: 8, PGN: 65271, Source: -1, Address: -1, Signals: []int{2}},
			{Kind: decode.ByPGN, Line: 11, PGN: 65266, Source: -1, Address: -1, Signals: []int{3}},
			{Kind: decode.ByPGN, Line: 14, PGN: 65265, Source: -1, Address: -1, Signals: []int{4}},
			{Kind: decode.ByPGN, Line: 17, PGN: 0xEA00, Source: -1, Address: -1, Period: time.Second},
		},
		Signals: []decode.Signal{
			{Name: "engine", Line: 6, Start: 24, Length: 16, Scale: scale(t, "0.125", ""), Unit: "rpm", Role: decode.EngineSpeed},
			{Name: "starter_mode", Line: 7, Start: 48, Length: 4, Scale: one, Role: decode.InhibitCode, Clear: []int64{0},
				Labels: []decode.Label{{Raw: 0, Text: "not requested"}, {Raw: 5, Text: "engine not ready"}, {Raw: 6, Text: "driveline engaged"}, {Raw: 12, Text: "unknown"}}},
			{Name: "potential", Entry: 1, Line: 10, Start: 32, Length: 16, Scale: scale(t, "0.05", ""), Unit: "V", Role: decode.BatteryVoltage},
			{Name: "fuel", Entry: 2, Line: 13, Length: 16, Scale: scale(t, "0.05", ""), Unit: "L/h", Role: decode.FuelRate},
			{Name: "brake", Entry: 3, Line: 16, Start: 28, Length: 2, Scale: one, Labels: []decode.Label{{Raw: 0, Text: "released"}, {Raw: 1, Text: "pressed"}}},
		},
		Role:          roles(map[decode.Role]int{decode.EngineSpeed: 0, decode.InhibitCode: 1, decode.BatteryVoltage: 2, decode.FuelRate: 3}),
		Circumstances: []int{2}, // the default without the battery's charge, which has no signal
		Inhibits:      []decode.Condition{{Name: "braking", Line: 20, Expr: &decode.Expr{Signal: 4, Raws: []int64{1}, Text: "is pressed"}}},
		Settings:      decode.DefaultSettings(),
	}
	if diff := cmp.Diff(want, m, whole); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestEverySettingIsRead(t *testing.T) {
	m := parse(t, top(`settings:
  running_speed: 450
  running_hold: 0.25s
  rest_speed: 20.5
  standstill_speed: 1
  min_standstill: 0s
  request_window: 700 ms
  no_start_after: 1m
  stale_after: 3s
  silence_factor: 4
  idle_fuel_rate: 0.8
  restart_fuel: 1.205
  low_voltage: 18
  event_delay: 500us
  system_voltage: 24
  starter_limit: 50000`))
	want := decode.Settings{
		RunningSpeed: 450, RunningHold: 250 * time.Millisecond, RestSpeed: 20.5, StandstillSpeed: 1,
		RequestWindow: 700 * time.Millisecond, NoStartAfter: time.Minute, StaleAfter: 3 * time.Second,
		SilenceFactor: 4, IdleFuelRate: 0.8, RestartFuel: 1.205, LowVoltage: 18, EventDelay: 500 * time.Microsecond,
		SystemVoltage: 24, StarterLimit: 50000,
	}
	if diff := cmp.Diff(want, m.Settings); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestEveryComparisonInWords(t *testing.T) {
	for _, c := range []struct {
		when string
		want decode.Expr
	}{
		{"{signal: coolant, above: 0x10}", decode.Expr{Op: decode.OpAbove, A: 16, Text: "above 16"}},
		{"{signal: coolant, below: -1e1}", decode.Expr{Op: decode.OpBelow, A: -10, Text: "below -10"}},
		{"{signal: coolant, at_least: .5}", decode.Expr{Op: decode.OpAtLeast, A: 0.5, Text: "at least 0.5"}},
		{"{at_most: +7, signal: coolant}", decode.Expr{Op: decode.OpAtMost, A: 7, Text: "at most 7"}},
		{"{signal: coolant, between: [5, 5]}", decode.Expr{Op: decode.OpBetween, A: 5, B: 5, Text: "between 5 and 5"}},
		{"{signal: coolant, outside: [1e20, 1e21]}", decode.Expr{Op: decode.OpOutside, A: 1e20, B: 1e21, Text: "outside 1e+20 to 1e+21"}},
		{"{signal: coolant, moves: 0.1}", decode.Expr{Op: decode.OpMoves, A: 0.1, Text: "moves 0.1"}},
		{"{signal: coolant, is: 71}", decode.Expr{Op: decode.OpIs, Numbers: []float64{71}, Text: "is 71"}},
		{"{signal: label, is_not: [off, 2, 'on']}", decode.Expr{Op: decode.OpIsNot, Signal: 1, Numbers: []float64{2}, Raws: []int64{0, 1, 3}, Text: "is not off or 2 or on"}},
		{"{signal: label, is: true}", decode.Expr{Op: decode.OpIs, Signal: 1, Raws: []int64{4}, Text: "is true"}},
		{"{signal: label, is: '2'}", decode.Expr{Op: decode.OpIs, Signal: 1, Raws: []int64{5}, Text: "is 2"}},
	} {
		m := parse(t, `format: 1
frames:
  - id: 1
    signals:
      coolant: {start: 0, length: 8, unit: rpm, role: engine_speed}
      label: {start: 8, length: 3, values: {0: off, 1: on, 3: on, 4: true, 5: 2}}
inhibits: [{name: x, when: `+c.when+`}]
`)
		if diff := cmp.Diff(&c.want, m.Inhibits[0].Expr); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.when, diff)
		}
	}
}

func TestRawsOfWideAndSignedFields(t *testing.T) {
	for _, c := range []struct {
		field string
		want  []int64
	}{
		{"length: 8, signed: true, invalid: [-1, 0x80, 127]", []int64{-1, -128, 127}},
		{"length: 64, invalid: [0xFFFFFFFFFFFFFFFF, 1]", []int64{-1, 1}},
		{"length: 64, signed: true, invalid: [-9223372036854775808, 0xFFFFFFFFFFFFFFFF]", []int64{-1 << 63, -1}},
		{"length: 32, float: true, invalid: 0xFFFFFFFF", []int64{0xFFFFFFFF}},
		{"length: 3, invalid: 0o7", []int64{7}},
		{"length: 8, invalid: [2.5e2, 017]", []int64{250, 17}},
	} {
		m := parse(t, sig("x: {start: 64, "+c.field+"}"))
		if diff := cmp.Diff(c.want, m.Signals[1].Invalid); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.field, diff)
		}
	}
}

func TestUnusualMapsThatAreValid(t *testing.T) {
	for _, c := range []struct{ name, text string }{
		{"a byte order mark and CRLF", "\uFEFF" + strings.ReplaceAll(top("notes: a\n"), "\n", "\r\n")},
		{"lone CR", strings.ReplaceAll(head, "\n", "\r")},
		{"keys without values", top("limits:\nsettings:\ninhibits:\nrestart_requests:\nconditions:")},
		{"a frame without signals", frame("{id: 2, period: 1s, module: body unit}") + "  - {id: 3, signals: }\n"},
		{"anchors and aliases", head + "      x: {start: &s 16, length: &one 1}\n      y: {start: 17, length: *one}\n"},
		{"anchors on keys", head + "      &n x: {start: 16, length: 1}\n      y: {start: 17, length: 1, when: {*n : 1}}\nconditions: [*n]\n"},
		{"the text tag", sig("x: {start: 16, length: 2, values: {1: !!str 1}}")},
		{"whens that exclude each other", sig("p: {start: 16, length: 2}\n      x: {start: 18, length: 4, when: {p: 1}}\n      y: {start: 18, length: 4, when: {p: [2, 3]}}")},
		{"whens that exclude each other further up", sig("p: {start: 16, length: 2}\n      q: {start: 24, length: 4, when: {p: 1}}\n      x: {start: 32, length: 4, when: {q: 5}}\n      y: {start: 32, length: 4, when: {p: 2}}")},
		{"the same frame twice with other bits", frame("{id: 0x100, signals: {x: {start: 16, length: 1}}}")},
		{"the same frame on another bus", frame("{id: 0x100, bus: can1, signals: {x: {start: 0, length: 1}}}")},
		{"the same low id of 29 bits", frame("{id: 0x100, extended: true, signals: {x: {start: 0, length: 1}}}")},
		{"a long id said to be long", frame("{id: 0x1FFFFFFF, extended: true}")},
		{"an address inside", frame("obd: {mode: 1, pid: 0x0D, response: 0x7E8, address: 0xF1}")},
		{"a PID of unknown length", frame("{obd: {mode: 0x22, pid: 0x0C, response: 0x7E8}, signals: {x: {start: 100, length: 16}}}")},
		{"the last bit of FD", sig("x: {start: 511, length: 1}\n      y: {start: 488, length: 8, order: big}")},
		{"64 bits of an FD payload, most significant bit first", sig("x: {start: 455, length: 64, order: big, float: true}")},
		{"min equal to max", sig("x: {start: 16, length: 8, min: 3, max: 3}")},
		{"one label for two raws", sig("x: {start: 16, length: 2, values: {0: off, 1: on, 2: on}}")},
		{"an exponent without a point in the factor", sig("x: {start: 16, length: 8, factor: -1e-3, offset: +5.}")},
		{"a zero with an exponent beyond reason", sig("x: {start: 16, length: 8, offset: 0e99999999999999999999}")},
		{"names that look like keywords", sig("on: {start: 16, length: 1}\n      null: {start: 17, length: 1}\n      42: {start: 18, length: 1}") + "conditions: [on, null, 42]\n"},
		{"a fractional duration below a microsecond", top("settings: {event_delay: .5us, running_hold: 1.s}")},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := Parse("map.yaml", []byte(c.text))
			if err != nil {
				t.Fatal(err)
			}
			if err := consistent(m); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestAWrongAliasIsReportedWhereItIsUsed(t *testing.T) {
	_, err := Parse("map.yaml", []byte(head+"      x: {start: &s 3.5, length: *s, factor: *s}\n"))
	var list Errors
	if !errors.As(err, &list) || len(list) != 2 {
		t.Fatalf("got %v, want two errors", err)
	}
	if list[0].Column != 18 || list[1].Column != 34 {
		t.Errorf("columns %d and %d, want 18 and 34", list[0].Column, list[1].Column)
	}
}

func TestFilesThatCannotBeLoaded(t *testing.T) {
	folder := t.TempDir()
	large := filepath.Join(folder, "large.yaml")
	if err := os.WriteFile(large, []byte(strings.Repeat("# padding\n", 1<<20)), 0o644); err != nil {
		t.Fatal(err)
	}
	missing := filepath.Join(folder, "none.yaml")
	for _, c := range []struct {
		path, want string
		kind       error
	}{
		{missing, "there is no map " + missing, fs.ErrNotExist},
		{folder, "the map " + folder + " is a folder, not a file", nil},
		{large, large + ":1:1: the file is larger than 8 MiB; is this a log? a map is a short text", ErrTooLarge},
		{missing + "\x00", "cannot be read", nil},
	} {
		_, err := Load(c.path)
		if err == nil || !strings.Contains(err.Error(), c.want) || c.kind != nil && !errors.Is(err, c.kind) {
			t.Errorf("Load(%q) = %v, want %q", c.path, err, c.want)
		}
	}
}

func TestManyMistakesAreBounded(t *testing.T) {
	var b strings.Builder
	b.WriteString("format: 1\n")
	for i := 0; i < 2*maxErrors; i++ {
		fmt.Fprintf(&b, "key%d: 1\n", i)
	}
	_, err := Parse("map.yaml", []byte(b.String()))
	var list Errors
	if !errors.As(err, &list) || len(list) != maxErrors {
		t.Errorf("%d errors, want %d", len(list), maxErrors)
	}
}

func TestALineTooLongToShowStillHasItsPlaces(t *testing.T) {
	_, err := Parse("map.yaml", []byte("format: 1\nnotes: "+strings.Repeat("ü", maxSource)+"\nframes: ["+strings.Repeat(" ", maxSource)+"x]\n"))
	var list Errors
	if !errors.As(err, &list) || len(list) != 1 {
		t.Fatalf("got %v, want one error", err)
	}
	want := fmt.Sprintf("map.yaml:3:%d: a frame must be a mapping of keys to values\n    its keys: ", maxSource+10)
	if got := list[0].Show(); !strings.HasPrefix(got, want) || list[0].Source != "" {
		t.Errorf("got %q, want %q...", got, want)
	}
}

func TestOnlyAWindowOfALongLineIsShown(t *testing.T) {
	_, err := Parse("map.yaml", []byte("{format: 1, notes: "+strings.Repeat("long ", 40)+", frames: [{id: 1, signals: {rpm: {start: 0, length: 16, unit: rpm, role: engine_speed}}}], colour: red, vehicle: "+strings.Repeat("long ", 40)+"}\n"))
	var list Errors
	if !errors.As(err, &list) || len(list) != 1 {
		t.Fatalf("got %v, want one error", err)
	}
	lines := strings.SplitAfter(list.Show(), "\n")
	at := strings.IndexByte(lines[2], '^')
	if !strings.HasPrefix(lines[1][at:], "colour: red") {
		t.Errorf("the mark is not below the mistake:\n%s", list.Show())
	}
	if len(lines[1]) > 160 {
		t.Errorf("the line shown has %d characters", len(lines[1]))
	}
}

func TestAnAliasBombIsRefused(t *testing.T) {
	var b strings.Builder
	b.WriteString("format: 1\na0: &a0 [x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 12; i++ {
		fmt.Fprintf(&b, "a%d: &a%d [%s]\n", i, i, strings.TrimSuffix(strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 9), ", "))
	}
	_, err := Parse("map.yaml", []byte(b.String()))
	if !errors.Is(err, ErrTooLarge) {
		t.Errorf("got %v, want ErrTooLarge", err)
	}
}

func TestChainsOfSelectorsAreBounded(t *testing.T) {
	var b strings.Builder
	for i := 1; i <= maxSelectors+2; i++ {
		fmt.Fprintf(&b, "s%d: {start: %d, length: 1, when: {s%d: 1}}\n      ", i, 16+i, i-1)
	}
	text := sig("s0: {start: 16, length: 1}\n      " + b.String())
	_, err := Parse("map.yaml", []byte(text))
	var list Errors
	if !errors.As(err, &list) || len(list) != 1 || !errors.Is(err, ErrRange) {
		t.Errorf("got %v, want one ErrRange", err)
	}
}

func ExampleParse() {
	_, err := Parse("car.yaml", []byte(`format: 1
frames:
  - id: 0x1A0
    signals:
      rpm: {start: 16, lenght: 16, factor: 0.25, unit: rpm, role: engine_speed}
`))
	var list Errors
	if errors.As(err, &list) {
		fmt.Println(list.Show())
	}
	// Output:
	// car.yaml:5:24: the signal rpm has no key "lenght"
	//           rpm: {start: 16, lenght: 16, factor: 0.25, unit: rpm, role: engine_speed}
	//                            ^
	//     did you mean length?
}
