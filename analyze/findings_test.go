package analyze_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/decode"
)

// restarts are two stops, asked for, cranked and running like the book.
const restarts = `
	rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 30s=900 30.9s=0 40.1s=0 40.4s=900
	stop:    0s=0 9.995s=1 20.005s=0 29.995s=1 40.005s=0
	starter: 0s=0 20.095s=1 20.3s=0 40.095s=1 40.3s=0
`

// The counter of starter operations, held against the operations seen.
func TestStarterCounter(t *testing.T) {
	for _, test := range []struct {
		name, drive string
		want        analyze.Starter
	}{
		{"agrees", "count @100ms: 0s=7 20.15s=8 40.15s=9",
			analyze.Starter{Restart: 2, First: 7, Last: 9, Step: 2, Agrees: true}},
		{"missed one", "count @100ms: 0s=7 20.15s=8",
			analyze.Starter{Restart: 2, First: 7, Last: 8, Step: 1}},
		{"counted one that was not seen", "count @100ms: 0s=7 20.15s=8 25s=9 40.15s=10",
			analyze.Starter{Restart: 2, First: 7, Last: 10, Step: 3}},
		{"runs over its width's end", "count @100ms: 0s=255 20.15s=0 40.15s=1",
			analyze.Starter{Restart: 2, First: 255, Last: 1, Step: 2, Agrees: true}},
		{"a reset is no step over the end", "count @100ms: 0s=200 20.15s=201 25s=0 40.15s=1",
			analyze.Starter{Restart: 2, First: 200, Last: 1, Step: -199}},
		{"the last operation within two periods of the last reading may be missing", "count @1s: 0s=7 20.15s=8\nend: 41.9s",
			analyze.Starter{Restart: 2, First: 7, Last: 8, Step: 1, Agrees: true}},
		{"or be counted", "count @1s: 0s=7 20.15s=8 40.9s=9\nend: 41.9s",
			analyze.Starter{Restart: 2, First: 7, Last: 9, Step: 2, Agrees: true}},
		{"before two periods it may not", "count @1s: 0s=7 20.15s=8\nend: 43s",
			analyze.Starter{Restart: 2, First: 7, Last: 8, Step: 1}},
		{"first read between the two", "count @100ms: 25s=8 40.15s=9",
			analyze.Starter{Restart: 2, First: 8, Last: 9, Step: 1, Agrees: true}},
		{"absent", "", analyze.Starter{Restart: 2, Absent: "no signal has the role starter_count"}},
		{"never seen", "count:", analyze.Starter{Restart: 2, Absent: "count, which has the role starter_count, was never seen in this log"}},
		{"the log's time runs back between", "count @100ms: 0s=7 20.15s=8 40.15s=9\nback: 27s by 26s",
			analyze.Starter{Restart: 2, First: 7, Last: 9, Step: 2, Agrees: true}},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, restarts+test.drive, "")
			res := d.run()
			if diff := cmp.Diff(test.want, res.Starter); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			var codes []string
			for _, f := range res.Findings {
				codes = append(codes, f.Code)
			}
			want := ""
			switch {
			case test.want.Absent != "" || test.want.Agrees:
			case test.want.Step < 0:
				want = "counter_reset"
			default:
				want = "counter_disagrees"
			}
			if got := strings.Join(codes, " "); got != want {
				t.Errorf("findings %q, want %q", got, want)
			}
		})
	}
}

