package words

import (
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
)

// Fact is what there is to say of one thing, and what it says.
type Fact struct{ Name, Text string }

// MetricFacts explain a metric: what it is, and what its figures mean.
func MetricFacts(m *measure.Metric) []Fact {
	better := m.Better
	if better == "" {
		better = "neither"
	}
	list := []Fact{{"what it is", m.Text}, {"unit", m.Unit}, {"window", m.Window}, {"better", better}, {"needs", metricNeeds(m)}}
	if text := boundings[m.Bounds]; text != "" {
		list = append(list, Fact{"bounds", text})
	}
	return append(list, Fact{"absent", metricAbsent(m)})
}

// boundings say where the bounds of a metric come from.
var boundings = map[measure.Bounding]string{
	measure.OfMoments: "both ends are known only to lie between two samples of the bus: low and high are the differences at their extremes, " +
		"about as wide as the periods of the frames that tell them",
	measure.OfSamples: "the figure is that of the samples, without a low and a high of its own; `sampling` is the longest time between two of them, " +
		"in which the true value may lie further out",
	measure.OfCurve:      "how far the engine speed can reach between the samples around that moment, and how early or late the moment may be",
	measure.OfLine:       "low counts only the times between samples that are surely below, high all but those between samples that surely are not",
	measure.OfFit:        "low and high are one standard error of the fit to either side",
	measure.OfMultiplied: "those of engine_off, multiplied by the idle rate",
}

// asks reports whether a metric needs a restart request.
func asks(m *measure.Metric) bool {
	return m.Ends[0] == measure.AtRequest || m.Key == "speed_at_request"
}

// metricNeeds lists the roles that a metric cannot do without, and what they are.
func metricNeeds(m *measure.Metric) string {
	parts := joined(m.Needs, "; ", func(role decode.Role) string {
		return "a signal with the role " + role.String() + " (" + decode.Roles[role].Text + ")"
	})
	if asks(m) {
		parts += "; restart_requests in the signal map"
	}
	return parts
}

// metricAbsent says what it means that a metric has no value, with the most likely
// reasons.
func metricAbsent(m *measure.Metric) string {
	reasons := []string{ReasonText(analyze.NoSignal{Role: m.Needs[0]})}
	add := func(r analyze.Reason) { reasons = append(reasons, ReasonText(r)) }
	if asks(m) {
		add(analyze.NoRequest)
	}
	if slices.Contains(m.Ends[:], measure.AtRest) {
		add(analyze.NoRest)
	}
	if m.Start || slices.Contains(m.Ends[:], measure.AtCrank) || slices.Contains(m.Ends[:], measure.AtLastCrank) || m.Key == "speed_at_crank" {
		add(analyze.NoCrank)
	}
	if slices.Contains(m.Ends[:], measure.AtRunning) || m.Key == "flare" {
		add(analyze.NoStart)
	}
	switch m.Key {
	case "voltage_recovery":
		add(analyze.NoVoltageFall)
	case "fuel_saved":
		add(analyze.StallSavesNothing)
	case "source_resistance":
		add(analyze.FewPairs(2))
		add(analyze.RisesUnderLoad)
	}
	if m.Late {
		add(analyze.EndedBeforeMoved)
	}
	return "not 0, but that it cannot be known of this episode; JSON says why, such as: " + strings.Join(reasons, "; ")
}
