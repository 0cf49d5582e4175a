package document

import (
	"io"

	"lull/analyze"
	"lull/analyze/starter"
	"lull/cmd/lull/internal/words"
	"lull/pkg/bounds"
)

// intervalMethod says what kind of interval the document gives.
const intervalMethod = "exact Poisson interval (Garwood 1936)"

// starterDocument is the JSON document, key by key and in this order. A figure that is not
// known is an absentJSON.
type starterDocument struct {
	head
	Map        mapJSON         `json:"map"`
	Logs       []starterLog    `json:"logs"`
	Double     []string        `json:"double"` // names of logs that repeat another one
	Operations operationsJSON  `json:"operations"`
	Unrecorded float64         `json:"unrecorded"` // operations that the counter counted and no log shows
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

// total returns the number, or why there is none.
func total(t analyze.Total) any {
	switch {
	case t.Absent != nil:
		return absentOf(t.Absent)
	case number(t.Value) == nil:
		return absentJSON{notFinite}
	}
	return t.Value
}

// rate returns the figure and its interval.
func rate(r starter.Rate) (value, interval any) {
	switch {
	case r.Absent != nil:
		return absentOf(r.Absent), absentOf(r.Absent)
	case number(r.Value) == nil || number(r.High) == nil:
		return absentJSON{notFinite}, absentJSON{notFinite}
	}
	return r.Value, rangeJSON{r.Low, r.High}
}

func left(l starter.Left) any {
	if l.Operations.Absent != nil || number(l.Operations.Value) == nil {
		return total(l.Operations)
	}
	return leftJSON{Operations: l.Operations.Value, Km: total(l.Km), Low: total(l.Low), High: total(l.High)}
}

// WriteStarterJSON writes the whole document, indented.
func WriteStarterJSON(w io.Writer, s *words.StarterReport) error {
	a := s.Account
	d := starterDocument{
		head: headOf(s.Version),
		Map:  mapOf(s.Map),
		Logs: each(s.Logs, func(l words.Log) starterLog {
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
		Caution:  words.StarterCaution,
	}
	if v, ok := d.HandOn.(float64); ok {
		d.HandOn = valueJSON{v}
	}
	d.Interval.Method, d.Interval.Confidence = intervalMethod, starter.Confidence
	d.PerHour, d.Interval.PerHour = rate(a.PerHour)
	d.PerKm, d.Interval.PerKm = rate(a.PerKm)
	return writeIndented(w, d)
}
