// Package page lays a result out for people: the report for the repair order, as
// one HTML file or as PDF. What a report says is put together once, as Sections;
// HTML and PDF only set it. The package analyses nothing, opens nothing, and
// everything that a map, a log or a user wrote is escaped. Start with Report.
package page

import (
	"lull/analyze"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

// Report is what a report is made of.
type Report struct {
	Title      string
	Complaint  string // free text, as are the next four
	Vehicle    string
	Order      string
	Technician string
	Note       string

	After  Side  // the logs that the report is about
	Before *Side // those of before the repair, nil where there are none

	Comparison *words.CompareReport // of both, nil where there is no Before
}

// Side is what was found in some logs, and what their pictures are drawn from.
type Side struct {
	*words.Report
	Traces []LogTraces // one for each of Logs
}

// LogTraces are the samples behind the pictures of a log.
type LogTraces struct {
	Drive    analyze.Traces
	Episodes [][]analyze.Traces // of each episode, as picture.EpisodeWindows has them
	// Standstills has, by their places in the log's list, those of each standstill that has
	// a picture, as picture.StandstillWindow has them.
	Standstills map[int]analyze.Traces
}

// mostStandstills is how many standstills of a log have pictures: far more than a road test
// has, and few enough for the memory, since a log that was made to can have any number.
const mostStandstills = 5000

// pictured are the places of the standstills that have pictures.
func pictured(res *analyze.Result) []int {
	var list []int
	for i := range res.Standstills {
		if picture.HasPicture(&res.Standstills[i]) && len(list) < mostStandstills {
			list = append(list, i)
		}
	}
	return list
}

// Windows are the windows of a log whose traces a report needs.
func Windows(res *analyze.Result) []analyze.Window {
	list := []analyze.Window{picture.DriveWindow(res)}
	for i := range res.Episodes {
		list = append(list, picture.EpisodeWindows(&res.Episodes[i], res)...)
	}
	for _, i := range pictured(res) {
		list = append(list, picture.StandstillWindow(&res.Standstills[i], res))
	}
	return list
}

// TracesOf sorts what was traced for Windows by what it is for.
func TracesOf(res *analyze.Result, traces []analyze.Traces) LogTraces {
	t := LogTraces{Drive: traces[0]}
	next := 1
	for i := range res.Episodes {
		n := len(picture.EpisodeWindows(&res.Episodes[i], res))
		t.Episodes = append(t.Episodes, traces[next:next+n])
		next += n
	}
	t.Standstills = map[int]analyze.Traces{}
	for k, i := range pictured(res) {
		t.Standstills[i] = traces[next+k]
	}
	return t
}

// Section is a part of a report with its heading.
type Section struct {
	ID     string // for links; empty: none
	Title  string
	Level  int    // of the heading, from 2
	Card   bool   // to be kept together
	Open   string // on a page: the episode or standstill that the card is of; else empty
	Blocks []Block
}

// Block is an element of a section: one of its fields is set.
type Block struct {
	Paragraph string
	Strong    bool       // of the paragraph: to be read first
	Tone      words.Tone // of the paragraph
	List      []Item
	Grid      *table.Grid
	Figure    *Figure
}

// Item is a line of a list: what it is about and what is said of it.
type Item struct {
	Term string
	Text string
	Tone words.Tone
}

// Figure is a picture in both its widths.
type Figure struct{ Wide, Narrow picture.Drawing }

func paragraph(text string) Block { return Block{Paragraph: text} }

func figure(draw func(width float64) picture.Drawing) Block {
	return Block{Figure: &Figure{draw(picture.Wide), draw(picture.Narrow)}}
}
