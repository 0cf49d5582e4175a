package words

import (
	"fmt"
	"math"
	"strings"

	"lull/analyze/compare"
	"lull/pkg/stats"
	"lull/pkg/units"
)

// spokenMetric says how a metric's change is told aloud.
type spokenMetric struct{ subject, down, up string }

var spokenMetrics = map[string]spokenMetric{
	"restart_latency":   {"Restarts became", "faster", "slower"},
	"request_to_crank":  {"The starter engaged", "sooner", "later"},
	"crank_to_run":      {"Cranking became", "shorter", "longer"},
	"crank_speed":       {"The starter turned the engine", "slower", "faster"},
	"voltage_min":       {"The lowest voltage became", "lower", "higher"},
	"voltage_dip":       {"The voltage dip became", "smaller", "deeper"},
	"voltage_recovery":  {"The voltage came back", "sooner", "later"},
	"hold_pressure_min": {"The lowest hydraulic pressure became", "lower", "higher"},
	"low_voltage_time":  {"The voltage was low for", "less", "longer"},
	"take_off_delay":    {"The car took off", "sooner", "later"},
	"run_down":          {"The run-down took", "less", "longer"},
	"stop_duration":     {"Stops became", "shorter", "longer"},
	"engine_off":        {"The engine was off for", "less", "longer"},
	"fuel_saved":        {"A stop saved", "less", "more"},
	"take_off_shock":    {"The take-off became", "softer", "harder"},
}

// tellAlways are metrics of which it is said too that no change was shown, beside
// those that have a limit: what customers complain of.
var tellAlways = []string{"restart_latency", "take_off_delay"}

// change says by how much, with the ends of the interval in the same sense.
func change(m compare.Metric) string {
	words, ok := spokenMetrics[m.Key]
	if !ok {
		words = spokenMetric{sentenceCase(Spoken(m.Key)) + " became", "lower", "higher"}
	}
	sense, sign := words.up, 1.0
	if m.Down {
		sense, sign = words.down, -1
	}
	if m.Shift.Value == 0 {
		// Most pairs of values are equal, yet the ranks show a change.
		return fmt.Sprintf("%s %s, though not as a rule: the shift is 0 %s (%s).", words.subject, sense, m.Unit, ShiftBounds(m))
	}
	low, high := sign*m.Shift.Low, sign*m.Shift.High
	digits := func(v float64) string { return units.Round(v, min(low, high), max(low, high)) }
	return fmt.Sprintf("%s %s %s %s (%s to %s).", words.subject, digits(math.Abs(m.Shift.Value)), m.Unit, sense, digits(min(low, high)), digits(max(low, high)))
}

// noChange says what so many values can show at all.
func noChange(m compare.Metric) string {
	return fmt.Sprintf("%s: no change shown; by %d and %d values any change is between %s %s.",
		sentenceCase(Spoken(m.Key)), m.Before.N, m.After.N, strings.Replace(ShiftBounds(m), " to ", " and ", 1), m.Unit)
}

// mostTooFew is how many metrics with too few values are named.
const mostTooFew = 6

// tooFew says why metrics with so many values cannot show a change.
func tooFew(metrics []string, n, m int) string {
	what := strings.Join(metrics, ", ")
	if len(metrics) > mostTooFew {
		what = fmt.Sprintf("%d measurements; record more restarts", len(metrics))
	}
	return fmt.Sprintf("Too few to tell: %s. %d and %d values that do not overlap at all come by chance in %s %% of cases.",
		what, n, m, Number(100*stats.FullSeparation(n, m)))
}

// tooFewAlone says that a change of one metric cannot be shown by so many values
// beside all the others that are compared.
func tooFewAlone(n, m, family int) string {
	one := 100 * stats.FullSeparation(n, m)
	return fmt.Sprintf("%d and %d values cannot show a change of one metric alone: those that do not overlap at all come by chance in %s %% of cases, in up to %s %% for one of %d metrics.",
		n, m, Number(one), Number(min(one*float64(family), 100)), family)
}

// signed writes a figure of a shift with the digits that its interval bears.
func signed(v float64, s stats.Shift) string {
	text := units.Round(v, s.Low, s.High)
	if v > 0 && strings.ContainsAny(text, "123456789") {
		return "+" + text
	}
	return text
}

// ShiftText writes a metric's shift with its interval.
func ShiftText(m compare.Metric) string {
	return fmt.Sprintf("shift %s %s (%s)", Shift(m), m.Unit, ShiftBounds(m))
}

// Shift writes a metric's shift with the digits that its interval bears.
func Shift(m compare.Metric) string { return signed(m.Shift.Value, m.Shift) }

// ShiftBounds writes the ends of its interval.
func ShiftBounds(m compare.Metric) string {
	return signed(m.Shift.Low, m.Shift) + " to " + signed(m.Shift.High, m.Shift)
}

// Probability never says that one is 0.
func Probability(p float64) string {
	if p < 0.0001 {
		return "below 0.0001"
	}
	return Fixed(p, 4)
}

// ChangeTone is what a verdict means.
func ChangeTone(v compare.Verdict) Tone {
	switch v {
	case compare.Better:
		return Good
	case compare.Worse:
		return Bad
	}
	return ""
}

// Scale is the axis that the values of a metric on both sides are drawn on, with the map's
// limits, which lie on it.
type Scale struct {
	Low, High float64
	Limits    []float64
}

// leastSpread is the least span of an axis, as a share of the greatest value: on a narrower
// one negligible differences would look large.
const leastSpread = 0.2

// ScaleOf returns the axis for a metric. Every value and limit lies on it, and it spans as
// much as means something in the metric.
func (c *CompareReport) ScaleOf(m compare.Metric) Scale {
	s := Scale{Low: math.Inf(1), High: math.Inf(-1)}
	take := func(v float64) { s.Low, s.High = min(s.Low, v), max(s.High, v) }
	for _, side := range []compare.Sample{m.Before, m.After} {
		if side.N > 0 {
			take(side.Min)
			take(side.Max)
		}
	}
	for _, l := range c.Limits {
		if l.Metric != m.Key {
			continue
		}
		if l.HasMin {
			s.Limits = append(s.Limits, l.Min)
		}
		if l.HasMax {
			s.Limits = append(s.Limits, l.Max)
		}
	}
	for _, limit := range s.Limits {
		take(limit)
	}
	// Halved, as the difference of two float64 may overflow.
	if least := leastSpread / 2 * max(math.Abs(s.Low), math.Abs(s.High)); s.High/2-s.Low/2 < least {
		middle := s.Low/2 + s.High/2
		s.Low, s.High = middle-least, middle+least
	}
	return s
}
