package measure_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/measure"
	"lull/decode"
)

func TestMeasurementsOfAPlainRestart(t *testing.T) {
	r := restartBench().run(t)
	e := onlyEpisode(t, r)
	if e.Outcome != "restarted" {
		t.Errorf("outcome %s", e.Outcome)
	}
	checkMetrics(t, e.Metrics, `
		run_down: 0.865 s [0.85 0.88]
		stop_duration: 9.235 s [9.22 9.25]
		engine_off: 10.64333 s [10.63 10.65]
		restart_latency: 0.7583333 s [0.74 0.77]
		request_to_crank: 0.215 s [0.2 0.23]
		crank_to_run: 0.5433333 s [0.53 0.55]
		speed_at_request: 0 rpm
		speed_at_crank: 6 rpm [0 12]
		crank_speed: 240 rpm every 0.01
		flare: 1237.75 rpm every 0.01
		voltage_before: 12.6 V every 0.01
		voltage_min: 8.05 V every 0.01
		voltage_dip: 4.55 V every 0.01
		low_voltage_time: 0.1584066 s [0.15 0.17] every 0.01
		voltage_recovery: 0.5907143 s [0.58 0.61]
		module_supply_min: 11.014 V every 0.02
		source_resistance: 10 mohm error 0
		take_off_delay: 1.372857 s [1.36 1.4]
		fuel_saved: 2.660833 mL [2.6575 2.6625]
	`)
}

// Every metric of the table has a value on a plain restart of a car that sends all.
func TestEveryMetricOfThePlainRestartHasAValue(t *testing.T) {
	for _, v := range onlyEpisode(t, restartBench().run(t)).Metrics {
		if v.Absent != nil {
			t.Errorf("%s: %+v (are its samples kept? Before, After, RunDown and InRest of Metric say which are)", v.Key, v.Absent)
		}
	}
}

func TestMetricsHaveTheOrderOfTheirKeys(t *testing.T) {
	var keys []string
	for _, m := range measure.Metrics {
		keys = append(keys, m.Key)
	}
	if diff := cmp.Diff(decode.MetricKeys, keys); diff != "" {
		t.Errorf("decode.MetricKeys and measure.Metrics must name the same keys in one order (-keys +metrics):\n%s", diff)
	}
}

// A bench, what is changed of it, and the measurements that follow.
type metricCase struct {
	name  string
	bench bench
	want  string
}

func checkCases(t *testing.T, cases []metricCase) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			checkMetrics(t, onlyEpisode(t, c.bench.run(t)).Metrics, c.want)
		})
	}
}

func TestMeasurementsThatLackARoleSayWhich(t *testing.T) {
	b := restartBench()
	b.lanes = b.lanes[:2]
	b.extra = ""
	checkMetrics(t, onlyEpisode(t, b.run(t)).Metrics, `
		run_down: 0.865 s [0.85 0.88]
		stop_duration: 9.2475 s [9.22 9.26]
		restart_latency: absent: PlainReason no_requests_mapped
		request_to_crank: absent: PlainReason no_requests_mapped
		speed_at_request: absent: PlainReason no_requests_mapped
		voltage_before: absent: NoSignal {Role:battery_voltage}
		voltage_min: absent: NoSignal {Role:battery_voltage}
		voltage_dip: absent: NoSignal {Role:battery_voltage}
		low_voltage_time: absent: NoSignal {Role:battery_voltage}
		voltage_recovery: absent: NoSignal {Role:battery_voltage}
		module_supply_min: absent: NoSignal {Role:module_supply}
		source_resistance: absent: NoSignal {Role:battery_voltage}
		hold_pressure_min: absent: NoSignal {Role:hold_pressure}
		take_off_delay: absent: NoSignal {Role:vehicle_speed}
		take_off_shock: absent: NoSignal {Role:vehicle_speed}
		fuel_saved: 1.773889 mL [1.771667 1.775]
	`)
	// What is mapped but never comes is as if it were not mapped.
	never := "-1s 100s"
	b = restartBench().with(lane{name: "amperes", sent: "10ms", curve: "0s=0", silent: never},
		lane{name: "pressure", sent: "10ms", curve: "0s=0", silent: never})
	checkMetrics(t, onlyEpisode(t, b.run(t)).Metrics, `
		source_resistance: absent: NeverSeen {Signal:amperes Role:battery_current}
		hold_pressure_min: absent: NeverSeen {Signal:pressure Role:hold_pressure}
	`)
}

// Current flows before the engine turns: where the crank onset is taken from the
// engine speed, a dip that began 200 ms before it is still in the window.
func TestWindowReachesFurtherBackWhereTheSpeedTellsTheCrank(t *testing.T) {
	early := lane{name: "volts", sent: "10ms", curve: "0s=12.6 19.905s=12.6 19.905s=8 19.955s=11 20.755s=14"}
	checkCases(t, []metricCase{
		{"crank from the starter command", restartBench().with(early), `
			speed_at_crank: 6 rpm [0 12]
			voltage_before: 12.6 V every 0.01
			voltage_min: 11.356 V every 0.01`},
		{"crank from the engine speed", restartBench().with(early).without("starter"), `
			speed_at_crank: 30 rpm [0 36]
			voltage_before: 12.6 V every 0.01
			voltage_min: 8.3 V every 0.01`},
	})
}

// What waits for the vehicle to leave has no look ahead after running beside that.
func TestMetricsThatWaitForTheVehicleLookAheadFromItsLeavingAlone(t *testing.T) {
	for _, m := range measure.Metrics {
		if m.Late && m.After != 0 {
			t.Errorf("%s waits for the vehicle to leave, and %d ns after running", m.Key, m.After)
		}
	}
}

// A voltage that comes every 3 s is not known to have stayed low from its last sample on
// before the next one, which is 1.35 s after all that the windows ask of the others.
func TestAnEpisodeWaitsForTheSamplesOfSlowFrames(t *testing.T) {
	checkMetrics(t, onlyEpisode(t, restartBench().with(
		lane{name: "volts", sent: "3s", curve: "0s=12.6 20.105s=12.6 20.105s=8 23s=8 24s=12.6"}).run(t)).Metrics, `
		low_voltage_time: 1.1 s [0 1.1] every 3`)
}

// Where some of the voltage before was not seen, its median may truly be a higher or a lower one.
func TestADipFromAVoltageThatWasNotSeenWholeIsOpenBothWays(t *testing.T) {
	plain := metricOf(t, onlyEpisode(t, restartBench().run(t)).Metrics, "voltage_dip")
	if plain.OpenBelow || plain.OpenAbove {
		t.Errorf("seen whole: %+v", plain)
	}
	volts := restartBench().lanes[4]
	volts.silent = "19.31s 19.69s"
	v := metricOf(t, onlyEpisode(t, restartBench().with(volts).run(t)).Metrics, "voltage_dip")
	if v.Absent != nil || !v.OpenBelow || !v.OpenAbove || v.Unseen == 0 {
		t.Errorf("%+v", v)
	}
}
