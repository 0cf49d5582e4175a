package table

import (
	"bytes"
	"testing"

	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
)

func TestAccountsAreAsTheGoldenFilesShow(t *testing.T) {
	for _, c := range []struct {
		name   string
		report *words.Report
		style  Style
	}{
		{"starter80.txt", sample.Starter(), Style{Width: 80}},
		{"starter160.txt", sample.Starter(), Style{Width: 160, Unicode: true, Colour: true}},
		{"starter_unknown80.txt", sample.UnknownStarter(), Style{Width: 80}},
	} {
		var b bytes.Buffer
		if err := WriteStarter(&b, words.NewStarterReport(c.report), c.style); err != nil {
			t.Fatal(err)
		}
		sample.Golden(t, *update, c.name, b.Bytes())
	}
}
