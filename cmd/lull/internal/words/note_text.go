package words

import (
	"fmt"
	"strings"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/decode"
	"lull/pkg/units"
)

// NoteText is a note on an episode as a sentence.
func NoteText(n analyze.EpisodeNote) string {
	switch a := n.(type) {
	case analyze.CommandUnseen:
		text := a.Role.String() + " was not seen for " + units.Length(a.Length)
		if a.Role == decode.StarterCommand {
			return text + " of this restart: what the starter did in it is not known"
		}
		return text + ": whether the engine stalled is not known"
	case analyze.GapInside:
		return "the recording has a gap inside this episode"
	case analyze.StopTakenBack:
		return "the stop command fell and rose again before anything came of it"
	}
	return ""
}

// ComparisonNote is a note on a comparison as a sentence. Names in it are as the maps
// and the logs have them: whoever shows it makes them Visible, or escapes them.
func ComparisonNote(n compare.Note) string {
	switch a := n.(type) {
	case compare.CountedOnce:
		return fmt.Sprintf("%s is the same drive as %s, both of them %s: it is counted once", a.Log, a.As, a.Side)
	case compare.LeftOut:
		return fmt.Sprintf("%s (%s) cannot be used and is left out: %s", a.Log, a.Side, DoubtText(&a.Doubt))
	case compare.TwoVehicles:
		return "the sides are of two vehicles" + vehiclesText(compare.Vehicles(a)) + ": what differs need not be the repair's doing"
	case compare.NoEpisode:
		return fmt.Sprintf("there is no episode in the logs given as %s, so no restart can be compared: drive so that the engine stops, and record again", a.Side)
	case compare.Swapped:
		return fmt.Sprintf("%s, which is given as after, was recorded earlier than %s, which is given as before: are the sides swapped?", a.After, a.Before)
	case compare.Undated:
		return a.Log + " carries no date, so whether the sides are in order cannot be checked"
	case compare.OnlyOneHas:
		return "only one of the two maps has " + list(roleNames(a)) + ": what is measured by it is missing on the other side"
	case compare.OtherUnits:
		signal := func(u compare.SignalUnits) string { return fmt.Sprintf("%s (%s and %s)", u.Signal, u.Before, u.After) }
		return "the two maps give other units for " + joined(a, ", ", signal) + ": whether the sides were driven alike cannot be told by it"
	case compare.OtherLimits:
		return "the two maps have different limits: each side is judged by its own"
	case compare.OtherSettings:
		return "the two maps have different settings: what is measured does not mean the same on both sides; give both maps the same settings"
	case compare.OtherMix:
		kind := "restarts that the driver asked for"
		if a.By == compare.ByOutcome {
			kind = "restarts asked for before the engine rested"
		}
		return fmt.Sprintf("the sides are mixed differently: %s are %s before and %s after; --by %s compares like with like", kind, OfText(a.Before), OfText(a.After), a.By)
	}
	return ""
}

func roleNames(roles []decode.Role) []string {
	names := make([]string, len(roles))
	for i, r := range roles {
		names[i] = r.String()
	}
	return names
}

// TwoVehicles says that two sides are of two vehicles, and by what that is seen.
func TwoVehicles(v compare.Vehicles) *Failure {
	return &Failure{What: "before and after are two vehicles" + vehiclesText(v), Hint: "choose logs of one vehicle; --two-vehicles compares these all the same"}
}

// vehiclesText lists by what two vehicles are told apart.
func vehiclesText(v compare.Vehicles) string {
	var parts []string
	if v.Names[0] != "" {
		parts = append(parts, fmt.Sprintf("the maps are of %s and of %s", v.Names[0], v.Names[1]))
	}
	if v.Voltage[0] != 0 {
		parts = append(parts, fmt.Sprintf("the voltage is %s V and %s V", Number(v.Voltage[0]), Number(v.Voltage[1])))
	}
	if v.Idle[0] != 0 {
		parts = append(parts, fmt.Sprintf("the engine idles at %.0f and at %.0f rpm", v.Idle[0], v.Idle[1]))
	}
	if v.Frames[0] != "" && len(parts) < 2 {
		parts = append(parts, fmt.Sprintf("the engine speed is in %s and in %s", v.Frames[0], v.Frames[1]))
	}
	return " (" + strings.Join(parts, "; ") + ")"
}
