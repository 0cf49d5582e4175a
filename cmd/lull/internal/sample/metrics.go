package sample

import (
	"time"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/bounds"
)

const Second = int64(time.Second)

// Around is an instant given in milliseconds.
func Around(low, t, high int64) bounds.Instant {
	return bounds.Instant{Low: low * 1e6, T: t * 1e6, High: high * 1e6}
}

func here(i bounds.Instant) *bounds.Instant { return &i }

func Valued(key, unit string, low, best, high float64) analyze.MetricValue {
	return analyze.MetricValue{Key: key, Unit: unit, Value: bounds.Value{Low: low, Best: best, High: high}}
}

func sampled(m analyze.MetricValue, sampling float64) analyze.MetricValue {
	m.Sampling, m.HasSampling = sampling, true
	return m
}

// AllMetrics returns the given metrics and, for every other one, an absent value.
func AllMetrics(given ...analyze.MetricValue) []analyze.MetricValue {
	var list []analyze.MetricValue
	for _, key := range decode.MetricKeys {
		m, ok := measure.MetricByKey(key)
		if !ok {
			panic("measure.Metrics has no entry of the key " + key)
		}
		found := analyze.MetricValue{Key: key, Absent: analyze.NoSignal{Role: m.Needs[0]}}
		for _, g := range given {
			if g.Key == key {
				found = g
			}
		}
		list = append(list, found)
	}
	return list
}
