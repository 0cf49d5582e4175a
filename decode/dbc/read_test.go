package dbc

import (
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"time"

	"go.einride.tech/can/pkg/dbc"
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
7: B: (0,5,0) has decimal commas; read as factor 0.5, offset 0
`

func TestMessagesSignalsAndSelectorsAreRead(t *testing.T) {
	if got := describe(Parse([]byte(small))); got != wantSmall {
		t.Errorf("got\n%swant\n%s", got, wantSmall)
	}
}

func TestAnyEncodingAndLineEndIsRead(t *testing.T) {
	latin := strings.ReplaceAll(small, "°", "\xB0")
	wide, big := []byte{0xFF, 0xFE}, []byte{0xFE, 0xFF}
	for _, r := range small {
		wide, big = append(wide, byte(r), byte(r>>8)), append(big, byte(r>>8), byte(r))
	}
	for name, data := range map[string][]byte{
		"one byte a letter": []byte(latin), "mark of UTF-8": []byte("\uFEFF" + small), "UTF-16": wide, "UTF-16, big-endian": big,
		"UTF-16 without a mark": wide[2:], "UTF-16 without a mark, big-endian": big[2:], "CRLF": []byte(strings.ReplaceAll(small, "\n", "\r\n")),
	} {
		if got := describe(Parse(data)); got != wantSmall {
			t.Errorf("%s: got\n%swant\n%s", name, got, wantSmall)
		}
	}
}

func TestADamagedDefinitionCostsNoOther(t *testing.T) {
	for _, c := range []struct{ name, line, want string }{
		{"a signal without its bar", ` SG_ X : 24 8@1+ (1,0) [0|0] "" B`, "the signal X cannot be read"},
		{"a signal without its scale", ` SG_ X : 24|8@1+`, "this signal cannot be read: it is not SG_ NAME"},
		{"a scale of words", ` SG_ X : 24|8@1+ (one,0) [0|0] "" B`, "(one,0) is no factor and offset"},
		{"commas that can be read in two ways", ` SG_ X : 40|8@1+ (1,5,5) [0|0] "" B`, "can be read in two ways; read as factor 1.5, offset 5: check it"},
		{"commas of a negative offset", ` SG_ X : 40|8@1+ (1,-40,5) [0|0] "" B`, "(1,-40,5) has decimal commas; read as factor 1, offset -40.5\n"},
		{"commas without a whole number before the first", ` SG_ X : 40|8@1+ (,25,1,5) [0|0] "" B`, "(,25,1,5) is no factor and offset"},
		{"commas without a whole number before the last", ` SG_ X : 40|8@1+ (0,25,,5) [0|0] "" B`, "(0,25,,5) is no factor and offset"},
		{"a range of words", ` SG_ X : 40|8@1+ (1,0) [low|high] "" B`, "[low|high] is no range"},
		{"a factor of 0", ` SG_ X : 40|8@1+ (0,0) [0|0] "" B`, "the factor of X is 0"},
		{"past the frame", ` SG_ X : 60|16@1+ (1,0) [0|0] "" B`, "X reaches byte 10, the frame has 8 bytes"},
		{"past every frame", ` SG_ X : 504|64@1+ (1,0) [0|0] "" B`, "X reaches byte 71"},
		{"too long", ` SG_ X : 0|99@1+ (1,0) [0|0] "" B`, "X has 99 bits"},
		{"no bits", ` SG_ X : 0|0@1+ (1,0) [0|0] "" B`, "X has 0 bits"},
		{"twice", ` SG_ EngSpd : 40|8@1+ (1,0) [0|0] "" B`, "EngineData has a signal EngSpd already"},
		{"bits of another", ` SG_ X : 8|4@1+ (1,0) [0|0] "" B`, "X has bits of EngSpd on line 4"},
		{"a message without a length", "BO_ 77 Z:\n SG_ Y : 0|8@1+ (1,0) [0|0] \"\" B\nBO_ 501 W: 8 B", "this message cannot be read"},
		{"a negative identifier", "BO_ -5 Z: 8 B\n SG_ Y : 0|8@1+ (1,0) [0|0] \"\" B\nBO_ 501 W: 8 B", "this message cannot be read"},
		{"an identifier too long", "BO_ 4000000000000 Z: 8 B\nBO_ 501 W: 8 B", "this message cannot be read"},
		{"the first number that is too long for an identifier", "BO_ 4294967296 Z: 8 B\nBO_ 501 W: 8 B", "4294967296 is no identifier"},
		{"a message in several frames", "BO_ 501 W: 223 B", "W has 223 bytes, more than one frame holds"},
		{"the same identifier", "BO_ 500 Again: 8 B", "the identifier is that of EngineData on line 3 already"},
		{"29 bits without their mark", "BO_ 4096 Long: 8 B", "has more than 11 bits and no mark of 29"},
		{"a comment without its end", `CM_ "never`, "the definition does not end"},
		{"values without their semicolon", `VAL_ 500 Mux 9 "nine"`, "the definition does not end"},
		{"values beyond the field", `VAL_ 500 Mux 16 "sixteen" 3 "three";`, "Mux cannot have the value 16 (sixteen)"},
		{"half of a value", `VAL_ 500 Mux 3 "three" 4 ;`, "not all of these values can be read"},
		{"values of no table", `VAL_ 500 Mux NoTable ;`, "there is no table of values NoTable"},
		{"a float of 16 bits", `SIG_VALTYPE_ 500 EngSpd : 1;`, "EngSpd has 16 bits and cannot be a float of 32"},
		{"a type of no kind", `SIG_VALTYPE_ 500 EngSpd : many;`, "this type of a signal cannot be read"},
		{"a selection of no range", `SG_MUL_VAL_ 500 A Mux 9-2;`, `"9-2" is no range`},
		{"selected by nothing", "BO_ 502 S: 8 B\n SG_ Q m3 : 0|8@1+ (1,0) [0|0] \"\" B", "has no signal that selects"},
		{"selected by several", "BO_ 502 S: 8 B\n SG_ Q m3 : 16|8@1+ (1,0) [0|0] \"\" B\n SG_ N M : 0|8@1+ (1,0) [0|0] \"\" B\n SG_ O M : 8|8@1+ (1,0) [0|0] \"\" B", "S has several selectors; taken to be selected by N"},
		{"selected in a circle", "BO_ 502 S: 8 B\n SG_ Q m3M : 0|8@1+ (1,0) [0|0] \"\" B\n SG_ N m3M : 8|8@1+ (1,0) [0|0] \"\" B\nSG_MUL_VAL_ 502 Q N 3-3;\nSG_MUL_VAL_ 502 N Q 3-3;", "select each other in a circle"},
		{"no definition", "hello? is this one?", "this is no definition that is known"},
		{"a line without end", strings.Repeat("?", 3<<20), "the line is longer than 1048576 bytes"},
	} {
		text := strings.Replace(small, "BO_ 2566844672", c.line+"\nBO_ 2566844672", 1)
		d := Parse([]byte(text))
		got := describe(d)
		if !strings.Contains(got, c.want) || len(d.Mistakes) == 0 {
			t.Errorf("%s: no %q in\n%s", c.name, c.want, got)
		}
		if !strings.Contains(got, "EngSpd 7+16") || !strings.Contains(got, "Cruise 18FEF100") || !strings.Contains(got, "Spd 8+16") || !strings.Contains(got, "{0 off}") {
			t.Errorf("%s: what is sound was lost in\n%s", c.name, got)
		}
		for _, m := range d.Mistakes {
			if strings.Contains(m.What, c.want) && m.Line < 8 {
				t.Errorf("%s: told of line %d", c.name, m.Line)
			}
		}
	}
}

