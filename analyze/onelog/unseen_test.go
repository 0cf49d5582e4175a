package onelog_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/decode"
)

// verdictsOf writes the limits of the first episode with the value that each was
// held against.
func verdictsOf(res *analyze.Result) string {
	var b strings.Builder
	for _, e := range res.Episodes {
		for _, v := range e.Metrics {
			for _, l := range e.Limits {
				if l.Limit.Metric == v.Key {
					b.WriteString(v.Key + " " + string(l.Verdict) + "\n")
				}
			}
		}
	}
	return b.String()
}

// firstMetric is a metric of the first episode.
func firstMetric(t *testing.T, res *analyze.Result, key string) analyze.MetricValue {
	t.Helper()
	if len(res.Episodes) > 0 {
		for _, v := range res.Episodes[0].Metrics {
			if v.Key == key {
				return v
			}
		}
	}
	t.Fatalf("no episode has %s", key)
	return analyze.MetricValue{}
}

// sagging is the voltage of a battery that falls to 8.2 V at the crank, as it is and
// as it is where its frame stays away in between.
const (
	sagging      = "volt: 0s=12.6 20.09s=12.6 20.11s=8.2 20.3s=9 20.6s=12.6\n"
	silentVolt   = "volt: 0s=12.6 20.09s=- 20.5s=12.6\n"
	startLimits  = "limits:\n  voltage_min: {min: 8.5}\n  voltage_dip: {max: 4}\n  low_voltage_time: {max: 0.1}\n  crank_speed: {min: 100}\n"
	oneRestart   = "rpm: 0s=800 10s=800 10.8s=0 20.1s=0 20.2s=150 20.4s=150 20.6s=900\nstop: 0s=0 9.995s=1 20.005s=0\nstarter: 0s=0 20.095s=1 20.5s=0\n"
	fewRestart   = "rpm @100ms: 0s=800 10s=800 10.8s=0 20.1s=0 20.15s=150 20.4s=150 20.6s=900\nstop: 0s=0 9.995s=1 20.005s=0\nstarter: 0s=0 20.095s=1 20.5s=0\n"
	brakeInGap   = "rpm: 0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900\nstop: 0s=0 9.995s=1 20.005s=0\nstarter: 0s=0 20.095s=1 20.3s=0\n"
	silentModule = "body @100ms: 0s=1 20.1s=- 22s=1\n"
)

func TestALimitIsNeverKeptByWhatWasNotSeen(t *testing.T) {
	for _, test := range []struct{ name, drive, more, want string }{
		{"seen whole", oneRestart + sagging, startLimits, `
			crank_speed inside
			voltage_min outside
			voltage_dip outside
			low_voltage_time outside`},
		{"the voltage's frame silent over the crank", oneRestart + silentVolt, startLimits, `crank_speed inside`},
		{"a gap of the recording over the crank", oneRestart + sagging + "cut: 20.09s..20.5s", startLimits, ``},
		{"a gap that begins once the dip was seen", oneRestart + sagging + "cut: 20.15s..20.5s", startLimits, `
			voltage_min outside
			voltage_dip outside`},
		{"a gap after running, in the reach of the window alone", oneRestart + sagging + "cut: 20.7s..20.9s", `
limits:
  voltage_min: {min: 8}
  voltage_dip: {max: 5}
  low_voltage_time: {max: 2}
  crank_speed: {min: 100}
  flare: {max: 1000}
`, `
			crank_speed inside
			flare unseen
			voltage_min unseen
			voltage_dip unseen
			low_voltage_time unseen`},
		{"a gap in the second before", oneRestart + sagging + "cut: 19.4s..19.7s", startLimits, `
			crank_speed inside
			voltage_min outside
			voltage_dip unseen
			low_voltage_time outside`},
		{"a median of two samples, of extremes too few to keep a limit", fewRestart + "volt @500ms: 0s=12.6 20.09s=12.6 20.11s=8.2 20.3s=9 20.6s=12.6\n", `
limits:
  voltage_min: {min: 7}
  crank_speed: {min: 200}
`, `
			crank_speed unseen
			voltage_min unseen`},
		{"few samples that break a limit", fewRestart + "volt @500ms: 0s=12.6 20.09s=12.6 20.11s=8.2 20.3s=9 20.6s=12.6\n", `
limits:
  voltage_min: {min: 11.5}
`, `voltage_min outside`},
		{"pressure that stayed away while the engine rested", oneRestart + "hold: 0s=500 12s=- 14s=500\n", "limits:\n  hold_pressure_min: {min: 300}\n", `hold_pressure_min unseen`},
		{"pressure that stayed away and was low when it was seen", oneRestart + "hold: 0s=500 12s=- 14s=250 15s=500\n", "limits:\n  hold_pressure_min: {min: 300}\n", `hold_pressure_min outside`},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, test.drive, test.more)
			res := d.run()
			if diff := cmp.Diff(rows(test.want), verdictsOf(res)); diff != "" {
				t.Errorf("(-want +got):\n%s\nepisodes:\n%s\n%+v", diff, tellAll(d.m, res), res.Episodes[0].Metrics)
			}
		})
	}
}

