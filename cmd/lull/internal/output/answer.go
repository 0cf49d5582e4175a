package output

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/units"
)

// Caution stands below every result that a person reads.
const Caution = "A car with idle stop can start by itself: follow the maker's procedure."

// answer is the one paragraph that says what came of all the logs, in sentences
// that can be said aloud.
func (r *Report) answer() string {
	t := r.tally()
	var parts []string
	add := func(s string) {
		if s != "" {
			parts = append(parts, s)
		}
	}
	add(r.stopsSentence(t))
	add(t.reasonSentence())
	if len(t.broken.names) > 0 { // what is broken before what is kept
		add(t.limitSentence())
	}
	add(r.slowestSentence())
	add(t.outcomeSentence())
	if len(t.broken.names) == 0 {
		add(t.limitSentence())
	}
	add(t.silentSentence())
	if t.fuelKnown && t.engineOff > 0 {
		add(fmt.Sprintf("The engine was off for %s s in all, which saved about %s mL of fuel.",
			tidy(t.engineOff), tidy(t.fuelSaved)))
	}
	if t.attention > 0 {
		add(fmt.Sprintf("%s below.", counted(t.attention, "finding needs attention", "findings need attention")))
	}
	return strings.Join(parts, " ")
}

// tally adds up all logs.
type tally struct {
	logs, opportunities, stops, episodes int
	open, unexplained, cannotTell        int
	failed, stalled, minds, aborted      int
	reasons, broken, borderline, unseen  counter
	worst                                map[string]brokenBy // of each metric in broken
	judged                               int
	silentEpisodes                       int
	silent                               counter // modules, or identifiers of which the map names no module
	attention                            int
	engineOff, fuelSaved                 float64
	fuelKnown                            bool
}

// brokenBy is a value that breaks its limit.
type brokenBy struct {
	value analyze.MetricValue
	limit decode.Limit
}

