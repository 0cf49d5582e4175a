package words

import (
	"fmt"
	"math"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/units"
)

// plainReasons are the reasons that are sentences as they stand.
var plainReasons = map[analyze.PlainReason]string{
	analyze.NotMeasuredYet:     "not measured yet",
	analyze.TooLarge:           "the samples are too large to measure by",
	analyze.NoRest:             "the engine did not come to rest",
	analyze.NoDecision:         "no decision to restart was seen",
	analyze.NoCrank:            "the starter was not seen to turn the engine",
	analyze.CrankBeforeRest:    "the starter engaged before the engine came to rest",
	analyze.NoRunning:          "the engine did not run after this start",
	analyze.NoRequestsMapped:   "the signal map names no restart_requests",
	analyze.NoRequest:          "no restart request of the signal map came before the car decided to restart",
	analyze.NoVoltageFall:      "the voltage never fell 0.5 V below what it was before the start",
	analyze.NotStanding:        "the vehicle was not at a standstill when the restart was asked for",
	analyze.StoppedBeforeMoved: "the engine was stopped again before the vehicle moved",
	analyze.EndedBeforeMoved:   "the recording ends before the vehicle moved",
	analyze.NoReading:          "no log has a reading of the counter",
	analyze.NoOperation:        "no starter operation was seen",
	analyze.NeverRan:           "the engine never ran in what was recorded",
	analyze.NeverMoved:         "the vehicle never moved in what was recorded",
	analyze.TooManyOperations:  "there are too many operations for an interval",
	analyze.NoStarterLimit:     "the signal map gives no starter_limit",
	analyze.StallSavesNothing:  "a stall saves no fuel",
	analyze.RisesUnderLoad:     "the voltage rises with the load, which no battery's does: look at the sign of the current",
}

// ReasonText says why a figure is absent; "" if it is not. Names in it are as the map
// has them: whoever shows it makes them Visible, or escapes them.
func ReasonText(r analyze.Reason) string {
	switch a := r.(type) {
	case analyze.PlainReason:
		return plainReasons[a]
	case analyze.Outcome:
		return notRestarted(a)
	case analyze.NoSignal:
		return "no signal has the role " + a.Role.String()
	case analyze.NeverSeen:
		return fmt.Sprintf("%s, which has the role %s, was never seen in this log", a.Signal, a.Role)
	case analyze.UnseenRequests:
		return "no restart request of the signal map was seen before the car decided to restart, and not all could be seen: " + notSeen(a.Why)
	case analyze.RoleUnseen:
		return a.Role.String() + " was not seen " + unseenPart(a)
	case analyze.AsFarAsSeen:
		return fmt.Sprintf("%s; as far as it was seen: %.4g %s", ReasonText(a.Why), a.Best, a.Unit)
	case analyze.NoSample:
		return fmt.Sprintf("no sample of %s lies in the %s window", a.Role, units.Length(a.Window)) + whyNoSample(a)
	case analyze.TooSeldom:
		if a.Fit {
			return fmt.Sprintf("%s comes every %s, too seldom for a fit over %s", a.Role, units.Length(a.Period), units.Length(a.Window))
		}
		return fmt.Sprintf("%s is polled every %s, too seldom for a window of %s", a.Role, units.Length(a.Period), units.Length(a.Window))
	case analyze.ShortCrank:
		if a.LetGo {
			return "the starter was let go " + units.Length(a.Length) + " after it engaged, too soon to measure the speed at which it turns the engine"
		}
		return "the engine ran " + units.Length(a.Length) + " after the starter engaged, too soon to measure the speed at which the starter turns it"
	case analyze.NoRecovery:
		text := fmt.Sprintf("the voltage did not come back to %.2f V", a.To)
		if a.Ended != nil {
			return text + ": " + ReasonText(a.Ended)
		}
		return text + " for " + units.Length(a.Holds) + " within " + units.Length(a.Within) + " after the engine ran"
	case analyze.TooLittleDriven:
		return fmt.Sprintf("the logs hold %s km, and it takes %s km of everyday driving: record %s km more", Fixed(a.Km, 1), Number(a.Least), Number(math.Ceil(a.Least-a.Km)))
	case analyze.FewPairs:
		return decode.Counted(int64(a), "pair", "pairs") + " of voltage and current while cranking, too few or too alike for a slope"
	}
	return ""
}

// notRestarted says why an episode that ended so has no restart.
func notRestarted(o analyze.Outcome) string {
	switch o {
	case analyze.Aborted:
		return "the stop was cancelled: the engine ran on"
	case analyze.InGap:
		return "the restart lies in a gap of the recording"
	case analyze.LogEnd:
		return "the recording ends before the engine ran again"
	case analyze.NoStart:
		return "the engine did not start"
	case analyze.IgnitionOff:
		return "the key was turned off before the engine ran again"
	}
	return "the engine did not run again within this episode"
}

// notSeen says why something cannot be told.
func notSeen(u analyze.NotSeen) string {
	names := list(u.Signals) + decode.Pick(len(u.Signals), " was ", " were ")
	switch {
	case u.Gap > 0:
		return "the recording has a gap of " + units.Length(u.Gap) + " in this episode"
	case len(u.Signals) == 0:
		return "it was not seen"
	case u.Never:
		return names + "never seen"
	}
	return names + "not seen for too long"
}

func unseenPart(u analyze.RoleUnseen) string {
	unseen, whole := units.Length(u.Unseen), units.Length(u.Whole)
	switch u.Where {
	case analyze.BeforeMoment:
		return "before that moment"
	case analyze.AfterMoment:
		return "again after that moment"
	case analyze.AroundMoment:
		return "for " + unseen + " around that moment"
	case analyze.InFall:
		return "for " + unseen + " of the time in which it would fall"
	case analyze.AfterDeparture:
		return "over the whole " + whole + " after the vehicle left standstill"
	}
	return "for " + unseen + " of the " + whole + " that would show it"
}

func whyNoSample(n analyze.NoSample) string {
	switch {
	case n.Gap > 0:
		return ": the recording has a gap of " + units.Length(n.Gap) + " there"
	case n.Away > 0:
		return ": it was not seen for " + units.Length(n.Away)
	case n.Polled:
		return ": it is polled every " + units.Length(n.Period)
	case n.Period > 0:
		return ": it comes every " + units.Length(n.Period)
	}
	return ""
}
