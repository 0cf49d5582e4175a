package fromdbc

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/decode"
	"lull/decode/dbc"
	"lull/decode/sigmap"
	"lull/pkg/failure"
)

const tallowmere = `VERSION ""
BU_: ECM BCM TCM
BO_ 416 EngineData: 8 ECM
 SG_ EngSpd : 16|16@1+ (0.25,0) [0|8000] "1/min" BCM
 SG_ StopLamp : 40|1@1+ (1,0) [0|1] "" BCM
 SG_ Coolant : 7|8@0+ (1,-40) [-40|215] "°C" BCM
 SG_ Wrong : 18|4@1+ (1,0) [0|15] "" BCM
 SG_ Level : 32|8@1+ (0.4,0) [0|100] "-" BCM
BO_ 420 Modes: 8 ECM
 SG_ Page M : 0|3@1+ (1,0) [0|7] "" BCM
 SG_ OilTemp m2 : 8|8@1+ (1,-40) [0|0] "degC" BCM
 SG_ Why m3 : 8|8@1+ (1,0) [0|0] "" BCM
 SG_ Level : 16|8@1+ (1,0) [0|0] "Step" BCM
BO_ 2566844926 Cruise: 8 TCM
 SG_ WheelSpeed : 8|16@1+ (0.00390625,0) [0|250.996] "kph" BCM
BO_ 2566844416 Own: 8 TCM
 SG_ Bare : 7|32@0- (1,0) [0|0] "" BCM
BO_ 2566845182 Long: 20 TCM
 SG_ Far : 8|16@1+ (1,0) [0|0] "" BCM
CM_ SG_ 416 EngSpd "crankshaft speed";
CM_ BO_ 416 "of the engine";
VAL_ 416 StopLamp 0 "off" 1 "on" ;
VAL_ 416 EngSpd 65535 "SNA" 65534 "error" ;
VAL_ 420 Why 0 "none" 1 "coolant cold" 255 "Not_Available" ;
SIG_VALTYPE_ 2566844416 Bare : 1;
`

const wanted = `# Left out, and kept as comments with the reason: 2.
frames:
  # EngineData, 8 bytes: of the engine
  - id: 0x1A0
    module: ECM
    signals:
      # crankshaft speed; range 0 to 8000 rpm; 65535 (SNA) counts as not seen, by its word; of its raw
      # values 65534 is error; not taken over, as words would make a map take it for a switch
      EngSpd: {start: 16, length: 16, factor: 0.25, unit: rpm, invalid: [65535], role: engine_speed}
      StopLamp: {start: 40, length: 1, values: {0: "off", 1: "on"}, role: stop_command}
      Coolant: {start: 7, length: 8, order: big, offset: -40, unit: degC}
      # left out: it has bits of EngSpd at the same time: one of the two is wrong in the database
      # Wrong: {start: 18, length: 4}
      # called Level; range 0 to 100
      EngineData_Level: {start: 32, length: 8, factor: 0.4}
  # Modes, 8 bytes
  - id: 0x1A4
    module: ECM
    signals:
      Page: {start: 0, length: 3}
      OilTemp: {start: 8, length: 8, offset: -40, unit: degC, when: {Page: 2}}
      # 255 (Not_Available) counts as not seen, by its word
      Why: {start: 8, length: 8, invalid: [255], values: {0: none, 1: coolant cold, 255: Not_Available}, when: {Page: 3}, role: inhibit_code}
      # called Level
      Modes_Level: {start: 16, length: 8, unit: Step}
  # Cruise, 8 bytes, 0x18FEF1FE in the database, of any sender
  - pgn: 65265
    module: TCM
    signals:
      # range 0 to 250.996 km/h
      WheelSpeed: {start: 8, length: 16, factor: 0.00390625, unit: km/h, role: vehicle_speed}
  # Own, 8 bytes
  - id: 0x18FEF000
    module: TCM
    signals:
      Bare: {start: 7, length: 32, order: big, float: true}
  # Long, 20 bytes, 0x18FEF2FE in the database, of any sender
  # - pgn: 65266
  #   module: TCM
  #   signals:
      # left out: Long has 20 bytes and is sent in several frames, which lull does not put together
      # Far: {start: 8, length: 16}
`

