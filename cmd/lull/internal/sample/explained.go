package sample

import (
	"lull/analyze/measure"
	"lull/decode"
)

// Metrics returns two metrics, one of which has no better direction.
func Metrics() []measure.Metric {
	return []measure.Metric{
		{Key: "restart_latency", Unit: "s", Better: "lower", Window: "restart request to running", Needs: []decode.Role{decode.EngineSpeed}, Text: "what the driver waits for"},
		{Key: "flare", Unit: "rpm", Window: "2 s after running", Text: "the overshoot | after a start"},
	}
}
