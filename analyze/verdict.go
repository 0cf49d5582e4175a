package analyze

import (
	"lull/decode"
	"lull/pkg/stats"
)

// Metric returns the value of an episode's metric, or the zero MetricValue if it has none.
func (e *Episode) Metric(key string) MetricValue { return MetricOf(e.Metrics, key) }

// Metric returns the value of a start's metric, or the zero MetricValue if it has none.
func (s *Start) Metric(key string) MetricValue { return MetricOf(s.Metrics, key) }

// MetricOf returns the value with that key, or the zero MetricValue if there is none.
func MetricOf(list []MetricValue, key string) MetricValue {
	for i := range list {
		if list[i].Key == key {
			return list[i]
		}
	}
	return MetricValue{}
}

// Known reports whether the value is a number.
func (v *MetricValue) Known() bool { return v.Key != "" && v.Absent == nil && stats.Finite(v.Best) }

// Worst is the worst verdict on an episode by the map's limits, and how many limits
// have it; empty if none is judged. A limit on what was not seen is Unseen, also
// where the metric is absent for it.
func (e *Episode) Worst(m *decode.Map) (worst Verdict, count int) {
	counts := map[Verdict]int{Unseen: len(e.Unjudged(m))}
	for _, l := range e.Limits {
		if l.Verdict != Unseen {
			counts[l.Verdict]++
		}
	}
	for _, v := range []Verdict{Outside, Borderline, Unseen, Inside} {
		if counts[v] > 0 {
			return v, counts[v]
		}
	}
	return "", 0
}

// Unjudged lists the limits that could not be judged, as not enough of the signal was
// seen: the metric is open there, or absent for it.
func (e *Episode) Unjudged(m *decode.Map) []decode.Limit {
	var list []decode.Limit
	for _, l := range e.Limits {
		if l.Verdict == Unseen {
			list = append(list, l.Limit)
		}
	}
	for _, limit := range m.Limits {
		if v := e.Metric(limit.Metric); v.Absent != nil && v.Unseen > 0 {
			list = append(list, limit)
		}
	}
	return list
}
