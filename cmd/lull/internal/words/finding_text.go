package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/units"
)

// FindingText is a finding as a sentence. Names in it are as the map and the log have
// them: whoever shows it makes them Visible, or escapes them.
func FindingText(f *analyze.Finding) string {
	where := ""
	if evidence := evidenceOf(f); len(evidence) == 1 {
		where = evidence[0]
	}
	switch a := f.About.(type) {
	case analyze.BrokenLimits:
		return where + ": " + list(broken(a))
	case analyze.StraddledLimit:
		value, _ := MetricText(a.Value)
		return fmt.Sprintf("%s: %s %s is too close to the limit of %s to call: %s", where, Spoken(a.Value.Key), value, wanted(a.Limit, a.Value.Unit), decider(a))
	case analyze.FailedStart:
		return where + ": " + failedStart(a, f.Code == analyze.CodeStalled)
	case analyze.RetriedStart:
		return where + ": the engine had to be cranked again"
	case analyze.UnaskedRestart:
		return where + ": nothing that the signal map names asked for this restart"
	case analyze.UndecidedRestart:
		return where + ": cannot tell what asked for the restart: the decision to restart was not seen"
	case analyze.DoubtedRequests:
		return fmt.Sprintf("%s: cannot tell whether %s asked for the restart, and no other request explains it: %s", where, anyOf(a.Conditions), notSeen(a.Why))
	case analyze.DoubtedInhibits:
		return fmt.Sprintf("%s: cannot tell whether %s kept the engine running: %s", where, anyOf(a.Conditions), notSeen(a.Why))
	case analyze.HiddenStart:
		return fmt.Sprintf("the engine started at %.1f s while %s was not seen: a starter operation may be missing from the count", bounds.Seconds(a.At), decode.StarterCommand)
	case analyze.HiddenStop:
		return fmt.Sprintf("%s: cannot tell whether the engine was stopped: it was not seen for %s of this standstill", where, units.Length(a.Length))
	case analyze.SilentModules:
		return where + ": " + silentModules(a)
	case analyze.UnexplainedStandstill:
		return where + ", " + unexplained(a)
	case analyze.ImplausibleSignal:
		return fmt.Sprintf("%s cannot be the %s that the signal map says: it reads %s; %s", a.Signal, Spoken(a.Role.String()), implausible(a), slip(a.Role, a.Slip))
	case analyze.ImplausibleCommand:
		if a.Rises > 0 {
			return fmt.Sprintf("%s cannot be the stop command that the signal map says: it came on %s while the engine ran, and the engine was stopped %s; check its start bit and its active values",
				a.Signal, Times(a.Rises), Times(a.Rests))
		}
		return fmt.Sprintf("%s cannot be the stop command that the signal map says: with the key on the engine ran for %.0f s while it was on and rested for %.0f s while it was off; check its start bit and its active values",
			a.Signal, bounds.Seconds(a.RanWhileOn), bounds.Seconds(a.RestedOff))
	case analyze.CounterFell:
		return fmt.Sprintf("the starter-operation counter fell from %s to %s at %.1f s: starter or module was replaced or reset", Shortest(a.From), Shortest(a.To), bounds.Seconds(a.Time))
	case analyze.CounterDisagrees:
		return counterDisagrees(a)
	case analyze.SeldomVoltage:
		return fmt.Sprintf("the battery voltage comes only every %.0f ms: it may have fallen lower than was seen", bounds.Seconds(a.Period)*1000)
	case analyze.LinesLost:
		return decode.Counted(int64(a), "line", "lines") + " of the log could not be read and " + decode.Pick(int(min(a, 2)), "was", "were") + " left out"
	case analyze.Remarked:
		return a.Text
	case analyze.Gap:
		return fmt.Sprintf("the recording has a gap of %.2f s at %.2f s", bounds.Seconds(a.End-a.Start), bounds.Seconds(a.Start))
	case analyze.FurtherGaps:
		return fmt.Sprintf("%d further gaps", int(a))
	case analyze.CounterBetween:
		return counterBetween(f.Code, a)
	case analyze.AmongLogs:
		return amongLogs(f.Code, a)
	case analyze.OfLog:
		return a.Log + ": " + FindingText(&a.Finding)
	}
	return Spoken(f.Code)
}

