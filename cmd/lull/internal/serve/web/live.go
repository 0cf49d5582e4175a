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

// LiveScript is what the page of a recording has besides Script. Without it the page
// shows the recording as it stood when it was loaded, and is loaded again and again.
func LiveScript() []byte { return liveJS }

// How many of a list's lines are shown before the rest is folded away: on top few,
// so that what is below stays in sight.
const (
	mostAttention = 3
	mostFound     = 6
)

// Live is the page of a recording as it goes.
type Live struct {
	Frame
	File       string // that is recorded into
	Sources    []string
	Vehicle    string
	MapName    string   // of the map that it is measured by; "": none yet
	Signals    []string // the names of the map's signals, by index
	State      words.LiveState
	News       []LiveNews // in the order in which it came
	Last       int64      // the number of the last of them
	Ended      bool
	Measurable bool // what was recorded can be measured
}

// LiveNews is a line for who watches, with a number that counts up and the time of
// day at which it was told.
type LiveNews struct {
	words.News
	ID int64  `json:"id"`
	At string `json:"at"`
}

// OfRecording reports whether it is about the recording rather than the drive.
func (n LiveNews) OfRecording() bool {
	switch n.Kind {
	case words.NewsWarning, words.NewsRemark, words.NewsFailure:
		return true
	}
	return false
}

// list is the list of the page that the news stands in. The script has the same.
func (n LiveNews) list() string {
	switch n.Kind {
	case words.NewsAttention, words.NewsWarning, words.NewsFailure:
		return "attention"
	case words.NewsRemark:
		return "said"
	}
	return "found"
}

// LiveState is how a recording stands, as the script is told.
type LiveState struct {
	words.LiveState
	Headline string `json:"headline"`
}

// LiveStateOf puts a state into the words that the script is told.
func LiveStateOf(s *words.LiveState) LiveState { return LiveState{*s, s.Headline()} }

// liveList is a list of news, the newest first.
type liveList struct {
	Name, Title, None string
	Legend            string // "" where nothing needs one
	Latest, Earlier   []LiveNews
	Most              int
}

// liveView is what the template is given.
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
