package words

import (
	"fmt"

	"lull/analyze/measure"
	"lull/decode"
)

// Entry is a line of a list: what it is about and what is said of it.
type Entry struct{ Term, Text string }

// Glossary explains the words of a report.
var Glossary = []Entry{
	{Term: "standstill", Text: "the time in which the vehicle stands"},
	{Term: "stop onset", Text: "the moment from which the engine is being stopped"},
	{Term: "rest", Text: "the engine no longer turns"},
	{Term: "restart request", Text: "a condition of the signal map that may ask for a restart becomes true"},
	{Term: "decision", Text: "the stop command falls or the starter begins to turn, whichever is earlier"},
	{Term: "crank", Text: "the starter turns the engine"},
	{Term: "running", Text: "the engine is above its running speed and stays there"},
	{Term: "episode", Text: "from a stop onset to the running that ends it, or to what else ends it"},
	{Term: "change of mind", Text: "the restart was asked for before the engine had come to rest"},
	{Term: "stop cancelled", Text: "the stop was given up and the engine ran on"},
	{Term: "inhibit", Text: "a condition that keeps the engine from being stopped at a standstill"},
	{Term: "explained", Text: "share of the time in which the engine could have been stopped and something stood in the way"},
	{Term: "silence", Text: "a module that sends regularly stays away while others are there"},
	{Term: "gap", Text: "no frame of any kind: the recording stopped, not a module"},
	{Term: "borderline", Text: "the bounds of a figure lie on both sides of its limit"},
	{Term: "within", Text: "all figures keep their limits; 2 of 4: two of four limits are kept, and the others could not be judged"},
	{Term: "unseen", Text: "not enough was seen of a figure to say that it keeps its limit"},
}

// Thresholds are those that a log was measured by.
func Thresholds(s decode.Settings) []Entry {
	return []Entry{
		{Term: "running speed", Text: Number(s.RunningSpeed) + " rpm, held for " + s.RunningHold.String()},
		{Term: "rest speed", Text: Number(s.RestSpeed) + " rpm"},
		{Term: "standstill", Text: Number(s.StandstillSpeed) + " km/h or less, for at least " + s.MinStandstill.String()},
		{Term: "request window", Text: s.RequestWindow.String() + " before the decision"},
		{Term: "failed start", Text: "not running " + s.NoStartAfter.String() + " after the decision and the last crank"},
		{Term: "stale", Text: "a signal not seen for " + s.StaleAfter.String() + " or three of its periods"},
		{Term: "silence and gap", Text: fmt.Sprintf("%s periods and at least 100 ms", Number(s.SilenceFactor))},
		{Term: "low voltage", Text: Number(s.LowVoltage) + " V"},
		{Term: "idle fuel rate", Text: Number(s.IdleFuelRate) + " L/h where the log tells nothing; a restart costs " + Number(s.RestartFuel) + " mL"},
	}
}

// Definitions say what each metric is.
func Definitions() []Entry {
	var list []Entry
	for _, m := range measure.Metrics {
		text := m.Text + " (" + m.Unit + "); " + m.Window
		if m.Better != "" {
			text += "; " + m.Better + " is better"
		}
		list = append(list, Entry{Term: Spoken(m.Key), Text: text})
	}
	return list
}
