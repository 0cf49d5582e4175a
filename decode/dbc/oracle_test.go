package dbc

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"go.einride.tech/can"
	"go.einride.tech/can/pkg/descriptor"
	"pgregory.net/rapid"

	"lull/decode"
	"lull/pkg/oracle"
)

// drawn is a database drawn at random, as text and as what it means.
func drawn(t *rapid.T) (string, []Message) {
	var b strings.Builder
	b.WriteString("VERSION \"\"\n\nBS_:\n\nBU_: ECM BCM\n\n")
	var tail strings.Builder
	var list []Message
	text := rapid.StringMatching(`[a-zA-Z0-9 %/°äß;"_.:,-]{0,12}`)
	escape := strings.NewReplacer(`"`, `\"`)
	for i := range rapid.IntRange(1, 5).Draw(t, "messages") {
		m := Message{Name: fmt.Sprintf("Message_%d", i), ID: uint32(100 + i), Length: rapid.IntRange(1, 64).Draw(t, "length")}
		m.Extended = rapid.Bool().Draw(t, "extended")
		number := m.ID
		if m.Extended {
			m.ID += rapid.Uint32Range(0, 0x1FFFFF00).Draw(t, "identifier") &^ 0xFF
			number = m.ID | 1<<31
		}
		fmt.Fprintf(&b, "BO_ %d %s: %d %s\n", number, m.Name, m.Length, "ECM")
		m.Sender = "ECM"
		for k := range rapid.IntRange(0, 6).Draw(t, "signals") {
			s := Signal{Factor: rapid.Float64Range(0.0001, 1000).Draw(t, "factor"), Offset: rapid.Float64Range(-1000, 1000).Draw(t, "offset")}
			s.Unit = strings.TrimSpace(text.Draw(t, "unit"))
			f := &s.Field
			f.Name = fmt.Sprintf("Signal_%d_%d", i, k)
			f.Length = rapid.IntRange(1, min(64, 8*m.Length)).Draw(t, "bits")
			f.BigEndian = f.Length > 1 && rapid.Bool().Draw(t, "big")
			f.Start = rapid.IntRange(0, 8*m.Length-1).Filter(func(start int) bool {
				f.Start = start
				return f.LastByte() < m.Length
			}).Draw(t, "start")
			f.Signed = rapid.Bool().Draw(t, "signed")
			order, sign := 1, "+"
			if f.BigEndian {
				order = 0
			}
			if f.Signed {
				sign = "-"
			}
			fmt.Fprintf(&b, " SG_ %s : %d|%d@%d%s (%v,%v) [0|0] \"%s\" BCM\n", f.Name, f.Start, f.Length, order, sign, s.Factor, s.Offset, escape.Replace(s.Unit))
			if f.Length > 2 && rapid.Bool().Draw(t, "labels") {
				fmt.Fprintf(&tail, "VAL_ %d %s", number, f.Name)
				for raw := range int64(3) {
					label := "x" + strings.TrimRight(text.Draw(t, "label"), " ")
					f.Labels = append(f.Labels, decode.Label{Raw: raw, Text: label})
					fmt.Fprintf(&tail, " %d \"%s\"", raw, escape.Replace(label))
				}
				tail.WriteString(" ;\n")
			}
			if rapid.Bool().Draw(t, "comment") {
				s.Comment = "a " + strings.Join(strings.Fields(text.Draw(t, "comment")+" b"), " ")
				fmt.Fprintf(&tail, "CM_ SG_ %d %s \"%s\";\n", number, f.Name, escape.Replace(strings.Replace(s.Comment, " ", "\n", 1)))
			}
			m.Signals = append(m.Signals, s)
		}
		b.WriteString("\n")
		list = append(list, m)
	}
	return b.String() + tail.String(), list
}

func TestWhatIsWrittenInTheFormatIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text, want := drawn(t)
		d := Parse([]byte(text))
		for _, m := range d.Mistakes {
			if !strings.Contains(m.What, "has bits of") {
				t.Fatalf("%d: %s of\n%s", m.Line, m.What, text)
			}
		}
		for i := range d.Messages {
			d.Messages[i].Line = 0
			for k := range d.Messages[i].Signals {
				d.Messages[i].Signals[k].Field.Line, d.Messages[i].Signals[k].Shares = 0, ""
			}
		}
		if got, wanted := fmt.Sprintf("%+v", d.Messages), fmt.Sprintf("%+v", want); got != wanted {
			t.Fatalf("got\n%s\nwant\n%s\nof\n%s", got, wanted, text)
		}
	})
}