// FindingAbout is what a finding is about, in the fewest words, as parts of a sentence.
func FindingAbout(f *analyze.Finding) []string {
	switch a := f.About.(type) {
	case analyze.BrokenLimits:
		return metricNames(a)
	case analyze.FailedStart:
		switch {
		case f.Code == analyze.CodeStalled:
			return []string{"the engine stalling"}
		case a.Ended == analyze.NoStart:
			return []string{"the engine not starting"}
		}
		return []string{"the engine needing more than one attempt"}
	case analyze.RetriedStart:
		return []string{"a start by key that needed more than one attempt"}
	case analyze.ImplausibleSignal:
		return []string{"the values of " + Visible(a.Signal)}
	case analyze.ImplausibleCommand:
		return []string{"the values of " + Visible(a.Signal)}
	case analyze.OfLog:
		return FindingAbout(&a.Finding)
	}
	if text, ok := abouts[f.Code]; ok {
		return []string{text}
	}
	return []string{Spoken(f.Code)}
}

// abouts are what findings of a code are about where all of them are about the same.
var abouts = map[string]string{
	analyze.CodeLimitBorderline:      "limits too close to call",
	analyze.CodeNoRestartRequest:     "what asked for a restart",
	analyze.CodeCannotTell:           "what cannot be told",
	analyze.CodeModuleSilent:         "modules that dropped off the bus",
	analyze.CodeUnexplained:          "engine kept running for no reason found",
	analyze.CodeCounterDisagrees:     "the starter-operation counter",
	analyze.CodeCounterReset:         "the starter-operation counter",
	analyze.CodeOperationsUnrecorded: "the starter-operation counter",
	analyze.CodeCounterNotSeen:       "the starter-operation counter",
	analyze.CodeDipUndersampled:      "how seldom the battery voltage comes",
	analyze.CodeLogDamaged:           "the damage to the log",
	analyze.CodeGap:                  "the gaps in the recording",
	analyze.CodeLogTwice:             "a log given twice",
	analyze.CodeOrderByStart:         "the order of the logs",
	analyze.CodeStartUnknown:         "the order of the logs",
	analyze.CodeZoneUnknown:          "the order of the logs",
	analyze.CodeLogsOverlap:          "logs that overlap",
}

func metricNames(limits analyze.BrokenLimits) []string {
	names := make([]string, len(limits))
	for i, j := range limits {
		names[i] = Spoken(j.Value.Key)
	}
	return names
}

func broken(limits analyze.BrokenLimits) []string {
	var texts []string
	for _, j := range limits {
		texts = append(texts, Spoken(j.Value.Key)+" "+brokenValue(j))
	}
	return texts
}

// brokenValue writes a value with its bounds and the limit that it breaks.
func brokenValue(j analyze.Judged) string {
	value, _ := MetricText(j.Value)
	if j.Value.Low == j.Value.High {
		value = brokenFigure(j.Value, j.Limit) + " " + j.Value.Unit
	}
	limit := limitIs(j.Limit, j.Value.Unit) + ")"
	if bounded, ok := strings.CutSuffix(value, ")"); ok {
		return bounded + "; " + limit
	}
	return value + " (" + limit
}

// brokenInAll tells of limits that several findings, those numbered same, break: where, and of each the worst
// value: "episodes 1 to 10: lowest voltage at worst 7.08 V (limit: at least 8.5 V) in episode 4".
func brokenInAll(findings []analyze.Finding, same []int) string {
	var all, texts []string
	for _, k := range same {
		all = append(all, evidenceOf(&findings[k])...)
	}
	for i := range findings[same[0]].About.(analyze.BrokenLimits) {
		worst, where := analyze.Judged{}, ""
		for _, k := range same {
			f := &findings[k]
			if j := f.About.(analyze.BrokenLimits)[i]; where == "" || beyond(j.Value, j.Limit) > beyond(worst.Value, worst.Limit) {
				worst, where = j, list(evidenceOf(f))
			}
		}
		texts = append(texts, Spoken(worst.Value.Key)+" at worst "+brokenValue(worst)+" in "+where)
	}
	return together(all) + ": " + list(texts)
}

// brokenFigure writes a value that breaks a limit with so many digits that it is seen to.
func brokenFigure(v analyze.MetricValue, l decode.Limit) string {
	text := figure(v)
	told, _ := strconv.ParseFloat(text, 64)
	if (!l.HasMin || told >= l.Min) && (!l.HasMax || told <= l.Max) {
		return Shortest(v.Best)
	}
	return text
}

func decider(l analyze.StraddledLimit) string {
	switch l.By {
	case analyze.ByError:
		return fmt.Sprintf("a standard error below %.1g %s would decide it if %.4g %s is right", l.Least, l.Value.Unit, l.Value.Best, l.Value.Unit)
	case analyze.ByCommand:
		return fmt.Sprintf("that moment is read off the %s, which no faster sampling narrows; the car's own command would, if it is on the bus and in the signal map", Spoken(l.Role.String()))
	case analyze.ByPeriod:
		return fmt.Sprintf("record more restarts; samples at least every %.0f ms would decide this one, if the likeliest value is right", math.Floor(l.Least*1000+1e-6))
	case analyze.ByMore:
		return fmt.Sprintf("record more restarts; samples about %.0f times as often would decide this one, if the likeliest value is right", l.Least)
	}
	return "no bus sends often enough to decide it"
}