// by is how far the value lies beyond its limit.
func (b brokenBy) by() float64 {
	if b.limit.HasMin && b.value.Best < b.limit.Min {
		return b.limit.Min - b.value.Best
	}
	return b.value.Best - b.limit.Max
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

func (r *Report) tally() tally {
	t := tally{logs: len(r.measuredLogs())}
	for i := range r.Logs {
		res := r.Logs[i].Result
		t.opportunities += res.Summary.Opportunities
		t.stops += res.Summary.Stops
		t.episodes += len(res.Episodes)
		t.engineOff += finite(res.Summary.EngineOff)
		t.fuelSaved += finite(res.Summary.FuelSaved)
		for k := range res.Standstills {
			t.standstill(&res.Standstills[k])
		}
		for k := range res.Episodes {
			t.episode(&res.Episodes[k], r)
		}
		t.silences(res.Silences)
		for _, f := range findingLines(res.Findings) { // as many as are shown
			if f.severity == analyze.Attention {
				t.attention++
			}
		}
	}
	return t
}

func (t *tally) standstill(s *analyze.Standstill) {
	switch {
	case !s.Opportunity || s.Stopped:
	case s.Open:
		t.open++
	case s.Reason != "":
		t.reasons.add(Visible(s.Reason))
	case s.Unexplained:
		t.unexplained++
	case len(s.CannotTell) > 0:
		t.cannotTell++
	}
}

func (t *tally) episode(e *analyze.Episode, r *Report) {
	switch e.Outcome {
	case analyze.NoStart:
		t.failed++
	case analyze.Stalled:
		t.stalled++
	case analyze.ChangeOfMind:
		t.minds++
	case analyze.Aborted:
		t.aborted++
	}
	if _, ok := metricOf(e.Metrics, "fuel_saved"); ok {
		t.fuelKnown = true
	}
	for _, key := range e.Unjudged(r.Map) {
		t.unseen.add(key)
	}
	for _, v := range e.Limits {
		t.judged++
		switch v.Verdict {
		case analyze.Outside:
			t.broken.add(v.Limit.Metric)
			if m, ok := metricOf(e.Metrics, v.Limit.Metric); ok {
				if t.worst == nil {
					t.worst = map[string]brokenBy{}
				}
				now := brokenBy{m.Told(), v.Limit}
				if worst, any := t.worst[v.Limit.Metric]; !any || now.by() > worst.by() {
					t.worst[v.Limit.Metric] = now
				}
			}
		case analyze.Borderline:
			t.borderline.add(v.Limit.Metric)
		}
	}
}

// silences counts one log's episodes in which something fell silent, and names it.
func (t *tally) silences(silences []analyze.Silence) {
	episodes := map[int]bool{}
	for _, s := range silences {
		if s.Episode == 0 {
			continue
		}
		episodes[s.Episode] = true
		name := s.Module
		if name == "" {
			name = s.ID
		}
		t.silent.add(Visible(name))
	}
	t.silentEpisodes += len(episodes)
}

func (r *Report) stopsSentence(t tally) string {
	over := ""
	if t.logs > 1 {
		over = fmt.Sprintf(" over %d logs", t.logs)
	}
	if blind := len(r.Logs) - t.logs; blind > 0 && t.logs > 0 {
		over += fmt.Sprintf(" (%s no engine speed and cannot be measured)", counted(blind, "further log shows", "further logs show"))
	}
	switch {
	case t.opportunities > 0 && t.stops == 0:
		return fmt.Sprintf("The engine was never stopped in %s%s.", counted(t.opportunities, "standstill", "standstills"), over)
	case t.opportunities > 0:
		return fmt.Sprintf("The engine was stopped in %d of %s%s.", t.stops, counted(t.opportunities, "standstill", "standstills"), over)
	case t.episodes > 0:
		return fmt.Sprintf("%s of the engine%s.", counted(t.episodes, "stop", "stops"), over)
	case r.Map.RoleSignal(decode.VehicleSpeed) == nil:
		return fmt.Sprintf("No stop of the engine%s. No signal has the role vehicle_speed, so nothing can be said of standstills.", over)
	}
	return fmt.Sprintf("No stop of the engine, and no standstill of at least %s s in which it could have been stopped%s.",
		tidy(r.Map.Settings.MinStandstill.Seconds()), over)
}

func (t *tally) reasonSentence() string {
	var parts []string
	for _, name := range t.reasons.names {
		parts = append(parts, fmt.Sprintf("%s (%s)", name, times(t.reasons.counts[name])))
	}
	s := ""
	if len(parts) > 0 {
		s = "It was kept running by " + list(parts) + "."
	}
	if t.unexplained > 0 {
		s += fmt.Sprintf(" %s: nothing in the map explains why the engine ran on.", counted(t.unexplained, "standstill stays unexplained", "standstills stay unexplained"))
	}
	if t.cannotTell > 0 {
		s += fmt.Sprintf(" For %s it cannot be told.", counted(t.cannotTell, "standstill", "standstills"))
	}
	if t.open > 0 {
		s += fmt.Sprintf(" %s.", counted(t.open, "standstill was not recorded to its end", "standstills were not recorded to their ends"))
	}
	return strings.TrimSpace(s)
}

// slowestSentence tells of the restart that took longest.
func (r *Report) slowestSentence() string {
	const key = "restart_latency"
	var slowest analyze.MetricValue
	var of *analyze.Episode
	var log *Log
	absent, n := "", 0
	for i := range r.Logs {
		for k := range r.Logs[i].Result.Episodes {
			e := &r.Logs[i].Result.Episodes[k]
			m, ok := metricOf(e.Metrics, key)
			if !ok {
				if absent == "" && e.Running != nil && e.Outcome != analyze.Aborted {
					absent = m.Absent
				}
				continue
			}
			n++
			if of == nil || m.Best > slowest.Best {
				slowest, of, log = m, e, &r.Logs[i]
			}
		}
	}
	if of == nil {
		if absent == "" {
			return ""
		}
		return "How long a restart took cannot be said: " + Visible(absent) + "."
	}
	subject := "The slowest restart took"
	if n == 1 {
		subject = "The restart took"
	}
	slowest = slowest.Told()
	s := fmt.Sprintf("%s %s s (%s)", subject, units.Round(slowest.Best, slowest.Low, slowest.High), between(slowest))
	if of.Request != nil {
		s += ", asked for by " + Visible(r.Map.Requests[of.Request.Condition].Name)
	}
	s += fmt.Sprintf(" in episode %d", of.N)
	if len(r.Logs) > 1 {
		s += " of " + Visible(log.Name)
	}
	for _, v := range of.Limits {
		if v.Limit.Metric == key && v.Verdict != analyze.Outside { // that was said before
			s += ": " + limitClause(v, slowest.Unit)
		}
	}
	return s + "."
}

// limitClause says how a value stands to its limit.
func limitClause(v analyze.LimitVerdict, unit string) string {
	words := limitWords(v.Limit, unit)
	switch v.Verdict {
	case analyze.Outside:
		return "limit of " + words + " broken"
	case analyze.Borderline:
		return "limit of " + words + " perhaps broken, the bounds lie on both sides of it"
	case analyze.Unseen:
		return "not enough was seen to say whether it keeps the limit of " + words
	}
	return "inside the limit of " + words
}

func (t *tally) outcomeSentence() string {
	var parts []string
	add := func(n int, one, many string) {
		if n > 0 {
			parts = append(parts, counted(n, one, many))
		}
	}
	add(t.failed, "failed restart", "failed restarts")
	add(t.stalled, "stall", "stalls")
	add(t.minds, "change of mind", "changes of mind")
	add(t.aborted, "stop called off", "stops called off")
	if len(parts) == 0 {
		return ""
	}
	return sentenceCase(list(parts)) + "."
}

func (t *tally) limitSentence() string {
	switch {
	case t.judged == 0 && len(t.unseen.names) == 0:
		return ""
	case len(t.broken.names)+len(t.borderline.names)+len(t.unseen.names) == 0:
		return "Every limit of the map is kept."
	}
	s := ""
	if len(t.broken.names) > 0 {
		var parts []string
		for _, name := range t.broken.names {
			parts = append(parts, t.brokenText(name))
		}
		s = "Broken limits: " + list(parts) + "."
	}
	if len(t.borderline.names) > 0 {
		s += " Borderline: " + t.borderline.listed() + "."
	}
	if len(t.unseen.names) > 0 {
		s += " Not enough was seen to judge the limits of: " + t.unseen.listed() + "."
	}
	return strings.TrimSpace(s)
}

// brokenText says how often a metric broke its limit, and its worst value.
func (t *tally) brokenText(name string) string {
	n := t.broken.counts[name]
	text := spoken(name) + " " + times(n)
	worst, ok := t.worst[name]
	if !ok {
		return text
	}
	at := ""
	if n > 1 {
		at = "at worst "
	}
	v := worst.value
	return fmt.Sprintf("%s (%s%s %s, limit %s)", text, at, units.Round(v.Best, v.Low, v.High), v.Unit, limitWords(worst.limit, v.Unit))
}

// mostSilent bounds how many silent modules the answer names.
const mostSilent = 4

func (t *tally) silentSentence() string {
	if t.silentEpisodes == 0 {
		return ""
	}
	names := t.silent.names
	if more := len(names) - mostSilent; more > 0 {
		names = append(slices.Clone(names[:mostSilent]), fmt.Sprintf("%d more", more))
	}
	return fmt.Sprintf("Fell silent in %d of %s: %s.", t.silentEpisodes, counted(t.episodes, "episode", "episodes"), list(names))
}

func (c *counter) listed() string {
	var parts []string
	for _, name := range c.names {
		parts = append(parts, spoken(name)+" "+times(c.counts[name]))
	}
	return list(parts)
}

// spoken turns a metric's key into words.
func spoken(key string) string { return strings.ReplaceAll(key, "_", " ") }

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return strconv.Itoa(n) + " times"
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

func list(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// tidy writes a number that has no bounds.
func tidy(v float64) string { return units.Round(v, v, v) }

// between writes a metric's bounds with the digits of its value.
func between(m analyze.MetricValue) string {
	d := units.Decimals(m.Best, m.Low, m.High)
	return fixed(m.Low, d) + " to " + fixed(m.High, d)
}

// fixed writes a number with d decimals and never as a negative zero.
func fixed(v float64, d int) string {
	s := strconv.FormatFloat(v, 'f', d, 64)
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}
