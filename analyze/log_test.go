package analyze_test

import (
	"testing"

	"lull/analyze"
	"lull/decode"
)

func TestTheSameDriveIsKnownWhateverItIsCalledAndOthersAreNot(t *testing.T) {
	const at, later = int64(1e18), int64(1e18 + 1e9)
	with := func(start int64, stamps decode.Stamps, latencies ...float64) analyze.Log {
		r := &analyze.Result{HasTime: true, Start: start, Span: 100e9, Frames: 5000, Info: decode.Info{Stamps: stamps}}
		for _, v := range latencies {
			m := analyze.MetricValue{Key: "restart_latency"}
			m.Best = v
			r.Episodes = append(r.Episodes, analyze.Episode{Outcome: analyze.Restarted, Metrics: []analyze.MetricValue{m}})
		}
		return analyze.Log{Name: "a", Result: r}
	}
	file := func(l analyze.Log, sum string) analyze.Log {
		l.SHA256 = sum
		return l
	}
	unseen := func(signals ...string) analyze.Log {
		l := with(0, decode.StampsZero, 0)
		l.Result.Episodes[0].Metrics[0].Absent = analyze.UnseenRequests{Why: analyze.NotSeen{Signals: signals}}
		return l
	}
	shorter := with(at, decode.StampsAbsolute, 1, 2)
	shorter.Result.Frames--
	for _, test := range []struct {
		name string
		a, b analyze.Log
		want bool
	}{
		{"one file", file(with(at, decode.StampsAbsolute, 1), "f"), file(with(later, decode.StampsAbsolute, 2), "f"), true},
		{"packed", file(with(at, decode.StampsAbsolute, 1, 2), "f"), file(with(at, decode.StampsAbsolute, 1, 2), "g"), true},
		{"one start and schedule, other values", with(at, decode.StampsAbsolute, 1, 2), with(at, decode.StampsAbsolute, 1, 3), false},
		{"one start, a frame less", with(at, decode.StampsAbsolute, 1, 2), shorter, false},
		{"one schedule, another day", with(at, decode.StampsAbsolute, 1, 2), with(later, decode.StampsAbsolute, 1, 2), false},
		{"with and without dates", with(at, decode.StampsAbsolute, 1, 2), with(0, decode.StampsZero, 1, 2), true},
		{"without dates", with(0, decode.StampsZero, 1, 2), with(0, decode.StampsDelta, 1, 2), true},
		{"without dates, other values", with(0, decode.StampsZero, 1, 2), with(0, decode.StampsZero, 2, 2), false},
		{"absent for one reason", unseen("brake", "gear"), unseen("brake", "gear"), true},
		{"absent for another", unseen("brake", "gear"), unseen("brake"), false},
		{"absent on one alone", unseen("brake"), with(0, decode.StampsZero, 0), false},
		{"dated, without episodes", with(at, decode.StampsAbsolute), with(at, decode.StampsAbsolute), true},
		{"without dates and episodes", with(0, decode.StampsZero), with(0, decode.StampsZero), false},
	} {
		if got := analyze.SameDrive(&test.a, &test.b); got != test.want {
			t.Errorf("%s: taken for the same drive: %v", test.name, got)
		}
	}
}