func TestAnExtremeOfWhatWasMostlyNotSeenIsAbsentWithTheReason(t *testing.T) {
	silent := parseDrive(t, oneRestart+silentVolt, "")
	gap := parseDrive(t, oneRestart+sagging+"cut: 20.09s..20.5s", "")
	mostly := func(unseen, whole int64, seen float64) analyze.Reason {
		why := analyze.RoleUnseen{Role: decode.BatteryVoltage, Where: analyze.InWindow, Unseen: unseen * 1e6, Whole: whole * 1e6}
		return analyze.AsFarAsSeen{Why: why, Best: seen, Unit: "V"}
	}
	for _, test := range []struct {
		drive drive
		key   string
		want  analyze.Reason
	}{
		{silent, "voltage_min", mostly(410, 410, 12.6)},
		{silent, "voltage_dip", mostly(410, 410, 0)},
		{gap, "voltage_min", mostly(410, 500, 11.4)},
		{silent, "voltage_recovery", analyze.RoleUnseen{Role: decode.BatteryVoltage, Where: analyze.InFall, Unseen: 420e6}},
	} {
		v := firstMetric(t, test.drive.run(), test.key)
		if diff := cmp.Diff(test.want, v.Absent); diff != "" || v.Best != 0 {
			t.Errorf("%s: %+v (-want +got):\n%s", test.key, v, diff)
		}
	}
}

func TestNothingIsSaidToHaveFallenThatWasNotSeenToFall(t *testing.T) {
	for name, volt := range map[string]string{"silent": silentVolt, "flat": "volt: 0s=12.6\n"} {
		d := parseDrive(t, oneRestart+volt+silentModule, "")
		told := tellFindings(d.run())
		if !strings.Contains(told, "module_silent") || strings.Contains(told, "Dip:") {
			t.Errorf("%s:\n%s", name, told)
		}
	}
	d := parseDrive(t, oneRestart+sagging+silentModule, "")
	if told := tellFindings(d.run()); !strings.Contains(told, "Dip:voltage_min 8.2..8.2..8.2 V When:during") {
		t.Errorf("seen to fall:\n%s", told)
	}
}

func TestASwitchOnChangeMayHaveChangedAnywhereInAGap(t *testing.T) {
	d := parseDrive(t, strings.ReplaceAll(brakeInGap, "stop:", "stop @change/200ms:")+`
		brake @change/200ms: 0s=pressed 19.805s=released
		cut: 9.9s..10.3s 19.7s..19.95s`, brakeAsks)
	res := d.run()
	if len(res.Episodes) != 1 || res.Episodes[0].Request == nil {
		t.Fatalf("episodes:\n%s\n%s", tellAll(d.m, res), tellFindings(res))
	}
	e := res.Episodes[0]
	if e.Stop.Low > 9.995e9 || e.Stop.High < 9.995e9 {
		t.Errorf("stop onset %+v does not hold 9.995 s", e.Stop)
	}
	if e.Request.Low > 19.805e9 || e.Request.High < 19.805e9 {
		t.Errorf("request %+v does not hold 19.805 s", e.Request)
	}
	if told := tellFindings(res); strings.Contains(told, "no_restart_request") {
		t.Errorf("findings:\n%s", told)
	}
}

func TestARequestThatMayLieInAGapIsNotSaidToBeMissing(t *testing.T) {
	d := parseDrive(t, brakeInGap+"brake @change: 0s=pressed 19.805s=released 19.9s=pressed\ncut: 19.7s..19.95s", brakeAsks)
	told := tellFindings(d.run())
	if strings.Contains(told, "no_restart_request") || !strings.Contains(told, "cannot_tell [episode 1]") {
		t.Errorf("findings:\n%s", told)
	}
}

