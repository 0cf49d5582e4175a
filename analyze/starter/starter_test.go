package starter_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/starter"
	"lull/decode"
	"lull/pkg/bounds"
)

// counterMap is a map with a counter of 16 bits and a limit.
func counterMap(limit float64) *decode.Map {
	m := &decode.Map{Settings: decode.DefaultSettings(), Signals: []decode.Signal{{Name: "count", Length: 16, Scale: decode.Identity}}}
	for r := range m.Role {
		m.Role[r] = -1
	}
	m.Role[decode.StarterCount] = 0
	m.Settings.StarterLimit = limit
	return m
}

// counted is a log that begins at a second since the epoch, lasts 100 s and reads
// a counter.
func counted(name string, start int64, first, last float64, operations int) analyze.Log {
	return analyze.Log{Name: name, SHA256: name, Result: &analyze.Result{
		HasTime: true, Start: start * 1e9, Span: 100e9, Info: decode.Info{Stamps: decode.StampsAbsolute},
		Starter:     analyze.Starter{Restart: operations, First: first, Last: last, Step: last - first, Agrees: true},
		EngineHours: analyze.Total{Value: 0.02}, Distance: analyze.Total{Value: 0.5},
	}}
}

// changed returns a log with something else in it.
func changed(l analyze.Log, change func(*analyze.Log)) analyze.Log {
	change(&l)
	return l
}

// everyday is a log that is long enough to tell the km left, and no longer.
func everyday(l *analyze.Log) { l.Result.Distance.Value = starter.LeastKm }

func undated(l *analyze.Log) { l.Result.Info.Stamps = decode.StampsZero }

// driven returns a log without a date and with one episode.
func driven(l analyze.Log, stop int64) analyze.Log {
	undated(&l)
	l.Result.Episodes = []analyze.Episode{{Stop: analyze.Event{Instant: bounds.Instant{T: stop}}}}
	return l
}

func tellAccount(a *starter.Account) string {
	var b strings.Builder
	for _, l := range a.Logs {
		b.WriteString(l.Name + " ")
	}
	b.WriteString("\n")
	for _, f := range a.Findings {
		fmt.Fprintf(&b, "%s %s %v: %+v\n", f.Severity, f.Code, f.Evidence, f.About)
	}
	return b.String()
}

