package table

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/mattn/go-runewidth"

	"lull/analyze/census"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
)

func TestFramesTableKeepsItsWidth(t *testing.T) {
	for _, width := range []int{60, 80, 100, 160} {
		var b bytes.Buffer
		for _, f := range []*words.Frames{sample.Frames(), sample.NamedFrames(), sample.NamedFrames(words.WantedID{ID: 0x0CF00400}), sample.FramesAgainst()} {
			if err := WriteFrames(&b, f, Style{Width: width}); err != nil {
				t.Fatal(err)
			}
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if w := runewidth.StringWidth(line); w > width {
				t.Errorf("%d columns of %d: %s", w, width, line)
			}
		}
	}
}

func TestBitsAreWrittenInRuns(t *testing.T) {
	bits := func(from, to int) []int {
		var list []int
		for i := from; i <= to; i++ {
			list = append(list, i)
		}
		return list
	}
	for _, test := range []struct {
		changing []int
		want     string
	}{
		{nil, "none"},
		{[]int{0}, "0:0"},
		{[]int{7, 8}, "0:7 1:0"},
		{[]int{0, 2, 3, 7}, "0:0,2-3,7"},
		{bits(8, 15), "1"},
		{bits(8, 31), "1-3"},
		{bits(0, 511), "0-63"},
		{slices.Concat(bits(0, 7), bits(12, 23)), "0 1:4-7 2"},
	} {
		if got := bitsText(&census.ID{Count: 1, Changing: test.changing}); got != test.want {
			t.Errorf("%v: %q, want %q", test.changing, got, test.want)
		}
	}
}

func TestFramesAreAsTheGoldenFilesShow(t *testing.T) {
	empty := &words.Frames{Logs: []words.FramesLog{{Name: "e.log", Result: &census.Result{}}}}
	for _, test := range []struct {
		file   string
		frames *words.Frames
		style  Style
	}{
		{"frames80.txt", sample.Frames(), Style{Width: 80}},
		{"frames160.txt", sample.Frames(), Style{Width: 160}},
		{"frames_colour80.txt", sample.ManyFrames(), Style{Width: 80, Colour: true, Unicode: true}},
		{"frames_empty80.txt", empty, Style{Width: 80}},
		{"frames_named80.txt", sample.NamedFrames(), Style{Width: 80}},
		{"frames_bytes60.txt", sample.NamedFrames(words.WantedID{ID: 0x0CF00400, Long: true}, words.WantedID{ID: 0x18FEF117}), Style{Width: 60}},
		{"frames_bytes160.txt", sample.NamedFrames(words.WantedID{ID: 0x0CF00400}), Style{Width: 160, Colour: true}},
		{"frames_against60.txt", sample.FramesAgainst(), Style{Width: 60}},
		{"frames_against80.txt", sample.FramesAgainst(), Style{Width: 80}},
		{"frames_against160.txt", sample.FramesAgainst(), Style{Width: 160, Colour: true}},
	} {
		var b bytes.Buffer
		if err := WriteFrames(&b, test.frames, test.style); err != nil {
			t.Fatal(err)
		}
		sample.Golden(t, *update, test.file, b.Bytes())
	}
	if err := WriteFrames(full{}, sample.Frames(), Style{Width: 80}); !errors.Is(err, io.ErrShortWrite) {
		t.Errorf("a full writer: %v", err)
	}
}
