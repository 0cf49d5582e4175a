package words_test

import (
	"strings"
	"testing"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
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
	m := sample.Map()
	some, none := sample.Side(m, "a.log", 0, tied(20, 9)...), sample.Side(m, "b.log", 1, tied(20, 0)...)
	for _, test := range []struct {
		c       *words.CompareReport
		verdict compare.Verdict
		want    string
	}{
		{sample.Compared("", some, none), compare.Better, "Restarts became faster, though not as a rule: the shift is 0 s ("},
		{sample.Compared("", none, some), compare.Worse, "Restarts became slower, though not as a rule: the shift is 0 s ("},
	} {
		k := test.c.Groups[0].Metrics[1]
		if k.Key != "restart_latency" || k.Shift.Value != 0 || k.Verdict != test.verdict {
			t.Fatalf("%s: %s, shift %v", k.Key, k.Verdict, k.Shift.Value)
		}
		if said := strings.Join(test.c.GroupAnswer(&test.c.Groups[0]), "\n"); !strings.Contains(said, test.want) {
			t.Errorf("%q is not in\n%s", test.want, said)
		}
	}
}

// 4 and 5 values that do not overlap: 2/C(9,4) = 1.587 %, and there are two metrics of
// them and more of other sizes.
func TestItIsSaidWhatSoFewValuesCannotShow(t *testing.T) {
	m := sample.Map()
	before, after := sample.Side(m, "a.log", 0, 0.5, 0.52, 0.54, 0.56), sample.Side(m, "b.log", 1, 0.6, 0.62, 0.64, 0.66, 0.68)
	for _, r := range []*words.Report{before, after} {
		for i := range r.Logs[0].Result.Episodes {
			e := &r.Logs[0].Result.Episodes[i]
			for _, key := range []string{"crank_to_run", "flare"} {
				e.Metrics = append(e.Metrics, analyze.MetricValue{Key: key, Value: e.Metrics[0].Value})
			}
		}
	}
	said := func() string {
		c := sample.Compared("", before, after)
		return strings.Join(c.GroupAnswer(&c.Groups[0]), "\n")
	}
	const want = "4 and 5 values cannot show a change of one metric alone: those that do not overlap at all come by chance in 1.587 % of cases, in up to 6.349 % for one of 4 metrics."
	if got := said(); strings.Count(got, want) != 1 || !strings.Contains(got, "Restart latency: no change shown; ") {
		t.Errorf("%q is not once in\n%s", want, got)
	}
	for _, r := range []*words.Report{before, after} {
		for i := range r.Logs[0].Result.Episodes {
			e := &r.Logs[0].Result.Episodes[i]
			e.Metrics = e.Metrics[:3]
		}
	}
	if got := said(); strings.Contains(got, "alone") || !strings.Contains(got, "Restarts became ") {
		t.Errorf("two metrics of 4 and 5 values can be told:\n%s", got)
	}
}
