package words_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"lull/analyze/draft"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/marks"
)

// draftSentences are all that a draft may say of a signal: each kind of evidence, and each
// reason why nothing was found.
func draftSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	var types []string
	for _, c := range []struct {
		what draft.Quantity
		e    draft.Evidence
	}{
		{draft.EngineSpeed, draft.Follows{PID: 0x0C, Answers: 240, Distinct: 180, Within: 2.31, Lag: 0.03}},
		{draft.Coolant, draft.Answers{PID: 0x05, Every: 6.997}},
		{draft.EngineSpeed, draft.Standard{PGN: 61444, Low: 0, High: 706.375}},
		{draft.BatteryVoltage, draft.Database{Message: "Bat", Signal: "BattVolt", Low: 9.554, High: 14.15, Line: 11}},
		{draft.StarterCommand, draft.Database{Message: "Engine", Signal: "StarterRelay", Line: 5}},
		{draft.EngineSpeed, draft.Shape{Starts: 6, Stops: 1, Crank: 212.4, Idle: 759}},
		{draft.EngineSpeed, draft.Shape{Starts: 1, Stops: 0, Idle: 850}},
		{draft.EngineSpeed, draft.NeverRested{Idle: 812}},
		{draft.EngineSpeed, draft.SeveralModules{Others: 2}},
		{draft.BatteryVoltage, draft.Dips{In: 5, Of: 6, By: 2.89, Resting: 12.52, Generated: 14.15}},
		{draft.VehicleSpeed, draft.Road{Drives: 9, Top: 34.9}},
		{draft.StarterCommand, draft.OnInCranks{In: 6, Of: 6}},
		{draft.StopCommand, draft.OnInStops{In: 5, Of: 6, Lead: 0.98, Lag: 0.07}},
		{draft.Ignition, draft.KeyOn{Before: 1.23}},
		{draft.Ignition, draft.KeyOn{Before: 1.23, Ends: true}},
		{draft.Ignition, draft.KeyOn{Ends: true}},
		{draft.StarterCount, draft.StepsAtCranks{Steps: 6}},
		{draft.Brake, draft.IntoStandstills{Standstills: 7}},
		{draft.TurnLamp, draft.Blinks{Times: 19, Rate: 88.3}},
		{draft.Brake, draft.InMarks{Times: 3, Lag: 0.4}},
		{draft.BatteryCurrent, draft.CrankCurrent{In: 6, Of: 6, Lowest: -4023}},
		{draft.VehicleSpeed, draft.DashValue{At: 83, Value: 50, Unit: "km/h"}},
		{draft.VehicleSpeed, draft.DashValue{At: 83, Value: 50, Unit: "km/h", Fit: 1}},
		{draft.VehicleSpeed, draft.DashValue{At: 83, Value: 12, Unit: "km/h", Fit: 3}},
		{draft.Brake, draft.ByHand{}},
		{draft.Brake, draft.ByHand{InPlace: true}},
	} {
		s := draft.Signal{What: c.what, Evidence: []draft.Evidence{c.e}}
		list = append(list, said{typeName(c.e), words.DraftEvidence(&s)})
		types = append(types, typeName(c.e))
	}
	none(t, missing(typesWith(t, "../../../../analyze/draft", "evidence"), types))
	for why := draft.NothingAlike; why <= draft.NeverStood; why++ {
		list = append(list, said{fmt.Sprint("missing ", why), words.DraftMissing(draft.Missing{What: draft.Brake, Why: why})})
	}
	alike := draft.Signal{What: draft.Brake, Alike: 4, Evidence: []draft.Evidence{draft.IntoStandstills{Standstills: 6}}}
	for _, start := range []int{36, 40, 41, 57} {
		alike.Rivals = append(alike.Rivals, draft.Rival{Entry: decode.Entry{ID: 0x1A0}, Field: decode.Signal{Start: start, Length: 1}})
	}
	told := draft.Signal{What: draft.VehicleSpeed, Evidence: []draft.Evidence{draft.Road{Drives: 9, Top: 35}, draft.DashValue{At: 12, Value: 36, Unit: "km/h", Fit: 1}}}
	list = append(list, said{"a value told", words.DraftEvidence(&told)})
	unfollowed := words.Draft{Result: &draft.Draft{Missing: []draft.Missing{{What: draft.Coolant}}, Unfollowed: []string{"steering", "turn\x1b"}}}
	if lines := unfollowed.Lines(); len(lines) > 1 {
		list = append(list, said{"marks without a switch", lines[1].Head + ": " + lines[1].Text})
	}
	list = append(list, said{"alike", words.DraftEvidence(&alike)})
	return append(list, nextSentences()...)
}

// nextSentences are what to do next at the terminal and on the page, and what is said of
// what was given.
func nextSentences() []said {
	rested := draft.DriveFacts{Ran: true, Rested: true, Starts: 1}
	guesses := &draft.Draft{Drive: rested, Signals: []draft.Signal{{What: draft.EngineSpeed}, {What: draft.VehicleSpeed}}}
	var list []said
	for _, r := range []*draft.Draft{{Untimed: true}, {}, guesses} {
		d := &words.Draft{Result: r}
		for _, l := range d.Lines() {
			if l.Head == "Do next" {
				list = append(list, said{"next", l.Text})
			}
		}
		for _, l := range d.PageLines() {
			if l.Head == "Do next" {
				list = append(list, said{"next on the page", l.Text})
			}
		}
	}
	for _, step := range words.HowToRecord() {
		list = append(list, said{"recording", step})
	}
	for i, step := range words.HowToRecordForPage() {
		if step != words.HowToRecord()[i] {
			list = append(list, said{"recording, on the page", step})
		}
	}
	for _, e := range []draft.Evidence{draft.Follows{}, draft.Answers{}, draft.Standard{}, draft.Database{}, draft.Shape{}} {
		list = append(list, said{"dashboard not used", words.DashUnused(&draft.Signal{Evidence: []draft.Evidence{e}})})
	}
	taken := []marks.Mark{{Name: "brake", From: 1, To: 2}, {Name: "vehicle_speed", HasValue: true, Value: 50, Unit: "km/h"}, {Name: "coolant", From: 90, HasValue: true, Value: 90, Unit: "degC"}}
	list = append(list, said{"marks", words.MarksUsed("a.marks", taken[:2])}, said{"marks", words.MarksUsed("a.marks", taken)})
	for range 4 {
		taken = append(taken, taken[2])
	}
	return append(list, said{"marks", words.MarksUsed("a.marks", taken)}, said{"database", words.DatabaseUsed("car.dbc", 1)}, said{"database", words.DatabaseUsed("car.dbc", 56)})
}

// The page speaks of its fields and buttons; commands and their flags are the terminal's.
func TestThePageIsToldNoFlags(t *testing.T) {
	for _, s := range nextSentences() {
		if strings.Contains(s.of, "page") && (strings.Contains(s.text, "--") || strings.Contains(s.text, "lull draft") || strings.Contains(s.text, "key b") || strings.Contains(s.text, "Ctrl-C")) {
			t.Errorf("%s: %q", s.of, s.text)
		}
	}
}

// One word for the field and one for the factor stand at the beginning of what is said of a
// signal, and nowhere else in it.
func TestEvidenceNeverUsesTheWordsOfSureness(t *testing.T) {
	next := nextSentences()
	for _, s := range draftSentences(t) {
		if slices.Contains(next, s) {
			continue
		}
		for _, word := range []string{"sure", "likely", "guess"} {
			if strings.Contains(s.text, word) {
				t.Errorf("%s: %q has the word %s", s.of, s.text, word)
			}
		}
	}
}
