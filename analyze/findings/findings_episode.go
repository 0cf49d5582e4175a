package findings

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/analyze/segment"
	"lull/decode"
	"lull/pkg/bounds"
)

// limitFamily gathers the metrics of one restart of which one holds the other in
// it, or that show one and the same thing: the time that the driver waits, and the
// supply while the starter turns.
var limitFamily = map[string]string{
	"restart_latency": "wait", "request_to_crank": "wait", "crank_to_run": "wait", "take_off_delay": "wait", "engine_off": "wait",
	"voltage_min": "supply", "voltage_dip": "supply", "low_voltage_time": "supply", "voltage_recovery": "supply",
	"module_supply_min": "supply", "source_resistance": "supply",
}

// holdsTries are the metrics that hold every try to start in them.
var holdsTries = []string{"restart_latency", "take_off_delay", "engine_off"}

func (r *Finder) EpisodeFindings(e *segment.Episode, list *Findings) {
	where, names := evidence("episode", e.N)
	at := e.Stop.T
	retried := len(e.Operations) > 1 || e.Outcome == analyze.NoStart
	var late analyze.BrokenLimits // what every try made longer
	var told []string             // families
	for _, l := range e.Limits {
		v := e.Metric(l.Limit.Metric)
		judged := analyze.Judged{Value: v, Limit: l.Limit}
		family := limitFamily[v.Key]
		switch {
		case l.Verdict == analyze.Borderline:
			list.add(analyze.CodeLimitBorderline, analyze.Note, at, names, r.deciding(e, judged), "%s: %s is %s; the bus does not tell on which side of the limit %s it lies: %s",
				where, v.Key, valueText(v), limitText(l.Limit, v.Unit), r.decidingText(r.deciding(e, judged)))
		case l.Verdict != analyze.Outside:
		case v.Key == "hold_pressure_min":
			list.add(analyze.CodePressureLost, analyze.Attention, at, names, analyze.BrokenLimits{judged}, "%s: the hydraulic pressure fell to %s while the engine rested, limit %s", where, valueText(v), limitText(l.Limit, v.Unit))
		case retried && slices.Contains(holdsTries, v.Key):
			late = append(late, judged)
		case family == "":
			list.add(analyze.CodeLimitBroken, analyze.Attention, at, names, analyze.BrokenLimits{judged}, "%s: %s", where, brokenText(v, l.Limit))
		case !slices.Contains(told, family):
			told = append(told, family)
			list.add(analyze.CodeLimitBroken, analyze.Attention, at, names, broken(e, family, retried), "%s: %s", where, spoken(texts(broken(e, family, retried)), "and"))
		}
	}
	r.failure(e, late, list)
	r.unasked(e, list)
}

func brokenText(v analyze.MetricValue, limit decode.Limit) string {
	return fmt.Sprintf("%s is %s, limit %s", v.Key, valueText(v), limitText(limit, v.Unit))
}

func texts(list analyze.BrokenLimits) []string {
	var texts []string
	for _, j := range list {
		texts = append(texts, brokenText(j.Value, j.Limit))
	}
	return texts
}

// broken gathers all broken limits of one family, but for those that are told with
// the tries.
func broken(e *segment.Episode, family string, retried bool) analyze.BrokenLimits {
	var list analyze.BrokenLimits
	for _, l := range e.Limits {
		key := l.Limit.Metric
		if l.Verdict == analyze.Outside && limitFamily[key] == family && !(retried && slices.Contains(holdsTries, key)) {
			list = append(list, analyze.Judged{Value: e.Metric(key), Limit: l.Limit})
		}
	}
	return list
}

// failure tells of an engine that stalled or did not start at once. late are the
// limits that were broken by that.
func (r *Finder) failure(e *segment.Episode, late analyze.BrokenLimits, list *Findings) {
	where, names := evidence("episode", e.N)
	text := ""
	about := analyze.FailedStart{Tries: len(e.Operations), Late: late}
	if e.Outcome == analyze.NoStart || len(e.Operations) > 1 && e.Running == nil {
		about.Ended = e.Outcome
	}
	switch {
	case e.Outcome == analyze.NoStart:
		text = "the engine did not start" + tries(len(e.Operations))
	case len(e.Operations) > 1 && e.Running != nil:
		text = fmt.Sprintf("the engine started only at try %d", len(e.Operations))
	case len(e.Operations) > 1:
		text = "the engine had to be cranked again, and " + measure.WhyNot(e.Outcome)
	}
	code := analyze.CodeFailedStart
	if e.Outcome == analyze.Stalled {
		code = analyze.CodeStalled
		if text != "" {
			text = ", and " + strings.Replace(text, "the engine started", "started again", 1)
		}
		text = "the engine stalled: it came to rest without a stop command" + text
	}
	if text == "" {
		return
	}
	if len(late) > 0 {
		text += "; " + spoken(texts(late), "and")
	}
	list.add(code, analyze.Attention, e.Stop.T, names, about, "%s: %s", where, text)
}

func tries(n int) string {
	switch n {
	case 0:
		return ": the starter was never seen to engage"
	case 1:
		return " after one try"
	}
	return fmt.Sprintf(" after %d tries", n)
}

