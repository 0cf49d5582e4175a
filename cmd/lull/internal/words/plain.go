package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/decode"
	"lull/pkg/stats"
)

// The verdict of a sheet: the answer for a person who knows no bus. It is made of what the
// answer is made of, and its figures stand in the picture beside it.

// mostPlain is of how many sentences a verdict is at the most.
const mostPlain = 3

// tooHigh and tooLow say of metrics what was wrong where they were above their limit, and below it.
var (
	tooHigh = map[string]string{
		"run_down":          "the engine took too long to come to rest",
		"stop_duration":     "the engine rested too long",
		"engine_off":        "the engine was off too long",
		"restart_latency":   "the engine took too long to start again",
		"request_to_crank":  "the starter engaged too late",
		"crank_to_run":      "the starter had to turn the engine too long",
		"flare":             "the engine raced too high after the start",
		"voltage_dip":       "the battery voltage fell too far while starting",
		"low_voltage_time":  "the battery voltage was low for too long",
		"voltage_recovery":  "the battery voltage came back too late",
		"source_resistance": "battery and cables had too much resistance",
		"take_off_delay":    "the car set off too late",
		"take_off_shock":    "the car set off with too hard a jerk",
	}
	tooLow = map[string]string{
		"crank_speed":       "the starter turned the engine too slowly",
		"voltage_before":    "the battery voltage was too low before the start",
		"voltage_min":       "the battery voltage fell too low while starting",
		"module_supply_min": "the supply of the control units fell too low while starting",
		"hold_pressure_min": "the hydraulic pressure fell too low while the engine was off",
		"fuel_saved":        "a stop saved too little fuel",
	}
)

// plainBroken says what is wrong where a limit is broken.
func plainBroken(l decode.Limit) string {
	text := ""
	switch {
	case l.HasMin && l.HasMax: // either side may be
	case l.HasMin:
		text = tooLow[l.Metric]
	default:
		text = tooHigh[l.Metric]
	}
	return cmp.Or(text, Spoken(l.Metric)+" was out of limits")
}

// Status is what is seen of a result at arm's length.
func (r *Report) Status() Word {
	t := r.tally()
	switch {
	case r.Credence().Weight() == 0 && len(r.Logs) > 0:
		return Word{"Cannot be used", Bad}
	case t.wrong():
		return Word{"Something is wrong", Bad}
	case t.opportunities+t.episodes == 0:
		return Word{"The engine was never stopped", Doubtful}
	case t.attention.lines > 0:
		return Word{"Something is to be looked at", Doubtful}
	case t.doubted > 0:
		return Word{"Take care: doubtful figures", Doubtful}
	case t.onlyUndecided():
		return Word{"Nothing wrong was found, but not all could be judged", Doubtful}
	case t.judged == 0:
		return Word{"Nothing wrong was found, but there is no limit to judge by", Doubtful}
	}
	return Word{"Nothing wrong was found", Good}
}

// wrong reports whether something went wrong that the sheet tells.
func (t *tally) wrong() bool {
	return len(t.failures.unstarted)+len(t.failures.stalled)+len(t.failures.retried)+len(t.broken.names)+len(t.silentIn)+len(t.unexplained) > 0
}

