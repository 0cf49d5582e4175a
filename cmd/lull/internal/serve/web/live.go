package web

import (
	_ "embed"
	"fmt"
	"io"
	"slices"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

//go:embed live.css
var liveCSS string

//go:embed live.js
var liveJS []byte

// LiveScript returns what the page of a recording needs besides Script. Without it the page
// shows the recording as of loading, and reloads from time to time.
func LiveScript() []byte { return liveJS }

// How many lines of a list are shown before the rest is folded away: few at the top, so
// that what is below stays in view.
const (
	mostAttention = 3
	mostFound     = 6
)

// Live is the page of a recording as it goes.
type Live struct {
	Frame
	File       string // recorded into
	Sources    []string
	Vehicle    string
	MapName    string   // of the map that it is measured by; "": none yet
	Signals    []string // the names of the map's signals, by index
	Marked     bool     // marks can be taken
	State      words.LiveState
	News       []LiveNews // in the order in which it came
	Last       int64      // the number of the last of them
	Ended      bool
	Measurable bool // the recording can be measured
}

// LiveNews is a line for the person watching, with a serial number and the time of day it
// was told.
type LiveNews struct {
	words.News
	ID int64  `json:"id"`
	At string `json:"at"`
}

// OfRecording reports whether the news is about the recording rather than the drive.
func (n LiveNews) OfRecording() bool {
	switch n.Kind {
	case words.NewsWarning, words.NewsRemark, words.NewsFailure:
		return true
	}
	return false
}

// list returns the list of the page that the news belongs to. The script has the same rule.
func (n LiveNews) list() string {
	switch n.Kind {
	case words.NewsAttention, words.NewsWarning, words.NewsFailure:
		return "attention"
	case words.NewsRemark:
		return "said"
	}
	return "found"
}

// LiveState is the state of a recording as sent to the script.
type LiveState struct {
	words.LiveState
	Headline string `json:"headline"`
}

// LiveStateOf returns the state as sent to the script.
func LiveStateOf(s *words.LiveState) LiveState { return LiveState{*s, s.Headline()} }

// liveList is a list of news, the newest first.
type liveList struct {
	Name, Title, None string
	Legend            string // "" where nothing needs one
	Latest, Earlier   []LiveNews
	Most              int
}

// markButton is a button that begins and ends a mark.
type markButton struct {
	words.MarkKey
	On bool
}

// Marks are what is marked.
func (v liveView) Marks() words.LiveMarks {
	if v.State.Marks == nil {
		return words.LiveMarks{}
	}
	return *v.State.Marks
}

// Buttons are those of all marks.
func (v liveView) Buttons() []markButton {
	marks := v.Marks()
	var list []markButton
	for _, k := range words.MarkKeys {
		list = append(list, markButton{k, marks.IsOn(k.Name)})
	}
	return list
}

// liveView is the data of the template.
type liveView struct {
	Live
	Headline               string
	Attention, Found, Said liveList
}

// Write writes the page.
func (l Live) Write(w io.Writer) error {
	v := liveView{Live: l, Headline: l.State.Headline()}
	if l.Ended {
		v.Headline = "The recording has ended."
		if l.State.Car != "" {
			v.Headline = fmt.Sprintf("The recording has ended: %s, %s.", decode.Counted(int64(l.State.Episodes), "episode", "episodes"),
				decode.Counted(int64(l.State.Standstills), "standstill", "standstills"))
		}
	}
	v.Attention = l.list("attention", "Needs attention", "Nothing so far.", mostAttention)
	v.Found = l.list("found", "Episodes and standstills", "None has ended so far.", mostFound)
	if l.State.Car != "" {
		v.Found.Legend = words.Legend
	}
	v.Said = l.list("said", "Messages of the recorder", "Nothing so far.", mostFound)
	return execute(w, "live", v)
}

func (l *Live) list(name, title, none string, most int) liveList {
	list := liveList{Name: name, Title: title, None: none, Most: most}
	for _, n := range slices.Backward(l.News) {
		switch {
		case n.list() != name:
		case len(list.Latest) < most:
			list.Latest = append(list.Latest, n)
		default:
			list.Earlier = append(list.Earlier, n)
		}
	}
	return list
}
