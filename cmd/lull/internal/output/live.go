package output

import (
	"fmt"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/units"
)

// EpisodeLine says in one line what an episode was.
func (r *Report) EpisodeLine(e *analyze.Episode) string {
	text := fmt.Sprintf("episode %d at %s s: %s", e.N, moment(e.Stop.Instant), spoken(string(e.Outcome)))
	if e.Request != nil {
		text += ", asked for by " + Visible(r.Map.Requests[e.Request.Condition].Name)
	}
	if latency := withBounds(e.Metrics, "restart_latency"); latency != "-" {
		text += ", restart " + latency + " s"
	}
	if lowest, ok := metricOf(e.Metrics, "voltage_min"); ok {
		text += ", lowest " + units.Round(lowest.Best, lowest.Low, lowest.High) + " V"
	}
	if verdict := verdictCell(e.Limits); verdict.text != "-" {
		text += ", limits: " + verdict.text
	}
	return text
}

// StandstillLine says in one line whether the engine was stopped in a standstill,
// else why not. found holds what else is known of the drive.
func (r *Report) StandstillLine(found *analyze.Result, s *analyze.Standstill) string {
	if text, ok := r.refusal(found, s); ok {
		return text
	}
	text := fmt.Sprintf("standstill %d at %s s, %s s long: ", s.N, moment(s.Start), length(s.Start, s.End))
	switch word := stoppedCell(s).text; {
	case s.Stopped && s.Episode != 0:
		text += fmt.Sprintf("engine stopped (episode %d)", s.Episode)
	case s.Stopped:
		text += "engine stopped"
	case s.Open:
		text += "open at the end"
	default:
		text += word
	}
	if s.Stopped && s.StopDelay != nil && s.StopDelay.Absent == "" {
		text += " after " + units.Round(s.StopDelay.Best, s.StopDelay.Low, s.StopDelay.High) + " s"
	}
	return text
}

// FindingLine is a finding with how grave it is.
func FindingLine(f *analyze.Finding) string { return string(f.Severity) + ": " + Visible(f.Text) }

// ValueText writes a decoded value as a person reads it: its label, or number and
// unit; "not valid" where the sample is none.
func ValueText(s *decode.Signal, sample *decode.Sample) string {
	switch {
	case !sample.Valid:
		return "not valid"
	case len(s.Labels) > 0:
		if label := s.LabelOf(sample.Raw); label != "" {
			return Visible(label)
		}
	}
	return strings.TrimSpace(tidy(sample.Value) + " " + Visible(s.Unit))
}
