package words

import (
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/stats"
)

// tally adds up all logs.
type tally struct {
	all                                  int // logs, those that cannot be used too
	logs, opportunities, stops, episodes int
	open, cannotTell                     int
	unexplained                          []place // standstills
	noInhibits                           bool    // the map names none, so nothing can be explained
	failures                             failures
	minds                                []place
	unasked                              []place // restarted with no request that could be found
	aborted, moving                      int
	reasons, broken, borderline, unseen  counter
	borderlineIn                         map[string][]place  // of each metric in borderline
	limits                               counter             // metrics whose limits were judged
	worst                                map[string]brokenBy // of each metric in broken
	judged                               int
	silentIn                             []place
	slow                                 []place // episodes that broke a limit on the wait
	doubted                              int     // logs
	silent                               counter // modules, or identifiers of which the map names no module
	attention                            attention
	bySystem                             counter // requests of the car's own
	bySystemIn                           map[string][]place
	bySystemIs                           map[string]string // what it holds a signal against, where that is one comparison
	oneInhibit                           string            // the only reason that the map names
	engineOff, fuelSaved                 float64
	savedIn                              int // episodes
	fuelKnown                            bool
}

// attention counts the findings that need it: the lines that are shown, and what those are
// about that no other sentence of the answer tells.
type attention struct {
	lines int
	kinds counter
}

// answered are the codes of findings of which the answer has a sentence of its own.
var answered = []string{analyze.CodeLimitBroken, analyze.CodePressureLost, analyze.CodeFailedStart, analyze.CodeStalled,
	analyze.CodeModuleSilent, analyze.CodeUnexplained}

// brokenBy is a value that breaks its limit.
type brokenBy struct {
	value analyze.MetricValue
	limit decode.Limit
	at    place
}

// counter counts names and keeps the order in which they came.
type counter struct {
	names  []string
	counts map[string]int
}

func (c *counter) add(name string) {
	if c.counts == nil {
		c.counts = map[string]int{}
	}
	if c.counts[name] == 0 {
		c.names = append(c.names, name)
	}
	c.counts[name]++
}

func (c *counter) listed() string {
	var parts []string
	for _, name := range c.names {
		parts = append(parts, Spoken(name)+" "+Times(c.counts[name]))
	}
	return list(parts)
}

func (r *Report) tally() tally {
	t := tally{all: len(r.Logs), logs: len(r.measuredLogs()), noInhibits: !r.Map.NamesInhibits()}
	if len(r.Map.Inhibits) == 1 && r.Map.RoleSignal(decode.InhibitCode) == nil {
		t.oneInhibit = Visible(r.Map.Inhibits[0].Name)
	}
	for at := range r.Logs {
		res := r.Logs[at].Result
		if !res.Usable() {
			continue
		}
		t.opportunities += res.Summary.Opportunities
		t.stops += res.Summary.Stops
		t.episodes += len(res.Episodes)
		for k := range res.Standstills {
			t.standstill(&r.Logs[at], &res.Standstills[k])
		}
		for k := range res.Episodes {
			t.episode(&r.Logs[at], &res.Episodes[k], r)
		}
		t.silences(&r.Logs[at], res.Silences)
		if res.Trust.Credence == analyze.Doubtful {
			t.doubted++
		}
		for _, f := range FindingLines(res.Findings) { // as many as are shown
			if f.Severity == analyze.Attention {
				t.attention.lines++
			}
		}
		for i := range res.Findings {
			f := &res.Findings[i]
			if _, ok := f.About.(analyze.UnaskedRestart); ok {
				for _, e := range f.Evidence {
					t.unasked = append(t.unasked, place{r.Logs[at].Name, strings.TrimPrefix(e, "episode ")})
				}
			}
			_, byKey := f.About.(analyze.RetriedStart)
			if f.Severity != analyze.Attention || slices.Contains(answered, f.Code) && len(f.Evidence) > 0 && !byKey {
				continue
			}
			for _, name := range FindingAbout(f) {
				t.attention.kinds.add(name)
			}
		}
	}
	return t
}

