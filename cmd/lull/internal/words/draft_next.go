package words

import (
	"fmt"
	"strings"

	"lull/analyze/draft"
	"lull/decode"
	"lull/decode/marks"
)

// next is what would make the draft better. A page speaks of what is on it.
func (d *Draft) next(onPage bool) string {
	say := func(terminal, page string) string {
		if onPage {
			return page
		}
		return terminal
	}
	var steps []string
	r := d.Result
	engine, road, brake := r.Signal(draft.EngineSpeed), r.Signal(draft.VehicleSpeed), r.Signal(draft.Brake)
	switch {
	case r.Untimed:
		return "record with time stamps, for instance with lull record"
	case polledAlone(r):
		return "record the bus itself: this log holds little but a scan tool's questions and the answers, " + pollsText(r) +
			"which show that the engine stopped, not how. Tap the bus elsewhere, for a gateway may keep its frames from the diagnostic socket; or have the tool ask for the engine speed alone, so that it asks more often"
	case engine == nil || !r.Drive.Ran || !r.Drive.Rested:
		steps = append(steps, "record once more by the card "+say("that lull draft --how prints", "at the end of this page")+": key on with the engine off, start, idle, stop and restart")
	case r.Drive.Starts < 4:
		steps = append(steps, say("give a log with more stops and restarts of the same car besides",
			"drop this log on the first page together with another one of the same car that has more stops and restarts"))
	}
	if road != nil && DashHelps(road) {
		steps = append(steps, say("tell one value of the dashboard with --marks, such as `vehicle_speed 83 84 50 km/h`",
			"tell on the card of the road speed what the dashboard showed")+", or poll the speed with a scan tool while recording")
	}
	if engine != nil && DashHelps(engine) {
		steps = append(steps, say("tell one value of the tachometer with --marks, such as `engine_speed 83 84 2000 rpm`",
			"tell on the card of the engine speed what the tachometer showed")+", or poll the engine speed")
	}
	if (brake == nil || brake.FieldIs == draft.Guess) && engine != nil {
		steps = append(steps, "press the brake three times for 2 s at a standstill and mark it"+say("", " while recording; then drop the marks with the log"))
	}
	return strings.Join(steps, "; ")
}

// polledAlone reports whether all that was found are answers to a scan tool.
func polledAlone(r *draft.Draft) bool {
	for i := range r.Signals {
		if _, ok := answersOf(&r.Signals[i]); !ok {
			return false
		}
	}
	return len(r.Signals) > 0
}

// answersOf returns the answers that a signal is itself.
func answersOf(s *draft.Signal) (draft.Answers, bool) {
	for _, e := range s.Evidence {
		if a, ok := e.(draft.Answers); ok {
			return a, true
		}
	}
	return draft.Answers{}, false
}

// pollsText says how often the engine speed was asked for.
func pollsText(r *draft.Draft) string {
	if engine := r.Signal(draft.EngineSpeed); engine != nil {
		if a, ok := answersOf(engine); ok && a.Every > 0 {
			return "the engine speed every " + Number(a.Every) + " s, "
		}
	}
	return ""
}

// HowToRecord says what to do in the car so that a draft finds most.
func HowToRecord() []string { return howToRecord(false) }

// HowToRecordForPage is HowToRecord for those who use the page.
func HowToRecordForPage() []string { return howToRecord(true) }

