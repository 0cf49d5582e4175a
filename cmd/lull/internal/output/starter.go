package output

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"

	"lull/analyze"
	"lull/analyze/starter"
	"lull/pkg/bounds"
)

// StarterReport is what lull starter found: one map, and the account of all logs.
type StarterReport struct {
	Report
	Account *starter.Account
}

// NewStarterReport makes the account of a report's logs and puts them in its order.
func NewStarterReport(r *Report) *StarterReport {
	byName := map[string]Log{}
	for _, l := range r.Logs {
		byName[l.Name] = l
	}
	s := &StarterReport{Report: Report{Version: r.Version, Map: r.Map}, Account: starter.New(r.Map, SideOf(r).Logs)}
	for _, l := range s.Account.Logs {
		s.Logs = append(s.Logs, byName[l.Name])
	}
	return s
}

// intervalMethod says what kind of interval the document gives.
const intervalMethod = "exact Poisson interval (Garwood 1936)"

// The document, key by key and in this order. A figure that is not known is an
// absentJSON.
type starterDocument struct {
	Format     int             `json:"format"`
	Tool       toolJSON        `json:"tool"`
	Map        mapJSON         `json:"map"`
	Logs       []starterLog    `json:"logs"`
	Double     []string        `json:"double"` // logs that are another one once more
	Operations operationsJSON  `json:"operations"`
	Unrecorded float64         `json:"unrecorded"` // operations that the counter has and no log
	Resets     []resetJSON     `json:"resets"`
	HandOn     any             `json:"hand_on"`
	NewStarter valueJSON       `json:"new_starter"`
	PerHour    any             `json:"per_hour"`
	PerKm      any             `json:"per_km"`
	Left       any             `json:"left"`
	Interval   starterInterval `json:"interval"`
	Findings   []findingJSON   `json:"findings"`
	Caution    string          `json:"caution"`
}

type starterLog struct {
	Name        string      `json:"name"`
	Start       *string     `json:"start"`
	Starter     starterJSON `json:"starter"`
	EngineHours any         `json:"engine_hours"`
	Km          any         `json:"km"`
}

type resetJSON struct {
	After  string   `json:"after_log"`
	Before string   `json:"before_log"`
	From   float64  `json:"from"`
	To     float64  `json:"to"`
	T      *float64 `json:"t"` // within a log, else null
}

type valueJSON struct {
	Value float64 `json:"value"`
}

type leftJSON struct {
	Operations float64 `json:"operations"`
	Km         any     `json:"km"`
	Low        any     `json:"low"`
	High       any     `json:"high"`
}

type starterInterval struct {
	Method     string  `json:"method"`
	Confidence float64 `json:"confidence"`
	PerHour    any     `json:"per_hour"`
	PerKm      any     `json:"per_km"`
}

type rangeJSON struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// total is a number, or why there is none.
func total(t analyze.Total) any {
	if t.Absent == "" && number(t.Value) == nil {
		t.Absent = notFinite
	}
	if t.Absent != "" {
		return absentJSON{t.Absent}
	}
	return t.Value
}

// rate is the figure, and its interval.
func rate(r starter.Rate) (value, interval any) {
	if r.Absent == "" && (number(r.Value) == nil || number(r.High) == nil) {
		r.Absent = notFinite
	}
	if r.Absent != "" {
		return absentJSON{r.Absent}, absentJSON{r.Absent}
	}
	return r.Value, rangeJSON{r.Low, r.High}
}

func left(l starter.Left) any {
	if l.Operations.Absent != "" || number(l.Operations.Value) == nil {
		return total(l.Operations)
	}
	return leftJSON{Operations: l.Operations.Value, Km: total(l.Km), Low: total(l.Low), High: total(l.High)}
}

