package words

import (
	"fmt"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/decode"
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
	if !s.RanOn() {
		return "", false
	}
	keyed := ""
	if KeyedOff(res, s) {
		keyed = fmt.Sprintf(", %s s of them until the ignition was switched off", Length(s.Start, bounds.At(s.Until)))
	}
	text := StandstillName(s) + keyed + ": "
	switch {
	case s.Reason != "":
		text += Visible(s.Reason) + r.evidence(s)
	case s.Unexplained:
		text += "no reason found in the signal map"
		if s.Covered > 0 {
			text += fmt.Sprintf("; what the signal map names explains only %s of it", Percent(s.Covered))
		}
	case len(s.CannotTell) > 0:
		text += "cannot tell why; not known: " + Visible(strings.Join(s.CannotTell, ", "))
	default:
		text += unfinished(res, s)
	}
	return text, true
}

// unfinished names what happened in a standstill in which the engine stopped but was not
// kept stopped: it stalled, or a stop was called off.
func unfinished(res *analyze.Result, s *analyze.Standstill) string {
	for i := range res.Episodes {
		e := &res.Episodes[i]
		if e.Outcome == analyze.Stalled && e.Stop.T >= s.Start.Low && e.Stop.T <= s.End.High {
			return fmt.Sprintf("the engine stalled (episode %d)", e.N)
		}
	}
	for i := range res.Episodes {
		if e := &res.Episodes[i]; e.Outcome == analyze.Aborted && s.Holds(e) {
			return fmt.Sprintf("a stop was begun and cancelled (episode %d)", e.N)
		}
	}
	return "a stop was begun and cancelled"
}

// evidence is what the reason's signals measured and for how long it held.
func (r *Report) evidence(s *analyze.Standstill) string {
	for _, h := range s.Inhibits {
		if r.Map.Inhibits[h.Condition].Name != s.Reason {
			continue
		}
		text := " for " + Percent(h.Share) + " of the time"
		if len(h.Measured) > 0 {
			text += "; measured: " + measuredTexts(r.Map, h.Measured)
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

// StoppedWord says whether the engine was stopped in a standstill, and why it is not
// counted where it is not.
func (r *Report) StoppedWord(s *analyze.Standstill) Word {
	text := "yes"
	switch {
	case s.Stopped:
	case !s.Opportunity:
		return Word{Text: "not counted: " + notCounted(r.Map, s.NotCounted)}
	case s.Open:
		return Word{Text: notToItsEnd}
	default:
		return Word{"no", Doubtful}
	}
	if !s.Opportunity {
		text += "; not counted: " + notCounted(r.Map, s.NotCounted)
	}
	return Word{Text: text}
}

// EpisodesIn numbers the episodes that began in a standstill; "-" where none did.
func EpisodesIn(res *analyze.Result, s *analyze.Standstill) string {
	var numbers []string
	for i := range res.Episodes {
		if e := &res.Episodes[i]; s.Holds(e) {
			numbers = append(numbers, strconv.Itoa(e.N))
		}
	}
	if len(numbers) == 0 {
		return "-"
	}
	return strings.Join(numbers, ", ")
}

// ReasonWord says in the fewest words why the engine was not stopped in a standstill; "-"
// where it was, or where nothing is to be told.
func ReasonWord(res *analyze.Result, s *analyze.Standstill) Word {
	switch {
	case s.Stopped:
	case s.Reason != "":
		return Word{Text: Visible(s.Reason)}
	case s.Unexplained:
		return Word{noReason, Bad}
	case len(s.CannotTell) > 0:
		return Word{"cannot tell: " + Visible(strings.Join(s.CannotTell, ", ")), Doubtful}
	case s.RanOn():
		return Word{unfinished(res, s), Doubtful}
	}
	return Word{Text: "-"}
}

// notCounted says why a standstill is no opportunity to stop the engine.
func notCounted(m *decode.Map, x analyze.Exclusion) string {
	switch x {
	case analyze.TooShort:
		return "shorter than " + Number(m.Settings.MinStandstill.Seconds()) + " s"
	case analyze.RecordingEnded:
		return "the recording ended in it"
	case analyze.EngineWasOff:
		return "the engine was off"
	case analyze.EngineNotSeen:
		return "the recording began in it"
	case analyze.KeyTurnedOff:
		return "the key was turned off"
	}
	return Spoken(string(x))
}