func failedStart(s analyze.FailedStart, stalled bool) string {
	text := ""
	switch {
	case s.Ended == analyze.NoStart && s.Tries == 0:
		text = "the engine did not start: the starter was never seen to engage"
	case s.Ended == analyze.NoStart && s.Tries == 1:
		text = "the engine did not start (one attempt)"
	case s.Ended == analyze.NoStart:
		text = fmt.Sprintf("the engine did not start (%d attempts)", s.Tries)
	case s.Ended != "":
		text = "the engine had to be cranked again, and " + notRestarted(s.Ended)
	case s.Tries > 1:
		text = fmt.Sprintf("the engine started only at the %s attempt", ordinal(s.Tries))
	}
	if stalled {
		if text != "" {
			text = ", and " + strings.Replace(text, "the engine started", "started again", 1)
		}
		text = "the engine stalled: it came to rest without a stop command" + text
	}
	if len(s.Late) > 0 {
		text += "; " + list(broken(s.Late))
	}
	return text
}

// anyOf quotes names of conditions of which it may have been any.
func anyOf(names []string) string {
	texts := make([]string, len(names))
	for i, name := range names {
		texts[i] = strconv.Quote(name)
	}
	return enumerated(texts, "or")
}

func silentModules(m analyze.SilentModules) string {
	var texts []string
	for i, s := range m.Silences {
		if i == mostNamed {
			texts = append(texts, decode.Counted(int64(len(m.Silences)-i), "further identifier", "further identifiers"))
			break
		}
		name, dropped := s.ID+" ("+s.Bus+")", "dropped off the bus "
		if s.Module != "" {
			name = s.Module + " (" + s.ID + ", " + s.Bus + ")"
		}
		if i > 0 {
			dropped = ""
		}
		texts = append(texts, fmt.Sprintf("%s %sat %.2f s for %.2f s", name, dropped, bounds.Seconds(s.Start), bounds.Seconds(s.Duration)))
	}
	text, cause := list(texts), "; a log cannot tell the cause"
	low, _ := MetricText(m.Dip)
	switch m.When {
	case analyze.Before:
		return text + ", before the battery voltage fell to " + low + cause
	case analyze.During:
		return text + ", while the battery voltage fell to " + low + "; a log cannot tell whether that was the cause"
	case analyze.After:
		return text + "; the battery voltage had fallen to " + low + " before" + cause
	}
	return text + cause
}

func unexplained(s analyze.UnexplainedStandstill) string {
	then, reason := "", "no reason was found"
	if s.KeyOff {
		then = " until the key was turned off"
	}
	if s.NoInhibits {
		reason = "the signal map names no inhibits that could explain it"
	}
	text := fmt.Sprintf("%.1f s long%s: the engine was not stopped, and %s", bounds.Seconds(s.Length), then, reason)
	if len(s.Measured) > 0 {
		text += "; none applied: " + joined(s.Measured, ", ", heldAgainst)
	}
	if s.Covered > 0 {
		text += fmt.Sprintf("; what the signal map names explains only %.0f %% of it", max(1, s.Covered*100))
	}
	if s.SilentCode != "" {
		text += "; the car's own code (" + s.SilentCode + ") named nothing"
	}
	return text
}

func heldAgainst(h analyze.HeldAgainst) string {
	value := h.Label
	switch {
	case !h.Value.Seen:
		value = "not seen"
	case value == "" && h.Unit == "":
		value = Number(h.Value.Value)
	case value == "":
		value = Number(h.Value.Value) + " " + h.Unit
	}
	against := h.Against
	if h.Unit != "" && h.Label == "" {
		against += " " + h.Unit
	}
	return fmt.Sprintf("%s (%s %s; it was %s)", h.Condition, h.Signal, against, value)
}

func roleValue(role decode.Role, v float64) string {
	return fmt.Sprintf("%.5g %s", v, decode.Roles[role].Unit)
}

func implausible(s analyze.ImplausibleSignal) string {
	text := roleValue(s.Role, s.Reads)
	switch {
	case s.Throughout:
		return text + " throughout, although the engine both ran and rested"
	case s.Role == decode.EngineSpeed:
		return text + ", which no engine reaches"
	case s.Role == decode.VehicleSpeed:
		return text + ", which no car reaches"
	}
	return text + fmt.Sprintf(", which a system of %g V does not have", s.SystemVoltage)
}