func TestADatabaseBecomesAMap(t *testing.T) {
	d := dbc.Parse([]byte(tallowmere))
	c, err := Map(d, Order{File: "car.dbc", Roles: []RoleOf{{decode.EngineSpeed, "engspd", ""}, {decode.StopCommand, "StopLamp", ""},
		{decode.InhibitCode, "Modes.Why", ""}, {decode.VehicleSpeed, "WheelSpeed", ""}}})
	if err != nil {
		t.Fatal(err)
	}
	text := string(c.YAML)
	text = text[strings.Index(text, "# Left out"):]
	if diff := cmp.Diff(wanted, text); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if !c.Whole || c.Signals != 10 || c.Of != 12 || c.Out != 2 || c.Speeds != nil {
		t.Errorf("%d of %d, %d out, %v, %v", c.Signals, c.Of, c.Out, c.Whole, c.Speeds)
	}
	if _, err := sigmap.Parse("map.yaml", c.YAML); err != nil {
		t.Error(err)
	}
}

func TestTheFileSaysWhatItsBusIs(t *testing.T) {
	for _, c := range []struct{ more, want string }{
		{"", "  - pgn: 65265\n"},
		{`BA_ "ProtocolType" "CAN";`, "  - id: 0x18FEF1FE\n"},
		{`BA_ "ProtocolType" "J1939";`, "  - pgn: 65264\n    source: 0x00\n"},
		{"BA_ \"ProtocolType\" \"CAN\";\nBA_ \"VFrameFormat\" BO_ 2566844926 \"J1939PG\";", "  - pgn: 65265\n"},
	} {
		m, err := Map(dbc.Parse([]byte(tallowmere+c.more)), Order{})
		if err != nil || !strings.Contains(string(m.YAML), c.want) {
			t.Errorf("%s: %v, no %q in\n%s", c.more, err, c.want, m.YAML)
		}
	}
}

func TestWhatIsOrderedIsTaken(t *testing.T) {
	d := dbc.Parse([]byte(tallowmere))
	c, err := Map(d, Order{Signals: []string{"oil*", "modes.lev?l"}})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range c.Text.Frames {
		for _, s := range f.Signals {
			names = append(names, s.Signal.Name)
		}
	}
	if got := strings.Join(names, " "); got != "Page OilTemp Modes_Level" || c.Whole {
		t.Errorf("%s, %+v", got, c)
	}
	if diff := cmp.Diff([]string{"EngineData.EngSpd"}, c.Speeds); diff != "" {
		t.Error(diff)
	}
	c, err = Map(d, Order{Signals: []string{"Page"}, Roles: []RoleOf{{decode.EngineSpeed, "Modes.Level", "rpm"}}})
	if err != nil || !c.Whole || c.Signals != 2 {
		t.Errorf("%v, %+v", err, c)
	}
}

