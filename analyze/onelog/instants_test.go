package onelog_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/pkg/bounds"
)

// bound writes an instant with its bounds.
func bound(name string, i bounds.Instant) string {
	return fmt.Sprintf("%s %s %s %s\n", name, seconds(i.Low), seconds(i.T), seconds(i.High))
}

// bounded writes all instants of an episode.
func bounded(e *analyze.Episode) string {
	var b strings.Builder
	b.WriteString(bound("stop", e.Stop.Instant))
	if e.Rest != nil {
		b.WriteString(bound("rest", *e.Rest))
	}
	if e.Request != nil {
		b.WriteString(bound("request", e.Request.Instant))
	}
	if e.Decision != nil {
		b.WriteString(bound("decision", e.Decision.Instant))
	}
	for _, c := range e.Cranks {
		b.WriteString(bound("crank", c.Instant))
	}
	if e.Running != nil {
		b.WriteString(bound("running", *e.Running))
	}
	return b.String()
}

// Low, best and high of every instant, by the table of instants: crossings lie
// between the samples that surely lie on either side, switches midway, onsets of
// the engine speed reach back to where it began to move.
func TestInstantsLieBetweenTheSamplesThatBoundThem(t *testing.T) {
	for _, test := range []struct{ name, drive, more, want string }{
		{
			name: "each by the period of its own frame",
			drive: `
				rpm @20ms+5ms:   0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop @50ms+20ms: 0s=0 10.001s=1 20.005s=0
				starter @30ms:   0s=0 20.095s=1 20.3s=0
				brake @40ms:     0s=pressed 19.895s=released`,
			more: brakeAsks,
			want: `
				stop 9.970 9.995 10.020
				rest 10.765 10.770 10.785
				request 19.880 19.900 19.920
				decision 19.970 19.995 20.020
				crank 20.070 20.085 20.100
				running 20.265 20.267 20.285`,
		},
		{
			name: "a sample nearer to the threshold than half a step does not tell its side",
			drive: `
				rpm:     0s=800 10s=800 10.3s=500 10.34s=500 10.4s=30 10.45s=30 10.5s=0 20.1s=0 20.16s=500 20.2s=500 20.3s=900
				starter: 0s=0 20.095s=1 20.3s=0`,
			want: `
				stop 10.290 10.297 10.350
				rest 10.390 10.455 10.460
				decision 20.090 20.095 20.100
				crank 20.090 20.095 20.100
				running 20.150 20.191 20.210`,
		},
		{
			name: "an onset from the engine speed reaches back to the last sample that did not move that way",
			drive: `
				rpm:  0s=800 9.95s=800 10s=700 10.05s=700 10.1s=600 10.3s=400 10.8s=0 20s=0 20.05s=20 20.1s=20 20.4s=900`,
			want: `
				stop 10.050 10.200 10.210
				rest 10.760 10.762 10.770
				decision 20.100 20.103 20.110
				crank 20.100 20.103 20.110
				running 20.260 20.264 20.270`,
		},
		{
			name: "a frame sent on change: event_delay before it",
			drive: `
				rpm:             0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop @change/1s: 0s=0 10.001s=1 20.005s=0
				starter @change: 0s=0 20.095s=1 20.1s=0
				brake @change:   0s=pressed 19.893s=released`,
			more: brakeAsks,
			want: `
				stop 10.000 10.001 10.001
				rest 10.760 10.770 10.780
				request 19.883 19.888 19.893
				decision 20.000 20.003 20.005
				crank 20.085 20.090 20.095
				running 20.260 20.267 20.270`,
		},
		{
			name: "where samples are missing low is the last one before, however far back",
			drive: `
				rpm:     0s=800 10s=800 10.1s=- 12s=0 20s=- 21s=900
				stop:    0s=0 9.5s=none 12s=1 20s=- 20.5s=0
				starter: 0s=0 20s=- 20.6s=1 20.9s=0
				body:    0s=1`,
			want: `
				stop 9.490 10.745 12.000
				rest 10.090 11.928 12.000
				decision 19.990 20.245 20.500
				crank 19.990 20.295 20.600
				running 19.990 20.551 21.000`,
		},
		{
			name: "the lowest speed between its neighbours",
			drive: `
				rpm @20ms:  0s=800 10s=800 10.6s=200 10.8s=900
				stop:       0s=0 9.995s=1 10.405s=0`,
			want: `
				stop 9.990 9.995 10.000
				decision 10.400 10.405 10.410
				crank 10.580 10.600 10.620
				running 10.680 10.686 10.700`,
		},
		{
			name: "the onset of a dip",
			drive: `
				rpm:        0s=800 10s=800 10.6s=200 10.8s=900
				stop:       0s=0 9.995s=1 10.405s=0
				volt @20ms: 0s=12.4 10.54s=12.4 10.58s=9 10.9s=12`,
			want: `
				stop 9.990 9.995 10.000
				decision 10.400 10.405 10.410
				crank 10.540 10.550 10.560
				running 10.680 10.686 10.690`,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, test.drive, test.more)
			res := d.run()
			if len(res.Episodes) != 1 {
				t.Fatalf("episodes:\n%s", tellAll(d.m, res))
			}
			if diff := cmp.Diff(rows(test.want), bounded(&res.Episodes[0])); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// Of the requests in the window the right one is chosen; the others are told too.
func TestRequestChoice(t *testing.T) {
	const four = `
restart_requests:
  - {name: brake, when: {signal: brake, is: released}}
  - {name: turn, bridge: 800ms, when: {signal: turn, is_not: off}}
  - {name: steer, when: {signal: steer, moves: 15}}
  - {name: charge, by: system, when: {signal: charge, below: 65}}
`
	const car = `
		rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
		stop:    0s=0 9.995s=1 20.005s=0
		starter: 0s=0 20.095s=1 20.3s=0
	`
	for _, test := range []struct{ name, drive, more, want string }{
		{
			name:  "the earliest is it, the others are told",
			drive: "turn: 0s=off 19.905s=left\nbrake: 0s=pressed 19.805s=released\ncharge: 0s=80 19.955s=80 19.96s=60",
			want:  "request 19.805 brake; also 19.905 turn; also 19.957 charge",
		},
		{
			name:  "one after the decision goes last, though it is the only one in time order before a later one",
			drive: "brake @200ms+60ms: 0s=pressed 19.87s=released\nturn: 0s=off 19.985s=left",
			want:  "request 19.985 turn; also 19.960 brake",
		},
		{
			name:  "its high at the decision's high is in time",
			drive: "brake @200ms+10ms: 0s=pressed 19.9s=released\nturn: 0s=off 19.995s=left",
			want:  "request 19.910 brake; also 19.995 turn",
		},
		{
			name:  "one surely after the decision is none",
			drive: "brake: 0s=pressed 20.025s=released",
		},
		{
			name:  "just touching the window's beginning counts",
			drive: "brake: 0s=pressed 19.5s=released",
			want:  "request 19.495 brake",
		},
		{
			name:  "just before it does not",
			drive: "brake: 0s=pressed 19.49s=released",
		},
		{
			name:  "a longer request_window reaches further than what is kept otherwise",
			drive: "brake: 0s=pressed 12.005s=released",
			more:  "settings: {request_window: 9s}\n",
			want:  "request 12.005 brake",
		},
		{
			name:  "unknown turning true is none where it was never known",
			drive: "brake: 19.805s=released",
		},
		{
			name:  "unknown turning true is one where it was false before, from the last sample on",
			drive: "brake: 0s=pressed 15s=- 19.805s=released",
			want:  "request 17.400 brake",
		},
		{
			name:  "true, unknown, true is none",
			drive: "brake: 0s=released 15s=- 19.805s=released",
		},
		{
			name:  "moves counts from the stop onset",
			drive: "steer: 0s=0 5s=0 6s=40 19.7s=40 19.9s=60",
			want:  "request 19.850 steer",
		},
		{
			name:  "a lamp that blinks on with the bridge over its gaps asks once",
			drive: "turn: 0s=off 19.005s=left 19.405s=off 19.805s=left 20.2s=off 20.6s=left",
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			extra := ""
			for _, name := range []string{"brake", "turn", "steer", "charge"} {
				if !strings.Contains(test.drive, name) {
					extra += name + ":\n"
				}
			}
			d := parseDrive(t, car+test.drive+"\n"+extra, four+test.more)
			res := d.run()
			if len(res.Episodes) != 1 {
				t.Fatalf("episodes:\n%s", tellAll(d.m, res))
			}
			got := tell(d.m, &res.Episodes[0])
			want := "restarted: stop 9.995 stop_command; rest 10.770; " + test.want + "; decision 20.005 stop_command; crank 20.095 starter_command; running 20.267"
			want = strings.ReplaceAll(want, "; ; ", "; ")
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// A request stays known over a rest of hours, and where the car waits for rest,
// however long it takes to crank.
func TestRequestsOfACarThatWaitsAreNotForgotten(t *testing.T) {
	d := parseDrive(t, `
		rpm:     0s=800 10s=800 13.8s=0 17.5s=0 17.8s=900
		stop:    0s=0 9.995s=1 17.395s=0
		starter: 0s=0 17.495s=1 17.7s=0
		brake:   0s=pressed 10.305s=released`, brakeAsks+"settings: {request_window: 2s}\n")
	res := d.run()
	want := "change_of_mind: stop 9.995 stop_command; rest 13.658; request 10.305 brake; decision 17.395 stop_command; crank 17.495 starter_command; running 17.667\n"
	if diff := cmp.Diff(want, tellAll(d.m, res)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	for _, key := range []string{"speed_at_request", "speed_at_crank", "restart_latency"} {
		for _, v := range res.Episodes[0].Metrics {
			if v.Key == key && v.Absent != nil {
				t.Errorf("%s is absent: %+v", key, v.Absent)
			}
		}
	}
}