// WriteJSON writes the whole document, indented.
func (s *StarterReport) WriteJSON(w io.Writer) error {
	a := s.Account
	d := starterDocument{
		Format: 1,
		Tool:   toolJSON{Name: "lull", Version: s.Version},
		Map:    mapJSON{Name: s.Map.Name, SHA256: s.Map.SHA256, Vehicle: s.Map.Vehicle},
		Logs: each(s.Logs, func(l Log) starterLog {
			return starterLog{
				Name: l.Name, Start: startText(l.Result), Starter: starterOf(l.Result.Starter),
				EngineHours: total(l.Result.EngineHours), Km: total(l.Result.Distance),
			}
		}),
		Double:     each(a.Double, func(name string) string { return name }),
		Operations: operationsJSON{Key: a.Key, Restart: a.Restart, Retry: a.Retry},
		Unrecorded: finite(a.Unrecorded),
		Resets: each(a.Resets, func(r starter.Reset) resetJSON {
			j := resetJSON{After: r.After, Before: r.Before, From: finite(r.From), To: finite(r.To)}
			if r.After == r.Before {
				j.T = number(bounds.Seconds(r.Time))
			}
			return j
		}),
		HandOn:   total(a.HandOn),
		Left:     left(a.Left),
		Findings: each(a.Findings, finding),
		Caution:  starterCaution,
	}
	if v, ok := d.HandOn.(float64); ok {
		d.HandOn = valueJSON{v}
	}
	d.Interval.Method, d.Interval.Confidence = intervalMethod, starter.Confidence
	d.PerHour, d.Interval.PerHour = rate(a.PerHour)
	d.PerKm, d.Interval.PerKm = rate(a.PerKm)
	return writeIndented(w, d)
}

const starterCaution = "The maker's procedure decides what a new control module is given and when a starter is replaced."

// WriteTable writes the account for a person: the answer in one paragraph, the
// logs, and what should be looked at.
func (s *StarterReport) WriteTable(w io.Writer, style Style) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n\n", Wrap(s.answer(), style.Width, ""))
	if err := writeGrid(&b, fit(s.columns(), style.Width), style); err != nil {
		return err
	}
	s.writeFindings(&b, s.Account.Findings, style)
	fmt.Fprintf(&b, "\n%s\n%s\n",
		Wrap(fmt.Sprintf("Intervals: exact Poisson, %.0f %%, as if operations came by chance at one rate: true of everyday driving, not of a test that stops on purpose. "+
			"All figures: --format json.", 100*starter.Confidence), style.Width, ""),
		Wrap(starterCaution+" "+Caution, style.Width, ""))
	_, err := w.Write(b.Bytes())
	return err
}

// answer says aloud what came of all logs.
func (s *StarterReport) answer() string {
	return strings.Join([]string{s.operationsSentence(), s.counterSentence(), s.handOnSentence(), s.rateSentence(), s.leftSentence()}, " ")
}

func (s *StarterReport) operationsSentence() string {
	a := s.Account
	over := ""
	if len(s.Logs) > 1 {
		over = fmt.Sprintf(" in %d logs", len(s.Logs))
	}
	var kinds []string
	for _, k := range []struct {
		n         int
		one, many string
	}{{a.Restart, "restart", "restarts"}, {a.Key, "start by key", "starts by key"}, {a.Retry, "further try", "further tries"}} {
		if k.n > 0 {
			kinds = append(kinds, counted(k.n, k.one, k.many))
		}
	}
	if len(kinds) == 0 {
		return "No starter operation was seen" + over + "."
	}
	return counted(a.Operations(), "starter operation was", "starter operations were") + " seen" + over + ": " + list(kinds) + "."
}

