package table

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/mattn/go-runewidth"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

var update = flag.Bool("update", false, "write the golden files anew")

func TestEveryFormatIsAsTheGoldenFilesShow(t *testing.T) {
	full, empty := sample.Report(), sample.Empty()
	wide := Style{Width: 160, Unicode: true}
	coloured := Style{Width: 80, Colour: true}
	for _, c := range []struct {
		name  string
		write func(*bytes.Buffer) error
	}{
		{"episodes.md", func(b *bytes.Buffer) error { return WriteMarkdown(b, full, words.Episodes) }},
		{"standstills.md", func(b *bytes.Buffer) error { return WriteMarkdown(b, full, words.Standstills) }},
		{"episodes80.txt", func(b *bytes.Buffer) error { return Write(b, full, words.Episodes, Style{Width: 80}) }},
		{"episodes160.txt", func(b *bytes.Buffer) error { return Write(b, full, words.Episodes, wide) }},
		{"colour80.txt", func(b *bytes.Buffer) error { return Write(b, full, words.Episodes, coloured) }},
		{"standstills80.txt", func(b *bytes.Buffer) error { return Write(b, full, words.Standstills, Style{Width: 80}) }},
		{"standstills160.txt", func(b *bytes.Buffer) error { return Write(b, full, words.Standstills, wide) }},
		{"empty80.txt", func(b *bytes.Buffer) error { return Write(b, empty, words.Episodes, Style{Width: 80}) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.write(&b); err != nil {
				t.Fatal(err)
			}
			sample.Golden(t, *update, c.name, b.Bytes())
		})
	}
}

// What broke its limit is shown before the bounds of what did not, and in its tone.
func TestTheMetricThatBrokeItsLimitIsShownBeforeBounds(t *testing.T) {
	r := sample.Report()
	for i := range r.Logs[0].Result.Episodes {
		for _, v := range r.Logs[0].Result.Episodes[i].Limits {
			if v.Verdict == analyze.Outside && v.Limit.Metric == "crank_to_run" {
				t.Fatalf("the sample breaks %s already", v.Limit.Metric)
			}
		}
	}
	titles := func(width int) (list []string, tone words.Tone) {
		grid := EpisodeGrid(r, r.Logs[0].Result)
		grid = grid.fit(width)
		for i, c := range grid.Columns {
			list = append(list, c.Title)
			if c.Title == "crank s" {
				tone = grid.Rows[0][i].Tone
			}
		}
		return list, tone
	}
	if before, _ := titles(90); slices.Contains(before, "crank s") {
		t.Fatalf("shown anyway: %q", before)
	}
	e := &r.Logs[0].Result.Episodes[0]
	e.Limits = append(e.Limits, analyze.LimitVerdict{Limit: decode.Limit{Metric: "crank_to_run", HasMax: true, Max: 0.1}, Verdict: analyze.Outside})
	if after, tone := titles(90); !slices.Contains(after, "crank s") || tone != words.Bad {
		t.Errorf("%q, tone %q", after, tone)
	}
}

func TestTheTableIsNoWiderThanTheOutput(t *testing.T) {
	r := sample.Report()
	for width := 40; width <= 200; width += 8 {
		for _, kind := range []words.Kind{words.Episodes, words.Standstills} {
			var b bytes.Buffer
			if err := Write(&b, r, kind, Style{Width: width, Unicode: true}); err != nil {
				t.Fatal(err)
			}
			for _, line := range strings.Split(b.String(), "\n") {
				if w := runewidth.StringWidth(line); w > max(width, 46) { // three columns always stay
					t.Errorf("width %d: a line of %d: %q", width, w, line)
				}
			}
		}
	}
}

func TestColourOnlyAddsToWords(t *testing.T) {
	r := sample.Report()
	for _, kind := range []words.Kind{words.Episodes, words.Standstills} {
		var with, without bytes.Buffer
		if err := Write(&with, r, kind, Style{Width: 100, Colour: true}); err != nil {
			t.Fatal(err)
		}
		if err := Write(&without, r, kind, Style{Width: 100}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(with.String(), "\x1b[") {
			t.Error("no colour where it was asked for")
		}
		if diff := cmp.Diff(without.String(), plain(with.String())); diff != "" {
			t.Errorf("colour changes the text:\n%s", diff)
		}
	}
}

// A writer that is full fails each format.
func TestEveryFormatPassesOnTheFaultOfItsWriter(t *testing.T) {
	r := sample.Report()
	standstills := StandstillGrid(r, r.Logs[0].Result)
	for name, write := range map[string]func() error{
		"table":    func() error { return Write(full{}, r, words.Episodes, Style{Width: 80}) },
		"markdown": func() error { return WriteMarkdown(full{}, r, words.Standstills) },
		"map":      func() error { return WriteMapBits(full{}, sample.Map(), Style{Width: 80}) },
		"metrics":  func() error { return WriteMetrics(full{}, measure.Metrics, Style{Width: 80}) },
		"grid":     func() error { return standstills.write(full{}, Style{Width: 80}) },
	} {
		if err := write(); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestTextBreaksAtBlanksOnly(t *testing.T) {
	for _, c := range []struct{ in, first, indent, want string }{
		{"one two three", "", "", "one two\nthree"},
		{"one two three", "- ", "  ", "- one two\n  three"},
		{"unbreakable-word x", "", "", "unbreakable-word\nx"},
		{"", "  ", "  ", ""},
		{"\x1b[31mone\x1b[0m two three", "", "", "\x1b[31mone\x1b[0m two\nthree"},
	} {
		if got := WrapHanging(c.in, 9, c.first, c.indent); got != c.want {
			t.Errorf("%q: %q, want %q", c.in, got, c.want)
		}
	}
}
