package words

import (
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/draft"
	"lull/decode"
)

// Draft is a drafted map, what it was drafted from, and what it measures.
type Draft struct {
	Version string
	Logs    []string
	Result  *draft.Draft
	// Measured is what the logs give by the drafted map, or nil where that measures nothing.
	Measured *Report
}

// draftNames are how people name what is drafted.
var draftNames = map[draft.Quantity]string{
	draft.EngineSpeed: "engine speed", draft.VehicleSpeed: "road speed", draft.BatteryVoltage: "battery voltage",
	draft.BatteryCurrent: "battery current", draft.BatteryCharge: "battery charge", draft.ModuleSupply: "supply of the modules",
	draft.HoldPressure: "hold pressure", draft.FuelRate: "fuel rate", draft.Acceleration: "acceleration", draft.Coolant: "coolant",
	draft.StopCommand: "stop command", draft.StarterCommand: "starter", draft.Ignition: "ignition", draft.StarterCount: "counter of starter operations",
	draft.InhibitCode: "the car's reason for not stopping",
	draft.Brake:       "brake", draft.TurnLamp: "turn lamp", draft.Steering: "steering",
}

// DraftName is what a drafted quantity is called in a sentence.
func DraftName(q draft.Quantity) string { return draftNames[q] }

func draftSignalName(s *draft.Signal) string {
	switch {
	case s.What == draft.Marked:
		return s.Name
	case s.What == draft.TurnLamp && s.Name != s.What.Name(): // one side
		return draftNames[s.What] + strings.ReplaceAll(strings.TrimPrefix(s.Name, s.What.Name()), "_", " ")
	}
	return draftNames[s.What]
}

// DraftSureness is how far a drafted signal can be relied on: one word for its field and,
// where it has one, one for its factor.
func DraftSureness(s *draft.Signal) string {
	if !s.HasFactor() {
		return s.FieldIs.String()
	}
	return s.FieldIs.String() + ", factor " + s.ScaleIs.String()
}

// DraftTrust is DraftSureness as a sentence.
func DraftTrust(s *draft.Signal) string {
	field := "The field is " + aSureness(s.FieldIs)
	if !s.HasFactor() {
		return field + "."
	}
	return field + ", its factor " + aSureness(s.ScaleIs) + "."
}

func aSureness(s draft.Sureness) string {
	if s == draft.Guess {
		return "a guess"
	}
	return s.String()
}

// DraftEvidence is why a signal is proposed, in words that a technician understands.
func DraftEvidence(s *draft.Signal) string {
	var parts []string
	for _, e := range s.Evidence {
		parts = append(parts, evidenceText(e, s))
	}
	if s.Alike > 0 {
		parts = append(parts, alikeText(s))
	}
	return strings.Join(parts, "; ")
}

// mostRivals is how many rivals are named.
const mostRivals = 3

func alikeText(s *draft.Signal) string {
	what := decode.Pick(s.Alike, "other field does", "other fields do")
	if s.What.Switch() {
		what = decode.Pick(s.Alike, "other bit does", "other bits do")
	}
	text := fmt.Sprintf("%d %s the same", s.Alike, what)
	var names []string
	for i := range s.Rivals {
		if i == mostRivals {
			break
		}
		names = append(names, rivalText(&s.Rivals[i]))
	}
	if len(names) > 0 {
		text += ": " + list(names)
	}
	if s.Alike > len(names) && len(names) > 0 {
		text += " among them"
	}
	return text
}

// DraftSignalName is what a drafted signal is called.
func DraftSignalName(s *draft.Signal) string { return draftSignalName(s) }

// DraftPlace says where a drafted signal lies.
func DraftPlace(s *draft.Signal) string {
	return rivalText(&draft.Rival{Entry: s.Entry, Field: s.Field, Page: s.Page, PageValue: s.PageValue})
}

// RivalPlace says where another field lies.
func RivalPlace(r *draft.Rival) string { return rivalText(r) }

// rivalText says where another field lies.
func rivalText(r *draft.Rival) string {
	at := fmt.Sprintf("bit %d of %s", r.Field.Start, r.Entry.Label())
	if r.Field.Length > 1 {
		at = fmt.Sprintf("%d bits from %d of %s", r.Field.Length, r.Field.Start, r.Entry.Label())
	}
	if r.Page != nil {
		at += fmt.Sprintf(", page %d", r.PageValue)
	}
	return at
}