// unasked tells of a restart that no request explains. Where some could not be told,
// that is what to say.
func (r *Finder) unasked(e *segment.Episode, list *Findings) {
	if e.Request != nil || e.Running == nil || len(r.M.Requests) == 0 || e.Outcome == analyze.Stalled {
		return
	}
	where, names := evidence("episode", e.N)
	if e.Undecided {
		list.add(analyze.CodeCannotTell, analyze.Note, e.Stop.T, names, analyze.UndecidedRestart{}, "%s: cannot tell what asked for the restart: the decision to restart was not seen", where)
		return
	}
	if len(e.UnknownAsked) == 0 {
		list.add(analyze.CodeNoRestartRequest, analyze.Note, e.Stop.T, names, analyze.UnaskedRestart{}, "%s: no mapped request explains this restart", where)
		return
	}
	about := analyze.DoubtedRequests{Why: measure.WhyUnasked(r.Recording, e)}
	for _, i := range e.UnknownAsked {
		about.Conditions = append(about.Conditions, r.M.Requests[i].Name)
	}
	list.add(analyze.CodeCannotTell, analyze.Note, e.Stop.T, names, about, "%s: cannot tell whether %s asked for the restart, and no other request explains it: %s", where, quoted(about.Conditions), measure.WhyUnseen(about.Why))
}

// startFindings tells of retries of a key start, and of starts that were not seen.
func (r *Finder) startFindings(list *Findings) {
	for _, t := range r.result.HiddenStarts {
		list.add(analyze.CodeCannotTell, analyze.Note, t, []string{}, analyze.HiddenStart{At: t}, "the engine came to run at %.1f s while %s was not seen: a starter operation may be missing from the count", bounds.Seconds(t), decode.StarterCommand)
	}
	for _, s := range r.result.Starts {
		if s.Kind == analyze.RetryStart && s.Episode == 0 {
			_, names := evidence("start", s.N)
			list.add(analyze.CodeFailedStart, analyze.Attention, s.Crank.T, names, analyze.RetriedStart{N: s.N, At: s.Crank.T}, "start %d at %.1f s: the engine had to be cranked again", s.N, bounds.Seconds(s.Crank.T))
		}
	}
}

// mostSilent bounds how many silent identifiers one finding names.
const mostSilent = 4

// silenceFindings tells of what fell silent around an episode's start, together
// what was silent at the same time.
func (r *Finder) silenceFindings(e *segment.Episode, list *Findings) {
	var silent []analyze.Silence
	for _, s := range r.result.Silences {
		if s.Episode == e.N {
			silent = append(silent, s)
		}
	}
	r.SilentTogether(e, silent, list)
}

// SilentTogether tells of an episode's silences, in groups of those that touch.
func (r *Finder) SilentTogether(e *segment.Episode, silent []analyze.Silence, list *Findings) {
	slices.SortStableFunc(silent, func(a, b analyze.Silence) int { return cmp.Compare(a.Start, b.Start) })
	for len(silent) > 0 {
		n, end := 1, r.silenceEnd(&silent[0])
		for n < len(silent) && silent[n].Start <= end {
			end = max(end, r.silenceEnd(&silent[n]))
			n++
		}
		r.silenceFinding(e, silent[:n], end, list)
		silent = silent[n:]
	}
}

func (r *Finder) silenceFinding(e *segment.Episode, silent []analyze.Silence, end int64, list *Findings) {
	where, names := evidence("episode", e.N)
	start := silent[0].Start
	slices.SortStableFunc(silent, func(a, b analyze.Silence) int { return cmp.Compare(a.ID, b.ID) })
	about := analyze.SilentModules{Silences: slices.Clone(silent)}
	about.Dip, about.When = dip(e, start, end)
	var texts []string
	for i, s := range silent {
		if i == mostSilent {
			texts = append(texts, decode.Counted(int64(len(silent)-i), "further identifier", "further identifiers"))
			break
		}
		name := s.ID
		if s.Module != "" {
			name = s.Module + " (" + s.ID + ")"
		}
		was := "was silent "
		if i > 0 {
			was = ""
		}
		texts = append(texts, fmt.Sprintf("%s on %s %sfor %.2f s from %.2f s on", name, s.Bus, was, bounds.Seconds(s.Duration), bounds.Seconds(s.Start)))
	}
	list.add(analyze.CodeModuleSilent, analyze.Attention, start, names, about, "%s: %s%s", where, spoken(texts, "and"), dipText(about))
}

// dip is the voltage dip of an episode, and how a silence lies to it: one lies within
// the other, or they overlap, where they coincide.
func dip(e *segment.Episode, start, end int64) (v analyze.MetricValue, when analyze.Order) {
	v = e.Metric("voltage_min")
	if v.Absent != "" || v.Key == "" || e.Metric("voltage_dip").Best <= 0 {
		return analyze.MetricValue{}, ""
	}
	low, high, _ := measure.WindowsOf(e).StartWindow()
	switch {
	case start > high:
		return v, analyze.After
	case end < low:
		return v, analyze.Before
	}
	return v, analyze.During
}

func dipText(s analyze.SilentModules) string {
	switch s.When {
	case "":
		return "; a log cannot tell the cause"
	case analyze.After:
		return "; the battery voltage had fallen to " + valueText(s.Dip) + " before; a log cannot tell the cause"
	case analyze.Before:
		return ", before the battery voltage fell to " + valueText(s.Dip) + "; a log cannot tell the cause"
	}
	return ", while the battery voltage fell to " + valueText(s.Dip) + "; a log cannot tell whether that was the cause"
}
