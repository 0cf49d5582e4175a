package scenario_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"lull/analyze"
	"lull/analyze/scenario"
)

func metric(e *analyze.Episode, key string) (analyze.MetricValue, bool) {
	for _, v := range e.Metrics {
		if v.Key == key {
			return v, v.Absent == nil
		}
	}
	return analyze.MetricValue{}, false
}

// The lowest voltage seen is never below the true one by more than a step, and
// with a sensor every 20 ms not far above it.
func TestTheLowestVoltageIsNearTheTrueOne(t *testing.T) {
	compared := 0
	for _, f := range everything(t) {
		if len(f.truth.Episodes) != len(f.result.Episodes) {
			t.Fatalf("%s: %d episodes, true %d", f.drive.Name, len(f.result.Episodes), len(f.truth.Episodes))
		}
		for i := range f.truth.Episodes {
			e := &f.truth.Episodes[i]
			v, ok := metric(&f.result.Episodes[i], "voltage_min")
			if e.Running == nil || !ok {
				continue
			}
			compared++
			above := v.Best - e.VoltageMin
			if above < -0.026 {
				t.Errorf("%s episode %d: %.3f V found, %.3f V true", f.drive.Name, i+1, v.Best, e.VoltageMin)
			}
			if v.HasSampling && v.Sampling < 0.05 && above > 0.8 {
				t.Errorf("%s episode %d: %.3f V found at %.3f s sampling, %.3f V true", f.drive.Name, i+1, v.Best, v.Sampling, e.VoltageMin)
			}
		}
	}
	if compared < 100 {
		t.Errorf("only %d compared", compared)
	}
}

// The battery's true resistance is a straight line between voltage and current,
// but for the electromotive force that drifts while cranking.
func TestSourceResistanceIsTheBatterysOwn(t *testing.T) {
	compared := 0
	for _, f := range everything(t) {
		for i := range f.result.Episodes {
			v, ok := metric(&f.result.Episodes[i], "source_resistance")
			if !ok || v.StandardError > 0.3 {
				continue
			}
			compared++
			if math.Abs(v.Best-f.truth.SourceResistance) > 0.35+4*v.StandardError {
				t.Errorf("%s episode %d: %.3f mohm found, standard error %.3f, %.3f true", f.drive.Name, i+1, v.Best, v.StandardError, f.truth.SourceResistance)
			}
		}
	}
	if compared < 50 {
		t.Errorf("only %d compared", compared)
	}
}

// What a technician should be pointed at, and what not once it is repaired.
func TestFindingsOfTheDemonstration(t *testing.T) {
	for name, want := range map[string]struct{ shown, absent []string }{
		"town.log":               {absent: []string{"failed_start", "module_silent", "unexplained_standstill", "stalled", "counter_disagrees", "pressure_lost"}},
		"kept-running.log":       {shown: []string{"unexplained_standstill"}, absent: []string{"failed_start", "module_silent", "stalled"}},
		"older-car.log":          {shown: []string{"dip_undersampled", "gap"}, absent: []string{"failed_start", "unexplained_standstill"}},
		"failed-start.log":       {shown: []string{"failed_start", "stalled"}, absent: []string{"module_silent"}},
		"slow-to-go-before.log":  {shown: []string{"limit_broken", "module_silent"}, absent: []string{"failed_start", "unexplained_standstill", "pressure_lost"}},
		"slow-to-go-after.log":   {absent: []string{"limit_broken", "module_silent", "failed_start", "unexplained_standstill", "pressure_lost"}},
		"creeps-late-before.log": {shown: []string{"pressure_lost", "limit_broken", "unexplained_standstill"}, absent: []string{"module_silent", "failed_start"}},
		"creeps-late-after.log":  {absent: []string{"pressure_lost", "limit_broken", "unexplained_standstill", "module_silent"}},
		"van/round.log":          {shown: []string{"unexplained_standstill"}, absent: []string{"failed_start", "stalled"}},
		"truck/yard.log":         {shown: []string{"dip_undersampled", "unexplained_standstill"}, absent: []string{"failed_start", "stalled"}},
	} {
		i := slices.IndexFunc(scenario.Drives(), func(d scenario.Drive) bool { return d.Name == name })
		if i < 0 {
			t.Errorf("no drive %s", name)
			continue
		}
		f := analyse(t, scenario.Drives()[i])
		var codes []string
		for _, found := range f.result.Findings {
			codes = append(codes, found.Code)
		}
		for _, code := range want.shown {
			if !slices.Contains(codes, code) {
				t.Errorf("%s: %s is not among %s", name, code, strings.Join(codes, " "))
			}
		}
		for _, code := range want.absent {
			if slices.Contains(codes, code) {
				t.Errorf("%s: %s is among %s", name, code, strings.Join(codes, " "))
			}
		}
		if f.result.Starter.Absent == nil && !f.result.Starter.Agrees {
			t.Errorf("%s: the starter counter disagrees: %+v", name, f.result.Starter)
		}
	}
}
