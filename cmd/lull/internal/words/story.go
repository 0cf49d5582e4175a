package words

import (
	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// Story tells an episode in order of time.
func Story(m *decode.Map, e *analyze.Episode) []Entry {
	type moment struct {
		bounds.Instant
		text string
	}
	began := "the engine is told to stop"
	switch {
	case e.Outcome == analyze.Stalled:
		began = "the engine stalls"
	case e.Stop.From != decode.StopCommand:
		began = "the engine speed begins to fall"
	}
	list := []moment{{e.Stop.Instant, began}}
	add := func(i bounds.Instant, text string) {
		at := len(list)
		for at > 1 && list[at-1].T > i.T {
			at--
		}
		list = append(list[:at], append([]moment{{i, text}}, list[at:]...)...)
	}
	if e.Rest != nil {
		add(*e.Rest, "the engine comes to rest")
	}
	asks := func(q analyze.Request, tail string) {
		c := &m.Requests[q.Condition]
		add(q.Instant, Visible(c.Name)+" asks for a restart"+tail+" ("+c.By.String()+")")
	}
	if e.Request != nil {
		asks(*e.Request, "")
	}
	for _, q := range e.Also {
		asks(q, ", too")
	}
	if e.Decision != nil && e.Decision.From == decode.StopCommand {
		add(e.Decision.Instant, "the car withdraws its stop command: it has decided to restart")
	}
	for i, c := range e.Cranks {
		text := "the starter turns the engine"
		if i > 0 {
			text = "the starter tries again"
		}
		add(c.Instant, text)
	}
	if e.Running != nil {
		add(*e.Running, "the engine runs")
	}
	var items []Entry
	for _, v := range list {
		at := MomentText(bounds.Seconds(v.Low), bounds.Seconds(v.T), bounds.Seconds(v.High))
		items = append(items, Entry{Term: at + " s", Text: v.text})
	}
	if end, ok := storyEnds[e.Outcome]; ok {
		items = append(items, Entry{Term: "then", Text: end})
	}
	return items
}

// storyEnds are what the stories of episodes end with in which the engine did not run
// again.
var storyEnds = map[analyze.Outcome]string{
	analyze.NoStart:     "it did not start",
	analyze.Aborted:     "the stop is cancelled: the engine runs on",
	analyze.IgnitionOff: "the key is turned off",
	analyze.InGap:       "the recording has a gap",
	analyze.LogEnd:      "the recording ends",
}
