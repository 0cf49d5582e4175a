package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// mostStretches is how many stretches of one inhibit a story tells one by one.
const mostStretches = 3

// StandstillStory tells a standstill in order of time: when the vehicle stood, what the
// engine did, what stood in the way of stopping it, and how it ended. Below that it says
// why the engine was not stopped, or why the standstill is not counted.
func StandstillStory(m *decode.Map, res *analyze.Result, s *analyze.Standstill) []Entry {
	t := standstillTale{m: m, res: res, s: s}
	return t.entries()
}

// BriefStandstillStory is StandstillStory for where there is little room: instants are
// told without their bounds.
func BriefStandstillStory(m *decode.Map, res *analyze.Result, s *analyze.Standstill) []Entry {
	t := standstillTale{m: m, res: res, s: s, brief: true}
	return t.entries()
}

func (t *standstillTale) entries() []Entry {
	m, res, s := t.m, t.res, t.s
	t.begin()
	for i := range res.Episodes {
		if e := &res.Episodes[i]; s.Holds(e) {
			t.stop(e)
		}
	}
	t.key()
	for i := range s.Inhibits {
		h := &s.Inhibits[i]
		t.inhibit(Visible(m.Inhibits[h.Condition].Name), h.Share, h.Intervals, measuredTexts(m, h.Measured))
	}
	for i := range s.Codes {
		c := &s.Codes[i]
		t.inhibit(Visible(c.Name)+", the car's own code,", c.Share, c.Intervals, "")
	}
	t.end()
	slices.SortStableFunc(t.moments, func(a, b standstillMoment) int { return cmp.Compare(a.at, b.at) })
	var items []Entry
	for _, v := range t.moments {
		items = append(items, v.Entry)
	}
	return append(items, t.reasons()...)
}

// StandstillName names a standstill by its time and length. It has no number in what people
// read: next to the numbers of episodes it would be taken for one of them.
func StandstillName(s *analyze.Standstill) string {
	return fmt.Sprintf("standstill at %s s, %s s long", Moment(s.Start), Length(s.Start, s.End))
}

// StandstillWord says in a few words what a standstill was.
func StandstillWord(m *decode.Map, res *analyze.Result, s *analyze.Standstill) Word {
	switch {
	case s.Stopped && s.Episode != 0:
		return Word{Text: fmt.Sprintf("engine stopped, episode %d", s.Episode)}
	case s.Stopped:
		return Word{Text: "engine stopped"}
	case !s.Opportunity:
		return Word{Text: "not counted: " + notCounted(m, s.NotCounted)}
	case s.Open:
		return Word{Text: notToItsEnd}
	case s.Reason != "":
		return Word{Text: "not stopped: " + Visible(s.Reason), Tone: Doubtful}
	case s.Unexplained:
		return Word{Text: noReason, Tone: Bad}
	case len(s.CannotTell) > 0:
		return Word{Text: "not stopped: cannot tell why", Tone: Doubtful}
	}
	return Word{Text: "not stopped: " + unfinished(res, s), Tone: Doubtful}
}

// StandstillKinds are the words of a list that standstills are chosen from, of which
// several may fit: stopped, not stopped, no reason found, not counted, not recorded to its
// end.
func StandstillKinds(s *analyze.Standstill) []string {
	var kinds []string
	if s.Stopped {
		kinds = append(kinds, "stopped")
	}
	switch {
	case !s.Opportunity:
		kinds = append(kinds, "not counted")
	case s.Stopped:
	case s.Open:
		kinds = append(kinds, notToItsEnd)
	default:
		kinds = append(kinds, "not stopped")
	}
	if s.RanOn() && s.Unexplained {
		kinds = append(kinds, noReason)
	}
	return kinds
}

const (
	noReason    = "no reason found"
	notToItsEnd = "not recorded to its end"
)

// standstillTale is the story of a standstill in the making.
type standstillTale struct {
	m       *decode.Map
	res     *analyze.Result
	s       *analyze.Standstill
	brief   bool
	moments []standstillMoment // what was at the same time is told in this order
}

type standstillMoment struct {
	at int64 // ns
	Entry
}

// tell adds what happened at an instant, of which the bounds are told.
func (t *standstillTale) tell(i bounds.Instant, text string) {
	if t.brief {
		t.likeliest(i.T, text)
		return
	}
	at := MomentText(bounds.Seconds(i.Low), bounds.Seconds(i.T), bounds.Seconds(i.High))
	t.moments = append(t.moments, standstillMoment{i.T, Entry{at + " s", text}})
}

