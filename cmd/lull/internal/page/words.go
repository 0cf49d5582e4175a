package page

import (
	"fmt"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// glossary explains the words of a report.
var glossary = []Item{
	{Term: "standstill", Text: "the time in which the vehicle stands"},
	{Term: "stop onset", Text: "the moment from which the engine is being stopped"},
	{Term: "rest", Text: "the engine no longer turns"},
	{Term: "restart request", Text: "a condition of the map that may ask for a restart becomes true"},
	{Term: "decision", Text: "the stop command falls or the starter begins to turn, whichever is earlier"},
	{Term: "crank", Text: "the starter turns the engine"},
	{Term: "running", Text: "the engine is above its running speed and stays there"},
	{Term: "episode", Text: "from a stop onset to the running that ends it, or to what else ends it"},
	{Term: "change of mind", Text: "the restart was asked for before the engine had come to rest"},
	{Term: "aborted", Text: "the stop was called off and the engine ran on"},
	{Term: "inhibit", Text: "a condition that keeps the engine from being stopped at a standstill"},
	{Term: "covered", Text: "share of the time in which the engine could have been stopped and something stood in the way"},
	{Term: "silence", Text: "a module that sends regularly stays away while others are there"},
	{Term: "gap", Text: "no frame of any kind: the recording stopped, not a module"},
	{Term: "borderline", Text: "the bounds of a figure lie on both sides of its limit"},
	{Term: "unseen", Text: "not enough was seen of a figure to say that it keeps its limit"},
}

// settings are the thresholds that a log was measured by.
func settings(s decode.Settings) []Item {
	return []Item{
		{Term: "running speed", Text: words.Number(s.RunningSpeed) + " rpm, held for " + s.RunningHold.String()},
		{Term: "rest speed", Text: words.Number(s.RestSpeed) + " rpm"},
		{Term: "standstill", Text: words.Number(s.StandstillSpeed) + " km/h or less, for at least " + s.MinStandstill.String()},
		{Term: "request window", Text: s.RequestWindow.String() + " before the decision"},
		{Term: "failed start", Text: "not running " + s.NoStartAfter.String() + " after the decision and the last crank"},
		{Term: "stale", Text: "a signal not seen for " + s.StaleAfter.String() + " or three of its periods"},
		{Term: "silence and gap", Text: fmt.Sprintf("%s periods and at least 100 ms", words.Number(s.SilenceFactor))},
		{Term: "low voltage", Text: words.Number(s.LowVoltage) + " V"},
		{Term: "idle fuel rate", Text: words.Number(s.IdleFuelRate) + " L/h where the log tells nothing; a restart costs " + words.Number(s.RestartFuel) + " mL"},
	}
}

func cautions() Section {
	return Section{ID: "cautions", Title: "Cautions", Level: 2, Blocks: []Block{{List: []Item{
		{Text: words.Caution},
		{Text: "It can roll, and it can hurt someone at an open bonnet. Secure the car and make it unable to start before you open it."},
		{Text: "A log shows what was on the bus. It judges no car and names no part: the maker's procedure, local rules and the judgement of licensed practice come first."},
	}}}}
}
