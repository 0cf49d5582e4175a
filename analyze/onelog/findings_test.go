package onelog_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/decode"
)

// restarts are two stops, asked for, cranked and running like the book.
const restarts = `
	rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 30s=900 30.9s=0 40.1s=0 40.4s=900
	stop:    0s=0 9.995s=1 20.005s=0 29.995s=1 40.005s=0
	starter: 0s=0 20.095s=1 20.3s=0 40.095s=1 40.3s=0
`

// Every finding, with its severity, evidence and what it says.
func TestFindings(t *testing.T) {
	for _, test := range []struct{ name, drive, more, want string }{
		{
			name:  "limits broken, borderline, and on the pressure",
			drive: restarts + "brake: 0s=pressed 19.895s=released 21s=pressed 39.805s=released\nvolt: 0s=12.6 20.09s=12.6 20.1s=8 20.3s=11\nhold: 0s=500 15s=200 25s=500",
			more: brakeAsks + `limits:
  restart_latency: {max: 0.375}
  voltage_min: {min: 8.5}
  hold_pressure_min: {min: 300}
`,
			want: `
				attention pressure_lost [episode 1]: BrokenLimits [{Value:hold_pressure_min 200..200..200 kPa Limit:{Metric:hold_pressure_min HasMin:true Min:300}}]
				attention limit_broken [episode 1]: BrokenLimits [{Value:voltage_min 8..8..8 V Limit:{Metric:voltage_min HasMin:true Min:8.5}}]
				attention limit_broken [episode 2]: BrokenLimits [{Value:restart_latency 0.45..0.4617..0.47 s Limit:{Metric:restart_latency HasMax:true Max:0.375}}]
				note limit_borderline [episode 1]: StraddledLimit {Judged:{Value:restart_latency 0.36..0.3717..0.38 s Limit:{Metric:restart_latency HasMax:true Max:0.375}} By:period Least:0.0016667}`,
		},
		{
			name: "a failed start, and one that came at the second try",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 24.9s=0 25.2s=900 30s=900 30.9s=0
				stop:    0s=0 9.995s=1 20.005s=0 29.995s=1 40.005s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 25.2s=0
				end:     60s`,
			want: `
				attention failed_start [episode 1]: FailedStart {Tries:2}
				attention failed_start [episode 2]: FailedStart {Ended:no_start}`,
		},
		{
			name: "two tries that both failed",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 25.2s=0
				end:     60s`,
			want: `attention failed_start [episode 1]: FailedStart {Tries:2 Ended:no_start}`,
		},
		{
			name: "one try, then the key",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0
				end:     60s`,
			want: `attention failed_start [episode 1]: FailedStart {Tries:1 Ended:no_start}`,
		},
		{
			name: "two tries, then the driver gave up",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0 22.095s=1 23s=0
				key:     0s=1 24.005s=0`,
			want: `attention failed_start [episode 1]: FailedStart {Tries:2 Ended:ignition_off}`,
		},
		{
			name: "a key start that needed a retry",
			drive: `
				rpm:     0s=0 8.1s=0 8.4s=900
				starter: 0s=0 4.995s=1 6s=0 8.095s=1 8.3s=0`,
			want: `attention failed_start [start 2]: RetriedStart {At:8.095}`,
		},
		{
			name: "stalled; no request is looked for",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0
				starter: 0s=0 20.095s=1 20.3s=0
				brake:   0s=pressed`,
			more: brakeAsks,
			want: `attention stalled [episode 1]: FailedStart {Tries:1}`,
		},
		{
			name:  "a restart that nothing explains",
			drive: restarts + "brake: 0s=pressed 19.895s=released 21s=pressed",
			more:  brakeAsks,
			want:  `note no_restart_request [episode 2]: UnaskedRestart {}`,
		},
		{
			name:  "... or what cannot be told",
			drive: restarts + "brake: 0s=pressed 19.895s=released 21s=pressed 30s=-",
			more:  brakeAsks,
			want: `
				attention module_silent [episode 2]: SilentModules {Silences:[can0 0x10B 29.990..43.400]}
				note cannot_tell [episode 2]: DoubtedRequests {Conditions:[brake] Why:{Signals:[brake]}}`,
		},
		{
			name:  "a silence across the crank, with the dip",
			drive: restarts + "body @20ms: 0s=1 20.15s=- 20.61s=1\nvolt: 0s=12.6 20.09s=12.6 20.1s=7 20.3s=11",
			want:  `attention module_silent [episode 1]: SilentModules {Silences:[can0 0x111 20.140..20.620 body unit] Dip:voltage_min 7..7..7 V When:during}`,
		},
		{
			name:  "a silence that ends 0.1 s before the crank's low still counts",
			drive: restarts + "body @20ms: 0s=1 15s=- 19.99s=1",
			want:  `attention module_silent [episode 1]: SilentModules {Silences:[can0 0x111 14.980..20.000 body unit]}`,
		},
		{
			name:  "one that ends before that does not",
			drive: restarts + "body @20ms: 0s=1 15s=- 19.97s=1",
		},
		{
			name:  "one that begins 2 s after running's high still counts",
			drive: restarts + "body @10ms: 0s=1 22.275s=- 25s=1",
			want:  `attention module_silent [episode 1]: SilentModules {Silences:[can0 0x111 22.270..25.000 body unit]}`,
		},
		{
			name:  "one that begins later does not",
			drive: restarts + "body @10ms: 0s=1 22.285s=- 25s=1",
		},
		{
			name: "a silence from the decision where no crank was seen",
			drive: `
				rpm:        0s=800 10s=800 10.8s=0
				stop:       0s=0 9.995s=1 20.005s=0
				starter:    0s=0
				body @20ms: 0s=1 19.5s=- 19.94s=1
				end:        40s`,
			want: `
				attention failed_start [episode 1]: FailedStart {Ended:no_start}
				attention module_silent [episode 1]: SilentModules {Silences:[can0 0x111 19.480..19.940 body unit]}`,
		},
		{
			name:  "a silence with a gap of the recording in it",
			drive: restarts + "body @20ms: 0s=1 12s=- 20.15s=1\ncut: 13s..19s",
			want: `
				attention module_silent [episode 1]: SilentModules {Silences:[can0 0x111 11.980..14.160 body unit]}
				note gap []: Gap {Start:13.000 End:19.000}`,
		},
		{
			name:  "... which is over long before the restart",
			drive: restarts + "body @20ms: 0s=1 5s=- 8s=1\ncut: 6s..7s",
			want:  `note gap []: Gap {Start:6.000 End:7.000}`,
		},
		{
			name:  "a module that falls silent as another one comes back is told with it",
			drive: restarts + "body @20ms: 0s=1 20.15s=- 20.61s=1\ncoolant @20ms: 0s=80 20.63s=- 21.2s=80",
			want:  `attention module_silent [episode 1]: SilentModules {Silences:[can0 0x10F 20.620..21.200, can0 0x111 20.140..20.620 body unit]}`,
		},
		{
			name:  "... and by itself one frame later",
			drive: restarts + "body @20ms: 0s=1 20.15s=- 20.61s=1\ncoolant @20ms: 0s=80 20.65s=- 21.2s=80",
			want: `
				attention module_silent [episode 1]: SilentModules {Silences:[can0 0x111 20.140..20.620 body unit]}
				attention module_silent [episode 1]: SilentModules {Silences:[can0 0x10F 20.640..21.200]}`,
		},
		{
			name:  "a silence in a later part of the log, whose time ran back, is not the first part's",
			drive: restarts + "body @20ms: 0s=1 38s=- 39s=1\nback: 35s by 18s",
		},
		{
			name:  "the voltage comes too seldom",
			drive: restarts + "volt @25ms: 0s=12.6 40s=12.8",
			want:  `note dip_undersampled [episode 1 episode 2]: SeldomVoltage {Period:0.025}`,
		},
		{
			name:  "at 20 ms it does not",
			drive: restarts + "volt @20ms: 0s=12.6 40s=12.8",
		},
		{
			name:  "a voltage that never moves, although the engine rests and runs",
			drive: restarts + "volt @20ms: 0s=12.6",
			want:  `attention implausible_signal [volt]: ImplausibleSignal {Signal:volt Role:battery_voltage Reads:12.6 Throughout:true SystemVoltage:12}`,
		},
		{
			name:  "the voltage comes too seldom at a key start",
			drive: "rpm: 0s=0 8.1s=0 8.4s=900\nstarter: 0s=0 8.095s=1 8.3s=0\nvolt @50ms: 0s=12.6 8s=12.7",
			want:  `note dip_undersampled [start 1]: SeldomVoltage {Period:0.050}`,
		},
		{
			name:  "the counter was reset",
			drive: restarts + "count @100ms: 0s=200 20.15s=201 25s=0 40.15s=1",
			want:  `note counter_reset []: CounterFell {From:201 Time:25.000}`,
		},
		{
			name:  "the counter disagrees",
			drive: restarts + "count @100ms: 0s=7 20.15s=8",
			want:  `attention counter_disagrees []: CounterDisagrees {From:7 To:8 Step:1 Seen:2}`,
		},
		{
			name:  "the counter stands still",
			drive: restarts + "count @100ms: 0s=7",
			want:  `attention counter_disagrees []: CounterDisagrees {From:7 To:7 Seen:2}`,
		},
		{
			name:  "the counter has one more, which a gap may hide",
			drive: restarts + "count @100ms: 0s=7 14s=8 20.15s=9 40.15s=10\ncut: 13s..15s",
			want: `
				attention counter_disagrees []: CounterDisagrees {From:7 To:10 Step:3 Seen:2 Gaps:1 GapsLength:2.000}
				note gap []: Gap {Start:13.000 End:15.000}`,
		},
		{
			name: "a late try and what it made late are one; a crank that is too long is another",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 24.9s=0 26.2s=900 30s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 26.2s=0
				brake:   0s=pressed 19.895s=released 26s=pressed
				speed:   0s=0 28s=0 29s=20`,
			more: brakeAsks + `limits:
  restart_latency: {max: 0.6}
  take_off_delay: {max: 1.2}
  crank_to_run: {max: 0.4}
  request_to_crank: {max: 0.1}
`,
			want: `
				attention failed_start [episode 1]: FailedStart {Tries:2 Late:[{Value:restart_latency 5.72..5.727..5.74 s Limit:{Metric:restart_latency HasMax:true Max:0.6}}, {Value:take_off_delay 8.12..8.13..8.14 s Limit:{Metric:take_off_delay HasMax:true Max:1.2}}]}
				attention limit_broken [episode 1]: BrokenLimits [{Value:crank_to_run 0.72..0.7271..0.74 s Limit:{Metric:crank_to_run HasMax:true Max:0.4}}, {Value:request_to_crank 0.19..0.2..0.21 s Limit:{Metric:request_to_crank HasMax:true Max:0.1}}]`,
		},
		{
			name: "a stall that needed two tries is one finding",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 24.9s=0 25.2s=900
				stop:    0s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 25.2s=0`,
			want: `attention stalled [episode 1]: FailedStart {Tries:2}`,
		},
		{
			name:  "two modules that fall silent together are one finding, a third later another",
			drive: restarts + "body @20ms: 0s=1 20.15s=- 20.61s=1\nac @20ms: 0s=off 20.19s=- 20.71s=off\ncharge @20ms: 0s=80 20.91s=- 21.41s=80\nvolt: 0s=12.6 20.09s=12.6 20.1s=7 20.3s=11",
			want: `
				attention module_silent [episode 1]: SilentModules {Silences:[can0 0x110 20.180..20.720, can0 0x111 20.140..20.620 body unit] Dip:voltage_min 7..7..7 V When:during}
				attention module_silent [episode 1]: SilentModules {Silences:[can0 0x10E 20.900..21.420] Dip:voltage_min 7..7..7 V When:after}`,
		},
		{
			name: "of many modules that fall silent together four are named",
			drive: restarts + "brake: 0s=pressed 20.15s=- 20.61s=pressed\nturn: 0s=off 20.15s=- 20.61s=off\nsteer: 0s=0 20.15s=- 20.61s=0\n" +
				"charge: 0s=80 20.15s=- 20.61s=80\ncoolant: 0s=80 20.15s=- 20.61s=80\nac: 0s=off 20.15s=- 20.61s=off",
			want: `attention module_silent [episode 1]: SilentModules {Silences:[can0 0x10B 20.140..20.610, can0 0x10C 20.140..20.610, can0 0x10D 20.140..20.610, can0 0x10E 20.140..20.610, can0 0x10F 20.140..20.610, can0 0x110 20.140..20.610]}`,
		},
		{
			name:  "a silence that ended before the dip",
			drive: restarts + "body @20ms: 0s=1 15s=- 20.01s=1\nvolt: 0s=12.6 20.09s=12.6 20.1s=7 20.3s=11",
			want:  `attention module_silent [episode 1]: SilentModules {Silences:[can0 0x111 14.980..20.020 body unit] Dip:voltage_min 7..7..7 V When:before}`,
		},
		{
			name: "an unexplained standstill lists what was measured for every inhibit",
			drive: `
				rpm:     0s=800
				speed:   0s=20 5s=20 6s=0 16s=0 17s=20
				coolant: 0s=80
				ac:      0s=off
				code:    0s=0`,
			more: `
inhibits:
  - {name: cold, when: {signal: coolant, below: 40}}
  - {name: cabin, when: {any: [{signal: ac, is: on}, {signal: coolant, above: 110}]}}
`,
			want: `attention unexplained_standstill [standstill 1]: UnexplainedStandstill {Start:5.975 Length:10.050 Measured:[{Condition:cold Against:below 40 Signal:coolant Unit:degC Value:{Value:80 Seen:true}}, {Condition:cabin Against:is on Signal:ac Value:{Seen:true} Label:off}, {Condition:cabin Against:above 110 Signal:coolant Unit:degC Value:{Value:80 Seen:true}}] SilentCode:code}`,
		},
		{
			name: "and for how little of it they were true",
			drive: `
				rpm:     0s=800
				speed:   0s=20 5s=20 6s=0 16s=0 17s=20
				ac:      0s=off 7s=on 9s=off`,
			more: `
inhibits:
  - {name: cabin, when: {signal: ac, is: on}}
`,
			want: `attention unexplained_standstill [standstill 1]: UnexplainedStandstill {Start:5.975 Length:10.050 Measured:[{Condition:cabin Against:is on Signal:ac Value:{Seen:true} Label:off}] Covered:0.199}`,
		},
		{
			name: "two inhibits that cannot be told in one standstill are one finding",
			drive: `
				rpm:     0s=800
				speed:   0s=20 5s=20 6s=0 16s=0 17s=20
				coolant:
				ac:`,
			more: `
inhibits:
  - {name: cold, when: {signal: coolant, below: 40}}
  - {name: cabin, when: {signal: ac, is: on}}
`,
			want: `note cannot_tell [standstill 1]: DoubtedInhibits {Start:5.975 Conditions:[cold, cabin] Why:{Signals:[coolant, ac] Never:true}}`,
		},
		{
			name: "attention first, then by what it is, then by time",
			drive: `
				rpm:     0s=0 8.1s=0 8.4s=900 10s=900 10.8s=0 24.9s=0 25.2s=900 40s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 4.995s=1 6s=0 8.095s=1 8.3s=0 20.095s=1 21s=0 24.895s=1 25.2s=0
				volt @25ms: 0s=12.6 20.09s=12.6 20.1s=7 20.3s=11
				cut:     2s..3s`,
			more: "limits:\n  voltage_min: {min: 8.5}\n",
			want: `
				attention failed_start [start 2]: RetriedStart {At:8.095}
				attention failed_start [episode 1]: FailedStart {Tries:2}
				attention limit_broken [episode 1]: BrokenLimits [{Value:voltage_min 7..7..7 V Limit:{Metric:voltage_min HasMin:true Min:8.5}}]
				note dip_undersampled [episode 1]: SeldomVoltage {Period:0.025}
				note gap []: Gap {Start:2.000 End:3.000}`,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, test.drive, test.more)
			res := d.run()
			if diff := cmp.Diff(rows(test.want), tellFindings(res)); diff != "" {
				t.Errorf("(-want +got):\n%s\nepisodes:\n%s", diff, tellAll(d.m, res))
			}
		})
	}
}

// What the reader of the log had to leave out is a finding too.
func TestDamagedLogs(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800", "")
	r := onelog.NewRun(d.m)
	for i := range d.frames {
		r.Push(&d.frames[i])
	}
	res := r.Finish(decode.Info{Rejected: 1, Remarks: []decode.Remark{{Code: decode.RemarkPackedDamaged, Text: "unpacking ended early"}}})
	want := rows(`
		note log_damaged []: LinesLost 1
		note log_damaged []: Remarked {Text:unpacking ended early}`)
	if diff := cmp.Diff(want, tellFindings(res)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	res = onelog.NewRun(d.m).Finish(decode.Info{Rejected: 2})
	want = "note log_damaged []: LinesLost 2\n"
	if diff := cmp.Diff(want, tellFindings(res)); diff != "" {
		t.Errorf("no frame at all (-want +got):\n%s", diff)
	}
}

// Ten gaps are told one by one, the rest by number.
func TestManyGaps(t *testing.T) {
	cuts := "cut:"
	for i := range 14 {
		cuts += fmt.Sprintf(" %ds..%ds", 10+2*i, 11+2*i)
	}
	d := parseDrive(t, "rpm: 0s=800 60s=800\n"+cuts, "")
	res := d.run()
	if len(res.Gaps) != 14 || len(res.Findings) != 11 || res.Findings[10].About != analyze.FurtherGaps(4) {
		t.Errorf("%d gaps, findings:\n%s", len(res.Gaps), tellFindings(res))
	}
	if diff := cmp.Diff(analyze.Gap{Start: 10e9, End: 11e9}, res.Gaps[0]); diff != "" {
		t.Error(diff)
	}
}

// Verdicts never round, and the limit itself is inside.
func TestVerdicts(t *testing.T) {
	for _, test := range []struct {
		limit string
		want  analyze.Verdict
	}{
		// stop_duration of the first episode lies in 9.310 .. 9.340 s
		{"{max: 9.34}", analyze.Inside},
		{"{max: 9.339999}", analyze.Borderline},
		{"{max: 9.31}", analyze.Borderline},
		{"{max: 9.309999}", analyze.Outside},
		{"{min: 9.31}", analyze.Inside},
		{"{min: 9.310001}", analyze.Borderline},
		{"{min: 9.34}", analyze.Borderline},
		{"{min: 9.340001}", analyze.Outside},
		{"{min: 9.31, max: 9.34}", analyze.Inside},
		{"{min: 9.32, max: 9.33}", analyze.Borderline},
	} {
		d := parseDrive(t, restarts, "limits:\n  stop_duration: "+test.limit+"\n  voltage_min: {min: 8}\n")
		e := d.run().Episodes[0]
		if len(e.Limits) != 1 || e.Limits[0].Verdict != test.want {
			t.Errorf("%s: %+v, want one, %s", test.limit, e.Limits, test.want)
		}
	}
}

// The summary, and what the drive exercised.
func TestSummary(t *testing.T) {
	d := parseDrive(t, `
		rpm:     0s=0 0.5s=0 0.8s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 30s=900 30.6s=300 30.8s=900
		stop:    0s=0 9.995s=1 20.005s=0 29.995s=1 30.405s=0 60.005s=1 60.105s=0
		starter: 0s=0 0.495s=1 0.8s=0 20.095s=1 20.3s=0 30.555s=1 30.8s=0
		speed:   0s=0 1.5s=0 1.6s=20 8s=20 9s=0 20.9s=0 22s=20 28s=20 29s=0 33s=0 34s=20 50s=20 51s=0 53s=0 54s=20 57s=20 58s=0
		brake:   0s=pressed 19.895s=released 25s=pressed 30.305s=released
		turn:    0s=off 19.955s=left 21s=off
		coolant: 0s=0 5s=0 5.1s=80
		fuel:    0s=0.72
		end:     65s`, `
restart_requests:
  - {name: brake, when: {signal: brake, is: released}}
  - {name: turn, when: {signal: turn, is_not: off}}
  - {name: wheel, when: {signal: turn, is: right}}
inhibits:
  - {name: cold, when: {signal: coolant, below: 40}}
`)
	res := d.run()
	// The three standstills at 9, 29 and 58 s are opportunities; the first one is
	// short, and the one at 51 s too. engine_off is 20.267-9.995 + 30.667-29.995.
	off := res.Summary.EngineOff
	if off < 10.93 || off > 10.95 {
		t.Errorf("engine off for %v s", off)
	}
	want := analyze.Summary{
		Standstills: 5, Opportunities: 3, Stops: 2, Episodes: 3, StarterOperations: 3,
		EngineOff: off,
		FuelSaved: res.Summary.FuelSaved,
	}
	if diff := cmp.Diff(want, res.Summary); diff != "" {
		t.Errorf("(-want +got):\n%s\n%s", diff, tellStandstills(d.m, res))
	}
	if diff := res.Summary.FuelSaved - off*0.2; diff < -1e-9 || diff > 1e-9 { // 0.72 L/h is 0.2 mL/s
		t.Errorf("fuel saved %v mL, want %v", res.Summary.FuelSaved, off*0.2)
	}
	if diff := cmp.Diff(analyze.Exercised{
		Requests:      []analyze.Tried{{Caused: 2}, {Also: 1}, {}},
		Inhibits:      []analyze.Tried{{}},
		ChangesOfMind: 1,
		Signals: []analyze.Extent{
			{Signal: 4, Seen: true, Min: 0, Max: 1},
			{Signal: 5, Seen: true, Min: 0, Max: 1},
			{Signal: 6, Seen: true, Min: 0, Max: 80},
		},
	}, res.Exercised); diff != "" {
		t.Errorf("exercised (-want +got):\n%s\n%s", diff, tellAll(d.m, res))
	}
}

// Signals that are mapped and never seen are told, once, by name.
func TestSignalsThatWereNeverSeen(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800\nvolt:\nbrake:\nbody:", brakeAsks)
	res := d.run()
	var got []decode.Remark
	for _, m := range res.Info.Remarks {
		if m.Code == decode.RemarkSignalNotSeen {
			got = append(got, m)
		}
	}
	want := []decode.Remark{{Code: decode.RemarkSignalNotSeen, Count: 2,
		Text: "in your map but not in this log: volt, brake (ignored)"}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// Stamps that run back are remarks with their place; back by more than 100 ms, and
// ahead over a gap, is a jump too, with direction and size.
func TestTimeRemarks(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800 12s=800\nstop ~50ms: 0s=0 0.5s=- 1s=0 1.02s=-\nback: 5s by 1s\ncut: 8s..9s", "")
	res := d.run()
	var got []decode.Remark
	var places []decode.Place
	for _, m := range res.Info.Remarks {
		if m.Code == decode.RemarkTimeJump {
			places = m.Places
		}
		got = append(got, decode.Remark{Code: m.Code, Count: m.Count, Time: m.Time, HasTime: m.HasTime, Text: m.Text})
	}
	want := []decode.Remark{
		{Code: decode.RemarkTimeBackwards, Count: 53, Time: res.Start, HasTime: true, Text: "53 time stamps lie before the one of the line before"},
		{Code: decode.RemarkTimeJump, Count: 2, Time: res.Start + 4e9, HasTime: true, Text: "time jumps at 2 places: back by 0.99 s, and ahead by 1 s over a gap without any frame"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if len(places) != 2 || places[0].Why != "back by 0.99 s" || places[1].Why != "ahead by 1 s" || places[0].Line == 0 {
		t.Errorf("places %+v", places)
	}
	if diff := cmp.Diff([]analyze.Gap{{Start: 7e9, End: 8e9}}, res.Gaps); diff != "" {
		t.Errorf("gaps (-want +got):\n%s", diff)
	}
}
