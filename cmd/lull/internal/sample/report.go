package sample

import (
	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Report has every kind of row that a result can have.
func Report() *words.Report {
	stop := Around(41260, 41270, 41280)
	latencyLimit := decode.Limit{Metric: "restart_latency", HasMax: true, Max: 0.6}
	voltageLimit := decode.Limit{Metric: "voltage_min", HasMin: true, Min: 8.5}
	first := analyze.Episode{
		N: 1, Outcome: analyze.Restarted,
		Stop:     analyze.Event{Instant: stop, From: decode.StopCommand},
		Rest:     here(Around(41900, 41902, 41910)),
		Request:  &analyze.Request{Instant: Around(55010, 55015, 55020), Condition: 0},
		Also:     []analyze.Request{{Instant: Around(55020, 55025, 55030), Condition: 1}},
		Decision: &analyze.Event{Instant: Around(55075, 55080, 55085), From: decode.StopCommand},
		Cranks:   []analyze.Event{{Instant: Around(55100, 55105, 55110), From: decode.StarterCommand}},
		Running:  here(Around(55430, 55432, 55440)),
		Metrics: AllMetrics(
			Valued("engine_off", "s", 14.15, 14.162, 14.18),
			Valued("restart_latency", "s", 0.41, 0.417, 0.43),
			Valued("crank_to_run", "s", 0.32, 0.327, 0.34),
			sampled(Valued("voltage_min", "V", 9.31, 9.31, 9.31), 0.02),
			Valued("fuel_saved", "mL", 2.358, 2.36, 2.363),
		),
		Limits: []analyze.LimitVerdict{{Limit: latencyLimit, Verdict: analyze.Inside}, {Limit: voltageLimit, Verdict: analyze.Inside}},
		Notes:  []analyze.EpisodeNote{},
	}
	second := first
	second.N, second.Outcome = 2, analyze.ChangeOfMind
	second.Stop.Instant = stop.Shift(60 * Second)
	second.Rest, second.Also = nil, nil
	second.Request = &analyze.Request{Instant: Around(101900, 101950, 102000), Condition: 1}
	second.Running = here(Around(102560, 102570, 102580))
	second.Metrics = AllMetrics(
		Valued("engine_off", "s", 1.28, 1.3, 1.32),
		Valued("restart_latency", "s", 0.61, 0.62, 0.63),
		sampled(Valued("voltage_min", "V", 8.4, 8.4, 8.4), 0.02),
	)
	second.Limits = []analyze.LimitVerdict{{Limit: latencyLimit, Verdict: analyze.Outside}, {Limit: voltageLimit, Verdict: analyze.Outside}}
	second.Notes = []analyze.EpisodeNote{analyze.GapInside{}}
	third := analyze.Episode{
		N: 3, Outcome: analyze.NoStart, Stop: analyze.Event{Instant: stop.Shift(300 * Second), From: decode.EngineSpeed},
		Decision: &analyze.Event{Instant: Around(350000, 350010, 350020), From: decode.StarterCommand},
		Cranks: []analyze.Event{
			{Instant: Around(350000, 350010, 350020), From: decode.StarterCommand},
			{Instant: Around(353000, 353010, 353020), From: decode.StarterCommand},
		},
		Metrics: AllMetrics(),
	}
	delay := Valued("stop_delay", "s", 1.16, 1.21, 1.28)
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
		Frames: 100, HasTime: true, Start: 1772442900000000000, Span: 612*Second + Second/2, EngineSpeedSeen: true, Trust: analyze.Trust{Credence: analyze.Sound},
		Episodes: []analyze.Episode{first, second, third},
		Standstills: []analyze.Standstill{
			{N: 1, Start: Around(40000, 40060, 40100), End: Around(56200, 56240, 56300), Until: 41270 * 1e6, Opportunity: true, Stopped: true, Episode: 1, StopDelay: &delay,
				Inhibits: []analyze.InhibitShare{
					{Condition: 0, State: "false", Measured: []analyze.Measured{{Signal: 0, Value: analyze.Reading{Value: 71, Seen: true}, Against: "below 40"}}},
					{Condition: 1, State: "unknown", Measured: []analyze.Measured{{Signal: 1, Against: "is on"}}},
				}},
			{N: 2, Start: Around(120000, 120050, 120100), End: Around(140000, 140050, 140100), Until: 140050 * 1e6, Opportunity: true, Covered: 0.8, Reason: "cabin demand",
				Inhibits: []analyze.InhibitShare{
					{Condition: 0, State: "false"},
					{Condition: 1, Share: 0.8, State: "mixed", Intervals: [][2]int64{{120 * Second, 136 * Second}},
						Measured: []analyze.Measured{
							{Signal: 1, Value: analyze.Reading{Value: 1, Seen: true}, Against: "is on"},
							{Signal: 2, Value: analyze.Reading{Value: 5.5, Seen: true}, Against: "outside -3 to 3"},
						}},
				}},
			{N: 3, Start: Around(160000, 160050, 160100), End: Around(180000, 180050, 180100), Until: 180050 * 1e6, Opportunity: true, Unexplained: true, Covered: 0.1},
			{N: 4, Start: Around(190000, 190050, 190100), End: Around(199000, 199050, 199100), Until: 199050 * 1e6, Opportunity: true, CannotTell: []string{"coolant cold"}},
			{N: 5, Start: Around(200000, 200050, 200100), End: Around(202000, 202050, 202100), Until: 202050 * 1e6, NotCounted: analyze.TooShort},
			{N: 6, Start: Around(210000, 210050, 210100), End: Around(230000, 230050, 230100), Until: 230050 * 1e6, Opportunity: true, Covered: 1, Reason: "code 7",
				Codes: []analyze.CodeShare{{Name: "code 7", Share: 1, Intervals: [][2]int64{{210050 * 1e6, 230050 * 1e6}}}}},
			{N: 7, Start: Around(600000, 600050, 600100), End: Around(612500, 612500, 612500), Until: 612500 * 1e6, Opportunity: true, Open: true},
		},
		Starts: []analyze.Start{
			{N: 1, Kind: analyze.KeyStart, Crank: analyze.Event{Instant: Around(990, 1000, 1010), From: decode.StarterCommand}, Running: here(Around(1590, 1600, 1610)),
				Metrics: []analyze.MetricValue{Valued("crank_to_run", "s", 0.58, 0.6, 0.62), {Key: "flare", Absent: analyze.NoSample{Role: decode.EngineSpeed, Window: 2 * Second}}}},
			{N: 2, Kind: analyze.RestartStart, Episode: 1, Crank: first.Cranks[0], Running: first.Running},
		},
		Silences: []analyze.Silence{
			{ID: "0x3A0", Bus: "can0", Module: "body unit", Start: 55110 * 1e6, Duration: 1200 * 1e6, Period: 100 * 1e6, Episode: 1},
			{ID: "0x3B0", Bus: "can0", Start: 300 * Second, Duration: Second, Period: 100 * 1e6},
		},
		Gaps: []analyze.Gap{{Start: 80 * Second, End: 81*Second + 200*1e6}},
		Findings: []analyze.Finding{
			{Code: "limit_broken", Severity: analyze.Attention, About: analyze.Remarked{Text: "restart_latency of 0.62 s is above its limit of 0.6 s"}, Evidence: []string{"episode 2"}},
			{Code: "gap", Severity: analyze.Note, About: analyze.Remarked{Text: "1.2 s without any frame at 80.0 s: the recording stopped"}},
		},
		Starter: analyze.Starter{Key: 1, Restart: 2, Retry: 1, First: 1203, Last: 1207, Step: 4, Agrees: true},
		Summary: analyze.Summary{Standstills: 7, Opportunities: 6, Stops: 1, Episodes: 3, StarterOperations: 4, EngineOff: 15.462, FuelSaved: 2.36},
		Exercised: analyze.Exercised{
			Requests: []analyze.Tried{{Caused: 1}, {Caused: 1, Also: 1}}, Inhibits: []analyze.Tried{{}, {Caused: 1}}, ChangesOfMind: 1,
			Signals: []analyze.Extent{{Signal: 0, Seen: true, Min: 40, Max: 71}, {Signal: 1, Seen: true, Max: 1}, {Signal: 2}},
		},
	}
	return &words.Report{Version: "v1.2.3", Map: Map(), Logs: []words.Log{{Name: "drive.log", SHA256: "6c6f67", Bytes: 4000, Result: res}}}
}

// Empty is a log in which nothing happened and nothing is known.
func Empty() *words.Report {
	res := &analyze.Result{Trust: analyze.Trust{Credence: analyze.Sound}, Starter: analyze.Starter{Absent: analyze.NoSignal{Role: decode.StarterCount}}}
	return &words.Report{Version: "dev", Map: Map(), Logs: []words.Log{{Name: "quiet.log", Result: res}}}
}
