package words

import (
	"fmt"
	"strings"
	"time"

	"lull/analyze/draft"
	"lull/decode"
	"lull/decode/sigmap"
)

// draftedNote begins the notes of a drafted map. As long as they do, nobody has checked it.
const draftedNote = "drafted by lull from "

// drafted reports whether the report's map is a draft that nobody has checked.
func (r *Report) drafted() bool { return strings.HasPrefix(r.Map.Notes, draftedNote) }

// Map returns the drafted map as text: each signal with how far it can be relied on and
// why. What is only guessed stays a comment, with its rivals. It returns nil if no engine
// speed was found, as every map needs one.
func (d *Draft) Map() *sigmap.Text {
	if d.Result.Signal(draft.EngineSpeed) == nil {
		return nil
	}
	t := &sigmap.Text{Vehicle: "unnamed", Notes: draftedNote + strings.Join(d.Logs, ", ") + "; yours to check and to correct"}
	t.Comments = fold(d.Answer(), 96)
	t.Comments = append(t.Comments, "", "Above each signal: how far its field can be relied on, and its factor, and why.")
	frames := map[string]int{}
	for i := range d.Result.Signals {
		s := &d.Result.Signals[i]
		key := fmt.Sprintf("%+v", s.Entry)
		at, ok := frames[key]
		if !ok {
			at = len(t.Frames)
			frames[key] = at
			t.Frames = append(t.Frames, sigmap.FrameText{Entry: s.Entry})
		}
		f := &t.Frames[at]
		text := draftSignalText(s)
		if s.Page != nil {
			text.When = []sigmap.WhenText{{Signal: pageOf(f, s), Raws: []int64{s.PageValue}}}
		}
		f.Signals = append(f.Signals, text)
	}
	d.requests(t)
	return t
}

// pageOf is the name of the signal that selects a page of the frame; it is added to the
// frame where it is not there yet.
func pageOf(f *sigmap.FrameText, s *draft.Signal) string {
	for i := range f.Signals {
		x := &f.Signals[i].Signal
		if x.Start == s.Page.Start && x.Length == s.Page.Length && !x.BigEndian {
			return x.Name
		}
	}
	name := "page_" + strings.ToLower(strings.TrimPrefix(s.Entry.Label(), "0x"))
	page := sigmap.SignalText{Signal: *s.Page, Comments: []string{"selects what the other bits of this frame mean"}}
	page.Signal.Name = strings.ReplaceAll(name, " ", "_")
	f.Signals = append(f.Signals, page)
	return page.Signal.Name
}

// draftSignalText is one signal as it is written in the map.
func draftSignalText(s *draft.Signal) sigmap.SignalText {
	text := sigmap.SignalText{Signal: s.Field, Out: !s.Written}
	text.Signal.Name = s.Name
	text.Signal.Role = s.What.Role()
	if s.HasFactor() {
		text.Factor, text.Offset = sigmap.Decimal(s.Factor), sigmap.Decimal(s.Offset)
	}
	text.Comments = append(text.Comments, DraftSureness(s)+": "+DraftEvidence(s))
	if !s.Written && s.Alike == 0 { // those that do the same are named in the evidence
		for i := range s.Rivals {
			if i == mostRivals {
				break
			}
			text.Comments = append(text.Comments, "or "+rivalText(&s.Rivals[i]))
		}
	}
	if text.Signal.Role == decode.NoRole && s.What.Switch() {
		// Conditions compare its words.
		off, on := int64(0), int64(1)
		if s.Field.HasActive && len(s.Field.Active) == 1 {
			on = s.Field.Active[0]
			off = 1 - on
		}
		labels := switchLabels[s.What]
		text.Signal.HasActive, text.Signal.Active = false, nil
		text.Signal.Labels = []decode.Label{{Raw: off, Text: labels[0]}, {Raw: on, Text: labels[1]}}
		if off > on {
			text.Signal.Labels[0], text.Signal.Labels[1] = text.Signal.Labels[1], text.Signal.Labels[0]
		}
	}
	return text
}

// switchLabels are what the two states of a switch are called.
var switchLabels = map[draft.Quantity][2]string{
	draft.Brake: {"released", "pressed"}, draft.TurnLamp: {"off", "on"}, draft.Marked: {"off", "on"},
}

// requests adds what may ask for a restart.
func (d *Draft) requests(t *sigmap.Text) {
	if s := d.Result.Signal(draft.Brake); s != nil {
		t.Requests = append(t.Requests, sigmap.RequestText{Name: "brake released", Signal: s.Name, Is: "released", Out: !s.Written})
	}
	if s := d.Result.Signal(draft.Steering); s != nil {
		t.Requests = append(t.Requests, sigmap.RequestText{Name: "steering moved", Signal: s.Name, Moves: steeringAsks, Out: !s.Written})
	}
	for i := range d.Result.Signals {
		if s := &d.Result.Signals[i]; s.IsLamp() {
			name := strings.ReplaceAll(draftSignalName(s), "_", " ")
			t.Requests = append(t.Requests, sigmap.RequestText{Name: name, Bridge: 800 * time.Millisecond, Signal: s.Name, Is: "on", Out: !s.Written})
		}
	}
}

// steeringAsks is by how many degrees the steering wheel must turn to ask for a restart, where
// nobody said it; common practice, no source.
const steeringAsks = "15"

// fold breaks a text into lines of at most so many letters, at blanks.
func fold(text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
