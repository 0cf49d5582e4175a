package sample

import (
	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Starter has two logs, given in the wrong order, with a reset between them.
func Starter() *words.Report {
	m := Map()
	m.Signals = append(m.Signals, decode.Signal{Name: "starts", Length: 16, Scale: decode.Identity})
	m.Role[decode.StarterCount] = len(m.Signals) - 1
	m.Settings.StarterLimit = 20000
	log := func(name string, start int64, s analyze.Starter, km float64) words.Log {
		return words.Log{Name: name, SHA256: name, Result: &analyze.Result{
			HasTime: true, Start: 1772442900*Second + start*Second, Span: 600 * Second, EngineSpeedSeen: true, Trust: analyze.Trust{Credence: analyze.Sound},
			Info:    decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6},
			Starter: s, EngineHours: analyze.Total{Value: 0.15}, Distance: analyze.Total{Value: km},
		}}
	}
	before := log("before.log", 0, analyze.Starter{Key: 1, Restart: 7, Retry: 1, First: 12003, Last: 12012, Step: 9, Agrees: true}, 52.5)
	after := log("after.log", 90000, analyze.Starter{Restart: 3, First: 0, Last: 2, Step: 2}, 61.5)
	after.Result.Findings = []analyze.Finding{
		{Code: "counter_disagrees", Severity: analyze.Attention, About: analyze.CounterDisagrees{To: 2, Step: 2, Seen: 3}},
	}
	return &words.Report{Version: "v1.2.3", Map: m, Logs: []words.Log{after, before}}
}

// UnknownStarter returns one log that shows nothing of the starter.
func UnknownStarter() *words.Report {
	r := Empty()
	r.Logs[0].Result.EngineHours = analyze.Total{Absent: analyze.NeverSeen{Signal: "rpm", Role: decode.EngineSpeed}}
	r.Logs[0].Result.Distance = analyze.Total{Absent: analyze.NoSignal{Role: decode.VehicleSpeed}}
	return r
}