// counterSentence holds the counter against what was seen.
func (s *StarterReport) counterSentence() string {
	first, last := -1, -1
	for i := range s.Logs {
		if c := &s.Logs[i].Result.Starter; c.Absent == "" {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return "No counter was read: " + Visible(s.Account.HandOn.Absent) + "."
	}
	text := fmt.Sprintf("The counter read %s first and %s last", shortest(s.Logs[first].Result.Starter.First), shortest(s.Logs[last].Result.Starter.Last))
	switch {
	case len(s.Account.Resets) > 0:
		return text + ", and was set back " + times(len(s.Account.Resets)) + " in between."
	case s.Account.Disagrees():
		return text + ", which disagrees with the operations seen."
	}
	text += ", which agrees with the operations seen"
	if n := s.Account.Unrecorded; n > 0 {
		text += " and " + shortest(n) + " between the logs that were not recorded"
	}
	return text + "."
}

func (s *StarterReport) handOnSentence() string {
	if s.Account.HandOn.Absent != "" {
		return "What a new control module must be given is not known. A new starter begins at 0."
	}
	return "A new control module is given " + shortest(s.Account.HandOn.Value) + "; a new starter begins at 0."
}

func (s *StarterReport) rateSentence() string {
	var parts, missing []string
	for _, r := range []struct {
		rate starter.Rate
		unit string
	}{{s.Account.PerHour, "an engine hour"}, {s.Account.PerKm, "a km"}} {
		if r.rate.Absent != "" {
			missing = append(missing, "operations "+r.unit+" are not known: "+Visible(r.rate.Absent))
			continue
		}
		parts = append(parts, fmt.Sprintf("%s operations %s (%s to %s)", significant(r.rate.Value), r.unit, significant(r.rate.Low), significant(r.rate.High)))
	}
	text := ""
	if len(parts) > 0 {
		text = "That is " + list(parts) + ". "
	}
	for _, m := range missing {
		text += sentenceCase(m) + ". "
	}
	return strings.TrimSpace(text)
}

func (s *StarterReport) leftSentence() string {
	l := s.Account.Left
	limit := shortest(s.Map.Settings.StarterLimit)
	switch {
	case l.Operations.Absent != "":
		return "What is left to the limit is not known: " + Visible(l.Operations.Absent) + "."
	case l.Operations.Value == 0:
		return "The limit of " + limit + " operations is reached: the car stops its engine no more."
	}
	text := fmt.Sprintf("Of the %s that the map allows %s are left", limit, shortest(l.Operations.Value))
	if l.Km.Absent != "" {
		return text + "; how far that takes is not known: " + Visible(l.Km.Absent) + "."
	}
	return text + fmt.Sprintf(", at this rate for %s km (%s to %s).", significant(l.Km.Value), significant(l.Low.Value), significant(l.High.Value))
}

// significant writes an estimate with two significant digits: its interval bears no
// more.
func significant(v float64) string {
	if v == 0 || number(v) == nil {
		return "0"
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-1)
	return tidy(math.Round(v/unit) * unit)
}

// columns make the table of the logs.
func (s *StarterReport) columns() []column {
	name := column{title: "log", rank: 0, wrap: 26}
	start := column{title: "from", rank: 6}
	first := column{title: "counter first", right: true, rank: 2}
	last := column{title: "last", right: true, rank: 1}
	key := column{title: "key", right: true, rank: 5}
	restart := column{title: "restart", right: true, rank: 4}
	retry := column{title: "retry", right: true, rank: 7}
	agrees := column{title: "agrees", rank: 3}
	hours := column{title: "engine h", right: true, rank: 9}
	km := column{title: "km", right: true, rank: 8}
	for i := range s.Logs {
		l := &s.Logs[i]
		c := &l.Result.Starter
		name.cells = append(name.cells, cell{text: Visible(l.Name)})
		start.cells = append(start.cells, cell{text: began(l.Result)})
		key.cells = append(key.cells, cell{text: fmt.Sprint(c.Key)})
		restart.cells = append(restart.cells, cell{text: fmt.Sprint(c.Restart)})
		retry.cells = append(retry.cells, cell{text: fmt.Sprint(c.Retry)})
		readings, verdict := [2]string{"-", "-"}, cell{text: "-"}
		if c.Absent == "" {
			readings = [2]string{shortest(c.First), shortest(c.Last)}
			verdict = cell{"no", bad}
			if c.Agrees {
				verdict = cell{"yes", good}
			}
		}
		first.cells = append(first.cells, cell{text: readings[0]})
		last.cells = append(last.cells, cell{text: readings[1]})
		agrees.cells = append(agrees.cells, verdict)
		hours.cells = append(hours.cells, cell{text: totalText(l.Result.EngineHours, 3)})
		km.cells = append(km.cells, cell{text: totalText(l.Result.Distance, 2)})
	}
	return []column{name, start, first, last, key, restart, retry, agrees, hours, km}
}

func totalText(t analyze.Total, decimals int) string {
	if t.Absent != "" || number(t.Value) == nil {
		return "-"
	}
	return fixed(t.Value, decimals)
}

// began is when a log began, to the minute.
func began(res *analyze.Result) string {
	text := startText(res)
	if text == nil {
		return "unknown"
	}
	return strings.Replace((*text)[:len("2006-01-02T15:04")], "T", " ", 1)
}
