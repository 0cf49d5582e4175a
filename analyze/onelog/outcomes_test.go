package onelog_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// brakeAsks is the usual way to ask for a restart.
const brakeAsks = `
restart_requests:
  - {name: brake, when: {signal: brake, is: released}}
`

// The rows of the table of outcomes, and the special rules beside it. Times in
// the expected lines follow from the drive by hand: switches change midway between
// two frames, speeds cross on straight lines.
func TestOutcomes(t *testing.T) {
	checkOutcomes(t, []outcome{
		{
			name: "restarted",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				brake:   0s=pressed 19.895s=released`,
			more:   brakeAsks,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; request 19.895 brake; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "the log ends while the engine rests",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				stop: 0s=0 9.995s=1
				end:  15s`,
			want: `log_end: stop 9.995 stop_command; rest 10.770`,
		},
		{
			name: "the log ends before running has held",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				end:     20.5s`,
			want:   `log_end: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command`,
			starts: `restart 20.095 starter_command of 1`,
		},
		{
			name: "the log ends before a failed start is one",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				stop: 0s=0 9.995s=1 20.005s=0
				end:  25s`,
			want: `log_end: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command`,
		},
		{
			name: "running crosses in a gap",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				cut:     20.2s..20.5s`,
			want:   `gap: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command; running 20.300`,
			starts: `restart 20.095 starter_command of 1 running 20.300`,
		},
		{
			name: "the whole restart lies in a gap",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				cut:     18s..22s`,
			want: `gap: stop 9.995 stop_command; rest 10.770; decision 20.000 stop_command; running 20.222; note CommandUnseen {Role:starter_command Length:4.000}`,
		},
		{
			name: "a gap while the engine rests is noted and ends nothing",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				cut:     13s..15s`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267; note GapInside {}`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "stop and restart both lie in one gap that the stop command spans",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				cut:     10.1s..22s`,
			want: `gap: stop 9.995 stop_command; decision 16.050 stop_command`,
		},
		{
			name: "time runs back by more than 100 ms: what is open ends, the rest is analysed anew",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 30s=900 30.8s=0 40s=0 40.3s=900
				stop:    0s=0 9.995s=1 20.005s=0 29.995s=1 39.905s=0
				starter: 0s=0 20.095s=1 20.3s=0 39.955s=1 40.2s=0
				back:    15s by 3s`,
			want: `gap: stop 9.995 stop_command; rest 10.770
				restarted: stop 26.995 stop_command; rest 27.773; decision 36.905 stop_command; crank 36.955 starter_command; running 37.167`,
			starts: `key 17.095 starter_command running 17.267
				restart 36.955 starter_command of 2 running 37.167`,
		},
		{
			name: "time runs back by 100 ms: interfaces that are written in turn",
			drive: `
				rpm:             0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop ~100ms:     0s=0 9.995s=1 20.005s=0
				starter ~100ms:  0s=0 20.095s=1 20.3s=0
				brake ~60ms:     0s=pressed 19.895s=released`,
			more:   brakeAsks,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; request 19.895 brake; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "the ignition falls while the car had stopped the engine",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				stop: 0s=0 9.995s=1 16.005s=0
				key:  0s=1 15.005s=0`,
			want: `ignition_off: stop 9.995 stop_command; rest 10.770`,
		},
		{
			name: "the ignition falls between stop command and rest",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				stop: 0s=0 9.995s=1 16.005s=0
				key:  0s=1 10.205s=0`,
			want: `ignition_off: stop 9.995 stop_command`,
		},
		{
			name: "the ignition falls after a stall",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				stop: 0s=0
				key:  0s=1 12.005s=0`,
			want: `ignition_off: stop 10.300 engine_speed; rest 10.770`,
		},
		{
			name: "the ignition falls just before a stop command that the car gives all the same",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				stop: 0s=0 9.995s=1 10.305s=0
				key:  0s=1 9.985s=0
				end:  20s`,
			want: `ignition_off: stop 9.995 stop_command`,
		},
		{
			name: "an ignition that was off before the engine ran ends nothing",
			drive: `
				rpm:     0s=0 5s=0 5.4s=900 10s=900 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 4.955s=1 5.3s=0 20.095s=1 20.3s=0
				key:     0s=1 3.995s=0`,
			want: `restarted: stop 9.995 stop_command; rest 10.773; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267`,
			starts: `key 4.955 starter_command running 5.222
				restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "key-off: no episode",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				stop: 0s=0
				key:  0s=1 9.905s=0`,
		},
		{
			name: "key-off without stop_command: no episode",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0
				key:  0s=1 9.905s=0`,
		},
		{
			name: "key-off with the ignition's slow frame: no episode",
			drive: `
				rpm:        0s=800 10s=800 10.8s=0
				stop:       0s=0
				key @500ms: 0s=1 10.9s=0
				speed:      0s=0`,
		},
		{
			name: "key-off whose slow frame comes after the car was pushed away",
			drive: `
				rpm:      0s=800 10s=800 10.8s=0
				stop:     0s=0
				key @1s:  0s=1 10.4s=0
				speed:    0s=0 10.85s=0 10.95s=5 15s=5 15.5s=0 20s=0`,
		},
		{
			name: "the log begins with the ignition off and the engine running down: no episode",
			drive: `
				rpm:  0s=600 0.6s=0 5s=0
				key:  0s=0`,
		},
		{
			name: "an engine at rest before it ever ran, then a key start",
			drive: `
				rpm:     0s=0 5s=0 5.3s=900 8s=800
				stop:    0s=0
				starter: 0s=0 4.995s=1 5.2s=0`,
			starts: `key 4.995 starter_command running 5.167`,
		},
		{
			name: "the log begins in a stop: the start that ends it is in starts",
			drive: `
				rpm:     0s=0 5s=0 5.3s=900 8s=800
				stop:    0s=1 4.905s=0
				starter: 0s=0 4.995s=1 5.2s=0`,
			starts: `key 4.995 starter_command running 5.167`,
		},
		{
			name: "no_start counts from the decision where no crank comes",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0
				end:     30s`,
			want: `no_start: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command`,
		},
		{
			name: "no_start counts anew from each crank; a retry within it belongs, a start after it does not",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 33.1s=0 33.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 25.5s=0 33.095s=1 33.4s=0
				end:     40s`,
			want: `no_start: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command; crank 24.895 starter_command`,
			starts: `restart 20.095 starter_command of 1
				retry 24.895 starter_command of 1
				key 33.095 starter_command running 33.267`,
		},
		{
			name: "a retry within no_start_after that succeeds",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 24.9s=0 25.2s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 21s=0 24.895s=1 25.2s=0
				brake:   0s=pressed 19.895s=released`,
			more: brakeAsks,
			want: `restarted: stop 9.995 stop_command; rest 10.770; request 19.895 brake; decision 20.005 stop_command; crank 20.095 starter_command; crank 24.895 starter_command; running 25.067`,
			starts: `restart 20.095 starter_command of 1
				retry 24.895 starter_command of 1 running 25.067`,
		},
		{
			name: "aborted: the stop was called off before the engine slowed down",
			drive: `
				rpm:   0s=800
				stop:  0s=0 9.995s=1 10.105s=0
				brake: 0s=pressed 10.055s=released
				end:   15s`,
			more: brakeAsks,
			want: `aborted: stop 9.995 stop_command; request 10.055 brake; decision 10.105 stop_command`,
		},
		{
			name: "a stop called off and asked for again within running_hold is one",
			drive: `
				rpm:     0s=800 10.4s=800 11.2s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 10.105s=0 10.305s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0`,
			want:   `restarted: stop 9.995 stop_command; rest 11.170; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267; note StopTakenBack {}`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "stalled: rest without a stop command",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0
				starter: 0s=0 20.095s=1 20.3s=0`,
			want:   `stalled: stop 10.300 engine_speed; rest 10.770; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "what looked stalled was commanded: the stop command's frame is slower",
			drive: `
				rpm:           0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop @1s+900ms: 0s=0 9.995s=1 20.005s=0
				starter:       0s=0 20.095s=1 20.3s=0`,
			want:   `restarted: stop 10.400 stop_command; rest 10.770; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "a stop command that surely came after rest does not make a stall a stop",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 12.005s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0`,
			want:   `stalled: stop 10.300 engine_speed; rest 10.770; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "the stop command was on already when the log began",
			drive: `
				rpm:     0s=800 1s=800 1.8s=0 10.1s=0 10.4s=900
				stop:    0s=1 10.005s=0
				starter: 0s=0 10.095s=1 10.3s=0`,
			want:   `restarted: stop 1.300 engine_speed; rest 1.770; decision 10.005 stop_command; crank 10.095 starter_command; running 10.267`,
			starts: `restart 10.095 starter_command of 1 running 10.267`,
		},
		{
			name: "the first frame that is sent on change shows the first stop",
			drive: `
				rpm:             0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop @change:    10s=1 20s=0
				starter @change: 20.1s=1 20.3s=0`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 19.995 stop_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "the starter is on already when the log begins: its onset is not known",
			drive: `
				rpm:     0s=0 0.3s=900 5s=800
				starter: 0s=1 0.2s=0`,
		},
		{
			name: "change of mind: the request lies before rest",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 11.4s=0 11.7s=900
				stop:    0s=0 9.995s=1 10.605s=0
				starter: 0s=0 11.395s=1 11.6s=0
				brake:   0s=pressed 10.505s=released`,
			more:   brakeAsks,
			want:   `change_of_mind: stop 9.995 stop_command; rest 10.770; request 10.505 brake; decision 10.605 stop_command; crank 11.395 starter_command; running 11.567`,
			starts: `restart 11.395 starter_command of 1 running 11.567`,
		},
		{
			name: "change of mind: rest was never reached, the starter engages while the engine turns",
			drive: `
				rpm:     0s=800 10s=800 10.6s=200 10.8s=900
				stop:    0s=0 9.995s=1 10.405s=0
				starter: 0s=0 10.555s=1 10.8s=0
				brake:   0s=pressed 10.305s=released`,
			more:   brakeAsks,
			want:   `change_of_mind: stop 9.995 stop_command; request 10.305 brake; decision 10.405 stop_command; crank 10.555 starter_command; running 10.686`,
			starts: `restart 10.555 starter_command of 1 running 10.686`,
		},
		{
			name: "the starter is on above running_speed already",
			drive: `
				rpm:     0s=800 10s=800 10.2s=600 10.4s=480 10.6s=900
				stop:    0s=0 9.995s=1 10.105s=0
				starter: 0s=0 10.155s=1 10.5s=0`,
			want:   `change_of_mind: stop 9.995 stop_command; decision 10.105 stop_command; crank 10.155 starter_command; running 10.410`,
			starts: `restart 10.155 starter_command of 1 running 10.410`,
		},
		{
			name: "the car waits for rest: the request reaches back to the stop onset",
			drive: `
				rpm:     0s=800 10s=800 11.8s=0 12.7s=0 13s=900
				stop:    0s=0 9.995s=1 12.605s=0
				starter: 0s=0 12.695s=1 12.9s=0
				brake:   0s=pressed 10.205s=released`,
			more:   brakeAsks,
			want:   `change_of_mind: stop 9.995 stop_command; rest 11.732; request 10.205 brake; decision 12.605 stop_command; crank 12.695 starter_command; running 12.867`,
			starts: `restart 12.695 starter_command of 1 running 12.867`,
		},
		{
			name: "... however late the crank is, where the stop command fell before rest",
			drive: `
				rpm:     0s=800 10s=800 11.8s=0 12.8s=0 13.1s=900
				stop:    0s=0 9.995s=1 11.005s=0
				starter: 0s=0 12.795s=1 13s=0
				brake:   0s=pressed 10.205s=released`,
			more:   brakeAsks,
			want:   `change_of_mind: stop 9.995 stop_command; rest 11.732; request 10.205 brake; decision 11.005 stop_command; crank 12.795 starter_command; running 12.967`,
			starts: `restart 12.795 starter_command of 1 running 12.967`,
		},
		{
			name: "... but not where it fell just at rest",
			drive: `
				rpm:              0s=800 10s=800 10.8s=0 12.8s=0 13.1s=900
				stop @10ms+5ms:   0s=0 9.995s=1 10.77s=0
				starter:          0s=0 12.795s=1 13s=0
				brake:            0s=pressed 10.105s=released`,
			more:   brakeAsks,
			want:   `restarted: stop 9.990 stop_command; rest 10.770; decision 10.770 stop_command; crank 12.795 starter_command; running 12.967`,
			starts: `restart 12.795 starter_command of 1 running 12.967`,
		},
		{
			name: "a crank later than twice request_window after rest did not wait for it",
			drive: `
				rpm:     0s=800 10s=800 11.8s=0 12.8s=0 13.1s=900
				stop:    0s=0 9.995s=1 12.605s=0
				starter: 0s=0 12.795s=1 13s=0
				brake:   0s=pressed 10.205s=released`,
			more:   brakeAsks,
			want:   `restarted: stop 9.995 stop_command; rest 11.732; decision 12.605 stop_command; crank 12.795 starter_command; running 12.967`,
			starts: `restart 12.795 starter_command of 1 running 12.967`,
		},
	})
}

// outcome is a drive and what must be found in it: its episodes and its starts, a
// line each.
type outcome struct{ name, drive, more, want, starts string }

func checkOutcomes(t *testing.T, tests []outcome) {
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, test.drive, test.more)
			res := d.run()
			if diff := cmp.Diff(rows(test.want), tellAll(d.m, res)); diff != "" {
				t.Errorf("episodes (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(rows(test.starts), tellStarts(res)); diff != "" {
				t.Errorf("starts (-want +got):\n%s", diff)
			}
		})
	}
}
