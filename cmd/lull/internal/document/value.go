package document

import (
	"bytes"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// number returns nil for what JSON cannot hold.
func number(v float64) *float64 {
	if !stats.Finite(v) {
		return nil
	}
	return &v
}

// finite returns 0 for what JSON cannot hold. It is for counts and sums, which the analysis
// keeps finite.
func finite(v float64) float64 {
	if p := number(v); p != nil {
		return *p
	}
	return 0
}

func orNull[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

// each maps a list. It never returns nil, so that JSON shows [] and not null.
func each[A, B any](list []A, fn func(A) B) []B {
	out := make([]B, 0, len(list))
	for _, a := range list {
		out = append(out, fn(a))
	}
	return out
}

func instant(i bounds.Instant) instantJSON {
	return instantJSON{T: bounds.Seconds(i.T), Low: bounds.Seconds(i.Low), High: bounds.Seconds(i.High)}
}

func instantOrNull(i *bounds.Instant) *instantJSON {
	if i == nil {
		return nil
	}
	j := instant(*i)
	return &j
}

func event(e analyze.Event) eventJSON {
	return eventJSON{instant(e.Instant), e.From.String()}
}

// notFinite is the reason given for a figure that JSON cannot hold.
const notFinite = "not a finite number"

func absentOf(r analyze.Reason) absentJSON { return absentJSON{words.ReasonText(r)} }

// metricsJSON is encoded as an object that keeps the order of the metrics, which a Go map
// would not.
type metricsJSON []analyze.MetricValue

type metricJSON struct {
	Absent        string   `json:"absent,omitempty"`
	Value         *float64 `json:"value,omitempty"`
	Low           *float64 `json:"low,omitempty"`
	High          *float64 `json:"high,omitempty"`
	Unit          string   `json:"unit,omitempty"`
	Sampling      *float64 `json:"sampling,omitempty"`
	StandardError *float64 `json:"standard_error,omitempty"`
	Unseen        *float64 `json:"unseen,omitempty"`
}

func metric(m analyze.MetricValue) metricJSON {
	if m.Absent != nil {
		return metricJSON{Absent: words.ReasonText(m.Absent)}
	}
	j := metricJSON{Value: number(m.Best), Low: number(m.Low), High: number(m.High), Unit: m.Unit}
	if j.Value == nil || j.Low == nil || j.High == nil {
		return metricJSON{Absent: notFinite}
	}
	if m.HasSampling {
		j.Sampling = number(m.Sampling)
	}
	if m.HasStandardError {
		j.StandardError = number(m.StandardError)
	}
	if m.Unseen > 0 {
		j.Unseen = number(m.Unseen)
	}
	return j
}

// MarshalJSON writes {"key": {...}, ...} in the order of the list.
func (list metricsJSON) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range list {
		if i > 0 {
			b.WriteByte(',')
		}
		key, err := marshal(m.Key)
		if err != nil {
			return nil, err
		}
		value, err := marshal(metric(m))
		if err != nil {
			return nil, err
		}
		b.Write(key)
		b.WriteByte(':')
		b.Write(value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}
