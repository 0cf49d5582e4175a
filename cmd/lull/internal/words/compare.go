package words

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/stats"
)

// CompareReport is two sides held against each other.
type CompareReport struct {
	Version       string // of lull
	Before, After *decode.Map
	*compare.Comparison
}

// SideOf makes a side of a report's logs.
func SideOf(r *Report) compare.Side {
	s := compare.Side{Map: r.Map}
	for i := range r.Logs {
		l := &r.Logs[i]
		s.Logs = append(s.Logs, analyze.Log{Name: l.Name, SHA256: l.SHA256, Result: l.Result})
	}
	return s
}

// Answer says in sentences what the comparison shows, over all episodes: first what was
// wrong and what became of it.
func (c *CompareReport) Answer() []string {
	if len(c.Groups) == 0 {
		list := []string{NothingCompared}
		for _, note := range c.Notes {
			if _, out := note.(compare.LeftOut); out {
				list = append(list, sentenceCase(Visible(ComparisonNote(note)))+".")
			}
		}
		return list
	}
	list := c.Complaint()
	for i := range c.Groups {
		list = append(list, c.GroupAnswer(&c.Groups[i])...)
	}
	return list
}

// wrong is something that went wrong, and how often on either side.
type wrong struct {
	key           string // of the metric or the rate
	text, of      string
	plain         string        // text for a person who knows no bus
	limit         *decode.Limit // that was broken; nil of a rate
	before, after stats.Rate
}

// wrongs are what a customer may have complained of: what failed, limits that were broken,
// modules that dropped off the bus, an engine that ran on for no reason; on either side.
func (c *CompareReport) wrongs() []wrong {
	var list []wrong
	add := func(w wrong) {
		if w.before.Count+w.after.Count > 0 {
			list = append(list, w)
		}
	}
	rates := func(key, text, plain string) {
		w := wrong{key: key, text: text, of: rateWords[key].of, plain: plain}
		for i := range c.Groups {
			for _, r := range c.Groups[i].Rates {
				if r.Key == key {
					w.before.Count, w.before.Of = w.before.Count+r.Before.Count, w.before.Of+r.Before.Of
					w.after.Count, w.after.Of = w.after.Count+r.After.Count, w.after.Of+r.After.Of
				}
			}
		}
		add(w)
	}
	rates("failed_start", "the engine stalled or did not start at once", "the engine stalled or did not start at once")
	for _, l := range c.Limits {
		add(wrong{key: l.Metric, text: Spoken(l.Metric) + " out of limits", of: "episodes", plain: plainBroken(l.Limit), limit: &l.Limit,
			before: stats.Rate{Count: l.Before.Outside, Of: l.Before.Of()}, after: stats.Rate{Count: l.After.Outside, Of: l.After.Of()}})
	}
	rates("module_silent", "modules dropped off the bus", "control units fell silent")
	rates("unexplained", "the engine kept running for no reason found", plainUnexplained)
	return list
}

// Complaint says in two sentences what was wrong before, and what of it is left or new
// after.
func (c *CompareReport) Complaint() []string {
	var before, left, added []string
	for _, w := range c.wrongs() {
		if w.before.Count > 0 {
			before = append(before, fmt.Sprintf("%s in %s %s", w.text, OfText(w.before), w.of))
		}
		if w.after.Count > 0 {
			text := fmt.Sprintf("%s in %s %s", w.text, OfText(w.after), w.of)
			if w.before.Count > 0 {
				left = append(left, text)
			} else {
				added = append(added, text)
			}
		}
	}
	first := "Before: nothing was out of limits, and nothing failed."
	if len(before) > 0 {
		first = "Before: " + list(before) + "."
	}
	second, but := "After: ", "new: "
	switch {
	case len(left) > 0:
		second += "still " + list(left)
	case len(before) > 0:
		second += "none of that in " + c.afterText("episodes")
	case len(added) == 0:
		second += "nothing either"
	default:
		but = ""
	}
	if len(added) > 0 {
		if left != nil || before != nil {
			second += "; but "
		}
		second += but + list(added)
	}
	if text := c.undecidedAfter(); text != "" {
		second += "; too close to the limit to call: " + text
	}
	return []string{first, second + "."}
}

