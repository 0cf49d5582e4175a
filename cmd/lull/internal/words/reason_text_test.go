package words_test

import (
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// reasonSentences are all that say why a figure is absent.
func reasonSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	unseen := func(where analyze.Part, unseen, whole int64) analyze.RoleUnseen {
		return analyze.RoleUnseen{Role: decode.BatteryVoltage, Where: where, Unseen: unseen, Whole: whole}
	}
	noSample := analyze.NoSample{Role: decode.BatteryVoltage, Window: 1.1e9}
	inGap, away, comes, polled := noSample, noSample, noSample, noSample
	inGap.Gap, away.Away, comes.Period, polled.Period, polled.Polled = 250e6, 2.01e9, 3e9, 3e9, true

	var types, plain, outcomes, parts []string
	for _, c := range []struct {
		reason analyze.Reason
	}{
		{analyze.NotMeasuredYet},
		{analyze.TooLarge},
		{analyze.NoRest},
		{analyze.NoDecision},
		{analyze.NoCrank},
		{analyze.CrankBeforeRest},
		{analyze.NoRunning},
		{analyze.NoRequestsMapped},
		{analyze.NoRequest},
		{analyze.NoVoltageFall},
		{analyze.NotStanding},
		{analyze.StoppedBeforeMoved},
		{analyze.EndedBeforeMoved},
		{analyze.NoReading},
		{analyze.NoOperation},
		{analyze.NeverRan},
		{analyze.NeverMoved},
		{analyze.TooManyOperations},
		{analyze.NoStarterLimit},
		{analyze.StallSavesNothing},
		{analyze.RisesUnderLoad},
		{analyze.Aborted},
		{analyze.InGap},
		{analyze.LogEnd},
		{analyze.NoStart},
		{analyze.IgnitionOff},
		{analyze.Stalled},
		{analyze.ChangeOfMind},
		{analyze.Restarted},
		{analyze.NoSignal{Role: decode.StarterCount}},
		{analyze.NeverSeen{Signal: "rpm", Role: decode.EngineSpeed}},
		{analyze.UnseenRequests{Why: analyze.NotSeen{Gap: 250e6}}},
		{analyze.UnseenRequests{Why: analyze.NotSeen{Signals: []string{"brake", "gear"}, Never: true}}},
		{unseen(analyze.BeforeMoment, 0, 0)},
		{unseen(analyze.AfterMoment, 0, 0)},
		{unseen(analyze.AroundMoment, 410e6, 0)},
		{unseen(analyze.InFall, 900e6, 0)},
		{unseen(analyze.InWindow, 400e6, 550e6)},
		{unseen(analyze.AfterDeparture, 0, 1.15e9)},
		{analyze.AsFarAsSeen{Why: unseen(analyze.InWindow, 400e6, 550e6), Best: 8.0512, Unit: "V"}},
		{noSample},
		{inGap},
		{away},
		{comes},
		{polled},
		{analyze.TooSeldom{Role: decode.BatteryVoltage, Period: 3e9, Window: 1e9}},
		{analyze.TooSeldom{Role: decode.VehicleSpeed, Period: 100e6, Window: 300e6, Fit: true}},
		{analyze.ShortCrank{Length: 28e6}},
		{analyze.ShortCrank{Length: 50e6, LetGo: true}},
		{analyze.NoRecovery{To: 12.1, Ended: analyze.NoStart}},
		{analyze.NoRecovery{To: 12.1, Holds: 100e6, Within: 2e9}},
		{analyze.TooLittleDriven{Km: 0.7931, Least: 100}},
		{analyze.TooLittleDriven{Km: 61.4, Least: 100}},
		{analyze.FewPairs(1)},
		{analyze.FewPairs(56)},
	} {
		list = append(list, said{typeName(c.reason), words.ReasonText(c.reason)})
		types = append(types, typeName(c.reason))
		switch r := c.reason.(type) {
		case analyze.PlainReason:
			plain = append(plain, string(r))
		case analyze.Outcome:
			outcomes = append(outcomes, string(r))
		case analyze.RoleUnseen:
			parts = append(parts, string(r.Where))
		}
	}
	const dir = "../../../../analyze"
	none(t, missing(typesWith(t, dir, "reason"), types))
	none(t, missing(constantsOf(t, dir, "PlainReason"), plain))
	none(t, missing(constantsOf(t, dir, "Outcome"), outcomes))
	none(t, missing(constantsOf(t, dir, "Part"), parts))
	if text := words.ReasonText(nil); text != "" {
		t.Errorf("of a figure that is there: %q", text)
	}
	return list
}

// Names of a map cannot steer a terminal through a reason.
func TestNamesInAReasonAreVisible(t *testing.T) {
	v := analyze.MetricValue{Absent: analyze.NeverSeen{Signal: "rpm\x1b[2J", Role: decode.EngineSpeed}}
	const want = `rpm\x1b[2J, which has the role engine_speed, was never seen in this log`
	if got, ok := words.MetricText(v); got != want || ok {
		t.Errorf("%q, %v", got, ok)
	}
}
