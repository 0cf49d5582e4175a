package sigmap

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/decode"
)

// drawField draws a field that lies within an FD payload.
func drawField(t *rapid.T, name string) decode.Signal {
	s := decode.Signal{Name: name, Length: rapid.IntRange(1, 64).Draw(t, "length"), BigEndian: rapid.Bool().Draw(t, "big")}
	s.Start = rapid.IntRange(0, maxBits-1).Filter(func(start int) bool {
		s.Start = start
		return s.LastByte() < maxBits/8
	}).Draw(t, "start")
	s.Signed = rapid.Bool().Draw(t, "signed")
	return s
}

func (m sourceOf) String() string {
	order := "little"
	if m.BigEndian {
		order = "big"
	}
	return fmt.Sprintf("%s: {start: %d, length: %d, order: %s, signed: %v}", m.Name, m.Start, m.Length, order, m.Signed)
}

// sourceOf returns a field as it is written in a map.
type sourceOf decode.Signal

func TestAFieldIsReadAsItIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawField(t, "x")
		want.Entry, want.Line = 1, 8
		factor := rapid.Float64Range(-1e6, 1e6).Filter(func(f float64) bool { return f != 0 }).Draw(t, "factor")
		text := strconv.FormatFloat(factor, 'g', -1, 64)
		var err error
		if want.Scale, err = decode.ParseScale(text, ""); err != nil {
			t.Fatal(err)
		}
		source := strings.TrimSuffix(sourceOf(want).String(), "}") + ", factor: " + text + "}"
		m, err := Parse("map.yaml", []byte(head+"  - id: 2\n    signals:\n      "+source+"\n"))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, m.Signals[1], whole); diff != "" {
			t.Fatalf("%s (-want +got):\n%s", source, diff)
		}
	})
}

// bitsOf computes a field's bits in another way: in the order of transmission (byte by byte,
// bit 7 first), a big-endian field of length n occupies n consecutive places from its start.
func bitsOf(s *decode.Signal) map[int]bool {
	bits := map[int]bool{}
	for i := 0; i < s.Length; i++ {
		if !s.BigEndian {
			bits[s.Start+i] = true
			continue
		}
		sent := s.Start/8*8 + 7 - s.Start%8 + i
		bits[sent/8*8+7-sent%8] = true
	}
	return bits
}

func TestOverlapsAreThoseOfTheBits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawField(t, "a"), drawField(t, "b")
		if rapid.Bool().Draw(t, "near") { // otherwise few would overlap
			b.Start = max(0, min(maxBits-1, a.Start+rapid.IntRange(-20, 20).Draw(t, "by")))
			if b.LastByte() >= maxBits/8 {
				t.Skip()
			}
		}
		shared := 0
		for bit := range bitsOf(&a) {
			if bitsOf(&b)[bit] {
				shared++
			}
		}
		_, err := Parse("map.yaml", []byte(fmt.Sprintf("%s  - id: 2\n    signals:\n      %s\n      %s\n", head, sourceOf(a), sourceOf(b))))
		if errors.Is(err, ErrOverlap) != (shared > 0) || (err != nil) != (shared > 0) {
			t.Fatalf("%d bits shared, error %v", shared, err)
		}
	})
}

func TestSelectorsExcludeAsTheirValuesDo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// p selects q, and p and q select x and y. Which payloads hold which?
		draw := func(name string, top int) []int {
			return rapid.SliceOfNDistinct(rapid.IntRange(0, top), 1, 3, rapid.ID[int]).Draw(t, name)
		}
		holds := func(list []int, v int) bool {
			for _, have := range list {
				if have == v {
					return true
				}
			}
			return false
		}
		q, xp, xq, yp, yq := draw("q", 3), draw("xp", 3), draw("xq", 3), draw("yp", 3), draw("yq", 3)
		both := false
		for p := 0; p < 4; p++ {
			for v := 0; v < 4; v++ {
				both = both || holds(q, p) && holds(xp, p) && holds(xq, v) && holds(yp, p) && holds(yq, v)
			}
		}
		// A signal that is in no payload shares its bits with no other.
		_, err := Parse("map.yaml", []byte(head+"  - id: 2\n    signals:\n"+
			"      p: {start: 0, length: 2}\n"+
			fmt.Sprintf("      q: {start: 2, length: 2, when: {p: [%s]}}\n", join(q))+
			fmt.Sprintf("      x: {start: 8, length: 8, when: {p: [%s], q: [%s]}}\n", join(xp), join(xq))+
			fmt.Sprintf("      y: {start: 8, length: 8, when: {p: [%s], q: [%s]}}\n", join(yp), join(yq))))
		if (err != nil) != both || both && !errors.Is(err, ErrOverlap) {
			t.Fatalf("together in a frame: %v, error: %v", both, err)
		}
	})
}

func join(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, ", ")
}

// Tag resolution follows the core schema, YAML 1.2.2 chapter 10.3.2. The examples are those of
// chapters 2.4 and 10.3.
func TestNumbersOfTheCoreSchema(t *testing.T) {
	for _, c := range []struct {
		text, decimal string
		whole         bool
	}{
		{"12345", "12345", true}, {"+12345", "12345", true}, {"0o14", "12", true}, {"0xC", "12", true},
		{"1.23015e+3", "1.23015e+3", false}, {"12.3015e+02", "12.3015e+02", false}, {"1230.15", "1230.15", false},
		{"0", "0", true}, {"0o7", "7", true}, {"0x3A", "58", true}, {"-19", "-19", true},
		{"0.", "0.", true}, {"-0.0", "-0.0", true}, {".5", ".5", false}, {"+12e03", "+12e03", true}, {"-2E+05", "-2E+05", true},
		{"007", "7", true}, {"18446744073709551615", "18446744073709551615", true},
	} {
		got, ok := (&node{text: c.text}).asNumber()
		if !ok || got.decimal != c.decimal || (got.whole != nil) != c.whole {
			t.Errorf("%q = %+v, %v; want %s, whole %v", c.text, got, ok, c.decimal, c.whole)
		}
	}
	for _, text := range []string{"", "0x", "0o8", "0b1", "-0x1", "1_000", "1e", "e3", ".", "+", "1.2.3", "12:30", ".inf", ".nan", "on", "yes", "~", "null", "true", "1 ", "９", strings.Repeat("1", longestNumber+1), strings.Repeat("9", 350)} {
		if got, ok := (&node{text: text}).asNumber(); ok {
			t.Errorf("%q is read as the number %+v", text, got)
		}
	}
	if _, ok := (&node{text: "1", quoted: true}).asNumber(); ok {
		t.Error("a number in quotes is a text")
	}
}

func TestNearWords(t *testing.T) {
	words := []string{"id", "start", "length", "battery_voltage", "battery_current", "on", "V"}
	for word, want := range map[string]string{
		"lenght": "length", "lengt": "length", "lenngth": "length", "lemgth": "length", "Length": "length",
		"battery-voltage": "battery_voltage", "batery voltge": "battery_voltage", "battery_currant": "battery_current",
		"idd": "id", "no": "", "x": "", "": "", "strat": "start", "stripe": "", "distance": "", "v": "V",
		strings.Repeat("x", 100): "",
	} {
		if got := nearest(word, words); got != want {
			t.Errorf("nearest(%q) = %q, want %q", word, got, want)
		}
	}
	if got := nearest("short", []string{strings.Repeat("y", 100)}); got != "" {
		t.Errorf("nearest of a very long word = %q", got)
	}
}