// afterText counts, after, what the complaints before were counted in; episodes are called
// what is given.
func (c *CompareReport) afterText(episodes string) string {
	var parts []string
	for _, w := range c.wrongs() {
		text := fmt.Sprintf("%d %s", w.after.Of, strings.Replace(w.of, "episodes", episodes, 1))
		if w.before.Count > 0 && w.after.Of > 0 && !slices.Contains(parts, text) {
			parts = append(parts, text)
		}
	}
	if len(parts) == 0 {
		return decode.Counted(int64(c.Comparison.After.Episodes), strings.TrimSuffix(episodes, "s"), episodes)
	}
	return list(parts)
}

// undecidedAfter says in how many episodes after it cannot be told whether a limit was kept.
func (c *CompareReport) undecidedAfter() string {
	var parts []string
	for _, l := range c.Limits {
		if n := l.After.Borderline; n > 0 {
			parts = append(parts, fmt.Sprintf("%s in %d of %d episodes", Spoken(l.Metric), n, l.After.Of()))
		}
	}
	return list(parts)
}

// told reports whether a metric has a limit, or is one of which it is always told that no
// change was shown.
func (c *CompareReport) told(key string) bool {
	return slices.Contains(tellAlways, key) || slices.ContainsFunc(c.Limits, func(l compare.Limit) bool { return l.Metric == key })
}

// Drawn reports whether a metric's values are drawn beside the answer: it changed, or it has a
// limit, or customers complain of it. Of the others the answer says enough.
func (c *CompareReport) Drawn(m compare.Metric) bool {
	changed := m.Verdict == compare.Better || m.Verdict == compare.Worse || m.Verdict == compare.Changed
	return changed || m.Verdict != compare.Missing && c.told(m.Key)
}

// RateVerdict says what became of a rate.
func RateVerdict(r compare.Rate) string {
	if r.Verdict != compare.NoChangeShown {
		return string(r.Verdict)
	}
	if r.Before.Count*r.After.Of == r.After.Count*r.Before.Of {
		return "no difference seen"
	}
	return "may be chance"
}

