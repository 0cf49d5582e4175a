package output

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"lull/analyze/compare"
	"lull/pkg/stats"
	"lull/pkg/units"
)

// spokenMetric says how a metric's change is told aloud.
type spokenMetric struct{ subject, down, up string }

var spokenMetrics = map[string]spokenMetric{
	"restart_latency":   {"Restarts became", "faster", "slower"},
	"request_to_crank":  {"The decision to crank became", "faster", "slower"},
	"crank_to_run":      {"Cranking became", "shorter", "longer"},
	"crank_speed":       {"The starter turned the engine", "slower", "faster"},
	"voltage_min":       {"The lowest voltage became", "lower", "higher"},
	"voltage_dip":       {"The voltage dip became", "smaller", "deeper"},
	"voltage_recovery":  {"The voltage came back", "sooner", "later"},
	"hold_pressure_min": {"The lowest hold pressure became", "lower", "higher"},
	"take_off_delay":    {"The car took off", "sooner", "later"},
	"take_off_shock":    {"The take-off became", "softer", "harder"},
}

// tellAlways are metrics of which it is said too that no change was shown, beside
// those that have a limit: what customers complain of.
var tellAlways = []string{"restart_latency", "take_off_delay"}

// change says by how much, with the ends of the interval in the same sense.
func change(m compare.Metric) string {
	words, ok := spokenMetrics[m.Key]
	if !ok {
		words = spokenMetric{sentenceCase(spoken(m.Key)) + " became", "lower", "higher"}
	}
	sense, sign := words.up, 1.0
	if m.Down {
		sense, sign = words.down, -1
	}
	if m.Shift.Value == 0 {
		// Most pairs of values are equal, yet the ranks show a change.
		return fmt.Sprintf("%s %s, though not as a rule: the shift is 0 %s (%s to %s).", words.subject, sense, m.Unit, signed(m.Shift.Low, m.Shift), signed(m.Shift.High, m.Shift))
	}
	low, high := sign*m.Shift.Low, sign*m.Shift.High
	digits := func(v float64) string { return units.Round(v, min(low, high), max(low, high)) }
	return fmt.Sprintf("%s %s %s %s (%s to %s).", words.subject, digits(math.Abs(m.Shift.Value)), m.Unit, sense, digits(min(low, high)), digits(max(low, high)))
}

// noChange says what so many values can show at all.
func noChange(m compare.Metric) string {
	return fmt.Sprintf("%s: no change shown; %d and %d values leave room for %s to %s %s.",
		sentenceCase(spoken(m.Key)), m.Before.N, m.After.N, signed(m.Shift.Low, m.Shift), signed(m.Shift.High, m.Shift), m.Unit)
}

// tooFew says why metrics with so many values cannot show a change.
func tooFew(metrics []string, n, m int) string {
	return fmt.Sprintf("Too few to tell: %s. %d and %d values that do not overlap at all come by chance in %s %% of cases.",
		strings.Join(metrics, ", "), n, m, tidy(100*stats.FullSeparation(n, m)))
}

// tooFewAlone says that a change of one metric cannot be shown by so many values
// beside all the others that are compared.
func tooFewAlone(n, m, family int) string {
	one := 100 * stats.FullSeparation(n, m)
	return fmt.Sprintf("%d and %d values cannot show a change of one metric alone: those that do not overlap at all come by chance in %s %% of cases, in up to %s %% for one of %d metrics.",
		n, m, tidy(one), tidy(min(one*float64(family), 100)), family)
}

// signed writes a figure of a shift with the digits that its interval bears.
func signed(v float64, s stats.Shift) string {
	text := units.Round(v, s.Low, s.High)
	if v > 0 && strings.ContainsAny(text, "123456789") {
		return "+" + text
	}
	return text
}

