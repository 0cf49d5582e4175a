package trace

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/conditions"
)

// A window of 0..1000 with columns of 100.
func TestStretchesNarrowerThanAColumnAreJoinedAndLoseNothingTrue(t *testing.T) {
	type change struct {
		at    int64
		state analyze.Truth
	}
	for _, test := range []struct {
		name    string
		changes []change
		want    []analyze.Stretch
	}{
		{"one", []change{{0, analyze.False}}, []analyze.Stretch{{From: 0, To: 1000, State: analyze.False}}},
		{"wide ones stay", []change{{0, analyze.False}, {300, analyze.True}, {700, analyze.False}},
			[]analyze.Stretch{{From: 0, To: 300, State: analyze.False}, {From: 300, To: 700, State: analyze.True}, {From: 700, To: 1000, State: analyze.False}}},
		{"as wide as a column stays", []change{{0, analyze.False}, {300, analyze.True}, {400, analyze.False}, {500, analyze.True}},
			[]analyze.Stretch{{From: 0, To: 300, State: analyze.False}, {From: 300, To: 400, State: analyze.True}, {From: 400, To: 500, State: analyze.False}, {From: 500, To: 1000, State: analyze.True}}},
		{"a narrow one between wide ones stays", []change{{0, analyze.False}, {300, analyze.True}, {310, analyze.False}},
			[]analyze.Stretch{{From: 0, To: 300, State: analyze.False}, {From: 300, To: 310, State: analyze.True}, {From: 310, To: 1000, State: analyze.False}}},
		{"narrow ones beside each other are one, true where one was", []change{{0, analyze.False}, {300, analyze.True}, {310, analyze.False}, {320, analyze.True}, {330, analyze.False}},
			[]analyze.Stretch{{From: 0, To: 300, State: analyze.False}, {From: 300, To: 330, State: analyze.True}, {From: 330, To: 1000, State: analyze.False}}},
		{"... also where the true one is the later", []change{{0, analyze.True}, {300, analyze.Unknown}, {310, analyze.False}, {320, analyze.True}, {330, analyze.False}},
			[]analyze.Stretch{{From: 0, To: 300, State: analyze.True}, {From: 300, To: 330, State: analyze.True}, {From: 330, To: 1000, State: analyze.False}}},
		{"... and the same state goes on, however wide", []change{{0, analyze.False}, {300, analyze.True}, {360, analyze.False}, {400, analyze.True}, {460, analyze.False}},
			[]analyze.Stretch{{From: 0, To: 300, State: analyze.False}, {From: 300, To: 460, State: analyze.True}, {From: 460, To: 1000, State: analyze.False}}},
		{"... but no other once it is as wide as a column", []change{{0, analyze.False}, {300, analyze.Unknown}, {360, analyze.True}, {400, analyze.False}, {460, analyze.True}},
			[]analyze.Stretch{{From: 0, To: 300, State: analyze.False}, {From: 300, To: 400, State: analyze.True}, {From: 400, To: 460, State: analyze.False}, {From: 460, To: 1000, State: analyze.True}}},
	} {
		var log conditions.TruthLog
		for _, c := range test.changes {
			log.Add(c.at, c.state)
		}
		got := stretches([]conditions.TruthLog{log}, &tracing{Window: analyze.Window{From: 0, To: 1000}, width: 100})
		if diff := cmp.Diff([][]analyze.Stretch{test.want}, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
}

// A line is broken where the break is seen: after more than two columns without a point.
func TestALineIsBrokenOnlyWhereTheBreakCanBeSeen(t *testing.T) {
	for _, test := range []struct {
		name   string
		before []int64
		at     int64
		broken bool
	}{
		{"nothing before", nil, 1500, false},
		{"far behind the point before the window", []int64{500}, 1050, true},
		{"close behind it", []int64{950}, 1050, false},
		{"two columns after the last point", []int64{500, 1100}, 1300, false},
		{"a little more", []int64{500, 1100}, 1301, true},
		{"after the last of many", []int64{500, 1010, 1020, 1400}, 1500, false},
	} {
		k := newThinner(analyze.Window{From: 1000, To: 2000, Columns: 10}, 100)
		for _, at := range test.before {
			k.add(analyze.TracePoint{T: at})
		}
		k.add(analyze.TracePoint{T: test.at, Break: true})
		points := k.finish()
		if got := points[len(points)-1]; got.T != test.at || got.Break != test.broken {
			t.Errorf("%s: %+v, want a break: %t", test.name, got, test.broken)
		}
	}
}
