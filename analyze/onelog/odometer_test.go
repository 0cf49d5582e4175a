package onelog_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lull/analyze"
	"lull/decode"
)

// The way is the area below the speed, the engine's hours the time at running_speed
// and above.
func TestDistanceAndEngineHours(t *testing.T) {
	for _, test := range []struct {
		name, drive   string
		hours, km     float64
		noKm, noHours analyze.Reason
	}{
		{name: "at one speed", drive: "rpm: 0s=800 3600s=800\nspeed @100ms: 0s=60 3600s=60\nend: 3600s", hours: 1, km: 60},
		// From 0 to 72 km/h in 10 s is 100 m; the engine runs above 500 of 0 to 1000 rpm for half of 10 s.
		{name: "speeding up", drive: "rpm @100ms: 0s=0 10s=1000\nspeed @100ms: 0s=0 10s=72\nend: 10s", hours: 5.0 / 3600, km: 0.1},
		{name: "a value sent on change stays", drive: "rpm @change: 0s=800 10s=0\nspeed @change: 0s=36 10s=0\nbody: 0s=1\nend: 20s", hours: 10.0 / 3600, km: 0.1},
		{name: "what a long gap hides is left out", drive: "rpm: 0s=800 30s=800\nspeed: 0s=36 30s=36\ncut: 10s..20s\nend: 30s", hours: 20.0 / 3600, km: 0.2},
		{name: "a short one is bridged", drive: "rpm: 0s=800 30s=800\nspeed: 0s=36 30s=36\ncut: 10s..11s\nend: 30s", hours: 30.0 / 3600, km: 0.3},
		{name: "time that runs back is not counted again", drive: "rpm: 0s=800 30s=800\nspeed: 0s=36 30s=36\nback: 20s by 10s\nend: 30s", hours: 29.99 / 3600, km: 0.2999},
		{name: "no speed", drive: "rpm: 0s=800 10s=800\nend: 10s", hours: 10.0 / 3600, noKm: analyze.NoSignal{Role: decode.VehicleSpeed}},
		{name: "no engine speed", drive: "rpm:\nspeed: 0s=36 10s=36\nend: 10s", km: 0.1, noHours: analyze.NeverSeen{Signal: "rpm", Role: decode.EngineSpeed}},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, test.drive, "")
			res := d.run()
			check := func(what string, got analyze.Total, want float64, absent analyze.Reason) {
				if got.Absent != absent || math.Abs(got.Value-want) > 1e-5*max(want, 0.1) {
					t.Errorf("%s: %+v, want %v %+v", what, got, want, absent)
				}
			}
			check("hours", res.EngineHours, test.hours, test.noHours)
			check("km", res.Distance, test.km, test.noKm)
		})
	}
}

// How often a speed that goes in straight lines is sampled makes no difference to the
// way.
func TestDistanceDoesNotDependOnSampling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var course strings.Builder
		for i := range 4 {
			course.WriteString(" " + []string{"0s", "4s", "8s", "12s"}[i] + "=" + []string{"0", "18", "36", "72"}[rapid.IntRange(0, 3).Draw(t, "speed")])
		}
		var km []float64
		for _, period := range []string{"10ms", "100ms", "500ms"} {
			d := parseDrive(t, "rpm: 0s=800\nspeed @"+period+":"+course.String()+"\nend: 12.1s", "")
			km = append(km, d.run().Distance.Value)
		}
		for _, k := range km[1:] {
			// The log ends up to a sample later, and values are rounded to 0.01 km/h.
			if math.Abs(k-km[0]) > 72.0/3600*0.11+1e-4 {
				t.Errorf("%v", km)
			}
		}
	})
}