func TestASagSoonAfterAKeyStartIsNoRestart(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=0 1s=0 1.05s=200 1.5s=200 1.6s=520 2.3s=800 2.45s=450 2.6s=800 10s=800", "")
	res := d.run()
	if len(res.Episodes) != 0 || tellStarts(res) != "key 1.008 engine_speed running 1.594\n" {
		t.Errorf("episodes:\n%s\nstarts:\n%s", tellAll(d.m, res), tellStarts(res))
	}
}

func TestATakeOffIsMeasuredWhereTheVehicleLeftBeforeRunningHadHeld(t *testing.T) {
	d := parseDrive(t, `
		rpm:   0s=800 3s=800 3.4s=250 4.25s=200 4.6s=800 12s=800
		speed: 0s=20 1s=20 1.95s=0 4.81s=0 8s=30
		brake: 0s=pressed 4.2s=released`, brakeAsks)
	res := d.run()
	delay, shock := firstMetric(t, res, "take_off_delay"), firstMetric(t, res, "take_off_shock")
	if delay.Absent != nil || delay.Low > 0.67 || delay.High < 0.65 {
		t.Errorf("take_off_delay %+v\n%s\n%s", delay, tellAll(d.m, res), tellStandstills(d.m, res))
	}
	if shock.Absent != nil {
		t.Errorf("take_off_shock absent: %+v", shock.Absent)
	}
}

func TestAStandstillCutByTheKeySaysHowLongItCouldHaveBeenStopped(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800 10s=800 10.5s=0\nstop: 0s=0\nkey: 0s=1 10s=0\nspeed: 0s=20 5s=20 6s=0 29s=0", "")
	told := tellFindings(d.run())
	if !strings.Contains(told, "unexplained_standstill") || !strings.Contains(told, "{Start:5.975 Length:4.020 KeyOff:true") {
		t.Errorf("findings:\n%s", told)
	}
}

func TestARunningCrossingInAGapHasTheGapForItsBounds(t *testing.T) {
	for name, more := range map[string]string{"episode": "10s=800 10.8s=0 ", "key": ""} {
		start := "0s=800 " + more
		if more == "" {
			start = "0s=0 "
		}
		d := parseDrive(t, "rpm: "+start+"20.1s=0 20.15s=150 20.4s=900\nstarter: 0s=0 20.095s=1 20.3s=0\ncut: 20.2s..20.5s", "")
		res := d.run()
		if len(res.Starts) != 1 || res.Starts[0].Running == nil || res.Starts[0].Running.Low != 20.2e9 || res.Starts[0].Running.High != 20.5e9 {
			t.Errorf("%s: %s", name, tellStarts(res))
		}
		if name == "key" {
			continue
		}
		e := res.Episodes[0]
		if e.Outcome != analyze.InGap || e.Running == nil || e.Running.Low != 20.2e9 || e.Running.High != 20.5e9 {
			t.Fatalf("%s", tellAll(d.m, res))
		}
		if v := firstMetric(t, res, "crank_to_run"); v.Absent != nil || v.Low > 0.12 || v.High < 0.4 {
			t.Errorf("crank_to_run %+v", v)
		}
	}
}

func TestARestartWhoseStarterWasNotSeenSaysSo(t *testing.T) {
	d := parseDrive(t, strings.ReplaceAll(oneRestart, "20.095s=1 20.5s=0", "20.0s=- 21s=0"), "")
	res := d.run()
	isStarter := func(n analyze.EpisodeNote) bool {
		c, ok := n.(analyze.CommandUnseen)
		return ok && c.Role == decode.StarterCommand
	}
	if len(res.Episodes) != 1 || !slices.ContainsFunc(res.Episodes[0].Notes, isStarter) {
		t.Errorf("%s\n%s", tellAll(d.m, res), tellStarts(res))
	}
}

func TestAKeyStartWhoseStarterWasNotSeenIsTold(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=0 2s=0 2.2s=150 2.5s=150 2.7s=800 10s=800\nstarter: 0s=0 1.5s=- 4s=0", "")
	res := d.run()
	if told := tellFindings(res); len(res.Starts) != 0 || !strings.Contains(told, "note cannot_tell []: HiddenStart {At:2.608}") {
		t.Errorf("%s\n%s", tellStarts(res), told)
	}
}