func evidenceText(e draft.Evidence, s *draft.Signal) string {
	unit := s.What.Unit()
	switch e := e.(type) {
	case draft.Follows:
		return fmt.Sprintf("follows %d polled answers (PID %02X, %d different values) to within %s %s", e.Answers, e.PID, e.Distinct, Number(e.Within), unit)
	case draft.Answers:
		return fmt.Sprintf("polled answers to PID %02X themselves, every %s s; no field of the bus follows them", e.PID, Number(e.Every))
	case draft.Standard:
		return strings.TrimSpace(fmt.Sprintf("parameter of J1939 group %d; values %s to %s %s", e.PGN, Number(e.Low), Number(e.High), unit))
	case draft.Database:
		text := fmt.Sprintf("%s.%s of the database", e.Message, e.Signal)
		if e.Line > 0 {
			text += fmt.Sprintf(" (line %d)", e.Line)
		}
		if s.HasFactor() {
			text += fmt.Sprintf("; values %s to %s %s", Number(e.Low), Number(e.High), unit)
		}
		return strings.TrimSpace(text)
	case draft.Shape:
		text := fmt.Sprintf("%s and %s seen; zero at rest", decode.Counted(int64(e.Starts), "start", "starts"), decode.Counted(int64(e.Stops), "stop", "stops"))
		if e.Crank > 0 {
			text += fmt.Sprintf("; cranked at %.0f rpm", e.Crank)
		}
		return text + fmt.Sprintf("; idles at %.0f rpm", e.Idle)
	case draft.NeverRested:
		return fmt.Sprintf("the engine never rested in this log: holds %.0f rpm at standstills and rises when the car moves", e.Idle)
	case draft.SeveralModules:
		return decode.Counted(int64(e.Others), "other frame tells", "other frames tell") + " the same"
	case draft.Dips:
		return fmt.Sprintf("dips by %.1f V in %d of %s; %.1f V before a start and %.1f V with the engine running", e.By, e.In, decode.Counted(int64(e.Of), "start", "starts"), e.Resting, e.Generated)
	case draft.Road:
		confirmed := ", which no reference confirms"
		if slices.ContainsFunc(s.Evidence, func(e draft.Evidence) bool { _, told := e.(draft.DashValue); return told }) {
			confirmed = ""
		}
		return fmt.Sprintf("still while the engine rests; the car drove %s, up to %.0f km/h by this factor%s", Times(e.Drives), e.Top, confirmed)
	case draft.OnInCranks:
		return fmt.Sprintf("on while the engine is cranked, in %d of %s, and at no other time", e.In, decode.Counted(int64(e.Of), "start", "starts"))
	case draft.OnInStops:
		return fmt.Sprintf("comes on %.2f s before the engine rests and goes off %.2f s before it is cranked, in %d of %s, and is on at no other time", e.Lead, e.Lag, e.In, decode.Counted(int64(e.Of), "stop", "stops"))
	case draft.KeyOn:
		var parts []string
		if e.Before > 0 {
			parts = append(parts, fmt.Sprintf("comes on once, %.1f s before the first start", e.Before))
		}
		if e.Ends {
			parts = append(parts, "stays on while the engine is stopped in between, and goes off with its last stop")
		}
		return strings.Join(parts, "; ")
	case draft.StepsAtCranks:
		return fmt.Sprintf("goes up by one with each of %s; how far up the number reaches is not seen", decode.Counted(int64(e.Steps), "start", "starts"))
	case draft.IntoStandstills:
		return fmt.Sprintf("on before each of %s and off before the car moves", decode.Counted(int64(e.Standstills), "standstill", "standstills"))
	case draft.Blinks:
		return fmt.Sprintf("blinks %s, %.0f times a minute", Times(e.Times), e.Rate)
	case draft.InMarks:
		return fmt.Sprintf("on in %s and off around them; the hand was %.1f s late", decode.Counted(int64(e.Times), "marked time", "marked times"), e.Lag)
	case draft.CrankCurrent:
		return fmt.Sprintf("falls deeply in %d of %s; nothing tells its factor", e.In, decode.Counted(int64(e.Of), "start", "starts"))
	case draft.DashValue:
		text := fmt.Sprintf("the dashboard showed %s %s at %.0f s", Number(e.Value), e.Unit, e.At)
		switch e.Fit {
		case 0:
			return text + ", which no usual factor of this field allows"
		case 1:
			return text + ", which one usual factor allows"
		}
		return text + fmt.Sprintf(", which %d usual factors allow; the one that fits best is taken", e.Fit)
	case draft.ByHand:
		if e.InPlace {
			return "chosen by you in place of the field that was proposed"
		}
		return "you say that it is right"
	}
	return fmt.Sprintf("%T", e)
}

