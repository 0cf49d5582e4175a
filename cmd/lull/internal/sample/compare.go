package sample

import (
	"math"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Side returns a side of one log whose restarts took the given times, with a silent module
// in the slowest.
func Side(m *decode.Map, name string, day int64, latencies ...float64) *words.Report {
	r := &analyze.Result{EngineSpeedSeen: true, Trust: analyze.Trust{Credence: analyze.Sound}, HasTime: true, Start: (1772442900 + day*86400) * Second, Span: 600 * Second,
		Info: decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6}}
	for i, v := range latencies {
		e := analyze.Episode{N: i + 1, Outcome: analyze.Restarted, Request: &analyze.Request{}, Cranks: []analyze.Event{{}}}
		for range m.Circumstances {
			e.AtStop = append(e.AtStop, analyze.Reading{Value: float64(60 + 20*day + int64(i)), Seen: true})
		}
		e.Metrics = []analyze.MetricValue{{Key: "restart_latency", Unit: "s"}, {Key: "run_down", Unit: "s"}, {Key: "voltage_min", Unit: "V", Absent: analyze.NoSignal{Role: decode.BatteryVoltage}}}
		e.Metrics[0].Best, e.Metrics[1].Best = v, 1+v/1000
		if v > 0.7 {
			e.Limits = []analyze.LimitVerdict{{Limit: decode.Limit{Metric: "restart_latency", HasMax: true, Max: 0.6}, Verdict: analyze.Outside}}
			r.Silences = append(r.Silences, analyze.Silence{Episode: e.N})
		} else {
			e.Limits = []analyze.LimitVerdict{{Limit: decode.Limit{Metric: "restart_latency", HasMax: true, Max: 0.6}, Verdict: analyze.Borderline}}
		}
		r.Episodes = append(r.Episodes, e)
		r.Standstills = append(r.Standstills, analyze.Standstill{N: i + 1, Opportunity: true, Stopped: true})
	}
	return &words.Report{Version: "v1.2.3", Map: m, Logs: []words.Log{{Name: name, SHA256: name, Result: r}}}
}

func Compared(by compare.By, before, after *words.Report) *words.CompareReport {
	return &words.CompareReport{Version: "v1.2.3", Before: before.Map, After: after.Map, Comparison: compare.New(words.SideOf(before), words.SideOf(after), by)}
}

func Comparisons() map[string]*words.CompareReport {
	m := Map()
	m.Circumstances = []int{0}
	slow := Side(m, "before=1.log", 0, 0.75, 0.78, 0.81, 0.74, 0.79, 0.8)
	fast := Side(m, "after.log", 1, 0.5, 0.52, 0.55, 0.51, 0.53)
	return map[string]*words.CompareReport{
		"compare":         Compared("", slow, fast),
		"compare_request": Compared(compare.ByRequest, slow, fast),
		"compare_few":     Compared("", Side(m, "a.log", 0, 0.5), Side(m, "b.log", 1)),
		"compare_swapped": Compared("", fast, slow),
		"compare_odd":     Compared("", Side(m, "a.log", 0, math.NaN(), math.Inf(1), math.MaxFloat64), Side(m, "b.log", 1, -math.MaxFloat64, 0)),
	}
}
