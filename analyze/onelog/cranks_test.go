package onelog_test

import "testing"

// Onsets where the car does not tell them: stops without a stop command, cranks
// without a starter command, slow frames, and starts outside of any episode.
func TestOnsetsAndStarts(t *testing.T) {
	checkOutcomes(t, []outcome{
		{
			name: "without stop_command the onset is the last fall below running_speed",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				key:     0s=1
				starter: 0s=0 20.095s=1 20.3s=0
				brake:   0s=pressed 19.895s=released`,
			more:   brakeAsks,
			want:   `restarted: stop 10.300 engine_speed; rest 10.770; request 19.895 brake; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "without stop_command a sag that recovers is nothing",
			drive: `
				rpm:  0s=800 10s=800 10.4s=300 10.8s=800
				key:  0s=1`,
		},
		{
			name: "... but below half of running_speed it is an episode",
			drive: `
				rpm:  0s=800 10s=800 10.6s=200 10.8s=800 12s=800
				key:  0s=1`,
			want:   `change_of_mind: stop 10.300 engine_speed; decision 10.600 engine_speed; crank 10.600 engine_speed; running 10.700`,
			starts: `restart 10.600 engine_speed of 1 running 10.700`,
		},
		{
			name: "... at just half of it it is nothing",
			drive: `
				rpm:  0s=800 10s=800 10.55s=250 10.8s=800
				key:  0s=1`,
		},
		{
			name: "... also where it went below half before it bounced",
			drive: `
				rpm:  0s=800 10s=800 10.6s=200 10.8s=550 10.9s=550 11s=450 11.2s=800
				key:  0s=1`,
			want:   `change_of_mind: stop 10.950 engine_speed; decision 11.000 engine_speed; crank 11.000 engine_speed; running 11.029`,
			starts: `restart 11.000 engine_speed of 1 running 11.029`,
		},
		{
			name: "... and with a crank",
			drive: `
				rpm:     0s=800 10s=800 10.4s=400 10.6s=900
				starter: 0s=0 10.355s=1 10.5s=0`,
			want:   `change_of_mind: stop 10.300 engine_speed; decision 10.355 starter_command; crank 10.355 starter_command; running 10.440`,
			starts: `restart 10.355 starter_command of 1 running 10.440`,
		},
		{
			name: "... and with a crank that lasts until running is sure",
			drive: `
				rpm:     0s=800 10s=800 10.4s=400 10.6s=900
				starter: 0s=0 10.355s=1 12s=0`,
			want:   `change_of_mind: stop 10.300 engine_speed; decision 10.355 starter_command; crank 10.355 starter_command; running 10.440`,
			starts: `restart 10.355 starter_command of 1 running 10.440`,
		},
		{
			name: "... and with a dip of the voltage",
			drive: `
				rpm:  0s=800 10s=800 10.4s=400 10.6s=900
				volt: 0s=12.6 10.33s=12.6 10.34s=9 10.6s=12.6`,
			want:   `change_of_mind: stop 10.300 engine_speed; decision 10.335 battery_voltage; crank 10.335 battery_voltage; running 10.440`,
			starts: `restart 10.335 battery_voltage of 1 running 10.440`,
		},
		{
			name: "... with a dip also where a starter is mapped that did not pulse",
			drive: `
				rpm:     0s=800 10s=800 10.4s=400 10.6s=900
				starter: 0s=0
				volt:    0s=12.6 10.33s=12.6 10.34s=9 10.6s=12.6`,
			want: `change_of_mind: stop 10.300 engine_speed; running 10.440`,
		},
		{
			name: "with neither stop_command nor ignition every rest after running is an episode",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 30s=900 30.8s=0 40s=0
				starter: 0s=0 20.095s=1 20.3s=0`,
			want: `restarted: stop 10.300 engine_speed; rest 10.770; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267
				log_end: stop 30.356 engine_speed; rest 30.773`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "a starter that is mapped but never pulses: no cranks, decided by the stop command",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0`,
			want: `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; running 20.267`,
		},
		{
			name: "a starter that is mapped and never seen is as not mapped",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter:`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.110 engine_speed; running 20.267`,
			starts: `restart 20.110 engine_speed of 1 running 20.267`,
		},
		{
			name: "a stop_command that is mapped and never seen is as not mapped",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:
				starter: 0s=0 20.095s=1 20.3s=0`,
			want:   `restarted: stop 10.300 engine_speed; rest 10.770; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "crank from engine_speed: rocking back is none",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0 10.9s=0 10.95s=60 11.05s=60 11.1s=0 20.1s=0 20.4s=900
				stop: 0s=0 9.995s=1 20.005s=0`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.110 engine_speed; running 20.267`,
			starts: `restart 20.110 engine_speed of 1 running 20.267`,
		},
		{
			name: "crank from engine_speed: 200 ms off rest is one",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0 20s=0 20.1s=200 20.4s=200 20.5s=0 22s=0 22.3s=900
				stop: 0s=0 9.995s=1 19.905s=0`,
			want: `restarted: stop 9.995 stop_command; rest 10.770; decision 19.905 stop_command; crank 20.015 engine_speed; crank 22.010 engine_speed; running 22.167`,
			starts: `restart 20.015 engine_speed of 1
				retry 22.010 engine_speed of 1 running 22.167`,
		},
		{
			name: "crank from engine_speed: running is reached within 200 ms",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0 20s=0 20.1s=900
				stop: 0s=0 9.995s=1 19.905s=0`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 19.905 stop_command; crank 20.003 engine_speed; running 20.056`,
			starts: `restart 20.003 engine_speed of 1 running 20.056`,
		},
		{
			name: "crank from engine_speed: just 200 ms off rest is one",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0 20s=0 20.01s=200 20.21s=200 20.22s=0 22s=0 22.3s=900
				stop: 0s=0 9.995s=1 19.905s=0`,
			want: `restarted: stop 9.995 stop_command; rest 10.770; decision 19.905 stop_command; crank 20.002 engine_speed; crank 22.010 engine_speed; running 22.167`,
			starts: `restart 20.002 engine_speed of 1
				retry 22.010 engine_speed of 1 running 22.167`,
		},
		{
			name: "... and one sample less is none",
			drive: `
				rpm:  0s=800 10s=800 10.8s=0 20s=0 20.01s=200 20.2s=200 20.21s=0 22s=0 22.3s=900
				stop: 0s=0 9.995s=1 19.905s=0`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 19.905 stop_command; crank 22.010 engine_speed; running 22.167`,
			starts: `restart 22.010 engine_speed of 1 running 22.167`,
		},
		{
			name: "with stop_command a sag below half of running_speed that recovers is nothing",
			drive: `
				rpm:  0s=800 10s=800 10.6s=200 10.8s=800 12s=800
				stop: 0s=0`,
		},
		{
			name: "a slow stop command's rise that is seen after the crank is too late to have stopped the engine",
			drive: `
				rpm:             0s=800 10s=800 10.8s=0 11.1s=0 11.3s=200 12s=200 12.3s=900
				stop @1s+600ms:  0s=0 10.65s=1 12.005s=0
				starter:         0s=0 11.095s=1 12.2s=0`,
			want:   `stalled: stop 10.300 engine_speed; rest 10.770; decision 11.095 starter_command; crank 11.095 starter_command; running 12.129`,
			starts: `restart 11.095 starter_command of 1 running 12.129`,
		},
		{
			name: "a stop command that is off for one sample as the engine comes to rest is the same stop",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.995s=1 10.765s=0 10.775s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267; note StopTakenBack {}`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "slow frame of the starter: seen when the engine was stopped again already",
			drive: `
				rpm:           0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 20.8s=900 21.6s=0 30.1s=0 30.4s=900
				stop:          0s=0 9.995s=1 20.005s=0 20.805s=1 30.005s=0
				starter @1s:   0s=0 20.095s=1 21.5s=0 30.095s=1 32.5s=0`,
			want: `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.500 starter_command; running 20.267
				restarted: stop 20.805 stop_command; rest 21.573; decision 30.005 stop_command; crank 30.500 starter_command; running 30.267`,
			starts: `restart 20.500 starter_command of 1 running 20.267
				restart 30.500 starter_command of 2 running 30.267`,
		},
		{
			name: "an engine that only leaves rest, where a starter is seen that does not turn it, keeps no failed start open",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 19.9s=0 20s=600 20.4s=900
				stop:    0s=0 9.995s=1 14.955s=0
				starter: 0s=0`,
			want: `no_start: stop 9.995 stop_command; rest 10.770; decision 14.955 stop_command`,
		},
		{
			name: "slow frame of the starter: its low is not after running's high",
			drive: `
				rpm:           0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:          0s=0 9.995s=1 20.005s=0
				starter @1s:   0s=0 20.095s=1 21.5s=0`,
			want:   `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.500 starter_command; running 20.267`,
			starts: `restart 20.500 starter_command of 1 running 20.267`,
		},
		{
			name: "slow frame of the starter at a key start",
			drive: `
				rpm:           0s=0 5.1s=0 5.4s=900
				starter @1s:   0s=0 5.095s=1 6.5s=0
				end:           12s`,
			starts: `key 5.500 starter_command running 5.267`,
		},
		{
			name: "slow frame of the stop command's fall",
			drive: `
				rpm:             0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop @1s+600ms:  0s=0 9.595s=1 20.005s=0
				starter:         0s=0 20.095s=1 20.3s=0`,
			want:   `restarted: stop 9.100 stop_command; rest 10.770; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267`,
			starts: `restart 20.095 starter_command of 1 running 20.267`,
		},
		{
			name: "an engine that runs for less than running_hold before it is stopped again ran",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 20.5s=900 21.4s=0 30s=0 30.3s=900
				stop:    0s=0 9.995s=1 20.005s=0 20.505s=1 29.905s=0
				starter: 0s=0 20.095s=1 20.3s=0 29.995s=1 30.2s=0`,
			want: `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267
				restarted: stop 20.505 stop_command; rest 21.370; decision 29.905 stop_command; crank 29.995 starter_command; running 30.167`,
			starts: `restart 20.095 starter_command of 1 running 20.267
				restart 29.995 starter_command of 2 running 30.167`,
		},
		{
			name: "the same after a stall",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 20.5s=900 21.4s=0 30s=0 30.3s=900
				stop:    0s=0 20.505s=1 29.905s=0
				starter: 0s=0 20.095s=1 20.3s=0 29.995s=1 30.2s=0`,
			want: `stalled: stop 10.300 engine_speed; rest 10.770; decision 20.095 starter_command; crank 20.095 starter_command; running 20.267
				restarted: stop 20.505 stop_command; rest 21.370; decision 29.905 stop_command; crank 29.995 starter_command; running 30.167`,
			starts: `restart 20.095 starter_command of 1 running 20.267
				restart 29.995 starter_command of 2 running 30.167`,
		},
		{
			name: "an engine that runs for less than running_hold and dies did not run",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 20.7s=0 22.1s=0 22.4s=900
				stop:    0s=0 9.995s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0 22.095s=1 22.3s=0`,
			want: `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command; crank 22.095 starter_command; running 22.267`,
			starts: `restart 20.095 starter_command of 1
				retry 22.095 starter_command of 1 running 22.267`,
		},
		{
			name: "a new stop before the windows of the last one have ended",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900 21s=900 21.9s=0 22.5s=0 22.8s=900
				stop:    0s=0 9.995s=1 20.005s=0 21.005s=1 22.405s=0
				starter: 0s=0 20.095s=1 20.3s=0 22.495s=1 22.7s=0
				volt:    0s=12.6`,
			want: `restarted: stop 9.995 stop_command; rest 10.770; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267
				restarted: stop 21.005 stop_command; rest 21.870; decision 22.405 stop_command; crank 22.495 starter_command; running 22.667`,
			starts: `restart 20.095 starter_command of 1 running 20.267
				restart 22.495 starter_command of 2 running 22.667`,
		},
		{
			name: "key start with a retry",
			drive: `
				rpm:     0s=0 8.1s=0 8.4s=900
				starter: 0s=0 4.995s=1 6s=0 8.095s=1 8.3s=0`,
			starts: `key 4.995 starter_command
				retry 8.095 starter_command running 8.267`,
		},
		{
			name: "two key starts that are further apart than no_start_after",
			drive: `
				rpm:     0s=0 10.1s=0 10.4s=900
				starter: 0s=0 4.995s=1 6s=0 10.095s=1 10.3s=0`,
			starts: `key 4.995 starter_command
				key 10.095 starter_command running 10.267`,
		},
		{
			name: "... also where the engine just ran, but not for running_hold, when no_start_after was over",
			drive: `
				rpm:     0s=0 9.95s=0 10s=600 10.25s=600 10.3s=0 12s=0 12.3s=900
				starter: 0s=0 4.995s=1 6s=0 10.095s=1 10.2s=0 11.995s=1 12.2s=0`,
			want: `restarted: stop 10.258 engine_speed; rest 10.297; decision 11.995 starter_command; crank 11.995 starter_command; running 12.167`,
			starts: `key 4.995 starter_command
				key 10.095 starter_command
				restart 11.995 starter_command of 1 running 12.167`,
		},
		{
			name: "a key start from the engine speed",
			drive: `
				rpm:     0s=0 10.1s=0 10.4s=900`,
			starts: `key 10.110 engine_speed running 10.267`,
		},
		{
			name: "a key start whose starter is on till running is sure, and a sag after it",
			drive: `
				rpm:     0s=0 5.1s=0 5.4s=900 7s=900 7.4s=400 7.6s=900
				starter: 0s=0 5.095s=1 6.5s=0`,
			starts: `key 5.095 starter_command running 5.267`,
		},
		{
			name: "a starter that pulses while the engine runs",
			drive: `
				rpm:     0s=800
				stop:    0s=0
				starter: 0s=0 4.995s=1 5.2s=0
				end:     15s`,
			starts: `key 4.995 starter_command`,
		},
	})
}
