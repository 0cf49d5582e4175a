package words_test

import (
	"testing"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/stats"
)

// Every sentence that a note on an episode may be.
func TestEveryNoteIsASentence(t *testing.T) {
	var types []string
	for _, c := range []struct {
		note analyze.EpisodeNote
		want string
	}{
		{analyze.CommandUnseen{Role: decode.StarterCommand, Length: 4e9}, "starter_command was not seen for 4.00 s of this restart: what the starter did in it is not known"},
		{analyze.CommandUnseen{Role: decode.StopCommand, Length: 350e6}, "stop_command was not seen for 350 ms: whether the engine stalled is not known"},
		{analyze.GapInside{}, "the recording has a gap inside this episode"},
		{analyze.StopTakenBack{}, "the stop command fell and rose again before anything came of it"},
	} {
		if got := words.NoteText(c.note); got != c.want {
			t.Errorf("%+v:\n%s\nwant\n%s", c.note, got, c.want)
		}
		types = append(types, typeName(c.note))
	}
	none(t, missing(typesWith(t, "../../../../analyze", "note"), types))
}

// Every sentence that a note on a comparison may be.
func TestEveryNoteOnAComparisonIsASentence(t *testing.T) {
	var types []string
	for _, c := range []struct {
		note compare.Note
		want string
	}{
		{compare.CountedOnce{Log: "copy", As: "a", Side: analyze.Before}, "copy is the same drive as a, both of them before: it is counted once"},
		{compare.LeftOut{Log: "a", Side: analyze.After, Doubt: analyze.Doubt{Code: analyze.DoubtEngineOff, Cause: analyze.SilentCommand{Signal: "stop", Role: decode.StopCommand, Times: 5}}},
			"a, of the side after, cannot be used and is left out: the engine stopped 5 times and stop never came on: look at its bit"},
		{compare.TwoVehicles{Names: [2]string{"van", "truck"}, Frames: [2]string{"0x220", "pgn 61444"}, Voltage: [2]float64{12.5, 25.28}, Idle: [2]float64{750, 620}},
			"the sides are of two vehicles (the maps are of van and of truck; the voltage is 12.5 V and 25.28 V; the engine idles at 750 and at 620 rpm): what differs need not be the repair's doing"},
		{compare.TwoVehicles{Names: [2]string{"van", "car"}, Frames: [2]string{"0x220", "0x1A0"}},
			"the sides are of two vehicles (the maps are of van and of car; the engine speed is in 0x220 and in 0x1A0): what differs need not be the repair's doing"},
		{compare.NoEpisode{Side: analyze.After}, "there is no episode on the side after, so nothing of a restart can be compared: drive so that the engine stops, and record again"},
		{compare.Swapped{Before: "bb", After: "a"}, "a, which is given as after, was recorded earlier than bb, which is given as before: are the sides swapped?"},
		{compare.Undated{Log: "u"}, "u carries no date, so whether the sides are in order cannot be checked"},
		{compare.OnlyOneHas{decode.BatteryCharge, decode.HoldPressure}, "only one of the two maps has battery_charge, hold_pressure: what is measured by it is missing on the other side"},
		{compare.OtherUnits{{Signal: "coolant", Before: "degC", After: "K"}, {Signal: "hold", Before: "bar", After: "kPa"}},
			"the two maps give other units for coolant (degC and K), hold (bar and kPa): whether the sides were driven alike cannot be told by it"},
		{compare.OtherLimits{}, "the two maps have different limits: each side is judged by its own"},
		{compare.OtherSettings{}, "the two maps have different settings: what is measured does not mean the same on both sides; give both maps the same settings"},
		{compare.OtherMix{By: compare.ByOutcome, Before: stats.Rate{Of: 4}, After: stats.Rate{Count: 3, Of: 3}},
			"the sides are mixed differently: restarts asked for before the engine rested are 0 of 4 before and 3 of 3 after; --by outcome compares like with like"},
		{compare.OtherMix{By: compare.ByRequest, Before: stats.Rate{Count: 4, Of: 4}, After: stats.Rate{Of: 3}},
			"the sides are mixed differently: restarts that the driver asked for are 4 of 4 before and 0 of 3 after; --by request compares like with like"},
	} {
		if got := words.ComparisonNote(c.note); got != c.want {
			t.Errorf("%+v:\n%s\nwant\n%s", c.note, got, c.want)
		}
		types = append(types, typeName(c.note))
	}
	none(t, missing(typesWith(t, "../../../../analyze/compare", "note"), types))
}
