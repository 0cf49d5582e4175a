package measure_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/analyze/series"
)

func TestCrankMeasurements(t *testing.T) {
	sag := restartBench().ends("20s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.4s=400 10.42s=400 10.47s=800"},
		lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 10.305s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 10.405s=1 10.455s=0"},
		lane{name: "brake", sent: "20ms", curve: "0s=0 5s=1 10.21s=0"})
	tried := restartBench().ends("40s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 20.105s=0 20.205s=150 23.105s=150 23.305s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 20.105s=1 23.105s=0"},
		lane{name: "volts", sent: "10ms", curve: "0s=12.6 20.105s=12.6 20.105s=8 20.205s=9 23.105s=9 23.105s=11.9 25.105s=12.4"},
		lane{name: "amperes", sent: "10ms", curve: "0s=0 20.105s=0 20.105s=-460 20.205s=-360 23.105s=-360 23.105s=-70 25.105s=-20"})
	twice := restartBench().with(
		lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 20.105s=0 20.205s=150 20.305s=150 20.405s=0 21.105s=0 21.205s=240 21.605s=240 21.705s=840"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 20.105s=1 20.305s=0 21.105s=1 21.655s=0"},
		lane{name: "volts", sent: "10ms", curve: "0s=12.6 20.105s=12.6 20.105s=8 20.305s=8.5 20.305s=12.3 21.105s=12.3 21.105s=9 21.655s=10.5 21.755s=14"},
		lane{name: "amperes", sent: "10ms", curve: "0s=0 20.105s=0 20.105s=-230 20.305s=-205 20.305s=-30 21.105s=-30 21.105s=-360 21.655s=-210 21.755s=140"})
	checkCases(t, []metricCase{
		{"caught at once: nothing left to measure the starter by", sag, `
			stop_duration: absent: PlainReason no_rest
			crank_to_run: 0.0275 s [0.02 0.04]
			crank_speed: absent: ShortCrank {Length:27500000 LetGo:false}
			speed_at_crank: 400 rpm
			hold_pressure_min: absent: PlainReason no_rest`},
		{"caught before it rested, and it rested all the same", restartBench().with(
			lane{name: "starter", sent: "10ms", curve: "0s=0 10.605s=1 20.655s=0"},
			lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 10.505s=0"}).says("settings: {no_start_after: 20s}\n"), `
			stop_duration: absent: PlainReason crank_before_rest
			run_down: 0.865 s [0.85 0.88]`},
		{"called off", restartBench().with(
			lane{name: "rpm", sent: "10ms", curve: "0s=800"},
			lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 10.105s=0"},
			lane{name: "starter", sent: "10ms", curve: "0s=0"}), `
			run_down: absent: Outcome aborted
			stop_duration: absent: Outcome aborted
			engine_off: absent: Outcome aborted
			crank_to_run: absent: PlainReason no_crank
			flare: absent: Outcome aborted
			fuel_saved: absent: Outcome aborted`},
		{"stalled and pushed", restartBench().with(
			lane{name: "stop", sent: "10ms", curve: "0s=0"},
			lane{name: "starter", sent: "10ms", curve: "0s=0"}), `
			request_to_crank: absent: PlainReason no_decision
			voltage_before: absent: PlainReason no_crank
			voltage_min: absent: PlainReason no_crank`},
		{"let go at once", tried.with(
			lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0"},
			lane{name: "starter", sent: "10ms", curve: "0s=0 20.105s=1 20.155s=0"}), `
			crank_speed: absent: ShortCrank {Length:50000000 LetGo:true}`},
		{"failed: as long as the starter turned, and what followed till it was given up", tried, `
			engine_off: absent: Outcome no_start
			restart_latency: absent: Outcome no_start
			request_to_crank: 0.215 s [0.2 0.23]
			crank_to_run: absent: Outcome no_start
			crank_speed: 150 rpm every 0.01
			flare: absent: Outcome no_start
			voltage_before: 12.6 V every 0.01
			voltage_min: 8.05 V every 0.01
			low_voltage_time: 2.995475 s [2.99 3.01] every 0.01
			voltage_recovery: 3.795 s [3.78 3.81]
			source_resistance: 10 mohm error 0
			take_off_delay: absent: Outcome no_start
			take_off_shock: absent: Outcome no_start
			fuel_saved: absent: Outcome no_start`},
		{"a starter that is not seen to be let go turned till it was given up", tried.with(
			lane{name: "starter", sent: "10ms", curve: "0s=0 20.105s=1"}), `
			crank_speed: 150 rpm every 0.01`},
		{"a starter that is let go before the engine runs cuts nothing off", restartBench().with(
			lane{name: "starter", sent: "10ms", curve: "0s=0 20.105s=1 20.255s=0"}), `
			crank_speed: 240 rpm every 0.01`},
		{"two tries: the first counts but for what measures the last", twice, `
			stop_duration: 9.235 s [9.22 9.25]
			request_to_crank: 0.215 s [0.2 0.23]
			speed_at_crank: 3.75 rpm [0 7.5]
			crank_to_run: 0.5433333 s [0.53 0.55]
			crank_speed: 240 rpm every 0.01
			voltage_min: 8.012 V every 0.01
			source_resistance: 10 mohm error 0`},
	})
}

func TestVoltageMeasurements(t *testing.T) {
	volts := func(curve string) bench { return restartBench().with(lane{name: "volts", sent: "10ms", curve: curve}) }
	const dip = "0s=12.6 20.105s=12.6 20.105s=8 20.655s=10 "
	idle := restartBench().with(lane{name: "starter", sent: "10ms", curve: "0s=0"})
	checkCases(t, []metricCase{
		{"starter never pulses: from the decision", idle, `
			stop_duration: absent: PlainReason no_crank
			request_to_crank: absent: PlainReason no_crank
			crank_to_run: absent: PlainReason no_crank
			speed_at_crank: absent: PlainReason no_crank
			crank_speed: absent: PlainReason no_crank
			source_resistance: absent: PlainReason no_crank
			restart_latency: 0.7583333 s [0.74 0.77]
			voltage_before: 12.6 V every 0.01
			voltage_min: 8.05 V every 0.01
			voltage_recovery: 0.5907143 s [0.58 0.61]`},
		{"a voltage that never falls half a volt", volts("0s=12.6 20.105s=12.6 20.105s=12.11 20.655s=12.6"), `
			voltage_min: 12.114 V every 0.01
			low_voltage_time: 0 s every 0.01
			voltage_recovery: absent: PlainReason no_voltage_fall`},
		{"a voltage that never comes back", volts(dip + "20.755s=12.05"), `
			voltage_recovery: absent: NoRecovery {To:12.1 Ended:<nil> Holds:100000000 Within:2000000000}`},
		{"a voltage that comes back too late", volts(dip + "22.6s=12.05 22.6s=12.7"), `
			voltage_recovery: absent: NoRecovery {To:12.1 Ended:<nil> Holds:100000000 Within:2000000000}`},
		{"back for 80 ms does not count", volts(dip + "20.705s=10 20.705s=12.6 20.785s=12.6 20.785s=11 20.905s=11 20.905s=13"), `
			voltage_recovery: 0.7955 s [0.78 0.81]`},
		{"back for 110 ms does", volts(dip + "20.705s=10 20.705s=12.6 20.815s=12.6 20.815s=11 20.905s=11 20.905s=13"), `
			voltage_recovery: 0.5980769 s [0.58 0.61]`},
		{"the lowest value shown twice: the true one may lie at either", volts("0s=12.6 20.105s=12.6 20.105s=8 20.205s=8 20.655s=10 20.755s=14"), `
			voltage_min: 8 V every 0.01
			voltage_recovery: 0.5975 s [0.49 0.61]`},
		{"steps of 0.1 V do not tell on which side of 9.6 V it lies", restartBench().without("volts").with(
			lane{name: "tenths", sent: "10ms", curve: "0s=12.6 20.105s=12.6 20.105s=8 20.205s=8 20.205s=9.6 20.655s=9.6 20.655s=14"}), `
			voltage_min: 8 V every 0.01
			low_voltage_time: 0.1034783 s [0.09 0.56] every 0.01`},
		{"low to the very end of the recording", restartBench().ends("20.98s").with(
			lane{name: "volts", sent: "10ms", curve: "0s=12.6 20.105s=12.6 20.105s=8", silent: "20.905s 30s"}), `
			voltage_min: 8 V every 0.25
			low_voltage_time: 0.7934783 s [0.79 1.05] every 0.25`},
		{"the recording ends before the overshoot is over", restartBench().ends("21.2s"), `
			flare: 1237.75 rpm every 1.45
			voltage_min: 8.05 V every 0.01`},
		{"a crank soon after the log begins", restartBench().with(lane{name: "volts", sent: "10ms", curve: "0s=12.6 20.105s=12.6 20.105s=8 20.655s=10 20.755s=14", silent: "-1s 19.505s"}), `
			voltage_before: 12.6 V every 0.46`},
		{"a voltage that comes too seldom", restartBench().without("volts").with(
			lane{name: "volts", sent: "3s+1.5s", curve: "0s=12.6"}), `
			voltage_before: 12.6 V every 3
			voltage_min: absent: NoSample {Role:battery_voltage Window:1100000000 Gap:0 Away:0 Period:3000000000 Polled:false}
			voltage_dip: absent: NoSample {Role:battery_voltage Window:1100000000 Gap:0 Away:0 Period:3000000000 Polled:false}
			low_voltage_time: absent: NoSample {Role:battery_voltage Window:1100000000 Gap:0 Away:0 Period:3000000000 Polled:false}
			voltage_recovery: absent: NoSample {Role:battery_voltage Window:1100000000 Gap:0 Away:0 Period:3000000000 Polled:false}`},
		{"a voltage that stays away while the starter turns", restartBench().with(
			lane{name: "volts", sent: "10ms", curve: "0s=12.6", silent: "20.005s 22.005s"}), `
			voltage_before: 12.6 V every 2.01
			voltage_min: absent: NoSample {Role:battery_voltage Window:1100000000 Gap:0 Away:2010000000 Period:0 Polled:false}`},
		{"a voltage that stays away for good", restartBench().with(
			lane{name: "volts", sent: "10ms", curve: "0s=12.6", silent: "20.005s 40s"}), `
			voltage_min: absent: NoSample {Role:battery_voltage Window:1100000000 Gap:0 Away:0 Period:0 Polled:false}`},
		{"a voltage that stays away before", restartBench().with(
			lane{name: "volts", sent: "10ms", curve: "0s=12.6", silent: "18s 20.095s"}), `
			voltage_before: absent: NoSample {Role:battery_voltage Window:1010000000 Gap:0 Away:2100000000 Period:0 Polled:false}
			voltage_dip: absent: NoSample {Role:battery_voltage Window:1010000000 Gap:0 Away:2100000000 Period:0 Polled:false}
			voltage_recovery: absent: NoSample {Role:battery_voltage Window:1010000000 Gap:0 Away:2100000000 Period:0 Polled:false}`},
		{"a current that never changes", restartBench().with(lane{name: "amperes", sent: "10ms", curve: "0s=0"}), `
			source_resistance: absent: FewPairs 56`},
		{"a float has no steps: 9.6 V is not below 9.6 V", restartBench().without("volts").with(
			lane{name: "float", sent: "10ms", curve: "0s=12.5 20.105s=12.5 20.105s=8 20.205s=8 20.205s=9.75 20.655s=9.75 20.655s=14"}).
			says("settings: {low_voltage: 9.75}\n"), `
			low_voltage_time: 0.1038889 s [0.09 0.11] every 0.01`},
		{"a voltage that stays away for good while the starter turns", restartBench().with(
			lane{name: "volts", sent: "10ms", curve: "0s=12.6 20.105s=12.6 20.105s=8 20.305s=10 20.655s=10.5 20.755s=14", silent: "20.255s 40s"}), `
			voltage_min: absent: AsFarAsSeen {Why:{Role:battery_voltage Where:window Unseen:400000000 Whole:550000000} Best:8.05 Unit:V}
			source_resistance: 10 mohm error 0
			voltage_recovery: absent: RoleUnseen {Role:battery_voltage Where:fall Unseen:900000000 Whole:0}`},
		{"a current that comes more often, and longer", restartBench().with(
			lane{name: "amperes", sent: "5ms", curve: "0s=0 20.105s=0 20.105s=-460 20.305s=-260 20.655s=-210 20.755s=140", silent: "20.405s 40s"}), `
			source_resistance: 10 mohm error 0`},
		{"a current of the wrong sign", restartBench().with(
			lane{name: "amperes", sent: "10ms", curve: "0s=0 20.105s=0 20.105s=460 20.305s=260 20.655s=210 20.755s=-140"}), `
			source_resistance: absent: PlainReason rises_under_load`},
		{"a current that comes twice", restartBench().with(lane{name: "amperes", sent: "300ms+155ms", curve: "0s=0 20.105s=0 20.105s=-460"}), `
			source_resistance: absent: FewPairs 2`},
	})
}

// Whichever of the two comes less often sets the pairs.
func TestResistanceIsFittedOverTheSlowerOfTwoSignals(t *testing.T) {
	noisy := func(at float64) float64 {
		if at < 20.105 || at > 20.655 {
			return 12.6
		}
		return 10 + 0.1*math.Sin(at*1000)
	}
	errorOf := func(volts, amperes string) float64 {
		r := restartBench().with(lane{name: "volts", sent: volts, of: noisy},
			lane{name: "amperes", sent: amperes, curve: "0s=0 20.105s=0 20.105s=-460 20.305s=-260 20.655s=-210"}).run(t)
		v := metricOf(t, onlyEpisode(t, r).Metrics, "source_resistance")
		if v.Absent != nil || !v.HasStandardError {
			t.Fatal(metricWords(v))
		}
		return v.StandardError
	}
	// Were the slow voltage counted at each of 550 currents, its standard error
	// would be about that of 550 voltages.
	slow, fast := errorOf("20ms", "1ms"), errorOf("1ms", "1ms")
	if slow < 3*fast || slow > 7*fast {
		t.Errorf("standard error of 27 voltages %.3g mohm, of 550 %.3g mohm", slow, fast)
	}
}

func TestSpeedAtAnInstantRangesOverTheSamplesAroundIt(t *testing.T) {
	checkCases(t, []metricCase{
		{"asked for while the engine runs down", restartBench().with(
			lane{name: "brake", sent: "100ms", curve: "0s=0 5s=1 10.555s=0"},
			lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 10.605s=0"},
			lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0 11.105s=0 11.205s=240 11.605s=240 11.705s=840"},
			lane{name: "starter", sent: "10ms", curve: "0s=0 11.105s=1 11.655s=0"}), `
			speed_at_request: 350 rpm [300 400]
			restart_latency: 1.098333 s [1.04 1.15]`},
		{"asked for in a run-down that was long ago when the start was given up", restartBench().ends("40s").says("settings: {no_start_after: 8s}\n").with(
			lane{name: "brake", sent: "20ms", curve: "0s=0 5s=1 13.39s=0"},
			lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 17.505s=0"},
			lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 18.1s=0"},
			lane{name: "starter", sent: "10ms", curve: "0s=0 18.605s=1 20.655s=0"}), `
			speed_at_request: 471 rpm [470 472]
			speed_at_crank: 0 rpm
			run_down: 7.795 s [7.78 7.81]`},
		{"between the two samples between which a slow engine speed turns", restartBench().with(
			lane{name: "brake", sent: "20ms", curve: "0s=0 5s=1 10.75s=0"},
			lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 10.805s=0"},
			lane{name: "rpm", sent: "100ms", curve: "0s=800 10.1s=800 10.75s=150 11.4s=800"},
			lane{name: "starter", sent: "10ms", curve: "0s=0 10.855s=1 10.905s=0"}), `
			speed_at_request: 200 rpm [150 200]
			speed_at_crank: 255 rpm [200 300]`},
		{"the recording ends before the next engine speed", restartBench().ends("20.11s").with(
			lane{name: "rpm", sent: "10ms", curve: "0s=800 10.1s=800 10.9s=0", silent: "20.105s 21s"}), `
			speed_at_request: 0 rpm
			speed_at_crank: absent: RoleUnseen {Role:engine_speed Where:after Unseen:0 Whole:0}
			crank_speed: absent: Outcome log_end`},
	})
}

// Points every 100 ns; the lines from the outer ones over the inner ones bound a curve
// that bends one way.
func TestACurveTurnsNoFurtherThanWhereTheLinesAroundItMeet(t *testing.T) {
	for _, test := range []struct {
		name   string
		volts  [4]float64
		beyond float64 // the two in the middle: 0 is nothing
	}{
		{"a valley", [4]float64{300, 200, 200, 300}, -50},
		{"a peak", [4]float64{0, 100, 100, 0}, 50},
		{"a fall that ended at the first of the two", [4]float64{400, 100, 200, 250}, 0},
		{"at the first of the two", [4]float64{300, 200, 250, 300}, 0},
		{"at the second of the two", [4]float64{300, 250, 200, 300}, 0},
		{"falling on", [4]float64{400, 300, 200, 100}, 0},
		{"rising on", [4]float64{100, 200, 300, 400}, 0},
		{"level before", [4]float64{200, 200, 100, 200}, 0},
		{"level after", [4]float64{200, 100, 200, 200}, 0},
		{"a fall that goes on steeper before it rises", [4]float64{300, 290, 100, 110}, 0},
		{"a slow fall and a steep rise", [4]float64{300, 290, 400, 710}, -6.25},
	} {
		points := make([]series.Point, 4)
		for i, v := range test.volts {
			points[i] = series.Point{T: 1000 + int64(i)*100, V: v}
		}
		a, b := points[1], points[2]
		turn := measure.Turning(points, a, b)
		beyond := min(0, turn-min(a.V, b.V)) + max(0, turn-max(a.V, b.V))
		if math.Abs(beyond-test.beyond) > 1e-9 {
			t.Errorf("%s: %g beyond the two, want %g", test.name, beyond, test.beyond)
		}
		// Without a sample before or after, or with two at one time, nothing is known.
		twiceBefore, twiceAfter, twiceBetween := slices.Clone(points), slices.Clone(points), slices.Clone(points)
		twiceBefore[0].T, twiceAfter[3].T, twiceBetween[2].T = a.T, b.T, a.T
		for _, known := range [][]series.Point{points[1:], points[:3], twiceBefore, twiceAfter, twiceBetween} {
			i := slices.Index(known, a)
			if turn := measure.Turning(known, a, known[i+1]); turn != a.V {
				t.Errorf("%s: %g of %v, want %g", test.name, turn, known, a.V)
			}
		}
	}
}

func TestFuelMeasurements(t *testing.T) {
	fuel := func(curve string) bench {
		return restartBench().with(lane{name: "fuel", sent: "100ms", curve: curve})
	}
	// Idling 36 mL/h x 1000: 3.6 L/h are 1 mL/s, so that mL are the seconds of
	// engine_off, 10.6433 s.
	checkCases(t, []metricCase{
		{"median over the standstill before the stop", fuel("0s=9 8.05s=9 8.05s=3.6 10.05s=3.6 10.05s=0"), `
			fuel_saved: 10.64333 mL [10.63 10.65]`},
		{"a standstill of less than a second: the five seconds before", fuel("0s=9 5.05s=9 5.05s=3.6 9.55s=3.6 9.55s=1 10.05s=0").with(
			lane{name: "speed", sent: "20ms", of: takingOff(9.5, 21, 4)}), `
			fuel_saved: 10.64333 mL [10.63 10.65]`},
		{"no speed: the five seconds before", fuel("0s=9 5.05s=9 5.05s=3.6").without("speed"), `
			fuel_saved: 10.64333 mL [10.63 10.65]`},
		{"the fuel rate tells nothing: the setting, less what a start costs",
			restartBench().without("fuel").says("settings: {idle_fuel_rate: 3.6, restart_fuel: 2}\n"), `
			fuel_saved: 8.643333 mL [8.63 8.65]`},
	})
}

func TestTakeOffMeasurements(t *testing.T) {
	acceleration := func(sent string) lane {
		return lane{name: "accel", sent: sent, of: func(at float64) float64 { return 4 * min(max(at-21, 0), 2) }}
	}
	again := restartBench().with(
		lane{name: "speed", sent: "20ms", of: takingOff(8, 100, 4)},
		lane{name: "stop", sent: "10ms", curve: "0s=0 10.005s=1 20.005s=0 25.005s=1"})
	checkCases(t, []metricCase{
		{"slope of the acceleration", restartBench().with(acceleration("10ms")), `
			take_off_shock: 4 m/s3 error 0 every 0.01`},
		{"three samples are enough for a slope", restartBench().with(acceleration("50ms")), `
			take_off_shock: 4 m/s3 error 0 every 0.05`},
		{"both come too seldom", restartBench().with(acceleration("60ms"), lane{name: "speed", sent: "100ms", of: takingOff(8, 21, 4)}), `
			take_off_delay: 1.368333 s [1.3 1.42]
			take_off_shock: absent: TooSeldom {Role:acceleration Period:60000000 Window:100000000 Fit:true}`},
		{"speed alone comes too seldom", restartBench().with(lane{name: "speed", sent: "100ms", of: takingOff(8, 21, 4)}), `
			take_off_shock: absent: TooSeldom {Role:vehicle_speed Period:100000000 Window:300000000 Fit:true}`},
		{"not at a standstill", restartBench().with(lane{name: "speed", sent: "20ms", of: takingOff(100, 200, 4)}), `
			take_off_delay: absent: PlainReason not_standing
			take_off_shock: absent: PlainReason not_standing`},
		{"the recording ends before it moves", restartBench().with(lane{name: "speed", sent: "20ms", of: takingOff(8, 100, 4)}), `
			take_off_delay: absent: PlainReason ended_before_moved
			take_off_shock: absent: PlainReason ended_before_moved`},
		{"the recording ends soon after it moved", restartBench().ends("21.5s"), `
			take_off_delay: 1.372857 s [1.36 1.4]
			take_off_shock: absent: RoleUnseen {Role:vehicle_speed Where:departure Unseen:0 Whole:1150000000}`},
		{"the recording ends as the second is over", restartBench().ends("22.3s").with(acceleration("10ms")), `
			take_off_shock: absent: RoleUnseen {Role:acceleration Where:departure Unseen:0 Whole:1050000000}`},
		{"... and just as the last sample has all around it", restartBench().ends("22.33s").with(acceleration("10ms")), `
			take_off_shock: 4 m/s3 error 0 every 0.01`},
		{"... and one sample before", restartBench().ends("22.32s").with(acceleration("10ms")), `
			take_off_shock: absent: RoleUnseen {Role:acceleration Where:departure Unseen:0 Whole:1050000000}`},
		{"samples that come often enough, of which the recording has too few", restartBench().ends("21.3s").with(lane{name: "speed", sent: "75ms", of: takingOff(8, 21, 4)}), `
			take_off_shock: absent: RoleUnseen {Role:vehicle_speed Where:departure Unseen:0 Whole:1150000000}`},
		{"no request", restartBench().with(lane{name: "brake", sent: "20ms", curve: "0s=0"}), `
			restart_latency: absent: PlainReason no_request
			take_off_delay: absent: PlainReason no_request
			take_off_shock: absent: PlainReason no_request`},
	})
	r := again.run(t)
	if len(r.Episodes) != 2 {
		t.Fatalf("%d episodes", len(r.Episodes))
	}
	checkMetrics(t, r.Episodes[0].Metrics, `
		take_off_delay: absent: PlainReason stopped_before_moved
		take_off_shock: absent: PlainReason stopped_before_moved
	`)
	checkMetrics(t, r.Episodes[1].Metrics, `
		restart_latency: absent: PlainReason no_decision
		take_off_delay: absent: PlainReason no_decision
		voltage_before: absent: Outcome log_end
		voltage_min: absent: Outcome log_end
		low_voltage_time: absent: Outcome log_end
		module_supply_min: absent: Outcome log_end
		speed_at_request: absent: PlainReason no_decision
		engine_off: absent: Outcome log_end
	`)
}

// The samples of a fit reach beyond the second: what is not seen there may have been
// steeper, and nothing makes it less steep.
func TestAShockOfWhichSomeWasNotSeenMayBeGreater(t *testing.T) {
	r := restartBench().with(lane{name: "accel", sent: "10ms", of: func(at float64) float64 { return 4 * min(max(at-21, 0), 2) }, silent: "22.245s 22.645s"}).run(t)
	v := metricOf(t, onlyEpisode(t, r).Metrics, "take_off_shock")
	if v.Absent != nil || v.Unseen == 0 || v.OpenBelow || !v.OpenAbove {
		t.Errorf("%s: %g s unseen, open below %t, above %t", metricWords(v), v.Unseen, v.OpenBelow, v.OpenAbove)
	}
}

// 4 m/s3 from a speed in steps of 0.01 km/h. The noise of such steps pushes the
// greatest of many fits up by a few of their standard errors.
func TestShockFromTheSpeedIsCloseToTheTruth(t *testing.T) {
	for _, sent := range []string{"20ms", "60ms"} {
		r := restartBench().with(
			// Too seldom for a slope over 100 ms, and wrong.
			lane{name: "accel", sent: "60ms", curve: "0s=0 21s=0 22s=20"},
			lane{name: "speed", sent: sent, of: takingOff(8, 21, 4)}).run(t)
		v := metricOf(t, onlyEpisode(t, r).Metrics, "take_off_shock")
		if v.Absent != nil || math.Abs(v.Best-4) > 0.15 || v.StandardError > 0.1 || v.StandardError < 0.01 {
			t.Errorf("every %s: %s", sent, metricWords(v))
		}
	}
}

func TestMeasurementsOfAStartByTheKey(t *testing.T) {
	r := restartBench().ends("8s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=0 2.105s=0 2.205s=240 2.605s=240 2.705s=840 3.105s=1240 4.105s=800"},
		lane{name: "stop", sent: "10ms", curve: "0s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 2.105s=1 2.655s=0"},
		lane{name: "volts", sent: "10ms", curve: "0s=12.6 2.105s=12.6 2.105s=8 2.305s=10 2.655s=10.5 2.755s=14"}).run(t)
	if len(r.Episodes) != 0 || len(r.Starts) != 1 || r.Starts[0].Kind != analyze.KeyStart {
		t.Fatalf("%d episodes, starts %+v", len(r.Episodes), r.Starts)
	}
	var keys []string
	for _, v := range r.Starts[0].Metrics {
		keys = append(keys, v.Key)
	}
	const want = "crank_to_run crank_speed flare voltage_before voltage_min voltage_dip low_voltage_time voltage_recovery module_supply_min"
	if got := strings.Join(keys, " "); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	checkMetrics(t, r.Starts[0].Metrics, `
		crank_to_run: 0.5433333 s [0.53 0.55]
		crank_speed: 240 rpm every 0.01
		flare: 1237.75 rpm every 0.01
		voltage_before: 12.6 V every 0.01
		voltage_min: 8.05 V every 0.01
		voltage_dip: 4.55 V every 0.01
		low_voltage_time: 0.1584066 s [0.15 0.17] every 0.01
		voltage_recovery: 0.5907143 s [0.58 0.61]
		module_supply_min: 12.5 V every 0.02
	`)
	// A start that never becomes one.
	r = restartBench().ends("12s").with(
		lane{name: "rpm", sent: "10ms", curve: "0s=0 2.105s=0 2.205s=150 4.105s=150 4.205s=0"},
		lane{name: "starter", sent: "10ms", curve: "0s=0 2.105s=1 4.105s=0"}).run(t)
	if len(r.Starts) != 1 {
		t.Fatalf("starts %+v", r.Starts)
	}
	checkMetrics(t, r.Starts[0].Metrics, `
		crank_to_run: absent: PlainReason no_running
		crank_speed: 150 rpm every 0.01
		flare: absent: PlainReason no_running
		voltage_recovery: absent: PlainReason no_voltage_fall
	`)
}

func TestMetricsAreFoundByTheirKey(t *testing.T) {
	for _, want := range measure.Metrics {
		if got, ok := measure.MetricByKey(want.Key); !ok || got.Key != want.Key || got.Text != want.Text {
			t.Errorf("%s: %+v, %v", want.Key, got, ok)
		}
	}
	if m, ok := measure.MetricByKey("no such"); ok {
		t.Errorf("found %+v", m)
	}
}
