package table

import (
	"bytes"
	"strings"
	"testing"
	"unicode"

	"lull/cmd/lull/internal/sample"
	"lull/decode"
)

func TestTheBitsOfAMapAreDrawn(t *testing.T) {
	var plainText, drawn bytes.Buffer
	if err := WriteMapBits(&plainText, sample.Entries(), Style{Width: 80}); err != nil {
		t.Fatal(err)
	}
	sample.Golden(t, *update, "map80.txt", plainText.Bytes())
	for _, line := range strings.Split(plainText.String(), "\n") {
		if len(line) > 80 {
			t.Errorf("wider than 80: %q", line)
		}
		for _, r := range line {
			if r > unicode.MaxASCII {
				t.Errorf("not ASCII: %q", line)
			}
		}
	}
	if err := WriteMapBits(&drawn, sample.Entries(), Style{Width: 80, Unicode: true}); err != nil {
		t.Fatal(err)
	}
	if got := strings.ReplaceAll(drawn.String(), "━", "="); got != plainText.String() {
		t.Errorf("the drawing differs by more than its line:\n%s", got)
	}
}

func TestFieldBitsRunAsTheBusSendsThem(t *testing.T) {
	for _, c := range []struct {
		signal decode.Signal
		want   []int
	}{
		{decode.Signal{Start: 6, Length: 4}, []int{6, 7, 8, 9}},
		// Big endian from bit 1 of byte 0: bits 1 and 0 of byte 0 are the most
		// significant, then 7 and 6 of byte 1.
		{decode.Signal{Start: 1, Length: 4, BigEndian: true}, []int{14, 15, 0, 1}},
	} {
		got := fieldBits(&c.signal)
		for i := range c.want {
			if got[i] != c.want[i] {
				t.Errorf("%+v: %v, want %v", c.signal, got, c.want)
				break
			}
		}
	}
}
