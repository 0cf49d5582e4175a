package onelog_test

import (
	"reflect"
	"strings"
	"testing"

	"lull/analyze"
	"lull/decode"
)

// One jump is told with its direction, several of one kind with the farthest.
func TestJumpsAreToldWithDirectionAndSize(t *testing.T) {
	for _, test := range []struct{ drive, want string }{
		{"back: 5s by 1s", "time jumps back by 0.99 s"},
		{"cut: 3s..5.5s", "time jumps ahead by 2.5 s over a gap without any frame"},
		{"cut: 3s..4s 6s..8.25s", "time jumps ahead 2 times, by up to 2.25 s over gaps without any frame"},
	} {
		d := parseDrive(t, "rpm: 0s=800 12s=800\n"+test.drive, "")
		res := d.run()
		got := ""
		for _, m := range res.Info.Remarks {
			if m.Code == decode.RemarkTimeJump {
				got = m.Text
			}
		}
		if got != test.want {
			t.Errorf("%s: %q, want %q", test.drive, got, test.want)
		}
	}
}

// What would decide a limit that a value straddles: the periods of the signals at its
// ends, but for what no sampling narrows.
func TestWhatWouldDecideABorderline(t *testing.T) {
	slow := strings.Replace(restarts, "rpm:", "rpm @50ms:", 1)
	for _, test := range []struct{ name, drive, brake, limit, want string }{
		{"two edges", restarts, "@20ms", "restart_latency: {max: 0.385}", "{By:period Least:0.0041667}"},
		{"on the limit itself", restarts, "@20ms", "request_to_crank: {max: 0.205}", "{By:nothing}"},
		{"nearer than a bus samples", restarts, "@20ms", "request_to_crank: {max: 0.2055}", "{By:nothing}"},
		{"from below", restarts, "@20ms", "request_to_crank: {min: 0.195}", "{By:period Least:0.005}"},
		{"the nearer of both ends counts", restarts, "@20ms", "request_to_crank: {min: 0.195, max: 0.213}", "{By:period Least:0.004}"},
		{"one edge sent on change", slow, "@change", "restart_latency: {max: 0.40}", "{By:period Least:0.013333}"},
		{"its delay is more than the distance", restarts, "@change", "restart_latency: {max: 0.38}", "{By:nothing}"},
		{"an onset read off the speed", "rpm: 0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900\nkey: 0s=1\n", "@20ms", "run_down: {max: 0.55}", "{By:command Role:engine_speed}"},
		{"a time below a voltage", restarts + "volt: 0s=12.6 20.09s=12.6 20.2s=7 20.3s=12.6\n", "@20ms", "low_voltage_time: {max: 0.105}", "{By:more samples Least:3}"},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, test.drive+"brake "+test.brake+": 0s=pressed 19.895s=released", brakeAsks+"limits:\n  "+test.limit+"\n")
			res := d.run()
			got := ""
			for _, f := range res.Findings {
				if f.Code == "limit_borderline" {
					l := f.About.(analyze.StraddledLimit)
					l.Judged = analyze.Judged{}
					got = tellValue(reflect.ValueOf(l))
				}
			}
			if got != test.want {
				t.Errorf("%q, want %q\n%s%s", got, test.want, tellFindings(res), tellAll(d.m, res))
			}
		})
	}
}
