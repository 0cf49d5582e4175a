package onelog_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/decode"
)

// The counter of starter operations, held against the operations seen.
func TestStarterCounter(t *testing.T) {
	for _, test := range []struct {
		name, drive string
		want        analyze.Starter
	}{
		{"agrees", "count @100ms: 0s=7 20.15s=8 40.15s=9",
			analyze.Starter{Restart: 2, First: 7, Last: 9, Step: 2, Agrees: true}},
		{"missed one", "count @100ms: 0s=7 20.15s=8",
			analyze.Starter{Restart: 2, First: 7, Last: 8, Step: 1}},
		{"counted one that was not seen", "count @100ms: 0s=7 20.15s=8 25s=9 40.15s=10",
			analyze.Starter{Restart: 2, First: 7, Last: 10, Step: 3}},
		{"runs over its width's end", "count @100ms: 0s=255 20.15s=0 40.15s=1",
			analyze.Starter{Restart: 2, First: 255, Last: 1, Step: 2, Agrees: true}},
		{"a reset is no step over the end", "count @100ms: 0s=200 20.15s=201 25s=0 40.15s=1",
			analyze.Starter{Restart: 2, First: 200, Last: 1, Step: -199, Resets: []analyze.CounterReset{{From: 201, To: 0, Time: 25e9}}}},
		{"the last operation within two periods of the last reading may be missing", "count @1s: 0s=7 20.15s=8\nend: 41.9s",
			analyze.Starter{Restart: 2, First: 7, Last: 8, Step: 1, Agrees: true, After: 1}},
		{"or be counted", "count @1s: 0s=7 20.15s=8 40.9s=9\nend: 41.9s",
			analyze.Starter{Restart: 2, First: 7, Last: 9, Step: 2, Agrees: true}},
		{"before two periods it may not", "count @1s: 0s=7 20.15s=8\nend: 43s",
			analyze.Starter{Restart: 2, First: 7, Last: 8, Step: 1}},
		{"first read between the two", "count @100ms: 25s=8 40.15s=9",
			analyze.Starter{Restart: 2, First: 8, Last: 9, Step: 1, Agrees: true}},
		{"was seen last before one", "count @100ms: 0s=7 20.15s=8 39s=-",
			analyze.Starter{Restart: 2, First: 7, Last: 8, Step: 1, Agrees: true, After: 1}},
		{"absent", "", analyze.Starter{Restart: 2, Absent: analyze.NoSignal{Role: decode.StarterCount}}},
		{"never seen", "count:", analyze.Starter{Restart: 2, Absent: analyze.NeverSeen{Signal: "count", Role: decode.StarterCount}}},
		{"the log's time runs back between", "count @100ms: 0s=7 20.15s=8 40.15s=9\nback: 27s by 26s",
			analyze.Starter{Restart: 2, First: 7, Last: 9, Step: 2, Agrees: true}},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, restarts+test.drive, "")
			res := d.run()
			if diff := cmp.Diff(test.want, res.Starter); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			var codes []string
			for _, f := range res.Findings {
				if strings.HasPrefix(f.Code, "counter") {
					codes = append(codes, f.Code)
				}
			}
			want := ""
			switch {
			case test.want.Absent != nil || test.want.Agrees:
			case test.want.Step < 0:
				want = "counter_reset"
			default:
				want = "counter_disagrees"
			}
			if got := strings.Join(codes, " "); got != want {
				t.Errorf("findings %q, want %q", got, want)
			}
		})
	}
}
