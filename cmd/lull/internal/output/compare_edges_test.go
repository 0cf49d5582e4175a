package output

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/mattn/go-runewidth"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/pkg/stats"
)

// tied are values of which most are 0 and so many stand out.
func tied(n, standOut int) []float64 {
	values := make([]float64, n)
	for i := range standOut {
		values[i] = 0.4 + float64(i)/100
	}
	return values
}

func TestAChangeWithoutAShiftIsToldInTheSenseOfTheRanks(t *testing.T) {
	m := sampleMap()
	some, none := comparedSide(m, "a.log", 0, tied(20, 9)...), comparedSide(m, "b.log", 1, tied(20, 0)...)
	for _, test := range []struct {
		c       *CompareReport
		verdict compare.Verdict
		want    string
	}{
		{compared("", some, none), compare.Better, "Restarts became faster, though not as a rule: the shift is 0 s ("},
		{compared("", none, some), compare.Worse, "Restarts became slower, though not as a rule: the shift is 0 s ("},
	} {
		k := test.c.Groups[0].Metrics[1]
		if k.Key != "restart_latency" || k.Shift.Value != 0 || k.Verdict != test.verdict {
			t.Fatalf("%s: %s, shift %v", k.Key, k.Verdict, k.Shift.Value)
		}
		if said := strings.Join(test.c.answer(&test.c.Groups[0]), "\n"); !strings.Contains(said, test.want) {
			t.Errorf("%q is not in\n%s", test.want, said)
		}
	}
}

func TestAComparisonOfNoEpisodesByKindsIsWholeAndSaysSo(t *testing.T) {
	m := sampleMap()
	c := compared(compare.ByOutcome, comparedSide(m, "a.log", 0), comparedSide(m, "b.log", 1))
	var doc, table, md bytes.Buffer
	for _, err := range []error{c.WriteJSON(&doc), c.WriteTable(&table, Style{Width: 80}), c.WriteMarkdown(&md)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if !strings.Contains(doc.String(), `"groups": []`) {
		t.Errorf("no empty list of groups in\n%s", doc.String())
	}
	valid(t, schemaOf(t, "compare"), doc.Bytes())
	for name, text := range map[string]string{"table": table.String(), "markdown": md.String()} {
		if strings.Count(text, nothingCompared) != 1 {
			t.Errorf("%s does not say once that nothing is compared:\n%s", name, text)
		}
	}
}

func TestTablesOfComparisonsFitNarrowAndWideTerminals(t *testing.T) {
	m := sampleMap()
	// Wide figures: a long metric name, a verdict of three words, a wide interval.
	before := comparedSide(m, "a.log", 0, 1000.0625, 1200.125, 1400.5, 1600.25, 1000.75)
	after := comparedSide(m, "b.log", 1, 1000.5, 1230.125, 1470.5, 1590.25, 1010.75)
	for _, r := range []*Report{before, after} {
		for i := range r.Logs[0].Result.Episodes {
			r.Logs[0].Result.Episodes[i].Metrics[0].Key = "hold_pressure_min"
		}
	}
	for _, width := range []int{60, 80, 200} {
		for _, style := range []Style{{Width: width}, {Width: width, Colour: true}} {
			var b bytes.Buffer
			if err := compared("", before, after).WriteTable(&b, style); err != nil {
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
	m := sampleMap()
	m.Conditions = []int{0, 1}
	before, after := comparedSide(m, "a.log", 0, 1, 2, 3), comparedSide(m, "b.log", 1, 1, 2)
	for i := range after.Logs[0].Result.Episodes {
		after.Logs[0].Result.Episodes[i].AtStop[1].Value = 60
	}
	var b bytes.Buffer
	if err := compared("", before, after).WriteMarkdown(&b); err != nil {
		t.Fatal(err)
	}
	for _, start := range []string{"Not driven alike: ", "Driven alike as to: "} {
		if !strings.Contains(b.String(), "\n\n"+start) {
			t.Errorf("%q begins no paragraph in\n%s", start, b.String())
		}
	}
}

// 4 and 5 values that do not overlap: 2/C(9,4) = 1.587 %, and there are two metrics of
// them and more of other sizes.
func TestItIsSaidWhatSoFewValuesCannotShow(t *testing.T) {
	m := sampleMap()
	before, after := comparedSide(m, "a.log", 0, 0.5, 0.52, 0.54, 0.56), comparedSide(m, "b.log", 1, 0.6, 0.62, 0.64, 0.66, 0.68)
	for _, r := range []*Report{before, after} {
		for i := range r.Logs[0].Result.Episodes {
			e := &r.Logs[0].Result.Episodes[i]
			for _, key := range []string{"crank_to_run", "flare"} {
				e.Metrics = append(e.Metrics, analyze.MetricValue{Key: key, Value: e.Metrics[0].Value})
			}
		}
	}
	said := func() string {
		c := compared("", before, after)
		return strings.Join(c.answer(&c.Groups[0]), "\n")
	}
	const want = "4 and 5 values cannot show a change of one metric alone: those that do not overlap at all come by chance in 1.587 % of cases, in up to 6.349 % for one of 4 metrics."
	if got := said(); strings.Count(got, want) != 1 || !strings.Contains(got, "Restart latency: no change shown; ") {
		t.Errorf("%q is not once in\n%s", want, got)
	}
	for _, r := range []*Report{before, after} {
		for i := range r.Logs[0].Result.Episodes {
			e := &r.Logs[0].Result.Episodes[i]
			e.Metrics = e.Metrics[:3]
		}
	}
	if got := said(); strings.Contains(got, "alone") || !strings.Contains(got, "Restarts became ") {
		t.Errorf("two metrics of 4 and 5 values can be told:\n%s", got)
	}
}

func TestAStripIsDrawnInASCIIWhereTheTerminalHasNoMore(t *testing.T) {
	s := compare.Sample{Values: []float64{0, 4, 4, 9, 9, 9, 20}}
	s.Summary, _ = stats.Summarize(s.Values)
	for _, test := range []struct {
		style Style
		want  string
	}{
		{Style{Width: 80}, ".   :----|          ."},
		{Style{Width: 80, Unicode: true}, "·   :────┃          ·"},
	} {
		draw := stripOf(test.style)
		if diff := cmp.Diff(test.want, draw.draw(s, 0, 20, 21)); diff != "" {
			t.Error(diff)
		}
		for _, mark := range []rune{draw.median, draw.middle, draw.one, draw.two, draw.more} {
			if !strings.ContainsRune(draw.legend(), mark) {
				t.Errorf("the legend %q lacks %c", draw.legend(), mark)
			}
		}
		var b bytes.Buffer
		if err := comparedSamples()["compare"].WriteTable(&b, test.style); err != nil {
			t.Fatal(err)
		}
		if ascii := !strings.ContainsFunc(b.String(), func(r rune) bool { return r > 0x7F }); ascii == test.style.Unicode {
			t.Errorf("unicode %v, but all ASCII %v", test.style.Unicode, ascii)
		}
	}
}