// likeliest adds what happened at a moment of which no bounds are kept.
func (t *standstillTale) likeliest(at int64, text string) {
	t.moments = append(t.moments, standstillMoment{at, Entry{t.moment(at) + " s", text}})
}

// moment writes one of which no bounds are kept, in the way of those beside it.
func (t *standstillTale) moment(at int64) string {
	if t.brief {
		return Moment(bounds.At(at))
	}
	return Fixed(bounds.Seconds(at), 3)
}

func (t *standstillTale) begin() {
	text := "the vehicle stops"
	if t.s.Start.Low == t.s.Start.High {
		text = "the vehicle stands when it is first seen"
	}
	rolling := slices.ContainsFunc(t.res.Episodes, func(e analyze.Episode) bool { return t.s.Holds(&e) && e.Stop.T <= t.s.Start.T })
	switch {
	case t.s.NotCounted == analyze.EngineWasOff:
		text += "; the engine is off"
	case t.s.NotCounted == analyze.EngineNotSeen:
		text += "; whether the engine runs is not seen"
	case t.s.Opportunity && !rolling:
		text += "; the engine runs"
	}
	t.tell(t.s.Start, text)
	for i := range t.res.Starts {
		v := &t.res.Starts[i]
		if v.Part == t.s.Part && v.Kind == analyze.KeyStart && v.Crank.T >= t.s.Start.T && v.Crank.T <= t.s.End.T {
			t.tell(v.Crank.Instant, "the starter turns the engine by the key")
			if v.Running != nil && v.Running.T <= t.s.End.T {
				t.tell(*v.Running, "the engine runs")
			}
		}
	}
}

// stop tells of an episode as far as it lies in the standstill.
func (t *standstillTale) stop(e *analyze.Episode) {
	which := fmt.Sprintf(" (episode %d)", e.N)
	text := "the engine is told to stop"
	switch {
	case e.Outcome == analyze.Stalled:
		text = "the engine stalls"
	case e.Outcome == analyze.Aborted:
		text = "a stop is begun and cancelled: the engine runs on"
	case e.Stop.From != decode.StopCommand:
		text = "the engine speed begins to fall"
	}
	if d := t.s.StopDelay; d != nil && e.N == t.s.Episode && d.Best > 0 {
		if after, ok := MetricText(*d); ok {
			text += ", " + after + " after the vehicle stopped"
		}
	}
	t.tell(e.Stop.Instant, text+which)
	if e.Outcome == analyze.Aborted {
		return
	}
	if e.Rest != nil && e.Rest.T <= t.s.End.T {
		t.tell(*e.Rest, "the engine comes to rest"+which)
	}
	if e.Running != nil && e.Running.T <= t.s.End.T {
		t.tell(*e.Running, "the engine runs again"+which)
	}
}

// key tells when the key ended the time in which the engine could have been stopped.
func (t *standstillTale) key() {
	if KeyedOff(t.res, t.s) {
		t.likeliest(t.s.Until, "the key is turned off: from here on the car could not have stopped the engine")
	}
}

// KeyedOff reports whether the key was turned off before the vehicle left.
func KeyedOff(res *analyze.Result, s *analyze.Standstill) bool {
	return !s.Stopped && s.Until > s.Start.T && s.Until < s.End.T &&
		!slices.ContainsFunc(res.Episodes, func(e analyze.Episode) bool { return e.Part == s.Part && e.Stop.T == s.Until })
}

// inhibit tells when something stood in the way, the share of the time and what was
// measured.
func (t *standstillTale) inhibit(name string, share float64, stretches [][2]int64, measured string) {
	if len(stretches) == 0 {
		return
	}
	// The time in which the engine could have been stopped ends at the stop or the key.
	whole := "of the standstill"
	if t.s.Until < t.s.End.T {
		whole = "of the time up to " + t.moment(t.s.Until) + " s"
	}
	stands := " stands in the way"
	if stretches[0][0] <= t.s.Start.T {
		stands += " already"
	}
	text := name + stands
	last := stretches[len(stretches)-1][1]
	several := len(stretches) > mostStretches
	if several {
		text = fmt.Sprintf("%s stands in the way %s, the last time until %s s", name, Times(len(stretches)), t.moment(last))
	}
	text += ", for " + Percent(share) + " " + whole
	if len(stretches) > 1 {
		text += " in all"
	}
	if measured != "" {
		text += "; measured: " + measured
	}
	t.likeliest(max(stretches[0][0], t.s.Start.T), text)
	if several {
		return
	}
	for i, v := range stretches {
		if i > 0 {
			t.likeliest(v[0], name+" stands in the way again")
		}
		if v[1] < t.s.Until {
			t.likeliest(v[1], name+" no longer stands in the way")
		}
	}
}