// Every finding, with its severity, evidence and text.
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
				note limit_borderline [episode 1]: episode 1: restart_latency is 0.372 s (0.360 to 0.380); the bus does not tell on which side of the limit at most 0.375 s it lies
				attention limit_broken [episode 1]: episode 1: voltage_min is 8 V, limit at least 8.5 V
				attention pressure_lost [episode 1]: episode 1: the hydraulic pressure fell to 200 kPa while the engine rested, limit at least 300 kPa
				attention limit_broken [episode 2]: episode 2: restart_latency is 0.462 s (0.450 to 0.470), limit at most 0.375 s`,
		},
		{
			name: "a failed start, and one that came at the second try",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 24.9s=0 25.2s=900 30s=900 30.9s=0
				stop:    0s=0 9.995s=1 20.005s=0 29.995s=1 40.005s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 25.2s=0
				end:     60s`,
			want: `
				attention failed_start [episode 1]: episode 1: the engine started only at try 2
				attention failed_start [episode 2]: episode 2: the engine did not start: the starter was never seen to engage`,
		},
		{
			name: "two tries that both failed",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 25.2s=0
				end:     60s`,
			want: `attention failed_start [episode 1]: episode 1: the engine did not start after 2 tries`,
		},
		{
			name: "one try, then the key",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0
				end:     60s`,
			want: `attention failed_start [episode 1]: episode 1: the engine did not start after one try`,
		},
		{
			name: "two tries, then the driver gave up",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0 22.095s=1 23s=0
				key:     0s=1 24.005s=0`,
			want: `attention failed_start [episode 1]: episode 1: the engine had to be cranked again, and the ignition was switched off before the engine ran again`,
		},
		{
			name: "a key start that needed a retry",
			drive: `
				rpm:     0s=0 8.1s=0 8.4s=900
				starter: 0s=0 4.995s=1 6s=0 8.095s=1 8.3s=0`,
			want: `attention failed_start [start 2]: start 2 at 8.1 s: the engine had to be cranked again`,
		},
		{
			name: "stalled; no request is looked for",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0
				starter: 0s=0 20.095s=1 20.3s=0
				brake:   0s=pressed`,
			more: brakeAsks,
			want: `attention stalled [episode 1]: episode 1: the engine stalled: it came to rest without a stop command`,
		},
		{
			name:  "a restart that nothing explains",
			drive: restarts + "brake: 0s=pressed 19.895s=released 21s=pressed",
			more:  brakeAsks,
			want:  `note no_restart_request [episode 2]: episode 2: no mapped request explains this restart`,
		},
		{
			name:  "... or what cannot be told",
			drive: restarts + "brake: 0s=pressed 19.895s=released 21s=pressed 30s=-",
			more:  brakeAsks,
			want: `
				note no_restart_request [episode 2]: episode 2: no mapped request explains this restart
				note cannot_tell [episode 2]: episode 2: cannot tell whether "brake" asked for the restart: brake was not seen for too long
				attention module_silent [episode 2]: episode 2: 0x10B on can0 was silent for 13.41 s from 29.99 s on`,
		},
		{
			name:  "a silence across the crank, with the dip",
			drive: restarts + "body @20ms: 0s=1 20.15s=- 20.61s=1\nvolt: 0s=12.6 20.09s=12.6 20.1s=7 20.3s=11",
			want:  `attention module_silent [episode 1]: episode 1: body unit (0x111) on can0 was silent for 0.48 s from 20.14 s on, while the battery voltage fell to 7 V`,
		},
		{
			name:  "a silence that ends 0.1 s before the crank's low still counts",
			drive: restarts + "body @20ms: 0s=1 15s=- 19.99s=1",
			want:  `attention module_silent [episode 1]: episode 1: body unit (0x111) on can0 was silent for 5.02 s from 14.98 s on`,
		},
		{
			name:  "one that ends before that does not",
			drive: restarts + "body @20ms: 0s=1 15s=- 19.97s=1",
		},
		{
			name:  "one that begins 2 s after running's high still counts",
			drive: restarts + "body @10ms: 0s=1 22.275s=- 25s=1",
			want:  `attention module_silent [episode 1]: episode 1: body unit (0x111) on can0 was silent for 2.73 s from 22.27 s on`,
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
				attention failed_start [episode 1]: episode 1: the engine did not start: the starter was never seen to engage
				attention module_silent [episode 1]: episode 1: body unit (0x111) on can0 was silent for 0.46 s from 19.48 s on`,
		},
		{
			name:  "a silence with a gap of the recording in it",
			drive: restarts + "body @20ms: 0s=1 12s=- 20.15s=1\ncut: 13s..19s",
			want: `
				attention module_silent [episode 1]: episode 1: body unit (0x111) on can0 was silent for 2.18 s from 11.98 s on
				note gap []: the recording has a gap of 6.00 s at 13.00 s`,
		},
		{
			name:  "a silence in a later part of the log, whose time ran back, is not the first part's",
			drive: restarts + "body @20ms: 0s=1 38s=- 39s=1\nback: 35s by 18s",
		},
		{
			name:  "the voltage comes too seldom",
			drive: restarts + "volt @25ms: 0s=12.6",
			want:  `note dip_undersampled [episode 1 episode 2]: the battery voltage comes only every 25 ms: the true minimum may be lower than voltage_min says`,
		},
		{
			name:  "at 20 ms it does not",
			drive: restarts + "volt @20ms: 0s=12.6",
		},
		{
			name:  "the voltage comes too seldom at a key start",
			drive: "rpm: 0s=0 8.1s=0 8.4s=900\nstarter: 0s=0 8.095s=1 8.3s=0\nvolt @50ms: 0s=12.6",
			want:  `note dip_undersampled [start 1]: the battery voltage comes only every 50 ms: the true minimum may be lower than voltage_min says`,
		},
		{
			name:  "the counter was reset",
			drive: restarts + "count @100ms: 0s=200 20.15s=201 25s=0 40.15s=1",
			want:  `note counter_reset []: the starter-operation counter fell from 201 to 0 at 25.0 s: starter or module was replaced or reset`,
		},
		{
			name:  "the counter disagrees",
			drive: restarts + "count @100ms: 0s=7 20.15s=8",
			want:  `attention counter_disagrees []: the starter-operation counter stepped by 1 from 7 to 8, but 2 operations were seen in all`,
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
	r := analyze.NewRun(d.m)
	for i := range d.frames {
		r.Push(&d.frames[i])
	}
	res := r.Finish(decode.Info{Rejected: 1, Remarks: []decode.Remark{{Code: decode.RemarkPackedDamaged, Text: "unpacking ended early"}}})
	want := rows(`
		note log_damaged []: 1 line of the log could not be read and was left out
		note log_damaged []: unpacking ended early`)
	if diff := cmp.Diff(want, tellFindings(res)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	res = analyze.NewRun(d.m).Finish(decode.Info{Rejected: 2})
	want = "note log_damaged []: 2 lines of the log could not be read and were left out\n"
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
	if len(res.Gaps) != 14 || len(res.Findings) != 11 || res.Findings[10].Text != "4 further gaps" {
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
	if diff := cmp.Diff(analyze.Exercised{Requests: []int{2, 1, 0}, Inhibits: []int{1}, ChangesOfMind: 1}, res.Exercised); diff != "" {
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
		Text: "mapped but never seen in this log, so treated as not mapped: volt, brake"}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// Stamps that run back are remarks with their place; back by more than 100 ms, and
// ahead over a gap, is a jump too.
func TestTimeRemarks(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800 12s=800\nstop ~50ms: 0s=0 0.5s=- 1s=0 1.02s=-\nback: 5s by 1s\ncut: 8s..9s", "")
	res := d.run()
	var got []decode.Remark
	for _, m := range res.Info.Remarks {
		got = append(got, decode.Remark{Code: m.Code, Count: m.Count, Time: m.Time, HasTime: m.HasTime, Text: m.Text})
	}
	want := []decode.Remark{
		{Code: decode.RemarkTimeBackwards, Count: 53, Time: res.Start, HasTime: true, Text: "53 time stamps lie before the one of the line before"},
		{Code: decode.RemarkTimeJump, Count: 2, Time: res.Start + 4e9, HasTime: true, Text: "time jumps at 2 places: back by more than 100 ms, or ahead over a gap without any frame"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]analyze.Gap{{Start: 7e9, End: 8e9}}, res.Gaps); diff != "" {
		t.Errorf("gaps (-want +got):\n%s", diff)
	}
}
