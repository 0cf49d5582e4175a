package words

import (
	"fmt"
	"strconv"

	"lull/analyze"
)

// Overview is one log in the fewest words.
type Overview struct {
	Name    Word
	Stopped Word // in how many of how many standstills
	Slowest Word // restart, in s, with its bounds
	Broken  Word // in how many of how many episodes a limit is
	// Findings are what needs attention, in the fewest words.
	Findings Word
}

// Overviews are the logs of a report, a line each.
func (r *Report) Overviews() []Overview {
	list := make([]Overview, len(r.Logs))
	for i := range r.Logs {
		one := Report{Version: r.Version, Map: r.Map, Logs: r.Logs[i : i+1]}
		list[i] = one.overview()
	}
	return list
}

// overview is that of a report of one log.
func (r *Report) overview() Overview {
	l, t, none := &r.Logs[0], r.tally(), Word{Text: "-"}
	o := Overview{Name: Word{Text: Visible(l.Name)}, Stopped: none, Slowest: none, Broken: none, Findings: none}
	if !l.Result.Usable() {
		o.Findings = Word{"cannot be used", Bad}
		return o
	}
	switch {
	case t.opportunities > 0:
		o.Stopped.Text = fmt.Sprintf("%d of %d", t.stops, t.opportunities)
	case t.episodes > 0:
		o.Stopped.Text = Times(t.episodes)
	}
	slowest, broken := -1.0, 0
	for k := range l.Result.Episodes {
		e := &l.Result.Episodes[k]
		if m, ok := MetricOf(e.Metrics, "restart_latency"); ok && m.Best > slowest && e.Outcome != analyze.InGap {
			slowest, o.Slowest.Text = m.Best, WithBounds(e.Metrics, "restart_latency")
		}
		if worst, _ := e.Worst(r.Map); worst == analyze.Outside {
			broken++
		}
	}
	if t.judged > 0 {
		o.Broken = Word{strconv.Itoa(broken) + " of " + strconv.Itoa(t.episodes), Good}
		if broken > 0 {
			o.Broken.Tone = Bad
		}
	}
	var parts []string
	for _, f := range []struct {
		places []place
		text   string
	}{{t.failures.unstarted, "did not start"}, {t.failures.stalled, "stalled"}, {t.failures.retried, "second attempt"}} {
		if len(f.places) > 0 {
			parts = append(parts, f.text)
		}
	}
	for _, f := range FindingLines(l.Result.Findings) {
		if f.Severity == analyze.Attention && !f.Failure {
			parts = append(parts, f.About...)
		}
	}
	if len(parts) > 0 {
		o.Findings = Word{brief(parts), Bad}
	}
	return o
}

// briefWidth is how many characters the names of findings may take in a line for each log.
const briefWidth = 32

// brief names the first of a list and those that fit beside it, and counts the others.
func brief(names []string) string {
	text := names[0]
	for i, name := range names[1:] {
		if len(text)+len(", ")+len(name) > briefWidth {
			return fmt.Sprintf("%s and %d more", text, len(names)-1-i)
		}
		text += ", " + name
	}
	return text
}
