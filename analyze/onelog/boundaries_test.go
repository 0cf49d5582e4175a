package onelog_test

import (
	"strings"
	"testing"

	"lull/analyze"
)

// What happens just at the boundary of a rule, or in the one case that a rule was made
// for.

func result(t *testing.T, text, more string) (drive, *analyze.Result) {
	t.Helper()
	d := parseDrive(t, text, more)
	return d, d.run()
}

func TestAKeyThatIsOffAndOnAgainWhileTheEngineRunsDownTurnedItOff(t *testing.T) {
	_, res := result(t, `
		rpm:   0s=800 10s=800 10.8s=0
		speed: 0s=10 1s=10 2s=0
		key:   0s=1 10.2s=0 10.5s=1`, "")
	if len(res.Episodes) > 0 {
		t.Errorf("%d episodes, want none", len(res.Episodes))
	}
}

// A key that was off and on long before the engine ran down has nothing to do with it.
func TestAKeyThatWasOffAndOnAgainBeforeTheEngineSlowedDidNotTurnItOff(t *testing.T) {
	d, res := result(t, `
		rpm: 0s=800 10s=800 10.8s=0
		key: 0s=1 9.5s=0 9.8s=1`, "")
	if got, want := tellAll(d.m, res), "log_end: stop 10.300 engine_speed; rest 10.770\n"; got != want {
		t.Errorf("%swant %s", got, want)
	}
}

