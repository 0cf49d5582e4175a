package compare_test

import (
	"testing"

	"lull/analyze"
	"lull/analyze/compare"
)

// One value against 79 that all lie above it: 2 of 80 arrangements are that far out,
// and of two such metrics each counts twice. Just 0.05 shows nothing.
func TestAProbabilityOfJustTheLevelShowsNoChange(t *testing.T) {
	var many []float64
	for i := range 79 {
		many = append(many, 2+float64(i))
	}
	for metrics, want := range map[int]compare.Verdict{1: compare.Worse, 2: compare.NoChangeShown} {
		m := testMap()
		before, after := side(m, "a", "restart_latency", 1), side(m, "bb", "restart_latency", many...)
		for _, s := range []compare.Side{before, after} {
			for i := range s.Logs[0].Result.Episodes {
				e := &s.Logs[0].Result.Episodes[i]
				for k := range e.Metrics {
					if e.Metrics[k].Key == "crank_to_run" && metrics > 1 {
						e.Metrics[k].Absent, e.Metrics[k].Best = nil, 1
						if len(s.Logs[0].Result.Episodes) > 1 {
							e.Metrics[k].Best = many[i]
						}
					}
				}
			}
		}
		c := compare.New(before, after, compare.ByNothing)
		if len(c.Groups[0].Metrics) != metrics {
			t.Fatalf("%d metrics are compared, want %d", len(c.Groups[0].Metrics), metrics)
		}
		for _, k := range c.Groups[0].Metrics {
			if k.PHolm != 0.025*float64(metrics) || k.Verdict != want {
				t.Errorf("%s of %d: %v, %s; want %v, %s", k.Key, metrics, k.PHolm, k.Verdict, 0.025*float64(metrics), want)
			}
		}
	}
}

func TestASecondTryCountsAsAFailedStart(t *testing.T) {
	m := testMap()
	before, after := side(m, "a", "restart_latency", 1, 2, 3), side(m, "bb", "restart_latency", 1, 2, 3)
	for tries, e := range before.Logs[0].Result.Episodes {
		before.Logs[0].Result.Episodes[tries].Cranks = append(e.Cranks, make([]analyze.Event, tries)...)
	}
	for _, r := range compare.New(before, after, compare.ByNothing).Groups[0].Rates {
		if r.Key == "failed_start" && (r.Before.Count != 2 || r.Before.Of != 3 || r.After.Count != 0) {
			t.Errorf("%+v of starts with one, two and three tries, %+v of starts with one, failed", r.Before, r.After)
		}
	}
}

func TestARateOfNothingSpeaksForNoDifference(t *testing.T) {
	m := testMap()
	before, after := side(m, "a", "restart_latency", 1, 2, 3), side(m, "bb", "restart_latency", 1, 2, 3)
	for _, r := range compare.New(before, after, compare.ByNothing).Groups[0].Rates {
		if r.Key == "stopped" && (r.Before.Of != 0 || r.Verdict != compare.Missing || r.PHolm != 1) {
			t.Errorf("%+v of no standstills", r)
		}
	}
}