// answer is what the comparison says aloud: what changed first.
func (c *CompareReport) answer(g *compare.Group) []string {
	told := append([]string{}, tellAlways...)
	for _, l := range c.Limits {
		told = append(told, l.Metric)
	}
	var changes, worse, others, silent []string
	counts := map[compare.Verdict]int{}
	for _, r := range g.Rates {
		counts[r.Verdict]++
		if r.Verdict == compare.Better || r.Verdict == compare.Worse {
			text := fmt.Sprintf("%s: %s before, %s after.", sentenceCase(rateWords[r.Key]), ofText(r.Before), ofText(r.After))
			if r.Verdict == compare.Worse {
				worse = append(worse, text)
			} else {
				changes = append(changes, text)
			}
		}
	}
	few := map[[2]int][]string{}
	var fewOrder, alone [][2]int // sizes too small for any metric, and for one metric alone
	for _, m := range g.Metrics {
		counts[m.Verdict]++
		asked := slices.Contains(told, m.Key)
		sizes := [2]int{m.Before.N, m.After.N}
		if m.Verdict == compare.NoChangeShown && !c.Alone(sizes[0], sizes[1]) && !slices.Contains(alone, sizes) {
			alone = append(alone, sizes)
		}
		switch {
		case m.Verdict == compare.Worse:
			worse = append(worse, change(m))
		case m.Verdict == compare.Better || m.Verdict == compare.Changed:
			changes = append(changes, change(m))
		case m.Verdict == compare.NoChangeShown && asked:
			others = append(others, noChange(m))
		case m.Verdict == compare.TooFew:
			if few[sizes] == nil {
				fewOrder = append(fewOrder, sizes)
			}
			few[sizes] = append(few[sizes], spoken(m.Key))
		case m.Verdict == compare.NoChangeShown:
			silent = append(silent, spoken(m.Key))
		}
	}
	comparable := slices.ContainsFunc(g.Metrics, func(m compare.Metric) bool { return m.Verdict != compare.Missing })
	switch {
	case !comparable:
		worse = append(worse, nothingCompared)
	case len(changes)+len(worse) == 0:
		worse = append(worse, "No change was shown.")
	default:
		worse = append([]string{verdictsSentence(counts)}, worse...)
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
	return append(append(worse, changes...), others...)
}

// verdictsSentence says in one sentence what came of all figures, metrics and rates.
func verdictsSentence(counts map[compare.Verdict]int) string {
	better, worse := "no figure became", "none"
	if n := counts[compare.Better]; n > 0 {
		better = counted(n, "figure became", "figures became")
	}
	if n := counts[compare.Worse]; n > 0 {
		worse = strconv.Itoa(n)
	}
	s := fmt.Sprintf("After against before: %s better, %s worse", better, worse)
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

// nothingCompared stands where there is no verdict at all.
const nothingCompared = "Nothing measured is there on both sides."

var rateWords = map[string]string{
	"stopped": "engine stopped, of opportunities", "unexplained": "not stopped and unexplained, of opportunities",
	"failed_start": "failed starts, of episodes", "module_silent": "a module fell silent, of episodes",
	"outside_limit": "a limit broken, of episodes",
}

func ofText(r stats.Rate) string { return fmt.Sprintf("%d of %d", r.Count, r.Of) }

// WriteTable writes the comparison for a person: the answer, both sides of every
// metric with a strip of its values, the rates, and what was not alike.
func (c *CompareReport) WriteTable(w io.Writer, style Style) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n%s\n", WrapHanging(sideText(c.Comparison.Before), style.Width, "before: ", "        "), WrapHanging(sideText(c.Comparison.After), style.Width, "after:  ", "        "))
	for _, note := range c.Notes {
		fmt.Fprintf(&b, "%s\n", WrapHanging(Visible(note), style.Width, "note: ", "      "))
	}
	for i := range c.Groups {
		g := &c.Groups[i]
		if c.By != compare.ByNothing {
			fmt.Fprintf(&b, "\n%s\n", WrapHanging(fmt.Sprintf("%s: %s before, %d after", Visible(g.Name), counted(g.Before, "episode", "episodes"), g.After), style.Width, "== ", "   "))
		}
		b.WriteByte('\n')
		for _, sentence := range c.answer(g) {
			fmt.Fprintf(&b, "%s\n", WrapHanging(sentence, style.Width, "", "  "))
		}
		for _, m := range g.Metrics {
			writeMetric(&b, m, style)
		}
		if len(g.Rates) > 0 {
			b.WriteByte('\n')
			if err := writeGrid(&b, fit(rateColumns(g.Rates), style.Width), style); err != nil {
				return err
			}
		}
		writeConditions(&b, g.Conditions, style)
	}
	if len(c.Groups) == 0 {
		fmt.Fprintf(&b, "\n%s\n", Wrap(nothingCompared, style.Width, ""))
	}
	c.writeLimits(&b, style)
	fmt.Fprintf(&b, "\n%s\n%s\n",
		Wrap(CompareMethod+" Each strip goes from the lowest to the highest value of both sides: "+
			stripOf(style).legend()+" All figures: --format json.", style.Width, ""),
		Wrap(Caution, style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

func sideText(c compare.Count) string {
	names := make([]string, len(c.Logs))
	for i, name := range c.Logs {
		names[i] = Visible(name)
	}
	return fmt.Sprintf("%s in %s", counted(c.Episodes, "episode", "episodes"), strings.Join(names, ", "))
}

// writeMetric writes a metric's verdict and a line for each side.
func writeMetric(b *bytes.Buffer, m compare.Metric, style Style) {
	verdict := style.paint(toneOf(m.Verdict), string(m.Verdict))
	line := fmt.Sprintf("%s: %s", m.Key, verdict)
	if m.Verdict != compare.Missing {
		line += fmt.Sprintf(", %s %s (%s to %s at %.1f %%)", signed(m.Shift.Value, m.Shift), m.Unit, signed(m.Shift.Low, m.Shift), signed(m.Shift.High, m.Shift), 100*m.Shift.Confidence)
	}
	if m.Verdict != compare.Missing && m.Verdict != compare.TooFew {
		line += ", " + equated(m.PHolm) // one word, which no line end divides
	}
	fmt.Fprintf(b, "\n%s\n", WrapHanging(line, style.Width, "", "  "))
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range []compare.Sample{m.Before, m.After} {
		if s.N > 0 {
			low, high = min(low, s.Min), max(high, s.Max)
		}
	}
	width := min(40, max(4, style.Width-36))
	for _, s := range []struct {
		name string
		compare.Sample
	}{{"before", m.Before}, {"after", m.After}} {
		if s.N == 0 {
			fmt.Fprintf(b, "  %-6s  none\n", s.name)
			continue
		}
		fmt.Fprintf(b, "  %-6s %3d  %12s  [%s]\n", s.name, s.N, tidy(s.Median)+" "+m.Unit, stripOf(style).draw(s.Sample, low, high, width))
	}
}

// strip is what a line of values is drawn with.
type strip struct{ median, middle, one, two, more rune }

// stripOf keeps to ASCII where the output can carry no more.
func stripOf(style Style) strip {
	if style.Unicode {
		return strip{median: '┃', middle: '─', one: '·', two: ':', more: '•'}
	}
	return strip{median: '|', middle: '-', one: '.', two: ':', more: '*'}
}

func (s strip) legend() string {
	return fmt.Sprintf("%c median, %c middle half, %c %c %c one, two, more values.", s.median, s.middle, s.one, s.two, s.more)
}

// draw shows where values lie between low and high.
func (s strip) draw(values compare.Sample, low, high float64, width int) string {
	cellOf := func(v float64) int {
		if high == low {
			return width / 2
		}
		// Halves: the difference of two float64 may be none.
		return min(width-1, int((v/2-low/2)/(high/2-low/2)*float64(width)))
	}
	counts := make([]int, width)
	for _, v := range values.Values {
		counts[cellOf(v)]++
	}
	line := make([]rune, width)
	for i := range line {
		switch {
		case i == cellOf(values.Median):
			line[i] = s.median
		case counts[i] > 2:
			line[i] = s.more
		case counts[i] == 2:
			line[i] = s.two
		case counts[i] == 1:
			line[i] = s.one
		case i >= cellOf(values.Q1) && i <= cellOf(values.Q3):
			line[i] = s.middle
		default:
			line[i] = ' '
		}
	}
	return string(line)
}

// equated writes a probability as p=0.0123 or p<0.0001.
func equated(p float64) string {
	if p < 0.0001 {
		return "p<0.0001"
	}
	return "p=" + probability(p)
}

// probability never says that one is 0.
func probability(p float64) string {
	if p < 0.0001 {
		return "below 0.0001"
	}
	return fixed(p, 4)
}

func toneOf(v compare.Verdict) tone {
	switch v {
	case compare.Better:
		return good
	case compare.Worse:
		return bad
	}
	return neutral
}

func rateColumns(rates []compare.Rate) []column {
	name := column{title: "rate", rank: 0, wrap: 20}
	before := column{title: "before", rank: 0, right: true}
	after := column{title: "after", rank: 0, right: true}
	difference := column{title: "percentage points", rank: 1}
	verdict := column{title: "verdict", rank: 0}
	for _, r := range rates {
		name.cells = append(name.cells, cell{text: rateWords[r.Key]})
		before.cells = append(before.cells, cell{text: ofText(r.Before)})
		after.cells = append(after.cells, cell{text: ofText(r.After)})
		text := "-"
		if r.Verdict != compare.Missing {
			text = fmt.Sprintf("%s (%s to %s)", points(r.Difference.Value), points(r.Difference.Low), points(r.Difference.High))
		}
		difference.cells = append(difference.cells, cell{text: text})
		verdict.cells = append(verdict.cells, cell{string(r.Verdict), toneOf(r.Verdict)})
	}
	return []column{name, before, after, difference, verdict}
}

// points writes a difference of shares in percentage points, never as a negative
// zero.
func points(share float64) string {
	text := fixed(100*share, 0)
	if share > 0 && text != "0" {
		return "+" + text
	}
	return text
}

func writeConditions(b *bytes.Buffer, conditions []compare.Condition, style Style) {
	for _, line := range conditionLines(conditions) {
		fmt.Fprintf(b, "\n%s\n", WrapHanging(line, style.Width, "", "  "))
	}
}

// conditionLines tell in what the sides were not driven alike, and in what they
// were.
func conditionLines(conditions []compare.Condition) []string {
	var apart, alike, lines []string
	for _, c := range conditions {
		text := Visible(c.Signal)
		switch {
		case !c.Known:
		case c.Alike:
			alike = append(alike, text)
		default:
			apart = append(apart, fmt.Sprintf("%s %s to %s %s before, %s to %s %s after", text, tidy(c.Before.Min), tidy(c.Before.Max), Visible(c.Unit), tidy(c.After.Min), tidy(c.After.Max), Visible(c.Unit)))
		}
	}
	if len(apart) > 0 {
		lines = append(lines, "Not driven alike: "+strings.Join(apart, "; ")+". What differs may be due to that.")
	}
	if len(alike) > 0 {
		lines = append(lines, "Driven alike as to: "+strings.Join(alike, ", ")+".")
	}
	return lines
}

func (c *CompareReport) writeLimits(b *bytes.Buffer, style Style) {
	for i, l := range c.Limits {
		if i == 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(b, "%s\n", WrapHanging(limitSentence(l), style.Width, "", "  "))
	}
}

// limitSentence says how often a limit was broken on either side.
func limitSentence(l compare.Limit) string {
	return fmt.Sprintf("Limit %s: broken in %d of %d before, in %d of %d after%s.", limitText(l),
		l.Before.Outside, l.Before.Of(), l.After.Outside, l.After.Of(), borderlineText(l))
}

// limitText names a limit as the map gives it.
func limitText(l compare.Limit) string {
	text := l.Metric
	if l.HasMin {
		text += " at least " + shortest(l.Min)
	}
	if l.HasMax {
		text += " at most " + shortest(l.Max)
	}
	return strings.TrimSpace(text + " " + unitOf(l.Metric))
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

// WriteMarkdown writes the answer and the tables for a report.
func (c *CompareReport) WriteMarkdown(w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "## Before and after\n\nBefore: %s\n\nAfter: %s\n", markdown(sideText(c.Comparison.Before)), markdown(sideText(c.Comparison.After)))
	for _, note := range c.Notes {
		fmt.Fprintf(&b, "\nNote: %s\n", markdown(Visible(note)))
	}
	for i := range c.Groups {
		g := &c.Groups[i]
		if c.By != compare.ByNothing {
			fmt.Fprintf(&b, "\n### %s\n", markdown(fmt.Sprintf("%s %s", c.By, Visible(g.Name))))
		}
		b.WriteByte('\n')
		for _, sentence := range c.answer(g) {
			fmt.Fprintf(&b, "- %s\n", markdown(sentence))
		}
		b.WriteByte('\n')
		markdownGrid(&b, comparedColumns(g.Metrics))
		if len(g.Rates) > 0 {
			b.WriteByte('\n')
			markdownGrid(&b, rateColumns(g.Rates))
		}
		for _, line := range conditionLines(g.Conditions) {
			fmt.Fprintf(&b, "\n%s\n", markdown(line)) // a paragraph: next to the table it would be a row of it
		}
	}
	if len(c.Groups) == 0 {
		fmt.Fprintf(&b, "\n%s\n", nothingCompared)
	}
	for _, l := range c.Limits {
		fmt.Fprintf(&b, "\n%s\n", markdown(limitSentence(l)))
	}
	fmt.Fprintf(&b, "\n%s\n", Caution)
	_, err := w.Write(b.Bytes())
	return err
}

func comparedColumns(metrics []compare.Metric) []column {
	columns := []column{{title: "metric"}, {title: "unit", rank: 4}, {title: "before", rank: 2}, {title: "after", rank: 2}, {title: "shift", rank: 1}, {title: "p", rank: 3}, {title: "verdict"}}
	sample := func(s compare.Sample) string {
		if s.N == 0 {
			return "-"
		}
		return fmt.Sprintf("%s (%s to %s), n %d", tidy(s.Median), tidy(s.Min), tidy(s.Max), s.N)
	}
	for _, m := range metrics {
		shift, p := "-", "-"
		if m.Verdict != compare.Missing {
			shift = fmt.Sprintf("%s (%s to %s)", signed(m.Shift.Value, m.Shift), signed(m.Shift.Low, m.Shift), signed(m.Shift.High, m.Shift))
		}
		if m.Verdict != compare.Missing && m.Verdict != compare.TooFew {
			p = probability(m.PHolm)
		}
		for i, text := range []string{m.Key, m.Unit, sample(m.Before), sample(m.After), shift, p, string(m.Verdict)} {
			columns[i].cells = append(columns[i].cells, cell{text: text})
		}
	}
	return columns
}