// At the moment of rest, or between the two samples that tell it, the key ends the
// episode: the next start is the key's. Before it, the key turned the engine off.
func TestAKeyThatFallsAsTheEngineComesToRestEndsTheEpisode(t *testing.T) {
	for _, test := range []struct{ name, rpm, key, want string }{
		{"one moment before rest", "rpm", "key @10ms+4ms: 0s=1 10.77s=0 18s=1", ""},
		{"at rest", "rpm", "key @10ms+5ms: 0s=1 10.77s=0 18s=1", "ignition_off: stop 10.300 engine_speed; rest 10.770\n"},
		{"one moment after it", "rpm", "key @10ms+6ms: 0s=1 10.77s=0 18s=1", "ignition_off: stop 10.300 engine_speed; rest 10.770\n"},
		{"seen at once with rest", "rpm", "key: 0s=1 10.77s=0 18s=1", ""},
		{"before the next sample of a slow engine speed", "rpm @400ms", "key: 0s=1 10.78s=0 18s=1", "ignition_off: stop 10.300 engine_speed; rest 10.770\n"},
		{"after it", "rpm @400ms", "key: 0s=1 10.9s=0 18s=1", "ignition_off: stop 10.300 engine_speed; rest 10.770\n"},
	} {
		d, res := result(t, test.rpm+": 0s=800 10s=800 10.8s=0 20.1s=0 20.6s=900\n"+test.key+"\nstarter: 0s=0 20.095s=1 20.3s=0\n", "")
		if got := tellAll(d.m, res); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}

func TestTheVoltageBeforeAKeyStartIsKnownHoweverLongTheStarterTurns(t *testing.T) {
	_, res := result(t, `
		rpm:     0s=0 5s=0 5.1s=150 20s=150 20.4s=900
		starter: 0s=0 5s=1 20.3s=0
		volt:    0s=12.6 5s=12.6 5s=9 20.3s=9 20.3s=14`, "settings: {no_start_after: 30s}\n")
	if len(res.Starts) != 1 {
		t.Fatalf("%d starts, want 1", len(res.Starts))
	}
	for _, v := range res.Starts[0].Metrics {
		if v.Key == "voltage_before" {
			if v.Absent != nil || v.Best != 12.6 {
				t.Errorf("voltage_before is %v (absent: %+v), want 12.6", v.Best, v.Absent)
			}
			return
		}
	}
	t.Error("a key start has no voltage_before")
}

func TestASecondTryMakesAFailedStart(t *testing.T) {
	_, res := result(t, `
		rpm:     0s=800 10s=800 10.8s=0 22.1s=0 22.4s=900
		stop:    0s=0 10s=1 20s=0
		starter: 0s=0 20.1s=1 20.4s=0 22.1s=1 22.3s=0
		brake:   0s=pressed 19.9s=released`, brakeAsks+"limits: {restart_latency: {max: 0.6}}\n")
	got := tellFindings(res)
	want := "attention failed_start [episode 1]: FailedStart {Tries:2 Late:[{Value:restart_latency 2.36..2.372..2.38 s Limit:{Metric:restart_latency HasMax:true Max:0.6}}]}\n"
	if got != want {
		t.Errorf("%swant %s", got, want)
	}
}

// Before the five seconds, and in less than half of them, the engine burnt another
// rate; the median of a longer or shorter window is that one.
func TestTheIdleRateIsTheMedianOfFiveSecondsBeforeAStopWhileRolling(t *testing.T) {
	_, res := result(t, `
		rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
		stop:    0s=0 10s=1 20s=0
		starter: 0s=0 20.1s=1 20.3s=0
		fuel:    0s=3.6 4.99s=3.6 4.99s=0.36 7.52s=0.36 7.52s=3.6`, "settings: {restart_fuel: 0}\n")
	var off, saved float64
	for _, v := range res.Episodes[0].Metrics {
		switch v.Key {
		case "engine_off":
			off = v.Best
		case "fuel_saved":
			saved = v.Best
		}
	}
	if rate := saved / off * 3.6; rate < 0.359 || rate > 0.361 {
		t.Errorf("the idle rate is %.3f L/h, want 0.36", rate)
	}
}

// What comes less often than stale_after is stale after three of its periods only.
func TestACodeThatComesSeldomIsNotForgottenBetweenTwoFrames(t *testing.T) {
	d, res := result(t, `
		rpm:                 0s=800
		speed:               0s=10 100s=10 101s=0 120.9s=0 121.9s=10
		code @2.5s:          0s=4
		end: 125s`, "")
	if got, want := tellStandstills(d.m, res), "100.950..120.950 opportunity; code \"battery weak\" 1.000 100.950..120.950; covered 1.000; reason battery weak\n"; got != want {
		t.Errorf("%swant %s", got, want)
	}
}

func TestASwitchThatComesSeldomIsNotForgottenBetweenTwoFrames(t *testing.T) {
	d, res := result(t, `
		rpm:        0s=800
		speed:      0s=10 100s=10 101s=0 120.9s=0 121.9s=10
		coolant:    0s=80
		ac @2.5s:   0s=on
		end: 125s`, cold)
	if got, want := tellStandstills(d.m, res), "100.950..120.950 opportunity; cold false 0.000; cabin true 1.000 100.950..120.950; covered 1.000; reason cabin\n"; got != want {
		t.Errorf("%swant %s", got, want)
	}
}

// A code is forgotten after stale_after also where that is less than a second.
func TestACodeIsForgottenAfterAShortStaleAfterToo(t *testing.T) {
	d, res := result(t, `
		rpm:   0s=800
		speed: 0s=10 1s=10 2s=0 11.9s=0 12.9s=10
		code:  0s=4 3s=- 3.8s=4`, "settings: {stale_after: 300ms}\n")
	if got, want := tellStandstills(d.m, res), "1.950..11.950 opportunity; code \"battery weak\" 0.949 1.950..3.290 3.800..11.950; covered 0.949; reason battery weak\n"; got != want {
		t.Errorf("%swant %s", got, want)
	}
}

func TestAnEngineThatRunsForJustRunningHoldRuns(t *testing.T) {
	for end, want := range map[string]string{
		"20.57s": "restarted: stop 9.995 stop_command; rest 10.770; decision 19.995 stop_command; crank 20.095 starter_command; running 20.267",
		"20.56s": "log_end: stop 9.995 stop_command; rest 10.770; decision 19.995 stop_command; crank 20.095 starter_command",
	} {
		d, res := result(t, `
			rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
			stop:    0s=0 10s=1 20s=0
			starter: 0s=0 20.1s=1 20.3s=0
			end: `+end, "")
		if got := strings.TrimSpace(tellAll(d.m, res)); got != want {
			t.Errorf("the log ends at %s: %s\nwant %s", end, got, want)
		}
	}
}

func TestAStopIsCalledOffOnceTheEngineRanOnForJustRunningHold(t *testing.T) {
	for end, want := range map[string]string{
		"10.8s":  "aborted: stop 9.995 stop_command; decision 10.495 stop_command",
		"10.79s": "log_end: stop 9.995 stop_command; decision 10.495 stop_command",
	} {
		d, res := result(t, "rpm: 0s=800\nstop: 0s=0 10s=1 10.5s=0\nend: "+end, "")
		if got := strings.TrimSpace(tellAll(d.m, res)); got != want {
			t.Errorf("the log ends at %s: %s\nwant %s", end, got, want)
		}
	}
}

func TestJustHalfOfAStandstillGivesItsReason(t *testing.T) {
	d, res := result(t, `
		rpm:     0s=800
		speed:   0s=10 1s=10 2s=0 11.91s=0 12.91s=10
		ac:      0s=on 6.96s=off
		coolant: 0s=80`, cold)
	s := res.Standstills[0]
	if s.Covered != 0.5 || s.Reason != "cabin" || s.Unexplained {
		t.Errorf("covered %v; %s", s.Covered, tellStandstills(d.m, res))
	}
}

func TestJustHalfOfAStandstillUnknownCannotBeTold(t *testing.T) {
	d, res := result(t, `
		rpm:     0s=800
		speed:   0s=10 1s=10 2s=0 11.92s=0 12.92s=10
		ac:      6.96s=off
		coolant: 0s=80`, cold)
	s := res.Standstills[0]
	if len(s.CannotTell) != 1 || s.Unexplained {
		t.Error(tellStandstills(d.m, res))
	}
}

// The vehicle may have been elsewhere in a gap as long as a standstill.
func TestAGapAsLongAsAStandstillCutsIt(t *testing.T) {
	for _, test := range []struct{ least, want string }{
		{"3010ms", "1.950..12.000 open opportunity unexplained; covered 0.000\n15.010..20.050 opportunity unexplained; covered 0.000\n"},
		{"3011ms", "1.950..20.050 opportunity; covered 0.000; cannot tell rpm\n"},
	} {
		d, res := result(t, `
			rpm:   0s=800
			speed: 0s=10 1s=10 2s=0 20s=0 21s=10
			cut: 12.001s..15.009s`, "settings: {min_standstill: "+test.least+"}\n")
		if got := tellStandstills(d.m, res); got != test.want {
			t.Errorf("%s: %swant %s", test.least, got, test.want)
		}
	}
}

// The engine was seen to rest, and so the stop to be one, only after the vehicle left.
func TestATakeOffBeforeRestIsThatOfTheRestartThatWaitedForRest(t *testing.T) {
	_, res := result(t, `
		rpm:     0s=800 10s=800 10.8s=0 11s=0 11.3s=900
		speed:   0s=10 1s=10 2s=0 10.6s=0 11.6s=10
		starter: 0s=0 10.995s=1 11.2s=0
		brake:   0s=pressed 10.505s=released`, brakeAsks)
	if v := firstMetric(t, res, "take_off_delay"); v.Absent != nil || v.Best < 0.13 || v.Best > 0.16 {
		t.Errorf("take_off_delay %+v", v)
	}
}

// What came after a stop that a slow engine speed tells late is no part of what stood
// before it.
func TestWhatIsMeasuredBeforeAStopEndsWithIt(t *testing.T) {
	_, res := result(t, `
		rpm @1s+500ms: 0s=800 9.5s=800 10.5s=0
		speed:         0s=10 8.85s=10 9.85s=0 15s=0 16s=10
		coolant:       0s=20 9.88s=20 9.89s=90`, cold[:strings.Index(cold, "  - {name: cabin")])
	if n := len(res.Standstills); n != 1 {
		t.Fatalf("%d standstills", n)
	}
	if m := res.Standstills[0].Inhibits[0].Measured; len(m) != 1 || m[0].Value.Value != 20 {
		t.Errorf("%+v, want 20", m)
	}
}

// The coolant crosses 40 at 4.5 s and again 0.8 s later: what is bridged is shorter.
func TestAGapAsLongAsItsBridgeIsNotBridged(t *testing.T) {
	const bridged = "inhibits:\n  - {name: cold, bridge: %s, when: {signal: coolant, below: 40}}\n"
	for bridge, want := range map[string]string{
		"800ms": "1.950..11.950 opportunity; cold mixed 0.920 1.950..4.500 5.300..11.950; covered 0.920; reason cold\n",
		"801ms": "1.950..11.950 opportunity; cold true 1.000 1.950..11.950; covered 1.000; reason cold\n",
	} {
		d, res := result(t, `
			rpm:                  0s=800
			speed:                0s=10 1s=10 2s=0 11.9s=0 12.9s=10
			coolant @200ms:       0s=38 4.4s=38 4.6s=42 5.2s=42 5.4s=38`, strings.Replace(bridged, "%s", bridge, 1))
		if got := tellStandstills(d.m, res); got != want {
			t.Errorf("bridge %s: %swant %s", bridge, got, want)
		}
	}
}

// Without a starter command a sag of the engine speed that is not deep is a restart only
// where the voltage dipped: by 1 V within 100 ms, and more than 5 s after the last dip
// where it stayed low since.
func TestAVoltageDipIsOneVoltInATenthOfASecondAndNotTheOneBefore(t *testing.T) {
	for _, test := range []struct {
		volt string
		dips bool
	}{
		{"volt @100ms: 0s=13 20.1s=13 20.2s=12", true},
		{"volt @100ms: 0s=13 20.1s=13 20.2s=12.002", false},
		{"volt @101ms: 0s=13 20.099s=13 20.2s=12", false},
		{"volt: 0s=13 15.6s=13 15.61s=11.5 20.2s=11.5 20.21s=10", false},
		{"volt: 0s=13 17.6s=13 17.61s=11.5 18s=11.5 18.1s=12.4 20.2s=12.4 20.21s=11.3", false}, // half a volt below is not back
		{"volt: 0s=13 17.6s=13 17.61s=11.5 18s=11.5 18.1s=12.5 20.2s=12.5 20.21s=11.4", true},
		{"volt: 0s=13 14.6s=13 14.61s=11.5 20.2s=11.5 20.21s=10", true},
	} {
		_, res := result(t, "rpm: 0s=800 20s=800 20.2s=400 20.4s=800\n"+test.volt, "")
		if got := len(res.Episodes) == 1; got != test.dips {
			t.Errorf("%s: a restart is seen: %v", test.volt, got)
		}
	}
}
