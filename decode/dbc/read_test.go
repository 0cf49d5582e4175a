package dbc

import (
	"fmt"
	"strings"
	"testing"

	"lull/decode"
)

const small = `VERSION ""
BU_: ECM BCM
BO_ 500 EngineData: 8 ECM
 SG_ EngSpd : 7|16@0+ (0.25,0) [0|16383.75] "rpm" BCM
 SG_ Mux M : 16|4@1+ (1,0) [0|0] "" BCM
 SG_ A m0 : 24|8@1+ (1,-40) [0|0] "°C" BCM
 SG_ B m1M : 24|8@1- (0,5,0) [0|0] "" BCM
BO_ 2566844672 Cruise: 8 ECM
 SG_ Spd : 8|16@1+ (0.00390625,0) [0|250.996] "km/h" BCM
CM_ SG_ 500 EngSpd "two
BO_ lines; of text";
VAL_ 500 Mux 0 "off" 1 "on; now" ;
SG_MUL_VAL_ 500 B Mux 1-1, 3-4;
`

func describe(d *Database) string {
	var b strings.Builder
	for _, m := range d.Messages {
		fmt.Fprintf(&b, "%s %X %v %d line %d\n", m.Name, m.ID, m.Extended, m.Length, m.Line)
		for _, s := range m.Signals {
			fmt.Fprintf(&b, "  %s %d+%d big=%v signed=%v float=%v x%v%+g %q labels %v selector %v by %q when %v\n",
				s.Field.Name, s.Field.Start, s.Field.Length, s.Field.BigEndian, s.Field.Signed, s.Field.Float, s.Factor, s.Offset, s.Unit, s.Field.Labels, s.Selector, s.SelectedBy, s.When)
		}
	}
	for _, m := range d.Mistakes {
		fmt.Fprintf(&b, "%d: %s\n", m.Line, m.What)
	}
	return b.String()
}

const wantSmall = `EngineData 1F4 false 8 line 3
  EngSpd 7+16 big=true signed=false float=false x0.25+0 "rpm" labels [] selector false by "" when []
  Mux 16+4 big=false signed=false float=false x1+0 "" labels [{0 off} {1 on; now}] selector true by "" when []
  A 24+8 big=false signed=false float=false x1-40 "°C" labels [] selector false by "Mux" when [0]
  B 24+8 big=false signed=true float=false x0.5+0 "" labels [] selector true by "Mux" when [1 3 4]
Cruise 18FEF100 true 8 line 8
  Spd 8+16 big=false signed=false float=false x0.00390625+0 "km/h" labels [] selector false by "" when []
`

func TestMessagesSignalsAndSelectorsAreRead(t *testing.T) {
	if got := describe(Parse([]byte(small))); got != wantSmall {
		t.Errorf("got\n%swant\n%s", got, wantSmall)
	}
}

func TestAnyEncodingAndLineEndIsRead(t *testing.T) {
	latin := strings.ReplaceAll(small, "°", "\xB0")
	wide := []byte{0xFF, 0xFE}
	for _, r := range small {
		wide = append(wide, byte(r), byte(r>>8))
	}
	for name, data := range map[string][]byte{
		"one byte a letter": []byte(latin), "mark of UTF-8": []byte("\uFEFF" + small), "UTF-16": wide, "CRLF": []byte(strings.ReplaceAll(small, "\n", "\r\n")),
	} {
		if got := describe(Parse(data)); got != wantSmall {
			t.Errorf("%s: got\n%swant\n%s", name, got, wantSmall)
		}
	}
}

func TestADamagedDefinitionCostsNoOther(t *testing.T) {
	for _, c := range []struct{ name, line, want string }{
		{"a signal without its bar", ` SG_ X : 24 8@1+ (1,0) [0|0] "" B`, "this signal cannot be read"},
		{"a factor of 0", ` SG_ X : 40|8@1+ (0,0) [0|0] "" B`, "the factor of X is 0"},
		{"past the frame", ` SG_ X : 60|16@1+ (1,0) [0|0] "" B`, "X reaches byte 9 of a frame of 8 bytes"},
		{"too long", ` SG_ X : 0|99@1+ (1,0) [0|0] "" B`, "X has 99 bits"},
		{"twice", ` SG_ EngSpd : 40|8@1+ (1,0) [0|0] "" B`, "EngineData has a signal EngSpd already"},
		{"a message without a length", "BO_ 77 Z:\n SG_ Y : 0|8@1+ (1,0) [0|0] \"\" B\nBO_ 501 W: 8 B", "this message cannot be read"},
		{"an identifier too long", "BO_ 4000000000000 Z: 8 B\nBO_ 501 W: 8 B", "this message cannot be read"},
		{"the same identifier", "BO_ 500 Again: 8 B", "the identifier is that of EngineData on line 3 already"},
		{"29 bits without their mark", "BO_ 4096 Long: 8 B", "has more than 11 bits and no mark of 29"},
		{"a comment without its end", `CM_ "never`, "the definition does not end"},
		{"selected by nothing", "BO_ 502 S: 8 B\n SG_ Q m3 : 0|8@1+ (1,0) [0|0] \"\" B", "has no signal that selects"},
	} {
		text := strings.Replace(small, "BO_ 2566844672", c.line+"\nBO_ 2566844672", 1)
		d := Parse([]byte(text))
		got := describe(d)
		if !strings.Contains(got, c.want) || len(d.Mistakes) == 0 {
			t.Errorf("%s: no %q in\n%s", c.name, c.want, got)
		}
		if !strings.Contains(got, "EngSpd 7+16") || !strings.Contains(got, "Cruise 18FEF100") || !strings.Contains(got, "Spd 8+16") {
			t.Errorf("%s: what is sound was lost in\n%s", c.name, got)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(small))
	f.Add([]byte("BO_ 1 X: 8 Y\n SG_ A m0M : 0|1@1+ (1,0) [0|0] \"\" Z\nVAL_ 1 A 0 \"a\" ;\nSIG_VALTYPE_ 1 A : 1;\nSG_MUL_VAL_ 1 A A 0-99999;"))
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, m := range Parse(data).Messages {
			for _, s := range m.Signals {
				if s.Field.Length < 1 || s.Field.Length > 64 || s.Field.LastByte() >= decode.MaxPayload || s.Factor == 0 {
					t.Fatalf("%+v", s)
				}
				if s.When != nil && s.SelectedBy == "" {
					t.Fatalf("selected by nothing: %+v", s)
				}
			}
		}
	})
}
