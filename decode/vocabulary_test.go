package decode

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestPayloadIsWhatTheFrameCarries(t *testing.T) {
	data := dataFrame(1, 0, 1, 2, 3)
	remote := dataFrame(1, Remote, 1, 2, 3)
	long := dataFrame(1, FD)
	long.Len = 255 // no reader returns such a length
	got := fmt.Sprint(data.Payload(), remote.Payload(), len(long.Payload()))
	if diff := cmp.Diff("[1 2 3] [] 64", got); diff != "" {
		t.Errorf("payloads (-want +got):\n%s", diff)
	}
}

func TestCloneStaysWhenTheFrameChanges(t *testing.T) {
	f := dataFrame(0x123, FD, 1, 2, 3)
	want := *f
	kept := f.Clone()
	f.ID, f.Data[0] = 0x456, 9
	if diff := cmp.Diff(want, *kept); diff != "" {
		t.Errorf("clone (-want +got):\n%s", diff)
	}
}

func TestFlagsHasNeedsAllThatAreAskedFor(t *testing.T) {
	f := Extended | FD
	if !f.Has(Extended) || !f.Has(Extended|FD) || f.Has(Extended|Remote) || f.Has(Error) {
		t.Errorf("flags %b: Has is wrong about one of its own or others", f)
	}
}

func TestNamesAsTheyArePrinted(t *testing.T) {
	tests := []struct{ got, want string }{
		{StampsUnknown.String(), "unknown"}, {StampsAbsolute.String(), "absolute"}, {StampsDate.String(), "date"},
		{StampsZero.String(), "zero"}, {StampsDelta.String(), "delta"}, {StampsNone.String(), "none"}, {Stamps(99).String(), "unknown"},
		{ByDriver.String(), "driver"}, {BySystem.String(), "system"},
		{EngineSpeed.String(), "engine_speed"}, {InhibitCode.String(), "inhibit_code"}, {NoRole.String(), ""}, {RoleCount.String(), ""},
		{FormatID(0x1A0, false), "0x1A0"}, {FormatID(0x1A0, true), "0x000001A0"}, {FormatID(5, false), "0x005"},
		{(&Entry{Kind: ByID, ID: 0x7EF}).Label(), "0x7EF"},
		{(&Entry{Kind: ByID, ID: 0xCF00400, Extended: true}).Label(), "0x0CF00400"},
		{(&Entry{Kind: ByPGN, PGN: 61444}).Label(), "pgn 61444"},
		{(&Entry{Kind: ByOBD, Mode: 1, PID: 0x0C}).Label(), "obd 01 0C"},
		{(&Entry{Kind: ByDID, DID: 0xF40D}).Label(), "did F40D"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("%q, want %q", tt.got, tt.want)
		}
	}
}

func TestOnlyStampsWithADateCountFromTheEpoch(t *testing.T) {
	var dated []Stamps
	for s := StampsUnknown; s <= StampsNone; s++ {
		if s.Dated() {
			dated = append(dated, s)
		}
	}
	if diff := cmp.Diff([]Stamps{StampsAbsolute, StampsDate}, dated); diff != "" {
		t.Errorf("dated (-want +got):\n%s", diff)
	}
}

func TestEveryRoleIsFoundByItsName(t *testing.T) {
	for r := NoRole + 1; r < RoleCount; r++ {
		got, ok := RoleByName(r.String())
		if !ok || got != r {
			t.Errorf("role %q is found as %q (%v)", r, got, ok)
		}
	}
	for _, name := range []string{"", "engine speed"} {
		if got, ok := RoleByName(name); ok {
			t.Errorf("role %q is found as %q", name, got)
		}
	}
}

func TestRoleSignalIsTheOneThatTheMapNames(t *testing.T) {
	m := mapOf(testEntry{Entry{Kind: ByID, ID: 1}, []Signal{{Name: "a"}, {Name: "rpm", Role: EngineSpeed}}})
	m.Role[EngineSpeed] = 1
	if s := m.RoleSignal(EngineSpeed); s == nil || s.Name != "rpm" {
		t.Errorf("signal of engine_speed = %+v, want rpm", s)
	}
	if s := m.RoleSignal(VehicleSpeed); s != nil {
		t.Errorf("signal of vehicle_speed = %+v, want none", s)
	}
}