// Order, doubles, overlaps and the counter from log to log.
func TestStarterAccountOfSeveralLogs(t *testing.T) {
	disagreeing := counted("a", 1000, 10, 10, 3)
	disagreeing.Result.Starter.Agrees = false
	disagreeing.Result.Findings = []analyze.Finding{
		{Code: "gap", About: analyze.Gap{}},
		{Code: "counter_disagrees", Severity: analyze.Attention, About: analyze.LinesLost(3)},
	}
	reset := counted("a", 1000, 10, 2, 2)
	reset.Result.Starter.Resets = []analyze.CounterReset{{From: 11, To: 1, Time: 5e9}}
	unread := counted("c", 3000, 0, 0, 2)
	unread.Result.Starter = analyze.Starter{Key: 1, Restart: 1, Absent: analyze.NeverSeen{Signal: "count"}}
	for _, test := range []struct {
		name   string
		logs   []analyze.Log
		want   string
		handOn float64
		resets []starter.Reset
		rest   float64 // unrecorded
	}{
		{name: "one", logs: []analyze.Log{counted("a", 1000, 10, 13, 3)}, want: "a ", handOn: 13},
		{name: "in order", logs: []analyze.Log{counted("a", 1000, 10, 13, 3), counted("b", 2000, 13, 15, 2)}, want: "a b ", handOn: 15},
		{name: "given in another order",
			logs: []analyze.Log{counted("b", 2000, 13, 15, 2), counted("a", 1000, 10, 13, 3)},
			want: "a b \nnote order_by_start [a b]: {Logs:[a b] Others:[] Overlap:0 Seen:0}", handOn: 15},
		{name: "starts between the logs", logs: []analyze.Log{counted("a", 1000, 10, 13, 3), counted("b", 2000, 17, 19, 2)},
			want:   "a b \nnote operations_unrecorded [a b]: {Last:a Next:b From:13 To:17 Step:4 Seen:0}",
			handOn: 19, rest: 4},
		{name: "a reset between the logs", logs: []analyze.Log{counted("a", 1000, 500, 503, 3), counted("b", 2000, 4, 6, 2)},
			want:   "a b \nnote counter_reset [a b]: {Last:a Next:b From:503 To:4 Step:-499 Seen:0}",
			handOn: 6, resets: []starter.Reset{{After: "a", Before: "b", From: 503, To: 4}}},
		{name: "its width's end between the logs is no reset", logs: []analyze.Log{counted("a", 1000, 65530, 65535, 5), counted("b", 2000, 0, 2, 2)},
			want:   "a b \nnote operations_unrecorded [a b]: {Last:a Next:b From:65535 To:0 Step:1 Seen:0}",
			handOn: 2, rest: 1},
		{name: "a reset within a log", logs: []analyze.Log{reset}, want: "a ", handOn: 2,
			resets: []starter.Reset{{After: "a", Before: "a", From: 11, To: 1, Time: 5e9}}},
		{name: "what a log says of its counter", logs: []analyze.Log{disagreeing},
			want: "a \nattention counter_disagrees [a]: {Log:a Finding:{Code:counter_disagrees Severity:attention Evidence:[] About:3}}", handOn: 10},
		{name: "seen after the last reading", logs: []analyze.Log{changed(counted("a", 1000, 10, 12, 3), func(l *analyze.Log) { l.Result.Starter.After = 1 })},
			want: "a ", handOn: 13},
		{name: "which the next log does not show",
			logs: []analyze.Log{changed(counted("a", 1000, 10, 12, 3), func(l *analyze.Log) { l.Result.Starter.After = 1 }), counted("b", 2000, 12, 12, 0)},
			want: "a b \nattention counter_disagrees [a b]: {Last:a Next:b From:12 To:12 Step:0 Seen:1}", handOn: 12},
		{name: "the last log has no reading", logs: []analyze.Log{counted("a", 1000, 10, 13, 3), unread},
			want: "a c \nnote counter_not_seen [c]: {Logs:[c] Others:[a] Overlap:0 Seen:2}", handOn: 15},
		{name: "one between has none", logs: []analyze.Log{counted("a", 1000, 10, 13, 3), unread, counted("d", 4000, 15, 16, 1)},
			want: "a c d ", handOn: 16},
		{name: "one file twice", logs: []analyze.Log{counted("a", 1000, 10, 13, 3), changed(counted("copy", 1500, 10, 13, 3), func(l *analyze.Log) { l.SHA256 = "a" })},
			want: "a \nnote log_twice [a copy]: {Logs:[copy] Others:[a] Overlap:0 Seen:0}", handOn: 13},
		{name: "one drive twice, in another packing", logs: []analyze.Log{counted("a", 1000, 10, 13, 3), counted("a.gz", 1000, 10, 13, 3)},
			want: "a \nnote log_twice [a a.gz]: {Logs:[a.gz] Others:[a] Overlap:0 Seen:0}", handOn: 13},
		{name: "one drive twice, without dates", logs: []analyze.Log{driven(counted("a", 0, 10, 13, 3), 9), driven(counted("a.gz", 0, 10, 13, 3), 9)},
			want: "a \nnote log_twice [a a.gz]: {Logs:[a.gz] Others:[a] Overlap:0 Seen:0}", handOn: 13},
		{name: "two drives of one length, without dates", logs: []analyze.Log{driven(counted("a", 0, 10, 13, 3), 9), driven(counted("b", 0, 13, 16, 3), 8)},
			want: "a b \nnote start_unknown [a b]: {Logs:[a b] Others:[] Overlap:0 Seen:0}", handOn: 16},
		{name: "two without a clock are not one for that",
			logs: []analyze.Log{changed(counted("b", 0, 13, 15, 2), undated), changed(counted("a", 0, 15, 16, 1), undated)},
			want: "b a \nnote start_unknown [b a]: {Logs:[b a] Others:[] Overlap:0 Seen:0}", handOn: 16},
		{name: "one without a clock stays where it was given",
			logs: []analyze.Log{counted("b", 2000, 13, 15, 2), changed(counted("u", 0, 15, 15, 0), undated), counted("a", 1000, 10, 13, 3)},
			want: "a u b \n" +
				"note order_by_start [a u b]: {Logs:[a u b] Others:[] Overlap:0 Seen:0}\n" +
				"note start_unknown [u]: {Logs:[u] Others:[] Overlap:0 Seen:0}\n" +
				"note operations_unrecorded [a u]: {Last:a Next:u From:13 To:15 Step:2 Seen:0}\n" +
				"note counter_reset [u b]: {Last:u Next:b From:15 To:13 Step:-2 Seen:0}",
			handOn: 15, rest: 2, resets: []starter.Reset{{After: "u", Before: "b", From: 15, To: 13}}},
		{name: "alone, it needs no order", logs: []analyze.Log{changed(counted("u", 0, 15, 15, 0), undated)}, want: "u ", handOn: 15},
		{name: "dates of no zone beside others",
			logs: []analyze.Log{counted("a", 1000, 10, 13, 3), changed(counted("b", 2000, 13, 15, 2), func(l *analyze.Log) { l.Result.Info.Stamps = decode.StampsDate })},
			want: "a b \nnote zone_unknown [b]: {Logs:[b] Others:[a] Overlap:0 Seen:0}", handOn: 15},
		{name: "two at the same time", logs: []analyze.Log{counted("a", 1000, 10, 13, 3), counted("b", 1050, 13, 15, 2), counted("c", 1120, 15, 15, 0)},
			want: "a b c \n" +
				"attention logs_overlap [a b]: {Logs:[a b] Others:[] Overlap:50000000000 Seen:0}\n" +
				"attention logs_overlap [b c]: {Logs:[b c] Others:[] Overlap:30000000000 Seen:0}", handOn: 15},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := starter.New(counterMap(0), test.logs)
			if diff := cmp.Diff(test.want, strings.TrimSuffix(tellAccount(a), "\n")); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(analyze.Total{Value: test.handOn}, a.HandOn); diff != "" {
				t.Errorf("hand on (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(test.resets, a.Resets); diff != "" {
				t.Errorf("resets (-want +got):\n%s", diff)
			}
			if a.Unrecorded != test.rest {
				t.Errorf("%v unrecorded, want %v", a.Unrecorded, test.rest)
			}
		})
	}
}

