package output

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/units"
)

// cell is one field of a table: its text, already harmless, and its meaning.
type cell struct {
	text string
	tone tone
}

// column is one column of a table. The columns that matter most have the
// lowest rank and are the last to go where the output is narrow.
type column struct {
	title string
	right bool
	rank  int
	wrap  int // widest a cell may be before it breaks at blanks; 0: never
	cells []cell
	wide  int // what width found; 0: not asked yet
}

// empty tells whether a column says nothing in any row.
func (c *column) empty() bool {
	for _, x := range c.cells {
		if x.text != "" && x.text != "-" {
			return false
		}
	}
	return true
}

// metricColumns are the metrics that the episode table can show, by rank. Any
// other is in CSV and JSON.
var metricColumns = []struct {
	key, title string
	rank       int
}{
	{"engine_off", "off s", 7},
	{"request_to_crank", "to crank s", 9},
	{"crank_to_run", "crank s", 8},
	{"speed_at_crank", "at crank rpm", 13},
	{"voltage_min", "lowest V", 6},
	{"voltage_dip", "dip V", 10},
	{"hold_pressure_min", "hold kPa", 11},
	{"take_off_delay", "take-off s", 12},
	{"fuel_saved", "saved mL", 14},
}

// episodeColumns makes the episode table of one log.
func (r *Report) episodeColumns(res *analyze.Result) []column {
	number := column{title: "no", right: true, rank: 0}
	stop := column{title: "stop s", right: true, rank: 5}
	outcome := column{title: "outcome", rank: 1}
	asked := column{title: "asked for by", rank: 2, wrap: 18}
	restart := column{title: "restart s", rank: 3}
	verdict := column{title: "limits", rank: 4}
	metrics := make([]column, len(metricColumns))
	for i, m := range metricColumns {
		metrics[i] = column{title: m.title, right: true, rank: m.rank}
	}
	for i := range res.Episodes {
		e := &res.Episodes[i]
		number.cells = append(number.cells, cell{text: strconv.Itoa(e.N)})
		stop.cells = append(stop.cells, cell{text: moment(e.Stop.Instant)})
		outcome.cells = append(outcome.cells, outcomeCell(e.Outcome))
		who := "-"
		if e.Request != nil {
			who = Visible(r.Map.Requests[e.Request.Condition].Name)
		}
		asked.cells = append(asked.cells, cell{text: who})
		restart.cells = append(restart.cells, cell{text: withBounds(e.Metrics, "restart_latency")})
		verdict.cells = append(verdict.cells, r.verdictCell(e))
		for k, m := range metricColumns {
			text := "-"
			if v, ok := metricOf(e.Metrics, m.key); ok {
				v = v.Told()
				text = units.Round(v.Best, v.Low, v.High)
			}
			metrics[k].cells = append(metrics[k].cells, cell{text: text})
		}
	}
	if restart.empty() {
		restart.rank = 15
	}
	columns := []column{number, stop, outcome, asked, restart, verdict}
	for _, m := range metrics {
		if !m.empty() {
			columns = append(columns, m)
		}
	}
	return columns
}

// moment writes an instant in seconds to the hundredth: enough to find it in a
// log, and CSV has the rest.
func moment(i bounds.Instant) string { return fixed(bounds.Seconds(i.T), 2) }

// length writes how long something lasted, in seconds.
func length(from, to bounds.Instant) string {
	return fixed(bounds.Sub(to, from).Best, 1)
}

func withBounds(list []analyze.MetricValue, key string) string {
	m, ok := metricOf(list, key)
	if !ok {
		return "-"
	}
	m = m.Told()
	value := units.Round(m.Best, m.Low, m.High)
	if m.Low == m.High {
		return value
	}
	return value + " (" + between(m) + ")"
}

func outcomeCell(o analyze.Outcome) cell {
	c := cell{text: spoken(string(o))}
	switch o {
	case analyze.NoStart, analyze.Stalled:
		c.tone = bad
	}
	return c
}

// verdictCell shows the worst verdict and how many limits have it.
func (r *Report) verdictCell(e *analyze.Episode) cell {
	worst, n := e.Worst(r.Map)
	text := VerdictWord(worst)
	if n > 1 && worst != analyze.Inside {
		text = strconv.Itoa(n) + " " + text
	}
	switch worst {
	case "":
		return cell{text: "-"}
	case analyze.Outside:
		return cell{text, bad}
	case analyze.Inside:
		return cell{text, good}
	}
	return cell{text, doubtful}
}

// VerdictWord is a verdict as tables say it.
func VerdictWord(v analyze.Verdict) string {
	if v == analyze.Outside {
		return "broken"
	}
	return string(v)
}