func TestStrangeFilesAreReadWithoutAMistake(t *testing.T) {
	for _, c := range []struct{ name, line, want string }{
		{"names beyond ASCII", " SG_ Öltemp : 40|8@1+ (1,0) [0|0] \"°C\" B\nVAL_ 500 Öltemp 1 \"warm\";", `Öltemp 40+8 big=false signed=false float=false x1+0 "°C" labels [{1 warm}]`},
		{"no receiver", ` SG_ X : 40|8@1+ (1,0) [0|0] ""`, "X 40+8"},
		{"no unit", ` SG_ X : 40|8@1+ (1,0) [0|0]`, "X 40+8"},
		{"receivers on further lines", " SG_ X : 40|8@1+ (1,0) [0|0] \"\" B,\n  ECM, BCM", "X 40+8"},
		{"signs", ` SG_ X : 40|8@1- (+.5,+1E-05) [-1E+3|+10] "" B`, `X 40+8 big=false signed=true float=false x0.5+1e-05`},
		{"a unit spelled out", ` SG_ X : 40|8@1+ (1,0) [0|0] "Unit_MinutInver" B`, `x1+0 "rpm"`},
		{"a unit that nobody knows", ` SG_ X : 40|8@1+ (1,0) [0|0] "Unit_Furlong" B`, `x1+0 "Unit_Furlong"`},
		{"no blanks", `SG_ X:40|8@1+(2,1)[0|9]"V"B`, `X 40+8 big=false signed=false float=false x2+1 "V"`},
		{"no sender", "BO_ 501 W: 8", "W 1F5 false 8"},
		{"independent signals", "BO_ 3221225472 " + string(dbc.IndependentSignalsMessageName) + ": 0 " + string(dbc.NodePlaceholder) + "\n SG_ Lost : 0|8@1+ (1,0) [0|0] \"\" B", "Cruise"},
		{"a table of values", "VAL_TABLE_ OnOff 5 \"five\" 6 \"six\" ;\nVAL_ 500 Mux OnOff ;", "{5 five} {6 six}"},
		{"two statements in one line", `VAL_ 500 Mux 5 "five" ; VAL_ 500 Mux 6 "a \"six\"";`, `{5 five} {6 a "six"}`},
		{"values over lines", "VAL_ 500 Mux 5 \"five\"\n 6 \"six\"\n ;", "{5 five} {6 six}"},
		{"keywords at the head", "NS_ :\n\tNS_DESC_\n\tCM_\n\tVAL_\n\tSG_MUL_VAL_\n\nBS_:\n", "Cruise"},
		{"other sections", "BO_TX_BU_ 500 : ECM,BCM;\nSIG_GROUP_ 500 G 1 : EngSpd;\nEV_ E: 0 [0|1] \"\" 0 2 " + string(dbc.AccessTypeUnrestricted) + " BCM;\nBA_DEF_ SG_ \"SPN\" INT 0 1;\nVAL_ E 0 \"x\";", "Cruise"},
		{"a double", " SG_ X : 0|64@1+ (1,0) [0|0] \"\" B\nBO_ 501 W: 8 B\n SG_ Y : 0|64@1- (1,0) [0|0] \"\" B\nSIG_VALTYPE_ 501 Y : 2;", "Y 0+64 big=false signed=false float=true"},
	} {
		if c.name == "a double" {
			c.line = strings.SplitN(c.line, "\n", 2)[1]
		}
		text := strings.Replace(small, "BO_ 2566844672", c.line+"\nBO_ 2566844672", 1)
		d := Parse([]byte(text))
		if got := describe(d); !strings.Contains(got, c.want) || len(d.Mistakes) != 1 || !strings.Contains(got, "Spd 8+16") {
			t.Errorf("%s: no %q or a mistake in\n%s", c.name, c.want, got)
		}
	}
}