// end tells how the standstill ended.
func (t *standstillTale) end() {
	text := "the vehicle leaves"
	gap := func(g analyze.Gap) bool { return g.Start == t.s.End.T }
	switch {
	case !t.s.Open:
	case slices.ContainsFunc(t.res.Gaps, gap):
		text = "the recording has a gap: what followed was not seen"
	default:
		text = "the recording ends"
	}
	t.tell(t.s.End, text)
}

// reasons say what is to be said of the whole standstill.
func (t *standstillTale) reasons() []Entry {
	s := t.s
	switch {
	case !s.Opportunity:
		return []Entry{{"not counted", notCounted(t.m, s.NotCounted)}}
	case s.Stopped:
		// Of these ends no instant is kept.
		for i := range t.res.Episodes {
			e := &t.res.Episodes[i]
			if e.N == s.Episode && (e.Outcome == analyze.NoStart || e.Outcome == analyze.IgnitionOff) {
				return []Entry{{"then", fmt.Sprintf("%s (episode %d)", storyEnds[e.Outcome], e.N)}}
			}
		}
		return nil
	case s.Open:
		return []Entry{{"why", notToItsEnd + ": the engine may have been stopped later"}}
	case s.Reason != "":
		return []Entry{{"why", Visible(s.Reason) + "; " + explainedText(s)}}
	case s.Unexplained:
		why := noReason
		if s.Covered > 0 {
			why += "; " + explainedText(s)
		}
		if len(t.m.Inhibits) == 0 {
			why = noReason + "; the signal map names no inhibits that could explain it"
		}
		return append([]Entry{{"why", why}}, t.measured()...)
	case len(s.CannotTell) > 0:
		return append([]Entry{{"why", "cannot tell why; not known: " + Visible(strings.Join(s.CannotTell, ", "))}}, t.measured()...)
	}
	return []Entry{{"why", unfinished(t.res, s)}}
}

func explainedText(s *analyze.Standstill) string {
	return "share of the standstill explained: " + Percent(s.Covered)
}

// measured says of each inhibit that stood in the way at no time what was measured. Of the
// others the story has told.
func (t *standstillTale) measured() []Entry {
	var list []Entry
	for i := range t.s.Inhibits {
		h := &t.s.Inhibits[i]
		if text := measuredTexts(t.m, h.Measured); text != "" && len(h.Intervals) == 0 {
			list = append(list, Entry{"measured", Visible(t.m.Inhibits[h.Condition].Name) + ": " + text})
		}
	}
	if signal := t.m.RoleSignal(decode.InhibitCode); signal != nil && len(t.s.Codes) == 0 {
		list = append(list, Entry{"measured", "the car's own code, " + Visible(signal.Name) + ": named nothing"})
	}
	return list
}

// measuredTexts is what the signals of a condition were and what the map holds them
// against; "" if it has none.
func measuredTexts(m *decode.Map, list []analyze.Measured) string {
	return joined(list, ", ", func(v analyze.Measured) string { return measuredText(m, v) })
}

func measuredText(m *decode.Map, v analyze.Measured) string {
	signal := &m.Signals[v.Signal]
	value := "not seen"
	if v.Value.Seen {
		value = Visible(signal.TextOf(v.Value.Value))
	}
	text := Visible(signal.Name) + " " + value
	if v.Against != "" {
		text += " (counts when: " + Visible(v.Against) + ")"
	}
	return text
}

// MeasuredAgainst is what the signals of an inhibit were in a standstill and what the map
// holds them against; "" if nothing is known of it.
func MeasuredAgainst(m *decode.Map, s *analyze.Standstill, condition int) string {
	for i := range s.Inhibits {
		if s.Inhibits[i].Condition == condition {
			return measuredTexts(m, s.Inhibits[i].Measured)
		}
	}
	return ""
}