func TestWhatCannotBeOrderedIsTold(t *testing.T) {
	d := dbc.Parse([]byte(tallowmere))
	for _, c := range []struct {
		order Order
		want  string
	}{
		{Order{Signals: []string{"WelSpeed"}}, "--signals WelSpeed: the database has no such signal; did you mean Cruise.WheelSpeed?"},
		{Order{Signals: []string{"oil"}}, "did you mean Modes.OilTemp?"},
		{Order{Signals: []string{"oi"}}, "--signals oi: the database has no such signal; lull map from"},
		{Order{Signals: []string{"zzz"}}, "--signals zzz: the database has no such signal; lull map from"},
		{Order{Roles: []RoleOf{{decode.EngineSpeed, "EngSped", ""}}}, "did you mean EngineData.EngSpd?"},
		{Order{Roles: []RoleOf{{decode.EngineSpeed, "Level", ""}}}, "several messages have this signal; name one of EngineData.Level, Modes.Level"},
		{Order{Roles: []RoleOf{{decode.EngineSpeed, "Page", ""}}}, "the database gives it no unit; if you know it, give the unit: --roles engine_speed=Page:rpm"},
		{Order{Roles: []RoleOf{{decode.EngineSpeed, "Coolant", ""}}}, `the unit "degC" is none of the role`},
		{Order{Roles: []RoleOf{{decode.EngineSpeed, "EngSpd", ""}, {decode.EngineSpeed, "Page", "rpm"}}}, "the role is given twice"},
		{Order{Roles: []RoleOf{{decode.EngineSpeed, "EngSpd", ""}, {decode.VehicleSpeed, "EngSpd", ""}}}, "has the role engine_speed already"},
		{Order{Roles: []RoleOf{{decode.InhibitCode, "Page", ""}}}, "no words for its values"},
		{Order{Roles: []RoleOf{{decode.EngineSpeed, "Wrong", "rpm"}}}, "EngineData.Wrong cannot have the role engine_speed: it has bits of EngSpd"},
		{Order{Roles: []RoleOf{{decode.Ignition, "Bare", ""}}}, "Bare cannot have the role ignition: the role ignition is on or off"},
	} {
		_, err := Map(d, c.order)
		var told *failure.Failure
		if !errors.As(err, &told) || !strings.Contains(err.Error(), c.want) || told.Hint == "" {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
}

func TestASignalOfManyMessagesNamesNoMoreThanSix(t *testing.T) {
	text, names := "", []string{}
	for i := range 7 {
		text += fmt.Sprintf("BO_ %d M%d: 8 X\n SG_ Rpm : 0|16@1+ (1,0) [0|0] \"rpm\" X\n", 100+i, i)
		names = append(names, fmt.Sprintf("M%d.Rpm", i))
		if i < 5 {
			continue
		}
		want := "name one of " + strings.Join(names, ", ")
		if i == 6 {
			want = "name one of " + strings.Join(names[:6], ", ") + ", 1 more"
		}
		_, err := Map(dbc.Parse([]byte(text)), Order{Roles: []RoleOf{{decode.EngineSpeed, "Rpm", ""}}})
		if err == nil || !strings.HasSuffix(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

func TestWhatMayBeTheEnginesSpeedIsNamedLikeliestFirst(t *testing.T) {
	const head = "BO_ 5 M: 8 X\n"
	line := func(name string, start, bits int, unit string) string {
		return fmt.Sprintf(" SG_ %s : %d|%d@1+ (1,0) [0|0] \"%s\" X\n", name, start, bits, unit)
	}
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"by unit and name", line("NMot", 0, 8, "") + line("TurbRpm", 8, 8, "rpm") + line("Spin", 16, 8, "1/min") + line("EngRPM", 24, 8, "rpm"), []string{"M.EngRPM", "M.Spin", "M.NMot", "M.TurbRpm"}},
		{"not of another unit", line("CrankTemp", 0, 8, "degC") + line("NMot", 8, 8, "steps"), []string{"M.NMot"}},
		{"not another shaft, nor a wish", line("FanSpd", 0, 8, "rpm") + line("TargetNMot", 8, 8, ""), nil},
		{"not of fewer than 8 bits", line("NMot", 0, 7, "rpm"), nil},
		{"not without unit and name", line("X", 0, 8, ""), nil},
		{"no more than six", line("A", 0, 8, "rpm") + line("B", 8, 8, "rpm") + line("C", 16, 8, "rpm") + line("D", 24, 8, "rpm") + line("E", 32, 8, "rpm") + line("F", 40, 8, "rpm") + line("G", 48, 8, "rpm"),
			[]string{"M.A", "M.B", "M.C", "M.D", "M.E", "M.F"}},
	} {
		got, err := Map(dbc.Parse([]byte(head+c.text)), Order{})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, got.Speeds); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// A range of the database is told where it is narrower than the field by more than half a step.
func TestARangeIsToldWhereItSaysMoreThanTheBits(t *testing.T) {
	for _, c := range []struct {
		signal, span string
		told         bool
	}{
		{"8@1+ (1,0)", "0|255", false}, {"8@1+ (1,0)", "0|254.6", false}, {"8@1+ (1,0)", "0|254", true},
		{"8@1+ (1,0)", "0.45|255", false}, {"8@1+ (1,0)", "0.55|255", true}, {"8@1+ (1,0)", "-10|300", false},
		{"8@1- (1,0)", "-128|127", false}, {"8@1- (1,0)", "-128|126", true}, {"8@1- (1,0)", "-127|127", true},
		{"8@1+ (0.5,-40)", "-40|87.5", false}, {"8@1+ (0.5,-40)", "-40|87", true}, {"8@1+ (0.5,-40)", "-39.5|87.5", true},
		{"8@1+ (-1,0)", "-255|0", false}, {"8@1+ (-1,0)", "-254|0", true}, {"8@1+ (-1,0)", "-255|-1", true},
	} {
		m, err := Map(dbc.Parse([]byte("BO_ 5 M: 8 X\n SG_ S : 0|"+c.signal+" ["+c.span+"] \"\" X\n")), Order{})
		if err != nil {
			t.Fatal(err)
		}
		if told := strings.Contains(string(m.YAML), "# range "); told != c.told {
			t.Errorf("%s [%s]: a range is told: %v in\n%s", c.signal, c.span, told, m.YAML)
		}
	}
}

// What has a unit, a scaling or a role that is a number measures something: words stand for
// single values of it alone, and are told in its comment.
func TestWordsMakeASwitchOnlyOfWhatMeasuresNothing(t *testing.T) {
	for _, c := range []struct {
		signal  string
		role    decode.Role
		want    string
		comment bool
	}{
		{`8@1+ (1,0) [0|0] ""`, decode.NoRole, "S: {start: 0, length: 8, values: {1: open}}", false},
		{`8@1+ (1,0) [0|0] "steps"`, decode.NoRole, "S: {start: 0, length: 8, unit: steps, values: {1: open}}", false},
		{`8@1+ (1,0) [0|0] "V"`, decode.NoRole, "S: {start: 0, length: 8, unit: V}", true},
		{`8@1+ (2,0) [0|0] ""`, decode.NoRole, "S: {start: 0, length: 8, factor: 2}", true},
		{`8@1+ (1,-5) [0|0] ""`, decode.NoRole, "S: {start: 0, length: 8, offset: -5}", true},
		{`8@1+ (1,0) [0|0] "%"`, decode.StopCommand, "S: {start: 0, length: 8, values: {1: open}, role: stop_command}", false},
		{`8@1+ (1,0) [0|0] "V"`, decode.InhibitCode, "S: {start: 0, length: 8, values: {1: open}, role: inhibit_code}", false},
	} {
		var roles []RoleOf
		if c.role != decode.NoRole {
			roles = []RoleOf{{c.role, "S", ""}}
		}
		m, err := Map(dbc.Parse([]byte("BO_ 5 M: 8 X\n SG_ S : 0|"+c.signal+" X\nVAL_ 5 S 1 \"open\" ;\n")), Order{Roles: roles})
		if err != nil {
			t.Errorf("%s: %v", c.signal, err)
			continue
		}
		text := string(m.YAML)
		if !strings.Contains(text, "      "+c.want+"\n") || strings.Contains(text, "1 is open") != c.comment {
			t.Errorf("%s: no %s, or its words are told: %v, in\n%s", c.signal, c.want, !c.comment, text)
		}
	}
}

// Whatever the file, the map is in order, and what it decodes is what the database says.
func TestAnyDatabaseBecomesAMapThatReadsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[A-Za-zÄö_#"'\[{&*!|>%@-][A-Za-z0-9_#.]{0,2}`)
		var b strings.Builder
		b.WriteString("BO_ 5 Speed: 8 X\n SG_ EngSpd : 0|16@1+ (0.25,0) [0|0] \"rpm\" X\n")
		for i := range rapid.IntRange(1, 4).Draw(t, "messages") {
			fmt.Fprintf(&b, "BO_ %d M%d: 8 X\n", 100+rapid.IntRange(0, 3).Draw(t, "identifier"), i)
			fmt.Fprintf(&b, " SG_ Page%d M : 0|4@1+ (1,0) [0|0] \"\" X\n", i)
			for range rapid.IntRange(0, 5).Draw(t, "signals") {
				page := ""
				if rapid.Bool().Draw(t, "paged") {
					page = fmt.Sprintf(" m%d", rapid.IntRange(0, 20).Draw(t, "page"))
				}
				fmt.Fprintf(&b, " SG_ %s%s : %d|%d@%d%s (%v,%v) [0|0] \"%s\" X\n", name.Draw(t, "name"), page, rapid.IntRange(4, 70).Draw(t, "start"), rapid.IntRange(0, 66).Draw(t, "bits"),
					rapid.IntRange(0, 1).Draw(t, "order"), rapid.SampledFrom([]string{"+", "-"}).Draw(t, "sign"), rapid.Float64Range(-50, 50).Draw(t, "factor"), rapid.Float64Range(-5000, 5000).Draw(t, "offset"),
					rapid.SampledFrom([]string{"", "-", "rpm", "°C", "on", "Nm", "#", "1/min"}).Draw(t, "unit"))
			}
		}
		d := dbc.Parse([]byte(b.String()))
		c, err := Map(d, Order{File: "a: b #.dbc", Roles: []RoleOf{{decode.EngineSpeed, "Speed.EngSpd", ""}}})
		if err != nil {
			t.Fatalf("%v of\n%s", err, b.String())
		}
		m, err := sigmap.Parse("map.yaml", c.YAML)
		if err != nil {
			t.Fatalf("%v of\n%s", err, c.YAML)
		}
		decoder := decode.NewDecoder(m)
		for i := range d.Messages {
			f := decode.Frame{ID: d.Messages[i].ID, Len: 8}
			copy(f.Data[:], rapid.SliceOfN(rapid.Byte(), 8, 8).Draw(t, "data"))
			for _, s := range decoder.Decode(&f) {
				field := &m.Signals[s.Signal]
				x := find(d, field)
				if x == nil {
					t.Fatalf("no signal %s in the database", field.Name)
				}
				raw := float64(s.Raw)
				if !x.Field.Signed && s.Raw < 0 {
					raw = float64(uint64(s.Raw))
				}
				if want := raw*x.Factor + x.Offset; s.Valid && math.Abs(s.Value-want) > 1e-9*(math.Abs(raw*x.Factor)+math.Abs(x.Offset)) {
					t.Fatalf("%s is %v, want %v of\n%s", field.Name, s.Value, want, c.YAML)
				}
			}
		}
	})
}

// find is the signal of the database with the same name and bits.
func find(d *dbc.Database, field *decode.Signal) *dbc.Signal {
	for i := range d.Messages {
		for k := range d.Messages[i].Signals {
			x := &d.Messages[i].Signals[k]
			if strings.Contains(field.Name, x.Field.Name) && x.Field.Start == field.Start && x.Field.Length == field.Length && x.Field.BigEndian == field.BigEndian && x.Factor == field.Scale.Factor {
				return x
			}
		}
	}
	return nil
}

func FuzzMap(f *testing.F) {
	f.Add([]byte(tallowmere))
	f.Add([]byte("BO_ 1 X: 8 Y\n SG_ A M : 0|1@1+ (1,0) [0|0] \"\" Z\n SG_ b m1M : 1|9@1- (1,0) [0|0] \"~\" Z\nVAL_ 1 A 0 \"a\" ;\nSG_MUL_VAL_ 1 b A 0-1;"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Map(dbc.Parse(data), Order{File: "x.dbc"})
		if err != nil {
			t.Fatal(err)
		}
		if c.Whole {
			t.Fatal("nobody gave a role")
		}
	})
}
