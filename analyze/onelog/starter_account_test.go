package onelog_test

import (
	"math"
	"testing"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/starter"
	"lull/decode"
)

// What a starter's account says of whole drives.
func TestStarterAccountOfWholeDrives(t *testing.T) {
	var logs []analyze.Log
	var m *decode.Map
	for i, readings := range []string{"0s=7 20.15s=8 40.15s=9", "0s=9 20.15s=10 40.15s=11"} {
		d := parseDrive(t, restarts+"speed: 0s=36\ncount @100ms: "+readings, "settings:\n  starter_limit: 20\n")
		run := onelog.NewRun(d.m)
		for k := range d.frames {
			d.frames[k].Time += int64(i) * 1000e9
			run.Push(&d.frames[k])
		}
		m = d.m
		logs = append(logs, analyze.Log{Name: []string{"a", "b"}[i], Result: run.Finish(decode.Info{Stamps: decode.StampsAbsolute})})
	}
	a := starter.New(m, logs)
	if a.Operations() != 4 || a.HandOn.Value != 11 || a.Left.Operations.Value != 9 || a.Disagrees() || len(a.Findings) != 0 {
		t.Errorf("%+v", a)
	}
	// Two drives of 43 s at 36 km/h.
	if km := a.PerKm.Over; math.Abs(km-0.8615) > 0.01 {
		t.Errorf("%v km", km)
	}
}
