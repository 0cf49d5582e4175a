package table

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/mattn/go-runewidth"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/pkg/stats"
)

func TestTablesOfComparisonsFitNarrowAndWideTerminals(t *testing.T) {
	m := sample.Map()
	// Wide figures: a long metric name, a verdict of three words, a wide interval.
	before := sample.Side(m, "a.log", 0, 1000.0625, 1200.125, 1400.5, 1600.25, 1000.75)
	after := sample.Side(m, "b.log", 1, 1000.5, 1230.125, 1470.5, 1590.25, 1010.75)
	for _, r := range []*words.Report{before, after} {
		for i := range r.Logs[0].Result.Episodes {
			r.Logs[0].Result.Episodes[i].Metrics[0].Key = "hold_pressure_min"
		}
	}
	for _, width := range []int{60, 80, 200} {
		for _, style := range []Style{{Width: width}, {Width: width, Colour: true}} {
			var b bytes.Buffer
			if err := WriteComparison(&b, sample.Compared("", before, after), style); err != nil {
				t.Fatal(err)
			}
			for _, line := range strings.Split(b.String(), "\n") {
				if w := runewidth.StringWidth(plain(line)); w > width {
					t.Errorf("%d columns where there are %d: %s", w, width, line)
				}
			}
			if shows := strings.Contains(b.String(), "percentage points"); width >= 80 && !shows {
				t.Errorf("%d columns have no room for the rates' difference:\n%s", width, b.String())
			}
		}
	}
}

func TestWhatWasNotDrivenAlikeIsNoRowOfTheMarkdownTable(t *testing.T) {
	m := sample.Map()
	m.Circumstances = []int{0, 1}
	before, after := sample.Side(m, "a.log", 0, 1, 2, 3), sample.Side(m, "b.log", 1, 1, 2)
	for i := range after.Logs[0].Result.Episodes {
		after.Logs[0].Result.Episodes[i].AtStop[1].Value = 60
	}
	var b bytes.Buffer
	if err := WriteComparisonMarkdown(&b, sample.Compared("", before, after)); err != nil {
		t.Fatal(err)
	}
	for _, start := range []string{"Not alike on both sides: ", "Alike on both sides: "} {
		if !strings.Contains(b.String(), "\n\n"+start) {
			t.Errorf("%q begins no paragraph in\n%s", start, b.String())
		}
	}
}

func TestAStripIsDrawnInASCIIWhereTheTerminalHasNoMore(t *testing.T) {
	s := compare.Sample{Values: []float64{0, 4, 4, 9, 9, 9, 20}}
	s.Summary, _ = stats.Summarize(s.Values)
	for _, test := range []struct {
		style Style
		want  string
	}{
		{Style{Width: 80}, ".   :----|     X    ."},
		{Style{Width: 80, Unicode: true}, "·   :────┃     ╳    ·"},
	} {
		draw := stripOf(test.style)
		if diff := cmp.Diff(test.want, draw.draw(s, words.Scale{High: 20, Limits: []float64{15, 9}}, 21)); diff != "" {
			t.Error(diff)
		}
		for _, mark := range []rune{draw.median, draw.middle, draw.one, draw.two, draw.more, draw.limit} {
			if !strings.ContainsRune(draw.legend(), mark) {
				t.Errorf("the legend %q lacks %c", draw.legend(), mark)
			}
		}
		var b bytes.Buffer
		if err := WriteComparison(&b, sample.Comparisons()["compare"], test.style); err != nil {
			t.Fatal(err)
		}
		if ascii := !strings.ContainsFunc(b.String(), func(r rune) bool { return r > 0x7F }); ascii == test.style.Unicode {
			t.Errorf("unicode %v, but all ASCII %v", test.style.Unicode, ascii)
		}
	}
}

func TestComparisonsAreAsTheGoldenFilesShow(t *testing.T) {
	for name, c := range sample.Comparisons() {
		if name == "compare_odd" {
			continue // three hundred digits fit no table
		}
		var table, md bytes.Buffer
		if err := WriteComparison(&table, c, Style{Width: 80}); err != nil {
			t.Fatal(err)
		}
		sample.Golden(t, *update, name+"80.txt", table.Bytes())
		for _, line := range strings.Split(table.String(), "\n") {
			if len(line) > 80 {
				t.Errorf("%s: wider than 80 columns: %s", name, line)
			}
		}
		if name == "compare" {
			if err := WriteComparisonMarkdown(&md, c); err != nil {
				t.Fatal(err)
			}
			sample.Golden(t, *update, name+".md", md.Bytes())
		}
	}
}

func TestAComparisonOfNoEpisodesByKindsSaysSo(t *testing.T) {
	m := sample.Map()
	c := sample.Compared(compare.ByOutcome, sample.Side(m, "a.log", 0), sample.Side(m, "b.log", 1))
	var table, md bytes.Buffer
	for _, err := range []error{WriteComparison(&table, c, Style{Width: 80}), WriteComparisonMarkdown(&md, c)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for name, text := range map[string]string{"table": table.String(), "markdown": md.String()} {
		if strings.Count(text, words.NothingCompared) != 1 {
			t.Errorf("%s does not say once that nothing is compared:\n%s", name, text)
		}
	}
}