// Ten operations over 0.5 km: Garwood's limits of 10 are 4.795 and 18.390 (from
// memory, as in Pearson and Hartley's table 40), and the km left turn over.
func TestStarterRateAndWhatIsLeft(t *testing.T) {
	near := func(what string, got analyze.Total, want float64) {
		t.Helper()
		if got.Absent != nil || math.Abs(got.Value-want) > 1e-3*want {
			t.Errorf("%s: %+v, want %v", what, got, want)
		}
	}
	a := starter.New(counterMap(1000), []analyze.Log{counted("a", 1000, 90, 100, 10)})
	if a.PerHour.Value != 500 || a.PerKm.Value != 20 || a.PerKm.Operations != 10 || a.PerKm.Over != 0.5 {
		t.Errorf("%+v %+v", a.PerHour, a.PerKm)
	}
	near("low", analyze.Total{Value: a.PerKm.Low}, 4.795/0.5)
	near("high", analyze.Total{Value: a.PerKm.High}, 18.390/0.5)
	near("operations left", a.Left.Operations, 900)
	// They are told of no test drive.
	if why := (analyze.TooLittleDriven{Km: 0.5, Least: starter.LeastKm}); a.Left.Km.Absent != why || a.Left.Low.Absent != why || a.Left.High.Absent != why {
		t.Errorf("left %+v", a.Left)
	}
	a = starter.New(counterMap(1000), []analyze.Log{changed(counted("a", 1000, 90, 100, 10), everyday)})
	near("km", a.Left.Km, 9000)
	near("km at the high rate", a.Left.Low, 900*starter.LeastKm/18.390)
	near("km at the low rate", a.Left.High, 900*starter.LeastKm/4.795)
}

