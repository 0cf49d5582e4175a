package output

import (
	"time"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

const sec = int64(time.Second)

// around is an instant given in milliseconds.
func around(low, t, high int64) bounds.Instant {
	return bounds.Instant{Low: low * 1e6, T: t * 1e6, High: high * 1e6}
}

func here(i bounds.Instant) *bounds.Instant { return &i }

func valued(key, unit string, low, best, high float64) analyze.MetricValue {
	return analyze.MetricValue{Key: key, Unit: unit, Value: bounds.Value{Low: low, Best: best, High: high}}
}

func sampled(m analyze.MetricValue, sampling float64) analyze.MetricValue {
	m.Sampling, m.HasSampling = sampling, true
	return m
}

// allMetrics fills the gaps of a list with absent metrics, so that it has all.
func allMetrics(given ...analyze.MetricValue) []analyze.MetricValue {
	var list []analyze.MetricValue
	for _, key := range decode.MetricKeys {
		found := analyze.MetricValue{Key: key, Absent: "no signal has the role it needs"}
		for _, g := range given {
			if g.Key == key {
				found = g
			}
		}
		list = append(list, found)
	}
	return list
}

// sampleMap is a map with two requests, three inhibits and three signals.
func sampleMap() *decode.Map {
	m := &decode.Map{
		Name: "car.yaml", SHA256: "6d61", Vehicle: "Tallowmere 1.2",
		Signals: []decode.Signal{
			{Name: "coolant", Unit: "degC", Scale: decode.Identity},
			{Name: "ac", Length: 1, Scale: decode.Identity, Labels: []decode.Label{{Raw: 0, Text: "off"}, {Raw: 1, Text: "on"}}},
			{Name: "cabin_error", Unit: "K"},
		},
		Requests: []decode.Condition{
			{Name: "brake released", Expr: &decode.Expr{Op: decode.OpIs, Signal: 1, Text: "is off"}},
			{Name: "battery low", By: decode.BySystem, Expr: &decode.Expr{Op: decode.OpNot, Children: []*decode.Expr{{Op: decode.OpAbove, Signal: 2, Text: "above 5"}}}},
		},
		Inhibits: []decode.Condition{
			{Name: "coolant cold", Expr: &decode.Expr{Op: decode.OpBelow, Signal: 0, Text: "below 40"}},
			{Name: "cabin demand", Expr: &decode.Expr{Op: decode.OpAll, Children: []*decode.Expr{
				{Op: decode.OpIs, Signal: 1, Text: "is on"},
				{Op: decode.OpAny, Children: []*decode.Expr{{Op: decode.OpAbove, Signal: 2, Text: "above 3"}, {Op: decode.OpBelow, Signal: 2, Text: "below -3"}}},
			}}},
		},
		Settings: decode.DefaultSettings(),
	}
	for r := range m.Role {
		m.Role[r] = -1
	}
	m.Role[decode.VehicleSpeed] = 0 // what counts is that some signal has it
	return m
}

// sampleReport has every kind of row that a result can have.
func sampleReport() *Report {
	stop := around(41260, 41270, 41280)
	latencyLimit := decode.Limit{Metric: "restart_latency", HasMax: true, Max: 0.6}
	voltageLimit := decode.Limit{Metric: "voltage_min", HasMin: true, Min: 8.5}
	first := analyze.Episode{
		N: 1, Outcome: analyze.Restarted,
		Stop:     analyze.Event{Instant: stop, From: decode.StopCommand},
		Rest:     here(around(41900, 41902, 41910)),
		Request:  &analyze.Request{Instant: around(55010, 55015, 55020), Condition: 0},
		Also:     []analyze.Request{{Instant: around(55020, 55025, 55030), Condition: 1}},
		Decision: &analyze.Event{Instant: around(55075, 55080, 55085), From: decode.StopCommand},
		Cranks:   []analyze.Event{{Instant: around(55100, 55105, 55110), From: decode.StarterCommand}},
		Running:  here(around(55430, 55432, 55440)),
		Metrics: allMetrics(
			valued("engine_off", "s", 14.15, 14.162, 14.18),
			valued("restart_latency", "s", 0.41, 0.417, 0.43),
			valued("crank_to_run", "s", 0.32, 0.327, 0.34),
			sampled(valued("voltage_min", "V", 9.31, 9.31, 9.31), 0.02),
			valued("fuel_saved", "mL", 2.358, 2.36, 2.363),
		),
		Limits: []analyze.LimitVerdict{{Limit: latencyLimit, Verdict: analyze.Inside}, {Limit: voltageLimit, Verdict: analyze.Inside}},
		Notes:  []string{},
	}
	second := first
	second.N, second.Outcome = 2, analyze.ChangeOfMind
	second.Stop.Instant = stop.Shift(60 * sec)
	second.Rest, second.Also = nil, nil
	second.Request = &analyze.Request{Instant: around(101900, 101950, 102000), Condition: 1}
	second.Running = here(around(102560, 102570, 102580))
	second.Metrics = allMetrics(
		valued("engine_off", "s", 1.28, 1.3, 1.32),
		valued("restart_latency", "s", 0.61, 0.62, 0.63),
		sampled(valued("voltage_min", "V", 8.4, 8.4, 8.4), 0.02),
	)
	second.Limits = []analyze.LimitVerdict{{Limit: latencyLimit, Verdict: analyze.Outside}, {Limit: voltageLimit, Verdict: analyze.Outside}}
	second.Notes = []string{"rest was not reached"}
	third := analyze.Episode{
		N: 3, Outcome: analyze.NoStart, Stop: analyze.Event{Instant: stop.Shift(300 * sec), From: decode.EngineSpeed},
		Decision: &analyze.Event{Instant: around(350000, 350010, 350020), From: decode.StarterCommand},
		Cranks: []analyze.Event{
			{Instant: around(350000, 350010, 350020), From: decode.StarterCommand},
			{Instant: around(353000, 353010, 353020), From: decode.StarterCommand},
		},
		Metrics: allMetrics(),
	}
	delay := valued("stop_delay", "s", 1.16, 1.21, 1.28)
	res := &analyze.Result{
		Info: decode.Info{
			Bytes: 4000, Lines: 101, Accepted: 100, Rejected: 1, ErrorFrames: 2,
			Stamps: decode.StampsAbsolute, StampDigits: 6, Interfaces: []string{"can0", "can1"},
			Remarks: []decode.Remark{
				{Code: decode.RemarkRejectedLines, Count: 1, Line: 12, Time: 1772442903200000000, HasTime: true,
					Text: "1 line was rejected: odd number of digits", Places: []decode.Place{{Line: 12, Column: 31, Why: "odd number of digits"}}},
				{Code: decode.RemarkSignalNotSeen, Count: 1, Text: "coolant was never seen"},
			},
		},
		Frames: 100, HasTime: true, Start: 1772442900000000000, Span: 612*sec + sec/2, EngineSpeedSeen: true,
		Episodes: []analyze.Episode{first, second, third},
		Standstills: []analyze.Standstill{
			{N: 1, Start: around(40000, 40060, 40100), End: around(56200, 56240, 56300), Opportunity: true, Stopped: true, Episode: 1, StopDelay: &delay,
				Inhibits: []analyze.InhibitShare{
					{Condition: 0, State: "false", Measured: []analyze.Measured{{Signal: 0, Value: analyze.Reading{Value: 71, Seen: true}, Against: "below 40"}}},
					{Condition: 1, State: "unknown", Measured: []analyze.Measured{{Signal: 1, Against: "is on"}}},
				}},
			{N: 2, Start: around(120000, 120050, 120100), End: around(140000, 140050, 140100), Opportunity: true, Covered: 0.8, Reason: "cabin demand",
				Inhibits: []analyze.InhibitShare{
					{Condition: 0, State: "false"},
					{Condition: 1, Share: 0.8, State: "mixed", Intervals: [][2]int64{{120 * sec, 136 * sec}},
						Measured: []analyze.Measured{
							{Signal: 1, Value: analyze.Reading{Value: 1, Seen: true}, Against: "is on"},
							{Signal: 2, Value: analyze.Reading{Value: 5.5, Seen: true}, Against: "outside -3 to 3"},
						}},
				}},
			{N: 3, Start: around(160000, 160050, 160100), End: around(180000, 180050, 180100), Opportunity: true, Unexplained: true, Covered: 0.1},
			{N: 4, Start: around(190000, 190050, 190100), End: around(199000, 199050, 199100), Opportunity: true, CannotTell: []string{"coolant cold"}},
			{N: 5, Start: around(200000, 200050, 200100), End: around(202000, 202050, 202100)},
			{N: 6, Start: around(210000, 210050, 210100), End: around(230000, 230050, 230100), Opportunity: true, Covered: 1, Reason: "code 7",
				Codes: []analyze.CodeShare{{Name: "code 7", Share: 1}}},
			{N: 7, Start: around(600000, 600050, 600100), End: around(612500, 612500, 612500), Opportunity: true, Open: true},
		},
		Starts: []analyze.Start{
			{N: 1, Kind: analyze.KeyStart, Crank: analyze.Event{Instant: around(990, 1000, 1010), From: decode.StarterCommand}, Running: here(around(1590, 1600, 1610)),
				Metrics: []analyze.MetricValue{valued("crank_to_run", "s", 0.58, 0.6, 0.62), {Key: "flare", Absent: "the log ends first"}}},
			{N: 2, Kind: analyze.RestartStart, Episode: 1, Crank: first.Cranks[0], Running: first.Running},
		},
		Silences: []analyze.Silence{
			{ID: "0x3A0", Bus: "can0", Module: "body unit", Start: 55110 * 1e6, Duration: 1200 * 1e6, Period: 100 * 1e6, Episode: 1},
			{ID: "0x3B0", Bus: "can0", Start: 300 * sec, Duration: sec, Period: 100 * 1e6},
		},
		Gaps: []analyze.Gap{{Start: 80 * sec, End: 81*sec + 200*1e6}},
		Findings: []analyze.Finding{
			{Code: "limit_broken", Severity: analyze.Attention, Text: "restart_latency of 0.62 s is above its limit of 0.6 s", Evidence: []string{"episode 2"}},
			{Code: "gap", Severity: analyze.Note, Text: "1.2 s without any frame at 80.0 s: the recording stopped"},
		},
		Starter: analyze.Starter{Key: 1, Restart: 2, Retry: 1, First: 1203, Last: 1207, Step: 4, Agrees: true},
		Summary: analyze.Summary{Standstills: 7, Opportunities: 6, Stops: 1, Episodes: 3, StarterOperations: 4, EngineOff: 15.462, FuelSaved: 2.36},
		Exercised: analyze.Exercised{
			Requests: []analyze.Tried{{Caused: 1}, {Caused: 1, Also: 1}}, Inhibits: []analyze.Tried{{}, {Caused: 1}}, ChangesOfMind: 1,
			Signals: []analyze.Extent{{Signal: 0, Seen: true, Min: 40, Max: 71}, {Signal: 1, Seen: true, Max: 1}, {Signal: 2}},
		},
	}
	return &Report{Version: "v1.2.3", Map: sampleMap(), Logs: []Log{{Name: "drive.log", SHA256: "6c6f67", Bytes: 4000, Result: res}}}
}

// emptyReport is a log in which nothing happened and nothing is known.
func emptyReport() *Report {
	res := &analyze.Result{Starter: analyze.Starter{Absent: "no signal has the role starter_count"}}
	return &Report{Version: "dev", Map: sampleMap(), Logs: []Log{{Name: "quiet.log", Result: res}}}
}