func TestWhatIsSaidInWordsIsKept(t *testing.T) {
	d := Parse([]byte(small + `CM_ BO_ 500 "of the engine
 control \"module\"";
BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_DEF_ "ProtocolType" "CAN";
BA_ "ProtocolType" "J1939";
BA_ "VFrameFormat" BO_ 2566844672 3;
`))
	m := d.Messages[0]
	if m.Comment != `of the engine control "module"` || m.Find("EngSpd").Comment != "two BO_ lines; of text" {
		t.Errorf("comments %q, %q", m.Comment, m.Find("EngSpd").Comment)
	}
	if d.Protocol != "J1939" || m.Group || !d.Messages[1].Group {
		t.Errorf("protocol %q, groups %v %v", d.Protocol, m.Group, d.Messages[1].Group)
	}
}

func TestHugeFilesAreReadInBoundedTimeAndMemory(t *testing.T) {
	const most = 4 << 20
	for name, r := range map[string]io.Reader{
		"one line":         io.LimitReader(repeated("a"), most),
		"no definitions":   io.LimitReader(repeated("x y z ? 1 2 3\n"), most),
		"a text":           io.MultiReader(strings.NewReader("CM_ \""), io.LimitReader(repeated("word\n"), most)),
		"signals":          io.MultiReader(strings.NewReader("BO_ 1 X: 8 Y\n"), io.LimitReader(repeated(" SG_ A : 0|8@1+ (1,0) [0|0] \"\" B\n"), most)),
		"messages":         io.LimitReader(repeated("BO_ 1 X: 8 Y\n"), most),
		"nothing but ends": io.LimitReader(repeated("\r"), most),
	} {
		began := time.Now()
		d, err := Read(r)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(d.Mistakes) > mostMistakes+1 || len(d.Messages) > mostMessages {
			t.Errorf("%s: %d mistakes, %d messages", name, len(d.Mistakes), len(d.Messages))
		}
		t.Logf("%s: %s", name, time.Since(began).Round(time.Millisecond))
	}
	var after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&after)
	if after.Sys > 400<<20 {
		t.Errorf("%d MB of memory", after.Sys>>20)
	}
}

// endless gives a text again and again.
type endless struct {
	text string
	at   int
}

func repeated(text string) io.Reader { return &endless{text: text} }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = e.text[e.at%len(e.text)]
		e.at++
	}
	return len(p), nil
}