// What is not known has a reason, and no number is made up.
func TestStarterFiguresThatAreNotKnown(t *testing.T) {
	left := func(a *starter.Account) []analyze.Reason {
		return []analyze.Reason{a.Left.Operations.Absent, a.Left.Km.Absent, a.Left.Low.Absent, a.Left.High.Absent}
	}
	all := func(why analyze.Reason) []analyze.Reason { return []analyze.Reason{why, why, why, why} }
	noSpeed := analyze.NoSignal{Role: decode.VehicleSpeed}
	log := func(change func(*analyze.Result)) []analyze.Log {
		l := changed(counted("a", 1000, 90, 100, 10), everyday)
		change(l.Result)
		return []analyze.Log{l}
	}
	none := func(*analyze.Result) {}
	for _, test := range []struct {
		name           string
		limit          float64
		change         func(*analyze.Result)
		perHour, perKm analyze.Reason
		left           []analyze.Reason
	}{
		{"no limit", 0, none, nil, nil, all(analyze.NoStarterLimit)},
		{"no counter seen", 1000, func(r *analyze.Result) { r.Starter.Absent = analyze.NeverSeen{Signal: "count"} }, nil, nil, all(analyze.NoReading)},
		{"no engine speed", 1000, func(r *analyze.Result) { r.EngineHours = analyze.Total{Absent: noSpeed} }, noSpeed, nil, all(nil)},
		{"engine never ran", 1000, func(r *analyze.Result) { r.EngineHours = analyze.Total{} }, analyze.NeverRan, nil, all(nil)},
		{"never moved", 1000, func(r *analyze.Result) { r.Distance = analyze.Total{} }, nil, analyze.NeverMoved,
			[]analyze.Reason{nil, analyze.NeverMoved, analyze.NeverMoved, analyze.NeverMoved}},
		{"no operation", 1000, func(r *analyze.Result) { r.Starter.Restart = 0 }, nil, nil,
			[]analyze.Reason{nil, analyze.NoOperation, nil, analyze.NoOperation}},
		{"limit reached", 100, none, nil, nil, all(nil)},
	} {
		a := starter.New(counterMap(test.limit), log(test.change))
		if a.PerHour.Absent != test.perHour || a.PerKm.Absent != test.perKm {
			t.Errorf("%s: %+v %+v, want %+v %+v", test.name, a.PerHour.Absent, a.PerKm.Absent, test.perHour, test.perKm)
		}
		if diff := cmp.Diff(test.left, left(a)); diff != "" {
			t.Errorf("%s: left (-want +got):\n%s", test.name, diff)
		}
	}
	a := starter.New(counterMap(100), log(none))
	if diff := cmp.Diff(starter.Left{}, a.Left); diff != "" {
		t.Errorf("a limit that is reached leaves nothing (-want +got):\n%s", diff)
	}
	m := counterMap(100)
	m.Role[decode.StarterCount] = -1
	a = starter.New(m, log(func(r *analyze.Result) { r.Starter.Absent = analyze.NoSignal{Role: decode.StarterCount} }))
	if a.HandOn.Absent != (analyze.NoSignal{Role: decode.StarterCount}) || a.Left.Km.Absent != a.HandOn.Absent {
		t.Errorf("%+v %+v", a.HandOn, a.Left)
	}
	// A log without km does not spoil the rate of the others.
	two := append(log(none), log(func(r *analyze.Result) { r.Start, r.Distance = 5000e9, analyze.Total{Absent: noSpeed} })...)
	two[1].Name, two[1].SHA256 = "b", "b"
	if a = starter.New(counterMap(0), two); a.PerKm.Value != 0.1 || a.PerHour.Value != 500 || a.PerHour.Operations != 20 {
		t.Errorf("%+v %+v", a.PerHour, a.PerKm)
	}
}
