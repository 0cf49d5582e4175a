package words

import (
	"lull/analyze"
	"lull/pkg/stats"
	"lull/pkg/units"
)

// MetricOf finds a metric that has a value.
func MetricOf(list []analyze.MetricValue, key string) (analyze.MetricValue, bool) {
	v := analyze.MetricOf(list, key)
	return v, v.Known()
}

// WithBounds writes a metric of a list with its bounds, where they differ from it; "-"
// where it has no value.
func WithBounds(list []analyze.MetricValue, key string) string {
	m, ok := MetricOf(list, key)
	if !ok {
		return "-"
	}
	m = m.Told()
	value := figure(m)
	if m.Low == m.High {
		return value
	}
	return value + " (" + between(m) + ")"
}

// MetricText writes a metric with its unit and, where they differ from it, its
// bounds; ok is false where there is no value.
func MetricText(m analyze.MetricValue) (text string, ok bool) {
	if m.Absent != nil || !stats.Finite(m.Best) {
		return Visible(ReasonText(m.Absent)), false
	}
	m = m.Told()
	text = figure(m)
	if m.Unit != "" {
		text += " " + m.Unit
	}
	if m.Low != m.High {
		text += " (" + between(m) + ")"
	}
	return text, true
}

// figure writes a metric's value with the digits that its bounds justify. Of voltages that
// have none all are told to the hundredth, so that those of a column are alike.
func figure(m analyze.MetricValue) string {
	if m.Unit == "V" && m.Low == m.High {
		return Fixed(m.Best, 2)
	}
	return units.Round(m.Best, m.Low, m.High)
}

// Figure writes the value of a metric of a list without its bounds; "-" where it has none.
func Figure(list []analyze.MetricValue, key string) string {
	m, ok := MetricOf(list, key)
	if !ok {
		return "-"
	}
	return figure(m.Told())
}

// between writes a metric's bounds with the digits of its value.
func between(m analyze.MetricValue) string {
	d := units.Decimals(m.Best, m.Low, m.High)
	return Fixed(m.Low, d) + " to " + Fixed(m.High, d)
}

// MomentText writes an instant in seconds, with its bounds where they differ; to the
// millisecond at most, so that the instants of one story are alike.
func MomentText(low, t, high float64) string {
	if low == high {
		return Fixed(t, 3)
	}
	d := min(units.Decimals(t, low, high), 3)
	return Fixed(t, d) + " (" + Fixed(low, d) + " to " + Fixed(high, d) + ")"
}

// outcomeWords are the outcomes that are not told by their keys.
var outcomeWords = map[analyze.Outcome]string{
	analyze.NoStart:     "did not start",
	analyze.Aborted:     "stop cancelled",
	analyze.LogEnd:      "recording ended",
	analyze.InGap:       "recording gap",
	analyze.IgnitionOff: "key off",
}

// OutcomeText is an outcome as people say it.
func OutcomeText(o analyze.Outcome) string {
	if text, ok := outcomeWords[o]; ok {
		return text
	}
	return Spoken(string(o))
}

// failureMark stands before what went wrong, so that it is seen without colour too.
const failureMark = "! "

// Failed reports whether the engine stalled, did not start, or not at the first attempt.
func Failed(e *analyze.Episode) bool {
	return e.Outcome == analyze.NoStart || e.Outcome == analyze.Stalled || len(e.Cranks) > 1
}

// OutcomeWord says how an episode ended.
func OutcomeWord(e *analyze.Episode) Word {
	w := Word{Text: OutcomeText(e.Outcome)}
	if Failed(e) {
		w = Word{failureMark + w.Text, Bad}
		if e.Running != nil && e.Outcome != analyze.Stalled {
			w.Text = failureMark + ordinal(len(e.Cranks)) + " attempt"
		}
	}
	return w
}
