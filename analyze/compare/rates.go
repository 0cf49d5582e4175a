package compare

import (
	"cmp"
	"slices"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/stats"
)

// rates counts what happened how often. The first two are of standstills, which
// belong to no group of episodes: only whole comparisons have them.
func rates(before, after picked, whole bool) []Rate {
	list := []Rate{
		{Key: "stopped", Better: "higher", Before: standstills(before, stopped), After: standstills(after, stopped)},
		{Key: "unexplained", Better: "lower", Before: standstills(before, unexplained), After: standstills(after, unexplained)},
		{Key: "failed_start", Better: "lower", Before: episodes(before, nil, failedStart), After: episodes(after, nil, failedStart)},
		{Key: "module_silent", Better: "lower", Before: episodes(before, nil, moduleSilent), After: episodes(after, nil, moduleSilent)},
		{Key: "outside_limit", Better: "lower", Before: episodes(before, limitJudged, outsideLimit), After: episodes(after, limitJudged, outsideLimit)},
	}
	if !whole {
		list = list[2:]
	}
	for i := range list {
		list[i].judge()
	}
	return list
}

func (r *Rate) judge() {
	r.PHolm = 1
	difference, ok := stats.Newcombe(r.Before, r.After, Confidence)
	test, tested := stats.Fisher(r.Before, r.After)
	if !ok || !tested {
		r.Verdict = Missing
		return
	}
	r.Difference, r.P = difference, test.TwoSided
	if stats.TooFewForRates(r.Before.Of, r.After.Of) {
		r.Verdict = TooFew
	}
}

func standstills(p picked, is func(*analyze.Standstill) bool) stats.Rate {
	var r stats.Rate
	for i := range p.Logs {
		for k := range p.Logs[i].Result.Standstills {
			s := &p.Logs[i].Result.Standstills[k]
			if !s.Opportunity {
				continue
			}
			r.Of++
			if is(s) {
				r.Count++
			}
		}
	}
	return r
}

func stopped(s *analyze.Standstill) bool     { return s.Stopped }
func unexplained(s *analyze.Standstill) bool { return s.Unexplained }

func episodes(p picked, counts, is func(pickedEpisode) bool) stats.Rate {
	var r stats.Rate
	for _, e := range p.episodes {
		if counts != nil && !counts(e) {
			continue
		}
		r.Of++
		if is(e) {
			r.Count++
		}
	}
	return r
}

// failedStart is an engine that did not come to run, or not at the first try.
func failedStart(e pickedEpisode) bool { return e.Outcome == analyze.NoStart || len(e.Cranks) > 1 }

func moduleSilent(e pickedEpisode) bool {
	return slices.ContainsFunc(e.log.Result.Silences, func(s analyze.Silence) bool { return s.Episode == e.N })
}

func limitJudged(e pickedEpisode) bool {
	return slices.ContainsFunc(e.Limits, func(v analyze.LimitVerdict) bool { return v.Verdict != analyze.Unseen })
}

func outsideLimit(e pickedEpisode) bool {
	return slices.ContainsFunc(e.Limits, func(v analyze.LimitVerdict) bool { return v.Verdict == analyze.Outside })
}

// circumstances compares how the signals of the maps' conditions stood at the stop
// onsets. A signal that is in another unit after is not compared.
func circumstances(before, after picked) []Circumstance {
	var list []Circumstance
	for i, signal := range before.Map.Circumstances {
		s := &before.Map.Signals[signal]
		c := Circumstance{Signal: s.Name, Unit: s.Unit, Before: newSample(atStop(before, i))}
		at := slices.IndexFunc(after.Map.Circumstances, func(k int) bool {
			other := &after.Map.Signals[k]
			return other.Name == s.Name && other.Unit == s.Unit
		})
		if at >= 0 {
			c.After = newSample(atStop(after, at))
		}
		if c.Known = c.Before.N > 0 && c.After.N > 0; c.Known {
			c.Alike = c.Before.Min <= c.After.Max && c.After.Min <= c.Before.Max
		}
		list = append(list, c)
	}
	return list
}

func atStop(p picked, condition int) []float64 {
	var list []float64
	for _, e := range p.episodes {
		if condition < len(e.AtStop) && e.AtStop[condition].Seen && e.AtStop[condition].Value-e.AtStop[condition].Value == 0 {
			list = append(list, e.AtStop[condition].Value)
		}
	}
	return list
}

// limits holds the limits of both maps against their sides: those of the map
// before, then what only the map after has.
func limits(before, after Side) []Limit {
	var list []Limit
	add := func(l decode.Limit) *Limit {
		for i := range list {
			if list[i].Limit == l {
				return &list[i]
			}
		}
		list = append(list, Limit{Limit: l})
		return &list[len(list)-1]
	}
	for _, m := range []*decode.Map{before.Map, after.Map} {
		for _, l := range m.Limits {
			add(l)
		}
	}
	count := func(s Side, of func(*Limit) *Judged) {
		for _, log := range s.Logs {
			for k := range log.Result.Episodes {
				e := &log.Result.Episodes[k]
				for _, v := range e.Limits {
					of(add(v.Limit)).count(v.Verdict)
				}
				for _, l := range e.Unjudged(s.Map) {
					of(add(l)).Unseen++
				}
			}
		}
	}
	count(before, func(l *Limit) *Judged { return &l.Before })
	count(after, func(l *Limit) *Judged { return &l.After })
	slices.SortStableFunc(list, func(a, b Limit) int {
		return cmp.Compare(slices.Index(decode.MetricKeys, a.Metric), slices.Index(decode.MetricKeys, b.Metric))
	})
	return list
}

// count adds a verdict. What was not seen is counted from Episode.Unjudged, which
// knows more of it than the verdicts.
func (j *Judged) count(v analyze.Verdict) {
	switch v {
	case analyze.Inside:
		j.Inside++
	case analyze.Outside:
		j.Outside++
	case analyze.Borderline:
		j.Borderline++
	}
}