// standstillColumns makes the table of all standstills of one log.
func (r *Report) standstillColumns(res *analyze.Result) []column {
	number := column{title: "no", right: true, rank: 0}
	start := column{title: "from s", right: true, rank: 2}
	lasted := column{title: "length s", right: true, rank: 3}
	stopped := column{title: "engine stopped", rank: 1}
	delay := column{title: "after s", right: true, rank: 5}
	reason := column{title: "what kept it running", rank: 4, wrap: 34}
	covered := column{title: "covered", right: true, rank: 6}
	shares := make([]column, len(r.Map.Inhibits))
	for i := range r.Map.Inhibits {
		shares[i] = column{title: Visible(r.Map.Inhibits[i].Name), right: true, rank: 7 + i}
	}
	for k := range res.Standstills {
		s := &res.Standstills[k]
		number.cells = append(number.cells, cell{text: strconv.Itoa(s.N)})
		start.cells = append(start.cells, cell{text: moment(s.Start)})
		lasted.cells = append(lasted.cells, cell{text: length(s.Start, s.End)})
		stopped.cells = append(stopped.cells, stoppedCell(s))
		text := "-"
		if s.StopDelay != nil && s.StopDelay.Absent == "" {
			text = units.Round(s.StopDelay.Best, s.StopDelay.Low, s.StopDelay.High)
		}
		delay.cells = append(delay.cells, cell{text: text})
		reason.cells = append(reason.cells, reasonCell(s))
		text = "-"
		if s.Opportunity {
			text = percent(s.Covered)
		}
		covered.cells = append(covered.cells, cell{text: text})
		for i := range shares {
			shares[i].cells = append(shares[i].cells, cell{text: shareText(s, i)})
		}
	}
	return append([]column{number, start, lasted, stopped, delay, reason, covered}, shares...)
}

func shareText(s *analyze.Standstill, condition int) string {
	for _, h := range s.Inhibits {
		if h.Condition == condition {
			if h.State == "unknown" {
				return "unknown"
			}
			return percent(h.Share)
		}
	}
	return "-"
}

func percent(share float64) string {
	switch p := share * 100; {
	case p > 0 && p < 1:
		return "<1 %"
	case p < 100 && p > 99:
		return ">99 %"
	default:
		return fixed(p, 0) + " %"
	}
}

func stoppedCell(s *analyze.Standstill) cell {
	switch {
	case s.Stopped && s.Episode != 0:
		return cell{text: fmt.Sprintf("yes, episode %d", s.Episode)}
	case s.Stopped:
		return cell{text: "yes"}
	case !s.Opportunity:
		return cell{text: "does not count"}
	case s.Open:
		return cell{text: "open at the end"}
	}
	return cell{"no", doubtful}
}

func reasonCell(s *analyze.Standstill) cell {
	switch {
	case s.Reason != "":
		return cell{text: Visible(s.Reason)}
	case s.Unexplained:
		return cell{"nothing mapped", bad}
	case len(s.CannotTell) > 0:
		return cell{"cannot tell: " + Visible(strings.Join(s.CannotTell, ", ")), doubtful}
	}
	return cell{text: "-"}
}

// refusal says of one standstill why the engine was not stopped in it, with
// what was measured; ok is false where it was or does not count.
func (r *Report) refusal(res *analyze.Result, s *analyze.Standstill) (string, bool) {
	if !s.Opportunity || s.Stopped || s.Open {
		return "", false
	}
	text := fmt.Sprintf("standstill %d at %s s, %s s long: ", s.N, moment(s.Start), length(s.Start, s.End))
	switch {
	case s.Reason != "":
		text += Visible(s.Reason) + r.evidence(s)
	case s.Unexplained:
		text += "nothing in the map explains it"
		if s.Covered > 0 {
			text += fmt.Sprintf("; inhibits were true for only %s of it", percent(s.Covered))
		}
	case len(s.CannotTell) > 0:
		text += "cannot tell, unknown: " + Visible(strings.Join(s.CannotTell, ", "))
	default:
		text += unfinished(res, s)
	}
	return text, true
}

// unfinished names what happened in a standstill that has a stop which is none:
// the engine stalled, or a stop was called off.
func unfinished(res *analyze.Result, s *analyze.Standstill) string {
	for i := range res.Episodes {
		e := &res.Episodes[i]
		if e.Outcome == analyze.Stalled && e.Stop.T >= s.Start.Low && e.Stop.T <= s.End.High {
			return fmt.Sprintf("the engine stalled (episode %d)", e.N)
		}
	}
	return "a stop was begun and given up"
}

// evidence is what the reason's signals measured and for how long it held.
func (r *Report) evidence(s *analyze.Standstill) string {
	for _, h := range s.Inhibits {
		if r.Map.Inhibits[h.Condition].Name != s.Reason {
			continue
		}
		text := " for " + percent(h.Share) + " of the time"
		if len(h.Measured) > 0 {
			text += "; measured: " + strings.Join(each(h.Measured, r.measured), ", ")
		}
		return text
	}
	for _, c := range s.Codes {
		if c.Name == s.Reason {
			return ", the car's own code, for " + percent(c.Share) + " of the time"
		}
	}
	return ""
}