func howToRecord(onPage bool) []string {
	record := "Start recording: lull record can0 -o drive.log --marks drive.marks. Its screen says which keys mark what. On a page, with buttons: lull serve --interface can0 -o drive.log --marks drive.marks."
	brake, lamps, dash := "key b when it is pressed, b again when it is released", "keys l and r", "key d, then 50 km/h and Enter"
	end := "end the recording with Ctrl-C. Then: lull draft drive.log --marks drive.marks -o map.yaml."
	if onPage {
		record = "Start recording at the terminal; lull help serve says how. The page of the recording has buttons that mark what is done; the marks lie beside the log: drive.marks beside drive.log."
		brake, lamps, dash = "its button when it is pressed, and again when it is released", "their buttons", "the field beside the buttons"
		end = "end the recording with its button and measure it there; the marks are beside it. Or drop log and marks together on the first page."
	}
	return []string{
		"Two people, two minutes: one drives, one marks what is done.",
		record,
		"Key on, engine off; wait 5 s.",
		"Start the engine; let it idle for 10 s.",
		"At a standstill press the brake three times for 2 s each, and mark each time: " + brake + ".",
		"Turn lamp left for 5 s, then right for 5 s; mark both (" + lamps + ").",
		"Drive off. Let the engine stop and restart three times or more; between two stops drive faster than 30 km/h once.",
		"While driving at a steady speed, mark what the dashboard shows: the road speed, and if it has them engine speed and coolant temperature (" + dash + ").",
		"Stop, key off; wait 5 s; " + end,
		"A scan tool that meanwhile polls engine speed, road speed, coolant and module voltage makes nearly everything sure.",
		"Only where the law and the place allow it: somebody drives, somebody else handles the laptop. Follow the maker's procedure; the engine can start by itself.",
	}
}

// What is asked for of the dashboard.
const (
	AskSpeed = "What did the dashboard show? One value settles the factor. Take one from a steady drive; a speedometer may show up to a tenth and 4 km/h more than the true speed, never less."
	AskRevs  = "What did the tachometer show? One value of an engine that held its speed may settle the factor: no rule says how true a tachometer is, and a tenth and 50 rpm either way are allowed for."
)

// DashHelps reports whether a value of the dashboard may settle the factor of a signal: one
// that was found by its shape.
func DashHelps(s *draft.Signal) bool {
	for _, e := range s.Evidence {
		switch e.(type) {
		case draft.Follows, draft.Answers, draft.Standard, draft.Database:
			return false
		}
	}
	return s.ScaleIs == draft.Guess
}

// DashUnused says that values of the dashboard settle nothing of a signal, and why. It is
// empty where they are used.
func DashUnused(s *draft.Signal) string {
	why := ""
	for _, e := range s.Evidence {
		switch e.(type) {
		case draft.DashValue:
			return ""
		case draft.Follows, draft.Answers:
			why = "answers to a scan tool"
		case draft.Standard:
			why = "SAE J1939"
		case draft.Database:
			why = "the database"
		}
	}
	if why == "" {
		return "That settles nothing: it lies outside of what the log has of this signal."
	}
	return "That settles nothing: the factor comes from " + why + ", which a dashboard does not outdo."
}

// MarksUsed says what a file of marks gives a draft, and what of it is not used.
func MarksUsed(name string, taken []marks.Mark) string {
	times, values, unused := 0, 0, []string{}
	for _, m := range taken {
		if _, settles := draft.Settles(m); settles {
			values++
		} else if m.HasValue {
			unused = append(unused, MarkText(m))
		} else {
			times++
		}
	}
	var parts []string
	if times > 0 {
		parts = append(parts, decode.Counted(int64(times), "marked time", "marked times"))
	}
	if values > 0 {
		parts = append(parts, decode.Counted(int64(values), "value of the dashboard", "values of the dashboard"))
	}
	if len(parts) == 0 {
		parts = []string{"nothing that a draft uses"}
	}
	text := name + ": " + list(parts)
	if n := len(unused); n > 0 {
		if n > mostUnused {
			unused = append(unused[:mostUnused], fmt.Sprintf("%d more", n-mostUnused))
		}
		text += "; not used, as only road speed and engine speed settle a factor: " + list(unused)
	}
	return text + "."
}

// mostUnused is how many marks that are not used are named.
const mostUnused = 3

// DatabaseUsed says what a database gives a draft.
func DatabaseUsed(name string, messages int) string {
	return fmt.Sprintf("%s: a database of %s.", name, decode.Counted(int64(messages), "message", "messages"))
}