func (t *tally) standstill(l *Log, s *analyze.Standstill) {
	switch {
	case !s.Opportunity || s.Stopped:
	case s.Open:
		t.open++
	case s.Reason != "":
		t.reasons.add(Visible(s.Reason))
	case s.Unexplained:
		t.unexplained = append(t.unexplained, place{l.Name, "at " + Moment(s.Start) + " s"})
	case len(s.CannotTell) > 0:
		t.cannotTell++
	}
}

func (t *tally) episode(l *Log, e *analyze.Episode, r *Report) {
	here := place{l.Name, strconv.Itoa(e.N)}
	switch e.Outcome {
	case analyze.NoStart:
		if len(t.failures.unstarted) == 0 {
			t.failures.how = " (" + starterText(e) + ")"
		}
		t.failures.unstarted = append(t.failures.unstarted, here)
	case analyze.Stalled:
		t.failures.stalled = append(t.failures.stalled, here)
	case analyze.ChangeOfMind:
		t.minds = append(t.minds, here)
	case analyze.Aborted:
		t.aborted++
	}
	if len(e.Cranks) > 1 && e.Running != nil && e.Outcome != analyze.Stalled {
		t.failures.retried = append(t.failures.retried, here)
	}
	if e.Request != nil {
		if c := &r.Map.Requests[e.Request.Condition]; c.By == decode.BySystem {
			name := Visible(c.Name)
			t.bySystem.add(name)
			if t.bySystemIn == nil {
				t.bySystemIn, t.bySystemIs = map[string][]place{}, map[string]string{}
			}
			if c.Expr != nil && len(c.Expr.Children) == 0 {
				t.bySystemIs[name] = Visible(conditionText(r.Map, c.Expr)) + "; "
			}
			t.bySystemIn[name] = append(t.bySystemIn[name], here)
		}
	}
	if e.Moving {
		t.moving++
	}
	if saved, ok := MetricOf(e.Metrics, "fuel_saved"); ok {
		t.fuelKnown = true
		t.fuelSaved += orNone(saved.Best)
		if off, ok := MetricOf(e.Metrics, "engine_off"); ok {
			t.engineOff += orNone(off.Best)
			t.savedIn++
		}
	}
	for _, limit := range e.Unjudged(r.Map) {
		t.unseen.add(limit.Metric)
	}
	for _, v := range e.Limits {
		t.judged++
		t.limits.add(v.Limit.Metric)
		switch v.Verdict {
		case analyze.Outside:
			t.broken.add(v.Limit.Metric)
			if m, _ := measure.MetricByKey(v.Limit.Metric); m.Family == measure.Wait && !slices.Contains(t.slow, here) {
				t.slow = append(t.slow, here)
			}
			if m, ok := MetricOf(e.Metrics, v.Limit.Metric); ok {
				if t.worst == nil {
					t.worst = map[string]brokenBy{}
				}
				now := brokenBy{m.Told(), v.Limit, here}
				if worst, any := t.worst[v.Limit.Metric]; !any || beyond(now.value, now.limit) > beyond(worst.value, worst.limit) {
					t.worst[v.Limit.Metric] = now
				}
			}
		case analyze.Borderline:
			t.borderline.add(v.Limit.Metric)
			if t.borderlineIn == nil {
				t.borderlineIn = map[string][]place{}
			}
			t.borderlineIn[v.Limit.Metric] = append(t.borderlineIn[v.Limit.Metric], here)
		}
	}
}

// silences counts one log's episodes in which something fell silent, and names it.
func (t *tally) silences(l *Log, silences []analyze.Silence) {
	episodes := map[int]bool{}
	for _, s := range silences {
		if s.Episode == 0 {
			continue
		}
		if !episodes[s.Episode] {
			t.silentIn = append(t.silentIn, place{l.Name, strconv.Itoa(s.Episode)})
		}
		episodes[s.Episode] = true
		name := s.Module
		if name == "" {
			name = s.ID
		}
		t.silent.add(Visible(name))
	}
}

// measuredLogs are those that can be used: the others tell nothing.
func (r *Report) measuredLogs() []*Log {
	var measured []*Log
	for i := range r.Logs {
		if r.Logs[i].Result.Usable() {
			measured = append(measured, &r.Logs[i])
		}
	}
	return measured
}

// orNone counts what is no number as nothing.
func orNone(v float64) float64 {
	if !stats.Finite(v) {
		return 0
	}
	return v
}
