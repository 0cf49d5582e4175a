package words

import (
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/units"
)

// Answer is the one paragraph that says what came of all the logs, in sentences
// that can be said aloud.
func (r *Report) Answer() string {
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
		add(t.limitSentence(r.Map.Limits))
	}
	add(r.slowestSentence())
	add(t.outcomeSentence())
	if len(t.broken.names) == 0 {
		add(t.limitSentence(r.Map.Limits))
	}
	add(t.silentSentence())
	if t.fuelKnown && t.engineOff > 0 {
		add(fmt.Sprintf("The engine was off for %s s in all, which saved about %s mL of fuel.",
			Number(t.engineOff), Number(t.fuelSaved)))
	}
	if t.attention > 0 {
		add(fmt.Sprintf("%s below.", decode.Counted(int64(t.attention), "finding needs attention", "findings need attention")))
	}
	return strings.Join(parts, " ")
}

func (r *Report) stopsSentence(t tally) string {
	over := ""
	if t.logs > 1 {
		over = fmt.Sprintf(" over %d logs", t.logs)
	}
	if blind := len(r.Logs) - t.logs; blind > 0 && t.logs > 0 {
		over += fmt.Sprintf(" (%s no engine speed and cannot be measured)", decode.Counted(int64(blind), "further log shows", "further logs show"))
	}
	switch {
	case t.opportunities > 0 && t.stops == 0:
		return fmt.Sprintf("The engine was never stopped in %s%s.", decode.Counted(int64(t.opportunities), "standstill", "standstills"), over)
	case t.opportunities > 0:
		return fmt.Sprintf("The engine was stopped in %d of %s%s.", t.stops, decode.Counted(int64(t.opportunities), "standstill", "standstills"), over)
	case t.episodes > 0:
		return fmt.Sprintf("%s of the engine%s.", decode.Counted(int64(t.episodes), "stop", "stops"), over)
	case r.Map.RoleSignal(decode.VehicleSpeed) == nil:
		return fmt.Sprintf("No stop of the engine%s. No signal has the role vehicle_speed, so nothing can be said of standstills.", over)
	}
	return fmt.Sprintf("No stop of the engine, and no standstill of at least %s s in which it could have been stopped%s.",
		Number(r.Map.Settings.MinStandstill.Seconds()), over)
}

func (t *tally) reasonSentence() string {
	var parts []string
	for _, name := range t.reasons.names {
		parts = append(parts, fmt.Sprintf("%s (%s)", name, Times(t.reasons.counts[name])))
	}
	s := ""
	if len(parts) > 0 {
		s = "It was kept running by " + list(parts) + "."
	}
	if t.unexplained > 0 {
		s += fmt.Sprintf(" %s: nothing in the map explains why the engine ran on.", decode.Counted(int64(t.unexplained), "standstill stays unexplained", "standstills stay unexplained"))
	}
	if t.cannotTell > 0 {
		s += fmt.Sprintf(" For %s it cannot be told.", decode.Counted(int64(t.cannotTell), "standstill", "standstills"))
	}
	if t.open > 0 {
		s += fmt.Sprintf(" %s.", decode.Counted(int64(t.open), "standstill was not recorded to its end", "standstills were not recorded to their ends"))
	}
	return strings.TrimSpace(s)
}

// slowestSentence tells of the restart that took longest.
func (r *Report) slowestSentence() string {
	const key = "restart_latency"
	var slowest analyze.MetricValue
	var of *analyze.Episode
	var log *Log
	var absent analyze.Reason
	n := 0
	for i := range r.Logs {
		for k := range r.Logs[i].Result.Episodes {
			e := &r.Logs[i].Result.Episodes[k]
			m, ok := MetricOf(e.Metrics, key)
			if !ok {
				if absent == nil && e.Running != nil && e.Outcome != analyze.Aborted {
					absent = m.Absent
				}
				continue
			}
			n++
			if of == nil || of.Outcome == analyze.InGap || m.Best > slowest.Best && e.Outcome != analyze.InGap {
				slowest, of, log = m, e, &r.Logs[i]
			}
		}
	}
	if of == nil {
		if absent == nil {
			return ""
		}
		return "How long a restart took cannot be said: " + Visible(ReasonText(absent)) + "."
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
			s += ": " + LimitWord(v, slowest.Unit).Text
		}
	}
	return s + "."
}

func (t *tally) outcomeSentence() string {
	var parts []string
	add := func(n int, one, many string) {
		if n > 0 {
			parts = append(parts, decode.Counted(int64(n), one, many))
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

func (t *tally) limitSentence(limits []decode.Limit) string {
	switch {
	case t.judged == 0 && len(t.unseen.names) == 0:
		return ""
	case len(t.broken.names)+len(t.borderline.names)+len(t.unseen.names) == 0:
		if never := t.neverJudged(limits); never != "" {
			return "Every limit that could be judged is kept. Not judged: " + never + "."
		}
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

// neverJudged names the limits that no episode could be held against, as their metric
// was absent in all.
func (t *tally) neverJudged(limits []decode.Limit) string {
	var names []string
	for _, l := range limits {
		if name := Spoken(l.Metric); !slices.Contains(t.limits.names, l.Metric) && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return list(names)
}

// brokenText says how often a metric broke its limit, and its worst value.
func (t *tally) brokenText(name string) string {
	n := t.broken.counts[name]
	text := Spoken(name) + " " + Times(n)
	worst, ok := t.worst[name]
	if !ok {
		return text
	}
	at := ""
	if n > 1 {
		at = "at worst "
	}
	v := worst.value
	return fmt.Sprintf("%s (%s%s %s, limit %s)", text, at, units.Round(v.Best, v.Low, v.High), v.Unit, LimitWords(worst.limit, v.Unit))
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
	return fmt.Sprintf("Fell silent in %d of %s: %s.", t.silentEpisodes, decode.Counted(int64(t.episodes), "episode", "episodes"), list(names))
}