func TestPolledEntriesAreThoseThatATesterRequests(t *testing.T) {
	var polled []Kind
	for k := ByID; k <= ByDID; k++ {
		if (&Entry{Kind: k}).Polled() {
			polled = append(polled, k)
		}
	}
	if diff := cmp.Diff([]Kind{ByOBD, ByDID}, polled); diff != "" {
		t.Errorf("polled (-want +got):\n%s", diff)
	}
}

func TestRawsOfSwitchesAndCodes(t *testing.T) {
	labelled := Signal{Length: 2, Labels: []Label{{0, "off"}, {1, "on"}, {2, "on"}}}
	s := func(v ...any) string { return fmt.Sprint(v...) }
	tests := []struct{ what, got, want string }{
		{"labels", fmt.Sprintf("%q", []string{labelled.LabelOf(0), labelled.LabelOf(2), labelled.LabelOf(3)}), `["off" "on" ""]`},
		{"switch by labels", s(labelled.IsSwitch()), "true"},
		{"switch by length", s((&Signal{Length: 1}).IsSwitch()), "true"},
		{"switch by role", s((&Signal{Length: 8, Role: Ignition}).IsSwitch()), "true"},
		{"no switch", s((&Signal{Length: 8, Role: EngineSpeed}).IsSwitch()), "false"},
		{"on where nothing is said", s((&Signal{}).On(0), (&Signal{}).On(1), (&Signal{}).On(-1)), "false true true"},
		{"on where the map says so", s((&Signal{HasActive: true, Active: []int64{0, 3}}).On(0), (&Signal{HasActive: true, Active: []int64{0, 3}}).On(1)), "true false"},
		{"never on", s((&Signal{HasActive: true}).On(1)), "false"},
		{"clear", s((&Signal{Clear: []int64{0, 3}}).IsClear(3), (&Signal{Clear: []int64{0, 3}}).IsClear(1)), "true false"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("%s: %q, want %q", tt.what, tt.got, tt.want)
		}
	}
}

func TestConversionDividesRatherThanMultiplyingByAnInexactFactor(t *testing.T) {
	millivolts := Conversion{Mul: 1, Div: 1000}
	fahrenheit := Conversion{Mul: 5, Div: 9, Add: -160.0 / 9}
	tests := []struct{ got, want float64 }{
		{millivolts.Apply(9600), 9.6}, {millivolts.ApplyStep(50), 0.05},
		{fahrenheit.Apply(212), 100}, {fahrenheit.ApplyStep(9), 5},
		{Conversion{}.Apply(7), 7}, {Conversion{}.ApplyStep(7), 7},
	}
	for i, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("conversion %d gives %v, want %v", i, tt.got, tt.want)
		}
	}
}

func TestWalkVisitsEveryComparison(t *testing.T) {
	e := &Expr{Op: OpAll, Children: []*Expr{{Op: OpIs}, {Op: OpNot, Children: []*Expr{{Op: OpMoves}}}}}
	var got []Op
	e.Walk(func(e *Expr) { got = append(got, e.Op) })
	if diff := cmp.Diff([]Op{OpAll, OpIs, OpNot, OpMoves}, got); diff != "" {
		t.Errorf("visited (-want +got):\n%s", diff)
	}
}

// The defaults are those that the documentation of the map format promises.
func TestDefaultSettings(t *testing.T) {
	want := Settings{RunningSpeed: 500, RunningHold: 300 * time.Millisecond, RestSpeed: 30, StandstillSpeed: 0.5,
		MinStandstill: 3 * time.Second, RequestWindow: 500 * time.Millisecond, NoStartAfter: 5 * time.Second, StaleAfter: 2 * time.Second,
		SilenceFactor: 5, IdleFuelRate: 0.6, LowVoltage: 9.6, EventDelay: 10 * time.Millisecond, SystemVoltage: 12}
	if diff := cmp.Diff(want, DefaultSettings()); diff != "" {
		t.Errorf("settings (-want +got):\n%s", diff)
	}
}