// Verdict is the answer in at most three sentences for a person who knows no bus.
func (r *Report) Verdict() []string {
	t := r.tally()
	if t.logs == 0 && len(r.Logs) > 0 {
		return []string{r.TrustText()}
	}
	var list []string
	add := func(s string) {
		if s != "" && len(list) < mostPlain {
			list = append(list, s)
		}
	}
	add(t.plainFailures())
	var parts []string
	for _, name := range t.brokenInOrder() {
		parts = append(parts, fmt.Sprintf("%s %d of %d times", plainBroken(t.worst[name].limit), t.broken.counts[name], t.limits.counts[name]))
	}
	if n := len(t.silentIn); n > 0 {
		parts = append(parts, fmt.Sprintf("%s fell silent %d of %d times", firstOf(t.silent.names), n, t.episodes))
	}
	if len(parts) > 0 {
		add(Sentence(firstOf(parts)))
	}
	if t.slowByMind() {
		add("The waits were too long only where the driver wanted to go again before the engine had come to rest, which adds to them.")
	}
	if n := len(t.unexplained); n > 0 {
		add(Sentence(fmt.Sprintf("at %d of %d standstills %s", n, t.opportunities, plainUnexplained)))
	}
	if !t.wrong() {
		switch {
		case t.opportunities+t.episodes == 0:
			add(r.stopsSentence(t))
		case len(t.attention.kinds.names) > 0:
			add("Look at this: " + firstOf(t.attention.kinds.names) + ".")
		case t.onlyUndecided():
			add(t.plainUndecided())
		}
	}
	for _, name := range t.bySystem.names {
		add(fmt.Sprintf("The car restarted the engine by itself %s: %s.", Times(t.bySystem.counts[name]), name))
	}
	add(t.limitsKept(r))
	return list
}

const plainUnexplained = "the engine kept running for no reason that could be found"

// plainUndecided says how many values are no verdict.
func (t *tally) plainUndecided() string {
	n := 0
	for _, c := range []counter{t.borderline, t.unseen} {
		for _, name := range c.names {
			n += c.counts[name]
		}
	}
	return decode.Counted(int64(n), "value is", "values are") + " too close to the limit to call, or too little of it was seen."
}

// limitsKept says that what was judged is within limits.
func (t *tally) limitsKept(r *Report) string {
	if len(t.broken.names)+len(t.borderline.names)+len(t.unseen.names) > 0 {
		return ""
	}
	return t.limitSentence(r.Map.Limits)
}