// Whatever is cut out or put in, nothing is read without end, panics, or breaks the promises
// of the types.
func TestDamagedFilesKeepThePromises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text, _ := drawn(t)
		data := []byte(text)
		for range rapid.IntRange(1, 4).Draw(t, "damages") {
			at := rapid.IntRange(0, len(data)-1).Draw(t, "at")
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				data = slices.Delete(data, at, min(len(data), at+rapid.IntRange(1, 60).Draw(t, "cut")))
			case 1:
				data = slices.Insert(data, at, rapid.SliceOfN(rapid.Byte(), 1, 9).Draw(t, "in")...)
			case 2:
				data = data[:at]
			}
			if len(data) == 0 {
				data = []byte("\n")
			}
		}
		if why := broken(Parse(data)); why != "" {
			t.Fatalf("%s of\n%s", why, data)
		}
	})
}

// broken says which promise of the types a database breaks, or "".
func broken(d *Database) string {
	for i := range d.Messages {
		m := &d.Messages[i]
		names := map[string]bool{}
		if m.ID > 0x1FFFFFFF || !m.Extended && m.ID > 0x7FF {
			return fmt.Sprintf("identifier %X", m.ID)
		}
		for k := range m.Signals {
			s := &m.Signals[k]
			if s.Field.Length < 1 || s.Field.Length > 64 || s.Field.Start < 0 || s.Field.LastByte() >= decode.MaxPayload || s.Factor == 0 || s.Field.Name == "" || names[s.Field.Name] {
				return fmt.Sprintf("signal %+v", s)
			}
			names[s.Field.Name] = true
			if (s.When == nil) != (s.SelectedBy == "") || s.When != nil && (len(s.When) == 0 || m.Find(s.SelectedBy) == nil) {
				return fmt.Sprintf("selected by nothing: %+v", s)
			}
			for _, l := range s.Field.Labels {
				if !fits(&s.Field, l.Raw) || l.Text == "" {
					return fmt.Sprintf("label %+v", l)
				}
			}
			steps := 0
			for by := s; by.When != nil; by = m.Find(by.SelectedBy) {
				if steps++; steps > 2*longestChain {
					return "a circle of selectors"
				}
			}
		}
	}
	return ""
}

const unpack = `
import json, sys, bitstruct
answers = []
for q in json.load(sys.stdin):
    data = bytes.fromhex(q["data"])
    start, length = q["start"], q["length"]
    kind = "f" if q["float"] else "s" if q["signed"] else "u"
    if q["big"]:
        skip = start // 8 * 8 + 7 - start % 8
    else:
        data = data[::-1]
        skip = 8 * len(data) - start - length
    answers.append(repr(bitstruct.unpack("p%d%s%d" % (skip, kind, length) if skip else "%s%d" % (kind, length), data)[0]))
print(json.dumps(answers))
`

