package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
)

// Answer is the one paragraph that says what came of all the logs, in sentences that can
// be said aloud: whether it can be believed, what went wrong, then the rest. Of logs that
// cannot be used it says nothing but that.
func (r *Report) Answer() string {
	parts := []string{r.TrustText(), "", r.Findings()}
	if r.drafted() {
		parts[1] = draftUnchecked
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}

const draftUnchecked = "The signal map is a draft that nobody has checked; change its notes once you have."

// Findings is the Answer without what is said of its trust: empty where no log can be used.
func (r *Report) Findings() string {
	t := r.tally()
	if t.logs == 0 && len(r.Logs) > 0 {
		return ""
	}
	var parts []string
	add := func(s string) {
		if s != "" {
			parts = append(parts, s)
		}
	}
	// What is wrong stands before what is right, and what it is good for last.
	limitsFirst, itself := len(t.broken.names) > 0, t.bySystemText()
	switch {
	case t.allRight() && itself != "":
		add("Nothing wrong was found, but the car " + itself)
	case t.allRight():
		add("Nothing wrong was found.")
	case t.onlyUndecided():
		if len(t.unseen.names) > 0 {
			add("Nothing wrong was found, but not all could be judged.")
		} else {
			add("Nothing wrong was found, but not all is certain.")
		}
		limitsFirst = true
	}
	if t.episodes > 0 && r.Map.RoleSignal(decode.VehicleSpeed) == nil {
		add(noRoadSpeed)
	}
	add(t.failures.sentence(len(r.Logs) > 1))
	if limitsFirst {
		add(t.limitSentence(r.Map.Limits))
	}
	if t.slowByMind() {
		add(t.outcomeSentence())
	}
	add(t.silentSentence())
	if !t.allRight() && itself != "" {
		add("The car " + itself)
	}
	if len(t.unasked) > 0 {
		add("Nothing that the signal map names asked for the restart in " + placesText("episode", t.unasked, t.all > 1) + ".")
	}
	add(t.unexplainedSentence())
	add(r.stopsSentence(t))
	add(t.reasonSentence())
	add(r.slowestSentence(t))
	if !t.slowByMind() {
		add(t.outcomeSentence())
	}
	if t.aborted > 0 {
		add(decode.Counted(int64(t.aborted), "stop was cancelled", "stops were cancelled") + ".")
	}
	if !limitsFirst {
		add(t.limitSentence(r.Map.Limits))
	}
	if len(r.Map.Limits) == 0 && t.judged == 0 && t.episodes > 0 {
		add("The signal map has no limits, so no figure was judged.")
	}
	if t.noneWrong() {
		add(r.fuelSentence(t)) // of a car that is broken nobody asks
	}
	if names := t.attention.kinds.names; len(names) > 0 {
		add("Look at the findings below: " + list(names) + ".")
	}
	return strings.Join(parts, " ")
}

// allRight reports whether limits were judged and standstills seen, and nothing at all was
// found wrong in them.
func (t *tally) allRight() bool {
	return t.judged > 0 && t.noneWrong() && t.cannotTell == 0 && len(t.borderline.names)+len(t.unseen.names) == 0
}

// onlyUndecided reports whether all that is to be said against the drives is that limits
// were too close to call, or not seen enough of to judge them.
func (t *tally) onlyUndecided() bool {
	return t.noneWrong() && len(t.borderline.names)+len(t.unseen.names) > 0
}

// noneWrong reports whether standstills were seen, and nothing is known to be wrong in them.
func (t *tally) noneWrong() bool {
	return t.opportunities > 0 && t.attention.lines == 0 && t.doubted == 0 &&
		len(t.failures.unstarted)+len(t.failures.stalled)+len(t.failures.retried) == 0 &&
		len(t.broken.names)+len(t.unexplained)+len(t.silentIn) == 0
}

// failures are the starts that failed, and in which episodes.
type failures struct {
	unstarted, stalled, retried []place
	how                         string // what the starter did in the first of unstarted, in brackets
}

// starterText says what the starter did in an episode in which the engine did not start.
func starterText(e *analyze.Episode) string {
	if len(e.Cranks) == 0 {
		return "the starter was never seen to engage"
	}
	var parts []string
	if speed, ok := MetricOf(e.Metrics, "crank_speed"); ok {
		text := fmt.Sprintf("it turned the engine at %s rpm", Fixed(speed.Best, 0))
		if speed.Best < turning {
			text = "the engine did not turn"
		}
		parts = append(parts, text)
	}
	if low, ok := MetricOf(e.Metrics, "voltage_min"); ok {
		parts = append(parts, fmt.Sprintf("the voltage fell to %s V", Fixed(low.Best, 2)))
	}
	if len(parts) == 0 {
		return "the starter was on"
	}
	return "the starter was on, " + list(parts)
}

// turning is the speed in rpm below which a starter does not turn an engine: it is stuck, or
// the starter does not mesh. Common practice, no source.
const turning = 30

// place is an episode of a log by its number, or a standstill by its time: "3", "at 9.50 s".
type place struct{ log, text string }

// sentence tells of them, worst first; named adds the logs' names.
func (f *failures) sentence(named bool) string {
	var parts []string
	add := func(text string, places []place) {
		if len(places) > 0 {
			parts = append(parts, text+" in "+placesText("episode", places, named))
		}
	}
	if len(f.unstarted) > 0 {
		parts = append(parts, "did not start in "+placesText("episode", f.unstarted, named)+f.how)
	}
	add("stalled", f.stalled)
	add("needed more than one attempt", f.retried)
	if len(parts) == 0 {
		return ""
	}
	return "The engine " + list(parts) + "."
}

// mostNamed bounds how many places, modules or facts a sentence names.
const mostNamed = 4

// firstOf lists the first of some parts, and counts the others.
func firstOf(parts []string) string {
	if more := len(parts) - mostNamed; more > 0 {
		parts = append(slices.Clone(parts[:mostNamed]), fmt.Sprintf("%d more", more))
	}
	return list(parts)
}

// placesText names what the places are, and them: "episodes 3 and 5", "standstill at 9.50 s".
func placesText(what string, places []place, named bool) string {
	var texts []string
	for _, p := range places {
		text := p.text
		if named {
			text += " of " + Visible(p.log)
		}
		texts = append(texts, text)
	}
	return decode.Pick(len(places), what+" ", what+"s ") + firstOf(texts)
}

func (r *Report) stopsSentence(t tally) string {
	over := ""
	if t.logs > 1 {
		over = fmt.Sprintf(" over %d logs", t.logs)
	}
	s := ""
	switch {
	case t.opportunities > 0 && t.stops == 0:
		s = fmt.Sprintf("The engine was never stopped in %s%s.", decode.Counted(int64(t.opportunities), "standstill", "standstills"), over)
	case t.opportunities > 0:
		s = fmt.Sprintf("The engine was stopped in %d of %s%s.", t.stops, decode.Counted(int64(t.opportunities), "standstill", "standstills"), over)
	case t.stopped() > 0:
		s = fmt.Sprintf("The engine was stopped %s%s.", Times(t.stopped()), over)
	case t.episodes > 0:
	case r.Map.RoleSignal(decode.VehicleSpeed) == nil:
		s = fmt.Sprintf("The engine was never stopped%s. %s", over, noRoadSpeed)
	default:
		s = fmt.Sprintf("The engine was never stopped, and there was no standstill of at least %s s in which it could have been%s.",
			Number(r.Map.Settings.MinStandstill.Seconds()), over)
	}
	if t.moving > 0 {
		s += fmt.Sprintf(" It was stopped %s while the vehicle was moving.", Times(t.moving))
		if t.episodes == t.moving && t.opportunities == 0 {
			s = fmt.Sprintf("The engine was stopped %s while the vehicle was moving%s.", Times(t.moving), over)
		}
	}
	return strings.TrimSpace(s)
}

// stopped is how often the engine was stopped by the car, and not while it moved.
func (t *tally) stopped() int { return t.episodes - t.moving - t.aborted - len(t.failures.stalled) }

const noRoadSpeed = "No standstill can be judged, as no signal of the map has the role vehicle_speed: add it."

// bySystemText tells of restarts that the car asked for, not the driver, as what a car does: it may have had
// to, as with a battery that is nearly empty.
func (t *tally) bySystemText() string {
	var parts []string
	for _, name := range t.bySystem.names {
		parts = append(parts, name+" ("+t.bySystemIs[name]+placesText("episode", t.bySystemIn[name], t.all > 1)+")")
	}
	if len(parts) == 0 {
		return ""
	}
	return "asked for a restart by itself: " + list(parts) + "."
}

func (t *tally) unexplainedSentence() string {
	n := len(t.unexplained)
	if n == 0 {
		return ""
	}
	why, after := " for no known reason", ": none of those that the signal map names was there"
	if t.noInhibits {
		why, after = "; why cannot be told, as the signal map names no inhibits", ""
	} else if t.oneInhibit != "" {
		after = ": the signal map names only one, " + t.oneInhibit + ", which was not there"
	}
	return fmt.Sprintf("In %d of %s the engine kept running%s (%s)%s.", n,
		decode.Counted(int64(t.opportunities), "standstill", "standstills"), why, placesText("standstill", t.unexplained, t.all > 1), after)
}

func (t *tally) reasonSentence() string {
	var parts []string
	for _, name := range t.reasons.names {
		parts = append(parts, fmt.Sprintf("%s (%s)", name, Times(t.reasons.counts[name])))
	}
	s := ""
	if len(parts) > 0 {
		s = "What kept it running: " + list(parts) + "."
	}
	if t.cannotTell > 0 {
		s += fmt.Sprintf(" Why it kept running cannot be told for %s.", decode.Counted(int64(t.cannotTell), "standstill", "standstills"))
	}
	if t.open > 0 {
		s += fmt.Sprintf(" %s.", decode.Counted(int64(t.open), "standstill was not recorded to its end", "standstills were not recorded to their ends"))
	}
	return strings.TrimSpace(s)
}

// slowestSentence tells of the restart that took longest.
func (r *Report) slowestSentence(t tally) string {
	const key = "restart_latency"
	var slowest analyze.MetricValue
	var of *analyze.Episode
	var log *Log
	absent, n := analyze.Reason(nil), 0
	for _, l := range r.measuredLogs() {
		for k := range l.Result.Episodes {
			e := &l.Result.Episodes[k]
			m, ok := MetricOf(e.Metrics, key)
			if !ok {
				if absent == nil && e.Running != nil && e.Outcome != analyze.Aborted {
					absent = m.Absent
				}
				continue
			}
			n++
			if of == nil || of.Outcome == analyze.InGap || m.Best > slowest.Best && e.Outcome != analyze.InGap {
				slowest, of, log = m, e, l
			}
		}
	}
	if t.broken.counts[key] > 0 {
		return "" // it is told with the limits
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
	took, _ := MetricText(slowest)
	s := subject + " " + took
	for _, v := range of.Limits {
		if v.Limit.Metric == key && v.Verdict == analyze.Inside { // else it is told with the limits
			s += ", " + LimitWord(v, slowest.Unit).Text
		}
	}
	s += fmt.Sprintf(", in episode %d", of.N)
	if len(r.Logs) > 1 {
		s += " of " + Visible(log.Name)
	}
	if of.Request != nil {
		s += " (request: " + Visible(r.Map.Requests[of.Request.Condition].Name) + ")"
	}
	return s + "."
}

// slowByMind reports whether all restarts that took too long were changes of mind.
func (t *tally) slowByMind() bool {
	return len(t.slow) > 0 && !slices.ContainsFunc(t.slow, func(p place) bool { return !slices.Contains(t.minds, p) })
}

// othersQuick is how many restarts, of those that were not too slow, were surely within all
// limits on the wait; 0 where that is not sure of all.
func (t *tally) othersQuick() int {
	judged := 0
	for _, name := range t.limits.names {
		if m, _ := measure.MetricByKey(name); m.Family == measure.Wait {
			if t.borderline.counts[name]+t.unseen.counts[name] > 0 {
				return 0
			}
			judged = max(judged, t.limits.counts[name])
		}
	}
	return judged - len(t.slow)
}

// outcomeSentence tells of changes of mind: that they are why restarts took too long, where
// that is so.
func (t *tally) outcomeSentence() string {
	const asked = "was asked for before the engine had stopped turning (change of mind, %s)"
	switch {
	case t.slowByMind():
		s := fmt.Sprintf("That happened only where a restart "+asked+": these times include the wait for it to come to rest.", placesText("episode", t.slow, t.all > 1))
		if n := t.othersQuick(); n > 0 {
			s += " The other " + decode.Pick(n, "restart was", "restarts were") + " fast enough."
		}
		return s
	case len(t.minds) > 0:
		return fmt.Sprintf("%s a restart "+asked+".", sentenceCase(Times(len(t.minds))), placesText("episode", t.minds, t.all > 1))
	}
	return ""
}

// fuelSentence says what the idle stops saved; stalls save nothing.
func (r *Report) fuelSentence(t tally) string {
	if !t.fuelKnown || t.engineOff <= 0 {
		return ""
	}
	assumed := ""
	if r.Map.RoleSignal(decode.FuelRate) == nil {
		assumed = fmt.Sprintf(", if it idles at %s L/h", Number(r.Map.Settings.IdleFuelRate))
	}
	where := "in all"
	if n := t.savedIn; n < t.episodes-t.aborted {
		where = "in the " + decode.Counted(int64(n), "stop that ended", "stops that ended") + " in a restart"
	}
	return fmt.Sprintf("The engine was off for %s s %s, which saved about %s mL of fuel%s.", Fixed(t.engineOff, 1), where, Fixed(t.fuelSaved, 1), assumed)
}

func (t *tally) limitSentence(limits []decode.Limit) string {
	switch {
	case t.judged == 0 && len(t.unseen.names) == 0:
		return ""
	case len(t.broken.names)+len(t.borderline.names)+len(t.unseen.names) == 0:
		if never := t.neverJudged(limits); never != "" {
			return "All values that could be judged are within limits. Not judged: " + never + "."
		}
		if t.opportunities > 0 && !t.noneWrong() {
			return "The restarts are within limits."
		}
		return "All values are within limits."
	}
	s := ""
	if len(t.broken.names) > 0 {
		var parts []string
		for _, name := range t.brokenInOrder() {
			parts = append(parts, t.brokenText(name))
		}
		s = "Out of limits: " + list(parts) + "."
	}
	if len(t.borderline.names) > 0 {
		var parts []string
		for _, name := range t.borderline.names {
			text := Spoken(name) + " in " + placesText("episode", t.borderlineIn[name], t.all > 1)
			if i := slices.IndexFunc(limits, func(l decode.Limit) bool { return l.Metric == name }); i >= 0 {
				text += " (" + limitIs(limits[i], unitOf(name)) + ")"
			}
			parts = append(parts, text)
		}
		s += " Too close to the limit to call: " + list(parts) + "."
	}
	if len(t.unseen.names) > 0 {
		s += " Not enough was seen to judge the limits of: " + t.unseen.listed() + "."
	}
	return strings.TrimSpace(s)
}

// brokenInOrder are the metrics whose limits were broken, the likeliest cause first: what is
// always out of limits, or as often and in the supply, may be the cause of the others.
func (t *tally) brokenInOrder() []string {
	share := func(name string) float64 { return float64(t.broken.counts[name]) / float64(t.limits.counts[name]) }
	supply := func(name string) bool { m, _ := measure.MetricByKey(name); return m.Family == measure.Supply }
	return slices.SortedStableFunc(slices.Values(t.broken.names), func(a, b string) int {
		return cmp.Or(cmp.Compare(share(b), share(a)), order(supply(a), supply(b)))
	})
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
	judged := t.limits.counts[name]
	text := fmt.Sprintf("%s in %d of %s", Spoken(name), n, decode.Counted(int64(judged), "episode", "episodes"))
	if judged < t.episodes {
		text = fmt.Sprintf("%s in %d of the %s that could be judged", Spoken(name), n, decode.Counted(int64(judged), "episode", "episodes"))
	}
	worst, ok := t.worst[name]
	if !ok {
		return text
	}
	at := ""
	if n > 1 {
		at = "at worst "
	}
	return fmt.Sprintf("%s (%s%s %s in %s; %s)", text, at, brokenFigure(worst.value, worst.limit), worst.value.Unit, placesText("episode", []place{worst.at}, t.all > 1), limitIs(worst.limit, worst.value.Unit))
}

func (t *tally) silentSentence() string {
	if len(t.silentIn) == 0 {
		return ""
	}
	where := ""
	if n := len(t.silentIn); n < t.episodes && n <= mostNamed {
		where = " (" + placesText("episode", t.silentIn, t.all > 1) + ")"
	}
	return sentenceCase(fmt.Sprintf("%s dropped off the bus in %d of %s%s.", firstOf(t.silent.names), len(t.silentIn), decode.Counted(int64(t.episodes), "episode", "episodes"), where))
}
