package words

import (
	"fmt"
	"strings"

	"lull/analyze"
	"lull/pkg/bounds"
)

// Refusals says of each standstill in which the engine ran on why it did.
func (r *Report) Refusals(l *Log) []string {
	var list []string
	for i := range l.Result.Standstills {
		if text, ok := r.refusal(l.Result, &l.Result.Standstills[i]); ok {
			list = append(list, text)
		}
	}
	return list
}

// refusal says of one standstill why the engine was not stopped in it, with
// what was measured; ok is false where it was or does not count.
func (r *Report) refusal(res *analyze.Result, s *analyze.Standstill) (string, bool) {
	if !s.Opportunity || s.Stopped || s.Open {
		return "", false
	}
	keyed := ""
	if s.Until > s.Start.T && s.Until < s.End.T {
		keyed = fmt.Sprintf(", %s s of them until the ignition was switched off", Length(s.Start, bounds.At(s.Until)))
	}
	text := fmt.Sprintf("standstill %d at %s s, %s s long%s: ", s.N, Moment(s.Start), Length(s.Start, s.End), keyed)
	switch {
	case s.Reason != "":
		text += Visible(s.Reason) + r.evidence(s)
	case s.Unexplained:
		text += "nothing in the map explains it"
		if s.Covered > 0 {
			text += fmt.Sprintf("; inhibits were true for only %s of it", Percent(s.Covered))
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
		text := " for " + Percent(h.Share) + " of the time"
		if len(h.Measured) > 0 {
			text += "; measured: " + joined(h.Measured, ", ", r.measured)
		}
		return text
	}
	for _, c := range s.Codes {
		if c.Name == s.Reason {
			return ", the car's own code, for " + Percent(c.Share) + " of the time"
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

// StoppedWord reports whether the engine was stopped in a standstill.
func StoppedWord(s *analyze.Standstill) Word {
	switch {
	case s.Stopped && s.Episode != 0:
		return Word{Text: fmt.Sprintf("yes, episode %d", s.Episode)}
	case s.Stopped:
		return Word{Text: "yes"}
	case !s.Opportunity:
		return Word{Text: "does not count"}
	case s.Open:
		return Word{Text: "open at the end"}
	}
	return Word{"no", Doubtful}
}
