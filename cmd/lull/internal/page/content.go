// Package page lays a result out for people: the sheet for the customer and the full report,
// as one HTML file or as PDF. Their content is put together once, as a Sheet and as Sections,
// which HTML and PDF only typeset. The package analyses nothing, opens nothing, and escapes everything
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
	Job
	Extent

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
	Drive analyze.Traces
	// Episodes has those of each episode that is drawn, by its index in the result, as
	// picture.EpisodeWindows has them.
	Episodes map[int][]analyze.Traces
	// Standstills has those of each standstill that is drawn, as picture.StandstillWindow has
	// them.
	Standstills map[int]analyze.Traces
}

// Drawn says of what in a log there are pictures.
type Drawn struct {
	Drive                 bool
	Episodes, Standstills []int // indexes in the result
}

// mostStandstills bounds the standstills of a log that have pictures: far more than a road
// test has, and few enough for the memory, since a log made for that can have any number.
const mostStandstills = 5000

// Everything is all of a log that can be drawn.
func Everything(res *analyze.Result) Drawn {
	d := Drawn{Drive: true}
	for i := range res.Episodes {
		d.Episodes = append(d.Episodes, i)
	}
	for i := range res.Standstills {
		if picture.HasPicture(&res.Standstills[i]) && len(d.Standstills) < mostStandstills {
			d.Standstills = append(d.Standstills, i)
		}
	}
	return d
}

// Windows returns the windows of a log whose traces are needed.
func (d *Drawn) Windows(res *analyze.Result) []analyze.Window {
	var list []analyze.Window
	if d.Drive {
		list = append(list, picture.DriveWindow(res))
	}
	for _, i := range d.Episodes {
		list = append(list, picture.EpisodeWindows(&res.Episodes[i], res)...)
	}
	for _, i := range d.Standstills {
		list = append(list, picture.StandstillWindow(&res.Standstills[i], res))
	}
	return list
}

// Traces assigns the traces of Windows to what they are for.
func (d *Drawn) Traces(res *analyze.Result, traces []analyze.Traces) LogTraces {
	t := LogTraces{Episodes: map[int][]analyze.Traces{}, Standstills: map[int]analyze.Traces{}}
	next := 0
	if d.Drive {
		t.Drive, next = traces[0], 1
	}
	for _, i := range d.Episodes {
		n := len(picture.EpisodeWindows(&res.Episodes[i], res))
		t.Episodes[i] = traces[next : next+n]
		next += n
	}
	for k, i := range d.Standstills {
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
