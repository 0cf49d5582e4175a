package words_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
)

// What was tried is told over all measured logs, and what was not is named with what
// would bring it about.
func TestWhatWasTriedIsToldOverAllLogs(t *testing.T) {
	result := func(requests, inhibits []analyze.Tried, minds int, signals ...analyze.Extent) *analyze.Result {
		return &analyze.Result{EngineSpeedSeen: true, Exercised: analyze.Exercised{Requests: requests, Inhibits: inhibits, ChangesOfMind: minds, Signals: signals}}
	}
	type tried = []analyze.Tried
	for _, test := range []struct {
		name string
		logs []*analyze.Result
		want []string
	}{
		{"two logs", []*analyze.Result{
			result(tried{{Caused: 1}, {}}, tried{{}, {Caused: 2}}, 1, analyze.Extent{Signal: 0, Seen: true, Min: 20, Max: 60}, analyze.Extent{Signal: 1, Seen: true}, analyze.Extent{Signal: 2}),
			result(tried{{Caused: 1}, {Also: 1}}, tried{{Also: 3}, {}}, 1, analyze.Extent{Signal: 0, Seen: true, Min: 50, Max: 90}, analyze.Extent{Signal: 1}, analyze.Extent{Signal: 2, Seen: true, Min: 4, Max: 4}),
		}, []string{
			"asked for a restart: brake released twice",
			"kept the engine running: cabin demand twice",
			"asked for a restart before the engine had stopped turning: twice",
			"values seen: coolant 20 to 90 degC, cabin_error 4 K",
			"not covered: battery low (not (cabin_error above 5 K)), true only beside others; coolant cold (coolant below 40 degC), true only beside others",
		}},
		{"nothing", []*analyze.Result{result(nil, nil, 0)}, []string{
			"asked for a restart: none of the signal map's conditions",
			"kept the engine running: none of the signal map's conditions",
			"not covered: brake released (ac is off); battery low (not (cabin_error above 5 K)); coolant cold (coolant below 40 degC); " +
				"cabin demand (ac is on and (cabin_error above 3 K or cabin_error below -3 K)); a change of mind (ask for a restart while the engine slows down)",
		}},
		{"everything", []*analyze.Result{result(tried{{Caused: 1}, {Caused: 1}}, tried{{Caused: 1}, {Caused: 1}}, 1)}, []string{
			"asked for a restart: brake released once, battery low once",
			"kept the engine running: coolant cold once, cabin demand once",
			"asked for a restart before the engine had stopped turning: once",
		}},
		{"no engine speed", []*analyze.Result{{}}, nil},
	} {
		r := &words.Report{Map: sample.Map()}
		for _, res := range test.logs {
			r.Logs = append(r.Logs, words.Log{Result: res})
		}
		if diff := cmp.Diff(test.want, r.Tried()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
	r := &words.Report{Map: sample.Map(), Logs: []words.Log{{Result: &analyze.Result{EngineSpeedSeen: true}}}}
	r.Map.Requests, r.Map.Inhibits = nil, nil
	if lines := r.Tried(); lines != nil {
		t.Errorf("a map without conditions: %q", lines)
	}
}
