package words

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lull/analyze/starter"
	"lull/decode"
	"lull/pkg/stats"
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

const StarterCaution = "The maker's procedure decides what a new control module is given and when a starter is replaced."

// Answer says aloud what came of all logs.
func (s *StarterReport) Answer() string {
	list := []string{s.operationsSentence(), s.counterSentence(), s.handOnSentence(), s.rateSentence(), s.leftSentence()}
	return strings.Join(slices.DeleteFunc(list, func(s string) bool { return s == "" }), " ")
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
			kinds = append(kinds, decode.Counted(int64(k.n), k.one, k.many))
		}
	}
	if len(kinds) == 0 {
		return "No starter operation was seen" + over + "."
	}
	return decode.Counted(int64(a.Operations()), "starter operation was", "starter operations were") + " seen" + over + ": " + list(kinds) + "."
}

// counterSentence holds the counter against what was seen.
func (s *StarterReport) counterSentence() string {
	first, last := -1, -1
	for i := range s.Logs {
		if c := &s.Logs[i].Result.Starter; c.Absent == nil {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return "No counter was read: " + Visible(ReasonText(s.Account.HandOn.Absent)) + "."
	}
	text := fmt.Sprintf("The counter read %s first and %s last", Shortest(s.Logs[first].Result.Starter.First), Shortest(s.Logs[last].Result.Starter.Last))
	switch {
	case len(s.Account.Resets) > 0:
		return text + ", and was set back " + Times(len(s.Account.Resets)) + " in between."
	case s.Account.Disagrees():
		return text + ", which disagrees with the operations seen."
	}
	text += ", which agrees with the operations seen"
	if n := s.Account.Unrecorded; n > 0 {
		text += " and " + Shortest(n) + " between the logs that were not recorded"
	}
	return text + "."
}

func (s *StarterReport) handOnSentence() string {
	if s.Account.HandOn.Absent != nil {
		return "What a new control module must be given is not known. A new starter begins at 0."
	}
	if s.drafted() {
		return "What a new control module must be given is not told by a map that is a draft. A new starter begins at 0."
	}
	return "Only if the control module is replaced: the new one must be given " + Shortest(s.Account.HandOn.Value) + ", by the maker's procedure. A new starter begins at 0."
}

// vague reports whether an estimate's interval is too wide for a figure that is said aloud.
func vague(low, high float64) bool { return high > 4*low }

func (s *StarterReport) rateSentence() string {
	var parts, missing []string
	for _, r := range []struct {
		rate starter.Rate
		unit string
	}{{s.Account.PerHour, "an engine hour"}, {s.Account.PerKm, "a km"}} {
		if r.rate.Absent != nil {
			missing = append(missing, "operations "+r.unit+" are not known: "+Visible(ReasonText(r.rate.Absent)))
			continue
		}
		if vague(r.rate.Low, r.rate.High) {
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
	limit := Shortest(s.Map.Settings.StarterLimit)
	switch {
	case l.Operations.Absent != nil:
		return "What is left to the limit is not known: " + Visible(ReasonText(l.Operations.Absent)) + "."
	case l.Operations.Value == 0:
		return "The limit of " + limit + " operations is reached: the car stops its engine no more."
	}
	text := fmt.Sprintf("Of the %s that the signal map allows %s are left", limit, Shortest(l.Operations.Value))
	if l.Km.Absent != nil {
		return text + "; how far that takes is not known: " + Visible(ReasonText(l.Km.Absent)) + "."
	}
	if vague(l.Low.Value, l.High.Value) {
		return text + "; too little was driven to tell how far that takes."
	}
	return text + fmt.Sprintf(", at this rate for %s km (%s to %s).", significant(l.Km.Value), significant(l.Low.Value), significant(l.High.Value))
}

// significant writes an estimate with two significant digits: its interval bears no
// more.
func significant(v float64) string {
	if v == 0 || !stats.Finite(v) {
		return "0"
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-1)
	return Number(math.Round(v/unit) * unit)
}
