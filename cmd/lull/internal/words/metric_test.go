package words_test

import (
	"strings"
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func TestStartsAreWrittenByTheirKindOfStamp(t *testing.T) {
	const ns = 1772442900123456789
	for _, c := range []struct {
		stamps  decode.Stamps
		digits  int
		hasTime bool
		want    any
	}{
		{decode.StampsAbsolute, 6, true, "2026-03-02T09:15:00.123456Z"},
		{decode.StampsAbsolute, 9, true, "2026-03-02T09:15:00.123456789Z"},
		{decode.StampsDate, 6, true, "2026-03-02T09:15:00.123456"},
		{decode.StampsZero, 6, true, nil},
		{decode.StampsDelta, 6, true, nil},
		{decode.StampsNone, 0, false, nil},
		{decode.StampsAbsolute, 6, false, nil},
	} {
		got, ok := words.StartText(&analyze.Result{HasTime: c.hasTime, Start: ns, Info: decode.Info{Stamps: c.stamps, StampDigits: c.digits}})
		var have any
		if ok {
			have = got
		}
		if have != c.want {
			t.Errorf("%v with %d digits: %v, want %v", c.stamps, c.digits, have, c.want)
		}
	}
}

// The time between two wide instants may reach below 0 as a difference. Text says 0, as
// the one follows the other. How long after its standstill an engine was stopped can be
// less than 0: it was stopped while rolling.
func TestNoTimeIsToldAsLessThanNothing(t *testing.T) {
	for _, c := range []struct {
		m    analyze.MetricValue
		want string
	}{
		{sample.Valued("crank_to_run", "s", -3.4, 0.4, 7.1), "0.4 s (0.0 to 7.1)"},
		{sample.Valued("request_to_crank", "s", -0.05, -0.01, 0.03), "0.000 s (0.000 to 0.030)"},
		{sample.Valued("crank_to_run", "s", 0.39, 0.4, 0.41), "0.400 s (0.390 to 0.410)"},
		{sample.Valued("take_off_shock", "m/s3", -3, 1, 5), "1.0 m/s3 (-3.0 to 5.0)"},
		{sample.Valued("stop_delay", "s", -0.4, -0.3, -0.2), "-0.30 s (-0.40 to -0.20)"},
	} {
		if got, ok := words.MetricText(c.m); got != c.want || !ok {
			t.Errorf("%s: %q, want %q", c.m.Key, got, c.want)
		}
		value, _, _ := strings.Cut(c.want, " s (")
		if got := words.WithBounds([]analyze.MetricValue{c.m}, c.m.Key); c.m.Unit == "s" && !strings.HasPrefix(got, value+" (") {
			t.Errorf("%s in a table: %q, want %q", c.m.Key, got, c.want)
		}
	}
}