// What a signal of a file means is held against two other programs: the library's own
// decoding, and Python's bitstruct, which knows nothing of the format's bit numbers.
func TestOtherProgramsReadTheSameValues(t *testing.T) {
	type question struct {
		Data   string `json:"data"`
		Start  int    `json:"start"`
		Length int    `json:"length"`
		Big    bool   `json:"big"`
		Signed bool   `json:"signed"`
		Float  bool   `json:"float"`
	}
	var questions []question
	var raws []string
	dice := rand.New(rand.NewPCG(3, 8))
	for n := 0; n < 400; n++ {
		length := 1 + dice.IntN(64)
		x := decode.Signal{Start: dice.IntN(64), Length: length, BigEndian: length > 1 && dice.IntN(2) == 0}
		if x.LastByte() > 7 {
			continue
		}
		sign, order := "+", 1
		if x.Signed = dice.IntN(2) == 0; x.Signed {
			sign = "-"
		}
		if x.BigEndian {
			order = 0
		}
		text := fmt.Sprintf("BO_ 256 Tallowmere: 8 ECM\n SG_ X : %d|%d@%d%s (0.5,-3) [0|0] \"V\" BCM\n", x.Start, x.Length, order, sign)
		if x.Float = (length == 32 || length == 64) && dice.IntN(2) == 0; x.Float {
			text += fmt.Sprintf("SIG_VALTYPE_ 256 X : %d;\n", length/32)
		}
		d := Parse([]byte(text))
		if len(d.Mistakes) > 0 || len(d.Messages) != 1 || len(d.Messages[0].Signals) != 1 {
			t.Fatalf("%+v of\n%s", d, text)
		}
		s := &d.Messages[0].Signals[0]
		scale, err := decode.ParseScale("", "")
		if err != nil {
			t.Fatal(err)
		}
		field := s.Field
		field.Scale = scale
		m := &decode.Map{Entries: []decode.Entry{{ID: 256, Source: -1, Address: -1, Signals: []int{0}}}, Signals: []decode.Signal{field}}
		frame := decode.Frame{ID: 256, Len: 8}
		for i := range 8 {
			frame.Data[i] = byte(dice.Uint32())
		}
		samples := decode.NewDecoder(m).Decode(&frame)
		if len(samples) != 1 || !samples[0].Valid && !x.Float {
			t.Fatalf("%+v of\n%s", samples, text)
		}
		if !samples[0].Valid {
			continue // no number
		}
		raw := fmt.Sprint(samples[0].Raw)
		if x.Float {
			raw = fmt.Sprint(samples[0].Value)
		} else if !x.Signed {
			raw = fmt.Sprint(uint64(samples[0].Raw))
		}
		questions = append(questions, question{hex.EncodeToString(frame.Data[:8]), s.Field.Start, s.Field.Length, s.Field.BigEndian, s.Field.Signed, s.Field.Float})
		raws = append(raws, raw)
		if x.Float || length == 1 {
			continue // which the library does not decode
		}
		library := descriptor.Signal{Start: uint8(x.Start), Length: uint8(x.Length), IsBigEndian: x.BigEndian, IsSigned: x.Signed, Scale: 0.5, Offset: -3}
		if got, want := samples[0].Value*s.Factor+s.Offset, library.UnmarshalPhysical(can.Data(frame.Data[:8])); got != want {
			t.Errorf("%v, the library reads %v of %X by\n%s", got, want, frame.Data[:8], text)
		}
	}
	var answers []any
	oracle.Python(t, "bitstruct", "python3-bitstruct", unpack, questions, &answers)
	for i, raw := range raws {
		if got := fmt.Sprint(answers[i]); got != raw && !questions[i].Float {
			t.Errorf("%s, bitstruct reads %s of %+v", raw, got, questions[i])
		} else if questions[i].Float {
			var a, b float64
			fmt.Sscan(got, &a)
			fmt.Sscan(raw, &b)
			if a != b {
				t.Errorf("%s, bitstruct reads %s of %+v", raw, got, questions[i])
			}
		}
	}
	if len(questions) < 100 {
		t.Errorf("only %d signals were compared", len(questions))
	}
}

// The library reads whole files; what it takes must mean the same here.
func FuzzParse(f *testing.F) {
	f.Add([]byte(small))
	f.Add([]byte("BO_ 1 X: 8 Y\n SG_ A m0M : 0|1@1+ (1,0) [0|0] \"\" Z\nVAL_ 1 A 0 \"a\" ;\nSIG_VALTYPE_ 1 A : 1;\nSG_MUL_VAL_ 1 A A 0-99999;"))
	f.Add([]byte("\xFF\xFEB\x00O\x00_\x00 \x001\x00"))
	f.Add([]byte("BO_ 3221225472 X: 0 Y\r SG_ A : 0|1@1+ (1,5,5) [1,5|x] \"\\\"\" Z\rCM_ SG_ 1 A \"\r\n;"))
	f.Fuzz(func(t *testing.T, data []byte) {
		d := Parse(data)
		if why := broken(d); why != "" {
			t.Fatal(why)
		}
		lines := bytes.Count(data, []byte("\n")) + bytes.Count(data, []byte("\r")) + 1 + len(data)/2
		for _, m := range d.Mistakes {
			if m.Line < 1 || m.Line > lines || m.What == "" {
				t.Fatalf("%+v of %d lines", m, lines)
			}
		}
	})
}