// plainFailures tells of starts that failed.
func (t *tally) plainFailures() string {
	f := &t.failures
	var parts []string
	for _, p := range []struct {
		text   string
		places []place
	}{{"did not start again", f.unstarted}, {"stalled", f.stalled}, {"started only at a further attempt", f.retried}} {
		if n := len(p.places); n > 0 {
			parts = append(parts, fmt.Sprintf("%s %d of %d times", p.text, n, t.episodes))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "The engine " + list(parts) + "."
}

// Status is what is seen of a comparison at arm's length.
func (c *CompareReport) Status() Word {
	before, left, added := c.plainWrongs()
	switch {
	case len(left) > 0 && len(before) > 0:
		return Word{"Still wrong after the repair", Bad}
	case len(added) > 0:
		return Word{"Something is wrong after the repair", Bad}
	case c.Comparison.Before.Episodes == 0 || c.Comparison.After.Episodes == 0:
		return Word{"Too little was driven to compare", Doubtful}
	case c.undecidedAfter() != "":
		return Word{"Not all could be judged after the repair", Doubtful}
	case len(before) > 0:
		return Word{"Wrong before, nothing wrong after", Good}
	}
	return Word{"Nothing wrong before or after", Good}
}

// plainWrongs says in plain words what was wrong before, and what of it is left or new.
func (c *CompareReport) plainWrongs() (before, left, added []string) {
	for _, w := range c.wrongs() {
		text := func(r stats.Rate) string {
			if w.key == "unexplained" {
				return fmt.Sprintf("%s at %s standstills", w.plain, OfText(r))
			}
			return fmt.Sprintf("%s %s times", w.plain, OfText(r))
		}
		if w.before.Count > 0 {
			before = append(before, text(w.before))
		}
		switch {
		case w.after.Count > 0 && w.before.Count > 0:
			left = append(left, text(w.after))
		case w.after.Count > 0:
			added = append(added, text(w.after))
		}
	}
	return before, left, added
}

// Verdict is the answer in at most three sentences for a person who knows no bus.
func (c *CompareReport) Verdict() []string {
	before, left, added := c.plainWrongs()
	undecided := c.plainUndecided()
	first := "Before the repair nothing wrong was found."
	switch {
	case len(before) > 0:
		first = "Before the repair " + firstOf(before) + "."
	case c.Comparison.Before.Episodes == 0:
		first = "Before the repair the engine was never stopped."
	}
	second := "After it nothing wrong was found either."
	switch {
	case len(left) > 0 && len(added) > 0:
		second = "After it, still: " + firstOf(left) + "; new is that " + firstOf(added) + "."
	case len(left) > 0:
		second = "After it, still: " + firstOf(left) + "."
	case len(added) > 0:
		second = "After it " + firstOf(added) + "."
	case c.Comparison.After.Episodes == 0:
		second = "After it the engine was never stopped, so nothing can be said."
	case len(before) > 0 && undecided != "":
		second = "After it none of that was seen beyond doubt in " + c.afterText("stops") + "."
	case len(before) > 0:
		second = "After it none of that was seen in " + c.afterText("stops") + "."
	case c.Comparison.Before.Episodes == 0:
		second = "After it nothing wrong was found."
	}
	sentences := []string{first, second}
	if undecided != "" {
		sentences = append(sentences, undecided)
	} else if c.mayBeChance() {
		sentences = append(sentences, "So few stops cannot show that a change is more than chance.")
	}
	return sentences
}

// plainUndecided says what after the repair is too close to call.
func (c *CompareReport) plainUndecided() string {
	var parts []string
	for _, l := range c.Limits {
		if n := l.After.Borderline; n > 0 {
			parts = append(parts, fmt.Sprintf("whether %s is too close to the limit to call %d of %d times", plainBroken(l.Limit), n, l.After.Of()))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "After it, " + firstOf(parts) + "."
}

// mayBeChance reports whether no change at all was shown, and something was wrong.
func (c *CompareReport) mayBeChance() bool {
	changed := func(v compare.Verdict) bool { return v == compare.Better || v == compare.Worse || v == compare.Changed }
	for i := range c.Groups {
		g := &c.Groups[i]
		if slices.ContainsFunc(g.Metrics, func(m compare.Metric) bool { return changed(m.Verdict) }) ||
			slices.ContainsFunc(g.Rates, func(r compare.Rate) bool { return changed(r.Verdict) }) {
			return false
		}
	}
	return len(c.wrongs()) > 0
}

// Plain reports whether nothing went wrong in an episode, and nothing of it is in doubt: of
// those a report shows the row alone.
func (r *Report) Plain(l *Log, episode int) bool {
	e := &l.Result.Episodes[episode]
	worst, _ := e.Worst(r.Map)
	if Failed(e) || e.Moving || worst == analyze.Outside || worst == analyze.Borderline {
		return false
	}
	name := fmt.Sprintf("episode %d", e.N)
	return !slices.ContainsFunc(l.Result.Silences, func(s analyze.Silence) bool { return s.Episode == e.N }) &&
		!slices.ContainsFunc(l.Result.Findings, func(f analyze.Finding) bool {
			return f.Severity == analyze.Attention && slices.Contains(f.Evidence, name)
		})
}

// Sure says how far the figures can be believed: what is doubted, else how closely the
// restarts are known.
func (r *Report) Sure() string {
	var parts []string
	if doubts := r.TrustText(); doubts != "" {
		parts = append(parts, doubts)
	} else {
		parts = append(parts, "Nothing in what was recorded speaks against the figures.")
	}
	if r.drafted() {
		parts = append(parts, draftUnchecked)
	}
	widest := 0.0
	for _, l := range r.measuredLogs() {
		for i := range l.Result.Episodes {
			if m, ok := MetricOf(l.Result.Episodes[i].Metrics, "restart_latency"); ok {
				widest = max(widest, m.High-m.Low)
			}
		}
	}
	if widest > 0 && stats.Finite(widest) {
		parts = append(parts, fmt.Sprintf("How long a restart took is known to within %s s.", Fixed(widest, 2)))
	}
	return strings.Join(parts, " ")
}

// Sure says how far a comparison can be believed.
func (c *CompareReport) Sure() string {
	var parts []string
	for _, note := range c.Notes {
		parts = append(parts, Sentence(Visible(ComparisonNote(note))))
	}
	for i := range c.Groups {
		if apart, _ := circumstances(c.Groups[i].Circumstances); apart != "" {
			parts = append(parts, apart)
		}
	}
	return strings.Join(parts, " ")
}
