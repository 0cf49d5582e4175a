package findings

import (
	"cmp"
	"slices"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/analyze/segment"
)

// EpisodeFindings adds what is to be said of an episode by itself: limits, tries, what
// asked for the restart.
func (r *Finder) EpisodeFindings(e *segment.Episode, list *Findings) {
	names := evidence("episode", e.N)
	at := e.Stop.T
	retried := len(e.Operations) > 1 || e.Outcome == analyze.NoStart
	var late analyze.BrokenLimits // what every try made longer
	var told []measure.Family
	for _, l := range e.Limits {
		v := e.Metric(l.Limit.Metric)
		m, _ := measure.MetricByKey(v.Key)
		judged := analyze.Judged{Value: v, Limit: l.Limit}
		switch {
		case l.Verdict == analyze.Borderline:
			list.add(analyze.CodeLimitBorderline, analyze.Note, at, names, r.deciding(e, m.Ends, judged))
		case l.Verdict != analyze.Outside:
		case m.Broken != "":
			list.add(m.Broken, analyze.Attention, at, names, analyze.BrokenLimits{judged})
		case retried && m.HoldsTries:
			late = append(late, judged)
		case m.Family == "":
			list.add(analyze.CodeLimitBroken, analyze.Attention, at, names, analyze.BrokenLimits{judged})
		case !slices.Contains(told, m.Family):
			told = append(told, m.Family)
			list.add(analyze.CodeLimitBroken, analyze.Attention, at, names, broken(e, m.Family, retried))
		}
	}
	r.failure(e, late, list)
	r.unasked(e, list)
}

// broken gathers all broken limits of one family, but for those that are told with
// the tries.
func broken(e *segment.Episode, family measure.Family, retried bool) analyze.BrokenLimits {
	var list analyze.BrokenLimits
	for _, l := range e.Limits {
		m, _ := measure.MetricByKey(l.Limit.Metric)
		if l.Verdict == analyze.Outside && m.Family == family && !(retried && m.HoldsTries) {
			list = append(list, analyze.Judged{Value: e.Metric(m.Key), Limit: l.Limit})
		}
	}
	return list
}

// failure tells of an engine that stalled or did not start at once. late are the
// limits that were broken by that.
func (r *Finder) failure(e *segment.Episode, late analyze.BrokenLimits, list *Findings) {
	about := analyze.FailedStart{Tries: len(e.Operations), Late: late}
	if e.Outcome == analyze.NoStart || about.Tries > 1 && e.Running == nil {
		about.Ended = e.Outcome
	}
	switch names := evidence("episode", e.N); {
	case e.Outcome == analyze.Stalled:
		list.add(analyze.CodeStalled, analyze.Attention, e.Stop.T, names, about)
	case e.Outcome == analyze.NoStart || about.Tries > 1:
		list.add(analyze.CodeFailedStart, analyze.Attention, e.Stop.T, names, about)
	}
}

// unasked tells of a restart that no request explains. Where some could not be told,
// that is what to say.
func (r *Finder) unasked(e *segment.Episode, list *Findings) {
	if e.Request != nil || e.Running == nil || len(r.M.Requests) == 0 || e.Outcome == analyze.Stalled {
		return
	}
	names := evidence("episode", e.N)
	if e.Undecided {
		list.add(analyze.CodeCannotTell, analyze.Note, e.Stop.T, names, analyze.UndecidedRestart{})
		return
	}
	if len(e.UnknownAsked) == 0 {
		list.add(analyze.CodeNoRestartRequest, analyze.Note, e.Stop.T, names, analyze.UnaskedRestart{})
		return
	}
	about := analyze.DoubtedRequests{Why: measure.WhyUnasked(r.Recording, e)}
	for _, i := range e.UnknownAsked {
		about.Conditions = append(about.Conditions, r.M.Requests[i].Name)
	}
	list.add(analyze.CodeCannotTell, analyze.Note, e.Stop.T, names, about)
}

// startFindings tells of retries of a key start, and of starts that were not seen.
func (r *Finder) startFindings(list *Findings) {
	for _, t := range r.result.HiddenStarts {
		list.add(analyze.CodeCannotTell, analyze.Note, t, []string{}, analyze.HiddenStart{At: t})
	}
	for _, s := range r.result.Starts {
		if s.Kind == analyze.RetryStart && s.Episode == 0 {
			list.add(analyze.CodeFailedStart, analyze.Attention, s.Crank.T, evidence("start", s.N), analyze.RetriedStart{At: s.Crank.T})
		}
	}
}

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
	start := silent[0].Start
	slices.SortStableFunc(silent, func(a, b analyze.Silence) int { return cmp.Compare(a.ID, b.ID) })
	about := analyze.SilentModules{Silences: slices.Clone(silent)}
	about.Dip, about.When = dip(e, start, end)
	list.add(analyze.CodeModuleSilent, analyze.Attention, start, evidence("episode", e.N), about)
}

// dip is the voltage dip of an episode, and how a silence lies to it: one lies within
// the other, or they overlap, where they coincide.
func dip(e *segment.Episode, start, end int64) (v analyze.MetricValue, when analyze.Order) {
	v = e.Metric("voltage_min")
	if !v.Known() || e.Metric("voltage_dip").Best <= 0 {
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
