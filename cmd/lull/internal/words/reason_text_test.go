package words_test

import (
	"testing"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Every sentence that says why a figure is absent.
func TestEveryReasonIsASentence(t *testing.T) {
	unseen := func(where analyze.Part, unseen, whole int64) analyze.RoleUnseen {
		return analyze.RoleUnseen{Role: decode.BatteryVoltage, Where: where, Unseen: unseen, Whole: whole}
	}
	noSample := analyze.NoSample{Role: decode.BatteryVoltage, Window: 1.1e9}
	inGap, away, comes, polled := noSample, noSample, noSample, noSample
	inGap.Gap, away.Away, comes.Period, polled.Period, polled.Polled = 250e6, 2.01e9, 3e9, 3e9, true

	var types, plain, outcomes, parts []string
	for _, c := range []struct {
		reason analyze.Reason
		want   string
	}{
		{analyze.NotMeasuredYet, "not measured yet"},
		{analyze.TooLarge, "the samples are too large to measure by"},
		{analyze.NoRest, "the engine did not come to rest"},
		{analyze.NoDecision, "no decision to restart was seen"},
		{analyze.NoCrank, "no crank was seen"},
		{analyze.CrankBeforeRest, "the starter engaged before the engine came to rest"},
		{analyze.NoRunning, "the engine did not run after this start"},
		{analyze.NoRequestsMapped, "the map names no restart_requests"},
		{analyze.NoRequest, "no mapped restart request became true before the decision"},
		{analyze.NoVoltageFall, "the voltage never fell 0.5 V below voltage_before"},
		{analyze.NotStanding, "the vehicle was not at a standstill when the restart was asked for"},
		{analyze.StoppedBeforeMoved, "the engine was stopped again before the vehicle moved"},
		{analyze.EndedBeforeMoved, "the recording ends before the vehicle moved"},
		{analyze.NoReading, "no log has a reading of the counter"},
		{analyze.NoOperation, "no starter operation was seen"},
		{analyze.NeverRan, "the engine never ran in what was recorded"},
		{analyze.NeverMoved, "the vehicle never moved in what was recorded"},
		{analyze.TooManyOperations, "there are too many operations for an interval"},
		{analyze.NoStarterLimit, "the map gives no starter_limit"},
		{analyze.StallSavesNothing, "a stall saves no fuel"},
		{analyze.Aborted, "the stop was cancelled: the engine ran on"},
		{analyze.InGap, "the restart lies in a gap of the recording"},
		{analyze.LogEnd, "the log ends before the engine ran again"},
		{analyze.NoStart, "the engine did not start"},
		{analyze.IgnitionOff, "the ignition was switched off before the engine ran again"},
		{analyze.Stalled, "the engine did not run again within this episode"},
		{analyze.ChangeOfMind, "the engine did not run again within this episode"},
		{analyze.Restarted, "the engine did not run again within this episode"},
		{analyze.NoSignal{Role: decode.StarterCount}, "no signal has the role starter_count"},
		{analyze.NeverSeen{Signal: "rpm", Role: decode.EngineSpeed}, "rpm, which has the role engine_speed, was never seen in this log"},
		{analyze.UnseenRequests{Why: analyze.NotSeen{Gap: 250e6}},
			"no mapped restart request was seen before the decision, and not all could be: the recording has a gap of 250 ms in this episode"},
		{analyze.UnseenRequests{Why: analyze.NotSeen{Signals: []string{"brake", "gear"}, Never: true}},
			"no mapped restart request was seen before the decision, and not all could be: brake, gear were never seen"},
		{unseen(analyze.BeforeMoment, 0, 0), "battery_voltage was not seen before that moment"},
		{unseen(analyze.AfterMoment, 0, 0), "battery_voltage was not seen again after that moment"},
		{unseen(analyze.AroundMoment, 410e6, 0), "battery_voltage was not seen for 410 ms around that moment"},
		{unseen(analyze.InFall, 900e6, 0), "battery_voltage was not seen for 900 ms of the time in which it would fall"},
		{unseen(analyze.InWindow, 400e6, 550e6), "battery_voltage was not seen for 400 ms of the 550 ms that would show it"},
		{unseen(analyze.AfterDeparture, 0, 1.15e9), "battery_voltage was not seen over the whole 1.15 s after the vehicle left standstill"},
		{analyze.AsFarAsSeen{Why: unseen(analyze.InWindow, 400e6, 550e6), Best: 8.0512, Unit: "V"},
			"battery_voltage was not seen for 400 ms of the 550 ms that would show it; as far as it was seen: 8.051 V"},
		{noSample, "no sample of battery_voltage lies in the 1.10 s window"},
		{inGap, "no sample of battery_voltage lies in the 1.10 s window: the recording has a gap of 250 ms there"},
		{away, "no sample of battery_voltage lies in the 1.10 s window: it was not seen for 2.01 s"},
		{comes, "no sample of battery_voltage lies in the 1.10 s window: it comes every 3.00 s"},
		{polled, "no sample of battery_voltage lies in the 1.10 s window: it is polled every 3.00 s"},
		{analyze.TooSeldom{Role: decode.BatteryVoltage, Period: 3e9, Window: 1e9}, "battery_voltage is polled every 3.00 s, too seldom for a window of 1.00 s"},
		{analyze.TooSeldom{Role: decode.VehicleSpeed, Period: 100e6, Window: 300e6, Fit: true}, "vehicle_speed comes every 100 ms, too seldom for a fit over 300 ms"},
		{analyze.ShortCrank{Length: 28e6}, "the engine ran 28 ms after the crank onset, too soon to measure the speed at which the starter turns it"},
		{analyze.ShortCrank{Length: 50e6, LetGo: true}, "the starter was let go 50 ms after the crank onset, too soon to measure the speed at which it turns the engine"},
		{analyze.NoRecovery{To: 12.1, Ended: analyze.NoStart}, "the voltage did not come back to 12.10 V: the engine did not start"},
		{analyze.NoRecovery{To: 12.1, Holds: 100e6, Within: 2e9}, "the voltage did not come back to 12.10 V for 100 ms within 2.00 s after running"},
		{analyze.TooLittleDriven{Km: 0.7931, Least: 100}, "the logs hold 0.7931 km, and it takes 100 km of everyday driving: record 100 km more"},
		{analyze.TooLittleDriven{Km: 61.4, Least: 100}, "the logs hold 61.4 km, and it takes 100 km of everyday driving: record 39 km more"},
		{analyze.FewPairs(1), "1 pair of voltage and current while cranking, too few or too alike for a slope"},
		{analyze.FewPairs(56), "56 pairs of voltage and current while cranking, too few or too alike for a slope"},
	} {
		if got := words.ReasonText(c.reason); got != c.want {
			t.Errorf("%+v:\n%s\nwant\n%s", c.reason, got, c.want)
		}
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
}

// Names of a map cannot steer a terminal through a reason.
func TestNamesInAReasonAreVisible(t *testing.T) {
	v := analyze.MetricValue{Absent: analyze.NeverSeen{Signal: "rpm\x1b[2J", Role: decode.EngineSpeed}}
	const want = `rpm\x1b[2J, which has the role engine_speed, was never seen in this log`
	if got, ok := words.MetricText(v); got != want || ok {
		t.Errorf("%q, %v", got, ok)
	}
}
