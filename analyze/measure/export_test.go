package measure

import (
	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// AddToTable adds two metrics of a role to the table: the highest sample while the engine
// rests, and how many samples of the run-down were kept. remove takes them away again.
func AddToTable(role decode.Role) (remove func()) {
	before := Metrics
	needs := []decode.Role{role}
	Metrics = append(Metrics[:len(Metrics):len(Metrics)],
		Metric{Key: "highest_in_rest", Unit: "V", Needs: needs, InRest: needs,
			of: func(r *Measurer, w *windows) analyze.MetricValue { return r.overRest(role, w, 1) }},
		Metric{Key: "kept_of_run_down", Unit: "samples", Needs: needs, RunDown: needs,
			of: func(r *Measurer, w *windows) analyze.MetricValue {
				n := 0
				for _, p := range w.episode.RunDown[role] {
					if p.T >= w.episode.Stop.T && p.T <= w.episode.Rest.T {
						n++
					}
				}
				return measured(bounds.Exactly(float64(n)))
			}})
	return func() { Metrics = before }
}

// Turning is turning.
var Turning = turning