func (r *Report) measured(m analyze.Measured) string {
	signal := &r.Map.Signals[m.Signal]
	value := "not seen"
	if m.Value.Seen {
		value = Visible(signal.TextOf(m.Value.Value))
	}
	text := Visible(signal.Name) + " " + value
	if m.Against != "" {
		text += " (the map says: " + Visible(m.Against) + ")"
	}
	return text
}

// Interfaces names those of a log in the order of their first frames, as they stand
// there: "none", or the first of them where garbage has very many.
func Interfaces(info *decode.Info) string {
	const most = 8
	names, more := info.Interfaces, ""
	switch n := len(names) - most; {
	case len(names) == 0:
		return "none"
	case n > 0:
		names, more = names[:most], fmt.Sprintf(" and %d more", n)
	}
	return strings.Join(names, ", ") + more
}

// headline says what a log is.
func headline(l *Log) string {
	res := l.Result
	parts := []string{counted(int(res.Frames), "frame", "frames")}
	if len(res.Info.Interfaces) > 0 {
		parts[0] += " on " + Visible(Interfaces(&res.Info))
	}
	if res.HasTime {
		parts = append(parts, fixed(bounds.Seconds(res.Span), 1)+" s")
		if res.Info.Stamps.Dated() {
			began := time.Unix(0, res.Start).UTC().Format("2006-01-02 15:04:05")
			if res.Info.Stamps == decode.StampsAbsolute {
				began += " UTC"
			}
			parts = append(parts, "from "+began)
		}
	}
	if n := res.Info.Rejected; n > 0 {
		parts = append(parts, counted(int(n), "line rejected", "lines rejected"))
	}
	return Visible(l.Name) + ": " + strings.Join(parts, ", ")
}

// findingLine is one finding, or several of one kind, as a person reads them.
type findingLine struct {
	severity analyze.Severity
	text     string
}

// digits are what tells one finding from another of its kind.
// tokens are the words and figures of a text; a figure stands by itself, beside names and what is quoted, which may hold
// digits of their own.
var (
	tokens = regexp.MustCompile(`"[^"]*"|[\pL\pN_.-]+`)
	figure = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?\.?$`)
)

// shape is a text without its figures.
func shape(text string) string {
	return tokens.ReplaceAllStringFunc(text, func(token string) string {
		if figure.MatchString(token) {
			return "#"
		}
		return token
	})
}

// findingLines gathers findings that differ in their figures only: the first in
// full, then how many more there are and where.
func findingLines(findings []analyze.Finding) []findingLine {
	kinds := map[string][]int{}
	kindOf := func(f *analyze.Finding) string {
		return f.Code + "|" + string(f.Severity) + "|" + shape(f.Text)
	}
	for i := range findings {
		kind := kindOf(&findings[i])
		kinds[kind] = append(kinds[kind], i)
	}
	var lines []findingLine
	for i := range findings {
		f := &findings[i]
		same := kinds[kindOf(f)]
		if same[0] != i {
			continue
		}
		text := Visible(f.Text)
		if evidence := together(f.Evidence); evidence != "" && !strings.Contains(f.Text, evidence) && !namesAll(f) {
			text += " (" + Visible(evidence) + ")"
		}
		var others []string
		for _, k := range same[1:] {
			others = append(others, findings[k].Evidence...)
		}
		if len(same) > 1 {
			text += fmt.Sprintf("; %d more like it", len(same)-1)
			if len(others) > 0 {
				text += ": " + Visible(together(others))
			}
		}
		lines = append(lines, findingLine{f.Severity, text})
	}
	return lines
}

// namesAll tells whether a finding's text names all its evidence, one by one.
func namesAll(f *analyze.Finding) bool {
	return !slices.ContainsFunc(f.Evidence, func(name string) bool { return !strings.Contains(f.Text, name) })
}

// together joins references such as "episode 2" and "episode 3" to "episodes 2, 3"
// where all are of one kind.
func together(references []string) string {
	if len(references) == 0 {
		return ""
	}
	kind, _, _ := strings.Cut(references[0], " ")
	numbers := make([]string, 0, len(references))
	for _, r := range references {
		before, number, ok := strings.Cut(r, " ")
		if !ok || before != kind || len(references) == 1 {
			return strings.Join(references, ", ")
		}
		numbers = append(numbers, number)
	}
	return kind + "s " + strings.Join(numbers, ", ")
}

func limitWords(l decode.Limit, unit string) string {
	if unit != "" {
		unit = " " + unit
	}
	switch {
	case l.HasMin && l.HasMax:
		return shortest(l.Min) + " to " + shortest(l.Max) + unit
	case l.HasMin:
		return "at least " + shortest(l.Min) + unit
	}
	return shortest(l.Max) + unit
}