// slip names the likely mistake of a map.
func slip(role decode.Role, s analyze.Slip) string {
	var parts []string
	if s.Order != "" {
		parts = append(parts, "order: "+s.Order)
	}
	if s.HasStart {
		parts = append(parts, fmt.Sprintf("start: %d", s.Start))
	}
	if len(s.Factors) > 0 {
		factor := "a factor " + slipFactors(s.Factors)
		if len(parts) > 0 {
			return "with " + factor + " it could be one, or with " + strings.Join(parts, " and ") + ", so that may be the mistake"
		}
		parts = append(parts, factor)
	}
	switch with := "with " + strings.Join(parts, " and "); {
	case len(parts) == 0:
		return "check its start, length, order and factor against where they come from"
	case len(s.Factors) > 1:
		return with + " it could be one, so that may be the mistake"
	default:
		return fmt.Sprintf("%s it would read %s to %s, so that may be the mistake", with, roleValue(role, s.Low), roleValue(role, s.High))
	}
}

// slipFactors names factors that would do: "divided by 4, 8 or 10".
func slipFactors(factors []float64) string {
	var less, more, parts []string
	for _, k := range factors {
		if k < 1 {
			less = append(less, fmt.Sprintf("%g", 1/k))
		} else {
			more = append(more, fmt.Sprintf("%g", k))
		}
	}
	if len(less) > 0 {
		parts = append(parts, "divided by "+enumerated(less, "or"))
	}
	if len(more) > 0 {
		parts = append(parts, "times "+enumerated(more, "or"))
	}
	return strings.Join(parts, " or ")
}

func operations(n int) string {
	return decode.Counted(int64(n), "operation was", "operations were") + " seen"
}

func counterDisagrees(c analyze.CounterDisagrees) string {
	did := fmt.Sprintf("stepped by %s from %s to %s", Shortest(c.Step), Shortest(c.From), Shortest(c.To))
	if c.Step == 0 {
		did = "stood still at " + Shortest(c.To)
	}
	text := "the starter-operation counter " + did + ", but " + operations(c.Seen) + " in all"
	var places []string
	if c.Gaps > 0 {
		places = append(places, fmt.Sprintf("%s of the recording, %.2f s in all", decode.Counted(int64(c.Gaps), "gap", "gaps"), bounds.Seconds(c.GapsLength)))
	}
	if c.Pauses > 0 {
		places = append(places, decode.Counted(int64(c.Pauses), "time", "times")+" that "+decode.StarterCommand.String()+" was not seen")
	}
	if c.Silences > 0 {
		places = append(places, decode.Counted(int64(c.Silences), "time", "times")+" that a module dropped off the bus")
	}
	if c.Lines > 0 {
		places = append(places, decode.Counted(c.Lines, "line", "lines")+" that could not be read")
	}
	if len(places) > 0 {
		text += "; starts may have been missed: " + list(places)
	}
	return text
}

func counterBetween(code string, c analyze.CounterBetween) string {
	text := "between " + c.Last + " and " + c.Next + " the starter-operation counter "
	from, to := Shortest(c.From), Shortest(c.To)
	switch code {
	case analyze.CodeCounterReset:
		return text + "fell from " + from + " to " + to + ": starter or module was replaced or reset; a module that was not given the old count hides at least " + from + " operations of a starter that stayed"
	case analyze.CodeCounterDisagrees:
		return text + "went from " + from + " to " + to + ", but " + operations(c.Seen) + " in that time"
	}
	return text + "went from " + from + " to " + to + ", which is " + Shortest(c.Step-float64(c.Seen)) + " more than was recorded"
}

func amongLogs(code string, a analyze.AmongLogs) string {
	logs, others := strings.Join(a.Logs, ", "), strings.Join(a.Others, ", ")
	switch code {
	case analyze.CodeLogTwice:
		return logs + " is the same drive as " + others + ": it is counted once"
	case analyze.CodeOrderByStart:
		return "the logs are taken in the order of their starts, not as they were given: " + logs
	case analyze.CodeStartUnknown:
		return "when " + logs + " began is not known, as time stamps without a date do not tell; " + decode.Pick(len(a.Logs), "it stays", "they stay") + " at the place given among the logs"
	case analyze.CodeZoneUnknown:
		return "the stamps of " + logs + " carry no zone and are taken as UTC, as those of " + others + " are: if that is wrong, so may be the order"
	case analyze.CodeLogsOverlap:
		return fmt.Sprintf("%s overlap by %.1f s: one drive in two files, two vehicles or a wrong clock; operations may be counted twice", list(a.Logs), bounds.Seconds(a.Overlap))
	}
	return "the last reading of the counter is in " + others + "; " + operations(a.Seen) + " after it, in logs without a reading"
}