func TestAStartWhoseStarterWasSeenNotToTurnHidesNothing(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=0 2s=0 2.2s=150 2.5s=150 2.7s=800 10s=800\nstarter: 0s=0", "")
	if told := tellFindings(d.run()); strings.Contains(told, "HiddenStart") {
		t.Error(told)
	}
}

func TestARequestThatIsNoLongerSeenDidNotAsk(t *testing.T) {
	d := parseDrive(t, strings.Replace(oneRestart, "rpm:", "brake: 0s=pressed 17.8s=-\nrpm:", 1), brakeAsks+"settings: {stale_after: 2s}\n")
	res := d.run()
	if len(res.Episodes) != 1 || res.Episodes[0].Request != nil {
		t.Error(tellAll(d.m, res))
	}
}

func TestAComparisonMayChangeUntilASampleSurelyTellsItsSide(t *testing.T) {
	// The charge rises by 5 % a second and is read in whole per cent: each is read for
	// 0.2 s, from half a step before it on. It truly reaches 64.7 at 19.615 s.
	charge := "0s=60"
	for n := range 8 {
		charge += fmt.Sprintf(" %dms=%d %dms=%d", 18774+200*n, 60+n, 18775+200*n, 61+n)
	}
	for _, test := range []struct {
		when  string
		truth int64 // ms
	}{
		{"moves: 5", 19755}, // from 60.4, which is read as 60
		{"above: 64.7", 19615},
		{"at_least: 65", 19675},
	} {
		d := parseDrive(t, "rpm: 0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900\nstop: 0s=0 9.995s=1 20.005s=0\nstarter: 0s=0 20.095s=1 20.3s=0\ncharge @20ms: "+charge,
			"restart_requests:\n  - {name: full, when: {signal: charge, "+test.when+"}}\n")
		res := d.run()
		if len(res.Episodes) != 1 || res.Episodes[0].Request == nil {
			t.Fatalf("%s: %s", test.when, tellAll(d.m, res))
		}
		if q := res.Episodes[0].Request; q.Low > test.truth*1e6 || q.High < test.truth*1e6 {
			t.Errorf("%s: %d to %d ms, true %d", test.when, q.Low/1e6, q.High/1e6, test.truth)
		}
	}
}

func TestAMedianOverAWindowThatWideInstantsMakeLongJudgesNothing(t *testing.T) {
	d := parseDrive(t, `
		rpm: 0s=800 10s=800 10.8s=0 20.07s=0 20.13s=175 20.3s=200 20.35s=900
		stop: 0s=0 9.995s=1 20.005s=0
		starter @100ms+60ms: 0s=0 20.05s=1 20.35s=0`, "limits:\n  crank_speed: {min: 150}\n")
	if got := verdictsOf(d.run()); got != "crank_speed unseen\n" {
		t.Errorf("%s", got)
	}
}

func TestAStarterThatWasNotSeenLeavesTheLimitsOfTheStartUnjudgedAlsoWithoutAStopCommand(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800 10s=800 10.8s=0 20.1s=0 20.2s=150 20.4s=150 20.6s=900\nstarter: 0s=0 20s=- 21s=0\n"+sagging, startLimits)
	res := d.run()
	if len(res.Episodes) != 1 || len(res.Episodes[0].Notes) != 1 {
		t.Fatalf("%s", tellAll(d.m, res))
	}
	want := []string{"voltage_min", "voltage_dip", "low_voltage_time", "crank_speed"}
	var got []string
	for _, limit := range res.Episodes[0].Unjudged(d.m) {
		got = append(got, limit.Metric)
	}
	slices.Sort(want)
	slices.Sort(got)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestATimeBelowAVoltageOfTooFewSamplesKeepsNoLimit(t *testing.T) {
	d := parseDrive(t, oneRestart+"volt @400ms+50ms: 0s=12.6 20.09s=12.6 20.11s=8.2 20.3s=9 20.44s=12.6", "limits:\n  low_voltage_time: {max: 0.1}\n")
	if got := verdictsOf(d.run()); got != "low_voltage_time unseen\n" {
		t.Errorf("%s", got)
	}
}
