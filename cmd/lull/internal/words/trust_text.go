package words

import (
	"fmt"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// DoubtText says why a result is doubted and what to do about it, as a part of a sentence.
// Names in it are as the map has them: whoever shows it makes them Visible, or escapes
// them.
func DoubtText(d *analyze.Doubt) string {
	switch a := d.Cause.(type) {
	case analyze.ImplausibleSignal:
		if a.Throughout {
			return fmt.Sprintf("%s reads %s all the time, although the engine both ran and rested: %s", a.Signal, roleValue(a.Role, a.Reads), remedy(a.Role, a.Slip))
		}
		way := "up"
		if a.Reads < 0 {
			way = "down"
		}
		return fmt.Sprintf("%s reads %s to %s: %s", a.Signal, way, implausible(a), remedy(a.Role, a.Slip))
	case analyze.ImplausibleCommand:
		if a.Rises > 0 {
			return fmt.Sprintf("%s came on %s while the engine ran, and the engine was stopped %s: look at its bit", a.Signal, Times(a.Rises), Times(a.Rests))
		}
		return fmt.Sprintf("%s was on for %.0f s while the engine ran and off for %.0f s while it rested: look at its bit and its active values",
			a.Signal, bounds.Seconds(a.RanWhileOn), bounds.Seconds(a.RestedOff))
	case analyze.JumpingSignal:
		return fmt.Sprintf("%s jumps as no %s does, from %s to %s in one step: %s", a.Signal, thing(a.Role), roleValue(a.Role, a.From), roleValue(a.Role, a.To), remedy(a.Role, a.Slip))
	case analyze.StillEngine:
		read := fmt.Sprintf("never read more than %s", roleValue(decode.EngineSpeed, a.High))
		if a.Low == a.High {
			read = fmt.Sprintf("read %s all the time", roleValue(decode.EngineSpeed, a.High))
		}
		return fmt.Sprintf("the vehicle went %.1f km and %s %s, so it is mapped wrongly: %s", a.Km, a.Signal, read, remedy(decode.EngineSpeed, a.Slip))
	case analyze.EngineOff:
		return fmt.Sprintf("the engine was off all the time, or %s is mapped wrongly: record again with the engine running, and see with `lull samples` whether it then reads 600 to 1000 rpm", a.Signal)
	case analyze.OddIdle:
		how := "faster than a warm engine idles"
		if a.Idle < 600 {
			how = "slower than an engine idles"
		}
		return fmt.Sprintf("%s reads %.0f rpm while the vehicle stands, %s: look at its factor, start and length", a.Signal, a.Idle, how)
	case analyze.SilentCommand:
		if a.Role == decode.StarterCommand {
			return fmt.Sprintf("the engine was started %s and %s never came on: look at its bit, unless this car starts without it", Times(a.Times), a.Signal)
		}
		return fmt.Sprintf("the engine stopped %s and %s never came on: look at its bit", Times(a.Times), a.Signal)
	case analyze.UnseenSignal:
		return unseenSignal(a)
	case analyze.ShortFrame:
		return fmt.Sprintf("%s reaches past the end of its frame %s, which has %s where it would need %d: look at its start and length",
			a.Signal, a.Frame, decode.Counted(int64(a.Bytes), "byte", "bytes"), a.Needs)
	case analyze.DeadIgnition:
		return fmt.Sprintf("the engine ran for %.0f s while %s was off: look at its bit and its active values", bounds.Seconds(a.Ran), a.Signal)
	case analyze.LostShare:
		share := fmt.Sprintf("%.0f %%", 100*float64(a.Lost)/float64(a.Of))
		if d.Code == analyze.DoubtLinesLost {
			return share + " of the log's lines could not be read"
		}
		return "nothing was recorded for " + share + " of the time"
	}
	return Spoken(d.Code)
}

func unseenSignal(a analyze.UnseenSignal) string {
	why := "its frame " + a.Frame + " never came"
	if a.Frames {
		why = "its frame " + a.Frame + " came without a valid value"
	}
	if a.Role == decode.VehicleSpeed {
		return fmt.Sprintf("no standstill can be judged, as %s was not in the log: %s", a.Signal, why)
	}
	return fmt.Sprintf("%s was not in the log: %s", a.Signal, why)
}

// thing is what a role is a quantity of.
func thing(role decode.Role) string {
	if role == decode.VehicleSpeed {
		return "vehicle"
	}
	return "engine"
}

// remedy says what of a map to look at.
func remedy(role decode.Role, s analyze.Slip) string {
	var parts []string
	if s.Order != "" {
		parts = append(parts, "order: "+s.Order)
	}
	if s.HasStart {
		parts = append(parts, fmt.Sprintf("start: %d", s.Start))
	}
	would := ""
	if s.High > s.Low {
		would = fmt.Sprintf(" (it would then read %.5g to %s)", s.Low, roleValue(role, s.High))
	}
	switch {
	case len(s.Factors) > 0 && len(parts) > 0:
		return "look at its factor; " + slipFactors(s.Factors) + " it would fit, or with " + strings.Join(parts, " and ")
	case len(s.Factors) > 0:
		return "look at its factor; " + slipFactors(s.Factors) + " it would fit" + would
	case len(parts) > 0:
		return "try " + strings.Join(parts, " and ") + would
	}
	return "look at its start, length, order and factor"
}

// TrustText says what is not to be believed of the logs, of which, and what to do about it;
// "" where all of them are sound.
func (r *Report) TrustText() string {
	type reason struct {
		grave bool
		text  string
		logs  []int
	}
	var reasons []reason
	unusable := 0
	for i := range r.Logs {
		trust := &r.Logs[i].Result.Trust
		if trust.Credence == analyze.Unusable {
			unusable++
		}
		for _, d := range trust.Telling() {
			text, at := Visible(DoubtText(&d)), -1
			for n := range reasons {
				if reasons[n].text == text && reasons[n].grave == d.Grave {
					at = n
				}
			}
			if at < 0 {
				reasons, at = append(reasons, reason{grave: d.Grave, text: text}), len(reasons)
			}
			reasons[at].logs = append(reasons[at].logs, i)
		}
	}
	say := func(grave bool) string {
		var parts []string
		for _, reason := range reasons {
			if reason.grave == grave {
				parts = append(parts, reason.text+r.ofLogs(reason.logs))
			}
		}
		return strings.Join(parts, "; ")
	}
	var sentences []string
	if text := say(true); text != "" {
		lead := "Do not use these figures"
		if unusable < len(r.Logs) {
			lead = fmt.Sprintf("%d of %d logs cannot be used and %s left out of what follows", unusable, len(r.Logs), decode.Pick(unusable, "is", "are"))
		}
		sentences = append(sentences, lead+": "+text+".")
	}
	if text := say(false); text != "" {
		sentences = append(sentences, "Take care: "+text+".")
	}
	return strings.Join(sentences, " ")
}

// ofLogs says which of several logs something is said of; "" if it is of all.
func (r *Report) ofLogs(logs []int) string {
	switch {
	case len(logs) == len(r.Logs):
		return ""
	case len(logs) == 1:
		return " (" + Visible(r.Logs[logs[0]].Name) + ")"
	}
	return fmt.Sprintf(" (%d of %d logs)", len(logs), len(r.Logs))
}

// Credence is the least that the logs deserve: Unusable where no log can be used, and
// Doubtful where some cannot.
func (r *Report) Credence() analyze.Credence {
	worst, usable := analyze.Sound, len(r.Logs) == 0
	for i := range r.Logs {
		c := r.Logs[i].Result.Trust.Credence
		usable = usable || c != analyze.Unusable
		if c.Weight() < worst.Weight() {
			worst = c
		}
	}
	if worst == analyze.Unusable && usable {
		return analyze.Doubtful
	}
	return worst
}

// NotShown says why nothing is shown of a log that cannot be used.
func NotShown(res *analyze.Result) string {
	if !res.EngineSpeedSeen {
		return "not measured: the engine speed was never seen"
	}
	return "not shown, as it cannot be used: see the answer"
}

// TrustTone is what a credence means.
func TrustTone(c analyze.Credence) Tone {
	switch c {
	case analyze.Unusable:
		return Bad
	case analyze.Doubtful:
		return Doubtful
	}
	return ""
}