// GroupAnswer is what the comparison of one group says aloud: how many figures changed, the
// worse ones, then those with a limit, then the rest; small changes together.
func (c *CompareReport) GroupAnswer(g *compare.Group) []string {
	var worse, changes, small, others, silent []string
	counts := map[compare.Verdict]int{}
	for _, r := range g.Rates {
		counts[r.Verdict]++
		if r.Verdict == compare.Better || r.Verdict == compare.Worse {
			words := rateWords[r.Key]
			text := fmt.Sprintf("%s in %s %s before, in %s after.", words.sentence, OfText(r.Before), words.of, OfText(r.After))
			switch {
			case r.Verdict == compare.Worse:
				worse = append(worse, text)
			case r.Key == "stopped":
				changes = append(changes, text)
			} // the others are the complaint, which was told
		}
	}
	few := map[[2]int][]string{}
	var fewOrder, alone [][2]int // sizes too small for any metric, and for one metric alone
	metrics := slices.Clone(g.Metrics)
	slices.SortStableFunc(metrics, func(a, b compare.Metric) int { return order(c.told(a.Key), c.told(b.Key)) })
	for _, m := range metrics {
		counts[m.Verdict]++
		sizes := [2]int{m.Before.N, m.After.N}
		if m.Verdict == compare.NoChangeShown && !c.Alone(sizes[0], sizes[1]) && !slices.Contains(alone, sizes) {
			alone = append(alone, sizes)
		}
		changed := m.Verdict == compare.Better || m.Verdict == compare.Worse || m.Verdict == compare.Changed
		switch {
		case changed && !c.told(m.Key) && slight(m):
			small = append(small, Spoken(m.Key)+" "+Shift(m)+" "+m.Unit)
		case m.Verdict == compare.Worse:
			worse = append(worse, change(m))
		case changed:
			changes = append(changes, change(m))
		case m.Verdict == compare.NoChangeShown && c.told(m.Key):
			others = append(others, noChange(m))
		case m.Verdict == compare.TooFew:
			if few[sizes] == nil {
				fewOrder = append(fewOrder, sizes)
			}
			few[sizes] = append(few[sizes], Spoken(m.Key))
		case m.Verdict == compare.NoChangeShown:
			silent = append(silent, Spoken(m.Key))
		}
	}
	comparable := slices.ContainsFunc(g.Metrics, func(m compare.Metric) bool { return m.Verdict != compare.Missing })
	first := verdictsSentence(counts)
	switch {
	case !comparable:
		first = NothingCompared
	case counts[compare.Better]+counts[compare.Worse]+counts[compare.Changed] == 0:
		first = "No change was shown."
	}
	if len(small) > 0 {
		changes = append(changes, "Small changes: "+strings.Join(small, ", ")+".")
	}
	for _, sizes := range fewOrder {
		others = append(others, tooFew(few[sizes], sizes[0], sizes[1]))
	}
	if len(silent) > 0 {
		others = append(others, "No change shown either: "+strings.Join(silent, ", ")+".")
	}
	for _, sizes := range alone {
		others = append(others, tooFewAlone(sizes[0], sizes[1], c.Family))
	}
	return slices.Concat([]string{first}, worse, changes, others)
}