// DraftMissing says why a quantity was not found.
func DraftMissing(m draft.Missing) string {
	switch m.Why {
	case draft.NoTimes:
		return "the log has no time stamps"
	case draft.NoEngine:
		return "it is dated by starts of the engine, and no engine speed was found"
	case draft.NeverStarted:
		return "the log has no start of the engine"
	case draft.NeverStopped:
		return "the engine ran all the time"
	case draft.TooFewStarts:
		return "one start tells too little"
	case draft.NeverStood:
		return "no road speed was found"
	}
	return "nothing on the bus behaves like it"
}

// DraftLine is a part of the answer: what it is about, and its text or, of several, items.
type DraftLine struct {
	Head  string
	Text  string
	Items []string
}

// Lines is what was found, what was not, what to do next and what the map measures, for
// the terminal.
func (d *Draft) Lines() []DraftLine { return d.lines(false) }

// PageLines are Lines for the page, on which there are buttons instead of commands.
func (d *Draft) PageLines() []DraftLine { return d.lines(true) }

func (d *Draft) lines(onPage bool) []DraftLine {
	var found, left, lines = []string{}, []string{}, []DraftLine{}
	for i := range d.Result.Signals {
		s := &d.Result.Signals[i]
		text := fmt.Sprintf("%s (%s: %s)", draftSignalName(s), DraftSureness(s), DraftEvidence(s))
		if s.Written {
			found = append(found, text)
		} else {
			left = append(left, draftSignalName(s))
		}
	}
	if len(found) > 0 {
		lines = append(lines, DraftLine{Head: "Found", Items: found})
	} else {
		lines = append(lines, DraftLine{Head: "Found", Text: "nothing that a map needs"})
	}
	if len(left) > 0 {
		where := " (behind # in the signal map: take it away where the guess is right)"
		if d.Result.Signal(draft.EngineSpeed) == nil {
			where = ""
		}
		lines = append(lines, DraftLine{Head: "Only guessed", Text: list(left) + where})
	}
	if len(d.Result.Out) > 0 {
		var out []string
		for i := range d.Result.Out {
			out = append(out, draftSignalName(&d.Result.Out[i]))
		}
		lines = append(lines, DraftLine{Head: "Left out by you", Text: list(out)})
	}
	if missing := d.missing(); missing != "" {
		lines = append(lines, DraftLine{Head: "Not found", Text: missing})
	}
	if next := d.next(onPage); next != "" {
		lines = append(lines, DraftLine{Head: "Do next", Text: next})
	}
	if measured := d.measuredText(); measured != "" {
		lines = append(lines, DraftLine{Head: "With this map", Text: measured})
	}
	return lines
}

// Answer is Lines as one paragraph.
func (d *Draft) Answer() string {
	var parts []string
	for _, l := range d.Lines() {
		text := l.Text
		if l.Items != nil {
			text = strings.Join(l.Items, "; ")
		}
		parts = append(parts, l.Head+": "+text+".")
	}
	return strings.Join(parts, " ")
}

// Unfollowed is why what was marked by hand was not found.
const Unfollowed = "marked, but no switch on the bus is on in those times alone"

// missing groups what was not found by its reason.
func (d *Draft) missing() string {
	var reasons []string
	names := map[string][]string{}
	for _, m := range d.Result.Missing {
		why := DraftMissing(m)
		if names[why] == nil {
			reasons = append(reasons, why)
		}
		names[why] = append(names[why], draftNames[m.What])
	}
	var parts []string
	for _, why := range reasons {
		parts = append(parts, list(names[why])+" ("+why+")")
	}
	if marked := d.Result.Unfollowed; len(marked) > 0 {
		names := make([]string, len(marked))
		for i, name := range marked {
			names[i] = Visible(name)
		}
		parts = append(parts, list(names)+" ("+Unfollowed+")")
	}
	return strings.Join(parts, "; ")
}

// measuredText says what the drafted map measures.
func (d *Draft) measuredText() string {
	if d.Measured == nil {
		if d.Result.Signal(draft.EngineSpeed) == nil {
			return "there is none: without an engine speed no episode can be measured"
		}
		return ""
	}
	stops, restarts := 0, 0
	var slowest *analyze.MetricValue
	for i := range d.Measured.Logs {
		for k := range d.Measured.Logs[i].Result.Episodes {
			e := &d.Measured.Logs[i].Result.Episodes[k]
			stops++
			if e.Outcome == analyze.Restarted {
				restarts++
			}
			if v := e.Metric("restart_latency"); v.Key != "" && v.Absent == nil && (slowest == nil || v.Best > slowest.Best) {
				slowest = &v
			}
		}
	}
	text := fmt.Sprintf("%s, %s", decode.Counted(int64(stops), "stop", "stops"), decode.Counted(int64(restarts), "restart", "restarts"))
	if slowest != nil {
		value, _ := MetricText(*slowest)
		text += ", the slowest " + value
	}
	return text
}
