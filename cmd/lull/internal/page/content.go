// Package page lays a result out for people: the report for the repair order, as one HTML
// file or as PDF. The content of a report is put together once, as Sections, which HTML and
// PDF only typeset. The package analyses nothing, opens nothing, and escapes everything
// that a map, a log or a user wrote. Start with Report.
package page

import (
	"lull/analyze"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

// Report is the content of a report.
type Report struct {
	Title      string
	Complaint  string // free text, as are the next four
	Vehicle    string
	Order      string
	Technician string
	Note       string

	After  Side  // the logs that the report is about
	Before *Side // the logs from before the repair; nil if there are none

	Comparison *words.CompareReport // of both; nil without Before
}

// Side is what was found in some logs, and the samples that their pictures are drawn from.
type Side struct {
	*words.Report
	Traces []LogTraces // one for each of Logs
}

// LogTraces are the samples behind the pictures of a log.
type LogTraces struct {
	Drive    analyze.Traces
	Episodes [][]analyze.Traces // of each episode, as picture.EpisodeWindows has them
	// Standstills has those of each standstill with a picture, by its index in the result,
	// as picture.StandstillWindow has them.
	Standstills map[int]analyze.Traces
}

// mostStandstills bounds the standstills of a log that have pictures: far more than a road
// test has, and few enough for the memory, since a log made for that can have any number.
const mostStandstills = 5000

// pictured returns the indexes of the standstills that have pictures.
func pictured(res *analyze.Result) []int {
	var list []int
	for i := range res.Standstills {
		if picture.HasPicture(&res.Standstills[i]) && len(list) < mostStandstills {
			list = append(list, i)
		}
	}
	return list
}

// Windows returns the windows of a log whose traces a report needs.
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

// TracesOf assigns the traces of Windows to what they are for.
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
	Open   string // on a page: the episode or standstill of the card; else ""
	Blocks []Block
}

// Block is an element of a section: exactly one of its fields is set.
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

// Figure is a picture in both widths.
type Figure struct{ Wide, Narrow picture.Drawing }

func paragraph(text string) Block { return Block{Paragraph: text} }

func figure(draw func(width float64) picture.Drawing) Block {
	return Block{Figure: &Figure{draw(picture.Wide), draw(picture.Narrow)}}
}