// order puts what is true first.
func order(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// slightChange is the share of a metric's value up to which a change is told in one line
// with others.
const slightChange = 0.05

// slightWait is up to how many seconds no driver notices a change.
const slightWait = 0.02

// slight reports whether a change is small: against the value that changed, or for a person
// who waits.
func slight(m compare.Metric) bool {
	return m.Unit == "s" && math.Abs(m.Shift.Value) <= slightWait || math.Abs(m.Shift.Value) <= slightChange*max(math.Abs(m.Before.Median), math.Abs(m.After.Median))
}

// verdictsSentence says in one sentence what came of all figures, metrics and rates.
func verdictsSentence(counts map[compare.Verdict]int) string {
	worse := "none"
	if n := counts[compare.Worse]; n > 0 {
		worse = strconv.Itoa(n)
	}
	better := "no measurement"
	if n := counts[compare.Better]; n > 0 {
		better = decode.Counted(int64(n), "measurement", "measurements")
	}
	s := fmt.Sprintf("After the repair: better in %s, worse in %s", better, worse)
	if n := counts[compare.Changed]; n > 0 {
		s += fmt.Sprintf("; %d changed, neither better nor worse", n)
	}
	if n := counts[compare.NoChangeShown]; n > 0 {
		s += fmt.Sprintf("; %d without a change shown", n)
	}
	if n := counts[compare.TooFew]; n > 0 {
		s += fmt.Sprintf("; %d with too few values to tell", n)
	}
	return s + "."
}

// NothingCompared stands where there is no verdict at all.
const NothingCompared = "Nothing measured is there on both sides."

// rateWords are the rates by their keys.
var rateWords = map[string]struct{ name, sentence, of string }{
	"stopped":       {"engine stopped when it could have been", "The engine was stopped", "standstills"},
	"unexplained":   {"engine kept running for no reason found", "The engine kept running for no reason found", "standstills"},
	"failed_start":  {"stalled or did not start at once", "The engine stalled or did not start at once", "episodes"},
	"module_silent": {"modules dropped off the bus", "Modules dropped off the bus", "episodes"},
	"outside_limit": {"a limit broken", "A limit was broken", "episodes"},
}

// OfText writes a rate as a count: "3 of 7".
func OfText(r stats.Rate) string { return fmt.Sprintf("%d of %d", r.Count, r.Of) }

// SideText says how many episodes a side has, and in which logs.
func SideText(c compare.Count) string {
	names := make([]string, len(c.Logs))
	for i, name := range c.Logs {
		names[i] = Visible(name)
	}
	return fmt.Sprintf("%s in %s", decode.Counted(int64(c.Episodes), "episode", "episodes"), strings.Join(names, ", "))
}

// Remarks are what should be known before the comparison is believed, in what the
// sides were driven alike, and the limits held against both.
func (c *CompareReport) Remarks() []string {
	var list []string
	for _, note := range c.Notes {
		list = append(list, Visible(ComparisonNote(note)))
	}
	for i := range c.Groups {
		list = append(list, CircumstanceLines(c.Groups[i].Circumstances)...)
	}
	for _, l := range c.Limits {
		list = append(list, LimitSentence(l))
	}
	return list
}

// CircumstanceLines tell in what the sides were not driven alike, and in what they
// were.
func CircumstanceLines(list []compare.Circumstance) []string {
	apart, alike := circumstances(list)
	return slices.DeleteFunc([]string{apart, alike}, func(line string) bool { return line == "" })
}

// circumstances are a sentence on what was not alike on both sides, and one on what was;
// empty where there is nothing of it.
func circumstances(list []compare.Circumstance) (different, same string) {
	var apart, alike []string
	for _, c := range list {
		text := Visible(c.Signal)
		switch {
		case !c.Known:
		case c.Alike:
			alike = append(alike, text)
		default:
			apart = append(apart, fmt.Sprintf("%s %s to %s %s before, %s to %s %s after", text, Number(c.Before.Min), Number(c.Before.Max), Visible(c.Unit), Number(c.After.Min), Number(c.After.Max), Visible(c.Unit)))
		}
	}
	if len(apart) > 0 {
		different = "Not alike on both sides: " + strings.Join(apart, "; ") + ". What differs may be due to that."
	}
	if len(alike) > 0 {
		same = "Alike on both sides: " + strings.Join(alike, ", ") + "."
	}
	return different, same
}

// LimitSentence says how often a limit was broken on either side.
func LimitSentence(l compare.Limit) string {
	return fmt.Sprintf("Limit on %s: broken in %d of %d before, in %d of %d after%s.", limitText(l),
		l.Before.Outside, l.Before.Of(), l.After.Outside, l.After.Of(), borderlineText(l))
}

func borderlineText(l compare.Limit) string {
	text := ""
	if l.Before.Borderline+l.After.Borderline > 0 {
		text = fmt.Sprintf("; cannot be told in %d and %d", l.Before.Borderline, l.After.Borderline)
	}
	if l.Before.Unseen+l.After.Unseen > 0 {
		text += fmt.Sprintf("; not enough was seen in %d and %d", l.Before.Unseen, l.After.Unseen)
	}
	return text
}

// unitOf is the unit of a metric.
func unitOf(key string) string {
	m, _ := measure.MetricByKey(key)
	return m.Unit
}

// ChangeLegend says what the change of a metric is, so that nobody takes it for the
// difference of the medians beside it.
const ChangeLegend = "Change: the middle of all differences between a value after and one before, not the difference of the medians."

// CompareMethod says how the figures of a comparison came about.
const CompareMethod = "Shift: Hodges-Lehmann estimate, after less before, with its distribution-free interval of at least 95 % where there are enough values. " +
	"p: two-sided rank test, of rates Fisher's exact test, both made honest about their number (Holm)."

// RateName names a rate.
func RateName(r compare.Rate) string { return rateWords[r.Key].name }

// limitText names a limit as the map gives it.
func limitText(l compare.Limit) string {
	text := Spoken(l.Metric)
	if l.HasMin {
		text += ", at least " + Shortest(l.Min)
	}
	if l.HasMax {
		text += ", at most " + Shortest(l.Max)
	}
	return strings.TrimSpace(text + " " + unitOf(l.Metric))
}
