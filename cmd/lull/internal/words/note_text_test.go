package words_test

import (
	"testing"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/stats"
)

// noteSentences are all that a note on an episode may be.
func noteSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	var types []string
	for _, c := range []struct {
		note analyze.EpisodeNote
	}{
		{analyze.CommandUnseen{Role: decode.StarterCommand, Length: 4e9}},
		{analyze.CommandUnseen{Role: decode.StopCommand, Length: 350e6}},
		{analyze.GapInside{}},
		{analyze.StopTakenBack{}},
	} {
		list = append(list, said{typeName(c.note), words.NoteText(c.note)})
		types = append(types, typeName(c.note))
	}
	none(t, missing(typesWith(t, "../../../../analyze", "note"), types))
	return list
}

// comparisonNoteSentences are all that a note on a comparison may be.
func comparisonNoteSentences(t *testing.T) []said {
	t.Helper()
	var list []said
	var types []string
	for _, c := range []struct {
		note compare.Note
	}{
		{compare.CountedOnce{Log: "copy", As: "a", Side: analyze.Before}},
		{compare.LeftOut{Log: "a", Side: analyze.After, Doubt: analyze.Doubt{Code: analyze.DoubtEngineOff, Cause: analyze.SilentCommand{Signal: "stop", Role: decode.StopCommand, Times: 5}}}},
		{compare.TwoVehicles{Names: [2]string{"van", "truck"}, Frames: [2]string{"0x220", "pgn 61444"}, Voltage: [2]float64{12.5, 25.28}, Idle: [2]float64{750, 620}}},
		{compare.TwoVehicles{Names: [2]string{"van", "car"}, Frames: [2]string{"0x220", "0x1A0"}}},
		{compare.NoEpisode{Side: analyze.After}},
		{compare.Swapped{Before: "bb", After: "a"}},
		{compare.Undated{Log: "u"}},
		{compare.OnlyOneHas{decode.BatteryCharge, decode.HoldPressure}},
		{compare.OtherUnits{{Signal: "coolant", Before: "degC", After: "K"}, {Signal: "hold", Before: "bar", After: "kPa"}}},
		{compare.OtherLimits{}},
		{compare.OtherSettings{}},
		{compare.OtherMix{By: compare.ByOutcome, Before: stats.Rate{Of: 4}, After: stats.Rate{Count: 3, Of: 3}}},
		{compare.OtherMix{By: compare.ByRequest, Before: stats.Rate{Count: 4, Of: 4}, After: stats.Rate{Of: 3}}},
	} {
		list = append(list, said{typeName(c.note), words.ComparisonNote(c.note)})
		types = append(types, typeName(c.note))
	}
	none(t, missing(typesWith(t, "../../../../analyze/compare", "note"), types))
	return list
}
