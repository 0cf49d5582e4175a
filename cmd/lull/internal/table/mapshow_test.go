package table

import (
	"bytes"
	"strings"
	"testing"
	"unicode"

	"lull/cmd/lull/internal/sample"
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
