package measure_test

import (
	"math"
	"testing"

	"lull/analyze/measure"
	"lull/decode"
)

func TestLongestRestKeepsItsLowestPressure(t *testing.T) {
	long := restartBench().ends("640s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 620.105s=0 620.205s=240 620.605s=240 620.705s=840"},
		lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 620.005s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 620.105s=1 620.655s=0"},
		lane{name: "brake", sent: "20ms", curve: "0s=0 5s=1 619.89s=0"},
		lane{name: "pressure", sent: "50ms", curve: "0s=500 300s=380 300.5s=400 619.8s=400 620.6s=500"})
	brief := restartBench().ends("25s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 15.105s=0 15.205s=240 15.605s=240 15.705s=840"},
		lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 15.005s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 15.105s=1 15.655s=0"},
		lane{name: "brake", sent: "20ms", curve: "0s=0 5s=1 14.89s=0"},
		lane{name: "pressure", sent: "50ms", curve: "0s=500 12s=400 15.6s=500"})
	short := restartBench()
	checkCases(t, []metricCase{
		{"the lowest long ago", long, `
			hold_pressure_min: 380 kPa every 0.05
			speed_at_request: 0 rpm
			speed_at_crank: 6 rpm [0 12]`},
		{"the lowest while the last samples were forgotten", long.with(lane{name: "pressure", sent: "50ms", curve: "0s=500 613.7s=400 613.7s=370 613.8s=370 613.8s=400 619.8s=400 620.6s=500"}), `
			hold_pressure_min: 370 kPa every 0.05`},
		{"only samples from before the rest were forgotten", brief, `
			hold_pressure_min: 400 kPa every 0.05`},
		{"a pause long ago", long.with(lane{name: "pressure", sent: "50ms", curve: "0s=500 300s=380 300.5s=400", silent: "400.01s 403.01s"}), `
			hold_pressure_min: 380 kPa every 3.05`},
		{"a slow signal is bounded from before the rest", short.with(lane{name: "pressure", sent: "3s+2.5s", curve: "0s=500"}), `
			hold_pressure_min: 500 kPa every 3`},
		{"never within the rest", short.with(lane{name: "pressure", sent: "30s+5s", curve: "0s=500"}), `
			hold_pressure_min: absent: NoSample {Role:hold_pressure Window:9790000000 Gap:0 Away:0 Period:0 Polled:false}`},
	})
}

// Rest is at 10.870 s, of which low is 10.860 s, running at 20.648 s, high 20.650 s.
// Missed is what stays away for 100 ms; only what lies within the rest counts.
func TestWhatOfARestWasNotSeenIsCountedWithinItAlone(t *testing.T) {
	for _, test := range []struct {
		name, silent string
		unseen       float64
	}{
		{"all was seen", "", 0},
		{"a pause long before", "5s 6s", 0},
		{"a pause up to the first sample of the rest", "5s 10.85s", 0},
		{"a pause that reaches into the rest", "5s 11.35s", 0.5},
		{"a pause within", "12.01s 13.01s", 1.02},
		{"just long enough", "12.01s 12.09s", 0.1},
		{"one sample less", "12.01s 12.07s", 0},
		{"just long enough, and over the end", "20.61s 20.69s", 0.05},
		{"one sample less over the end", "20.61s 20.67s", 0},
		{"nothing from the end on", "20.65s 30s", 0},
	} {
		b := restartBench().with(lane{name: "pressure", sent: "20ms", curve: "0s=500 10.87s=480", silent: test.silent})
		v := metricOf(t, onlyEpisode(t, b.run(t)).Metrics, "hold_pressure_min")
		if v.Absent != nil || math.Abs(v.Unseen-test.unseen) > 1e-9 || v.OpenBelow != (test.unseen > 0) {
			t.Errorf("%s: %s, %g s unseen, want %g; open below %t", test.name, metricWords(v), v.Unseen, test.unseen, v.OpenBelow)
		}
	}
}

// The same where the samples before were forgotten in a long rest.
func TestWhatOfALongRestWasNotSeenIsCountedWithinItAlone(t *testing.T) {
	b := restartBench().ends("640s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 620.105s=0 620.205s=240 620.605s=240 620.705s=840"},
		lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 620.005s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 620.105s=1 620.655s=0"},
		lane{name: "brake", sent: "20ms", curve: "0s=0 5s=1 619.89s=0"},
		lane{name: "pressure", sent: "20ms", curve: "0s=500 10.87s=480", silent: "5s 11.35s 300.01s 301.01s"})
	v := metricOf(t, onlyEpisode(t, b.run(t)).Metrics, "hold_pressure_min")
	if v.Absent != nil || math.Abs(v.Unseen-1.52) > 1e-9 {
		t.Errorf("%s, %g s unseen, want 1.52", metricWords(v), v.Unseen)
	}
}

// What a metric of the table asks for within a rest of ten minutes is kept for it, without
// a word elsewhere.
func TestWhatTheTableAsksForWithinALongRestIsKept(t *testing.T) {
	defer measure.AddToTable(decode.BatteryVoltage)()
	long := restartBench().ends("640s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 620.105s=0 620.205s=240 620.605s=240 620.705s=840"},
		lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 620.005s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 620.105s=1 620.655s=0"},
		lane{name: "brake", sent: "20ms", curve: "0s=0 5s=1 619.89s=0"},
		lane{name: "volts", sent: "10ms", curve: "0s=12.6 300s=12.6 300s=13.1 300.1s=12.4 620s=12.4 620.11s=8 620.7s=12.9"})
	checkMetrics(t, onlyEpisode(t, long.run(t)).Metrics, `
		highest_in_rest: 13.1 V every 0.01
		kept_of_run_down: 87 samples
		voltage_min: 8 V every 0.01
	`)
}
