package sample

import (
	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Named puts one text wherever a result can carry text from a map or a log.
func Named(s string) *words.Report {
	r := Report()
	r.Map.Name, r.Map.Vehicle = s, s
	for i := range r.Map.Signals {
		r.Map.Signals[i].Name, r.Map.Signals[i].Unit = s, s
		for k := range r.Map.Signals[i].Labels {
			r.Map.Signals[i].Labels[k].Text = s
		}
	}
	for i := range r.Map.Requests {
		r.Map.Requests[i].Name = s
	}
	for i := range r.Map.Inhibits {
		r.Map.Inhibits[i].Name = s
	}
	r.Logs[0].Name = s
	res := r.Logs[0].Result
	res.Info.Interfaces = []string{s}
	for i := range res.Info.Remarks {
		res.Info.Remarks[i].Text = s
	}
	for i := range res.Standstills {
		x := &res.Standstills[i]
		if x.Reason != "" && s != "" {
			x.Reason = s
		}
		for k := range x.CannotTell {
			x.CannotTell[k] = s
		}
		for k := range x.Codes {
			x.Codes[k].Name = s
		}
		for k := range x.Inhibits {
			for n := range x.Inhibits[k].Measured {
				x.Inhibits[k].Measured[n].Against = s
			}
		}
	}
	for i := range res.Findings {
		res.Findings[i].About, res.Findings[i].Evidence = analyze.Remarked{Text: s}, []string{s}
	}
	for i := range res.Silences {
		res.Silences[i].Module, res.Silences[i].Bus, res.Silences[i].ID = s, s, s
	}
	for i := range res.Episodes {
		for k := range res.Episodes[i].Metrics {
			if m := &res.Episodes[i].Metrics[k]; m.Absent != nil {
				m.Absent = analyze.NeverSeen{Signal: s, Role: decode.EngineSpeed}
			}
		}
	}
	res.Starter.Absent = analyze.NeverSeen{Signal: s, Role: decode.StarterCount}
	return r
}
