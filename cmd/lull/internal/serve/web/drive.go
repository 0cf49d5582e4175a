package web

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Drive is the page of a measurement.
type Drive struct {
	Frame
	ID, Title             string // the title is the names of the logs
	Report                *page.Report
	BeforeID, BeforeTitle string // of the drive that this one is held against; "": none
	NoComparison          string // why there is none, though one was asked for
	TwoVehicles           string // the drive that it is refused with, as it is of another vehicle
	Largest               int64
	MapName, MapText      string
	Mistakes              []Mistake // of the map; then there is no Report
	Misfit                string    // why the map does not fit the logs; likewise
	Remarks               []string  // made while the logs were read
	Kept                  []Kept
	Open                  string // the episode whose card is shown, as in Find
}

// EpisodeTable is the table of a log's episodes whose rows open their cards.
type EpisodeTable struct {
	Title    string
	Grid     table.Grid
	Rows     []EpisodeRow
	Outcomes []string // that occur, in words
	BeforeID string   // as in Drive
}

// EpisodeRow is a row of an EpisodeTable.
type EpisodeRow struct {
	Open    string // the episode, as in Find
	N       int
	Outcome string // in words
	Verdict string // the worst of its limits: broken, borderline, unseen, within, or none
	Cells   []words.Word
	Card    *page.Section // nil: not shown
}

// LogView is a log on the page of its measurement.
type LogView struct {
	Drive       page.Section
	Episodes    EpisodeTable
	Standstills page.Section
}

// driveView is what the template is given.
type driveView struct {
	Drive
	Heading          string
	Answer           page.Section
	Changed, Figures *page.Section // of the comparison, nil where there is none
	Logs, Before     []LogView
	Others           []page.Section // what was tried, and so on
	Measured         []page.Section
	Cautions         page.Section
	MapLines         []MapLine
}

// Write writes the page.
func (d Drive) Write(w io.Writer) error {
	v := driveView{Drive: d, Heading: "Idle stops"}
	v.NoComparison, v.Misfit = words.VisibleBlock(d.NoComparison), words.VisibleBlock(d.Misfit)
	v.Title, v.BeforeTitle, v.MapName = words.Visible(d.Title), words.Visible(d.BeforeTitle), words.Visible(d.MapName)
	v.Kept = harmlessKept(d.Kept)
	v.Remarks = nil
	for _, r := range d.Remarks {
		v.Remarks = append(v.Remarks, words.VisibleBlock(r))
	}
	v.MapLines = mapLines(d.MapText, d.Mistakes)
	if r := d.Report; r != nil {
		v.Heading = r.Heading()
		v.Answer = r.Answer()
		if r.Comparison != nil {
			v.Changed, v.Figures = r.Changes()
		}
		for i := range r.After.Logs {
			v.Logs = append(v.Logs, view(&r.After, "a", i, len(r.After.Logs) > 1 || r.Before != nil, "", &d))
		}
		if r.Before != nil {
			for i := range r.Before.Logs {
				v.Before = append(v.Before, view(r.Before, "b", i, true, "before: ", &d))
			}
		}
		v.Others = r.Coverage()
		method := r.Method()
		v.Measured, v.Cautions = method[:len(method)-1], method[len(method)-1]
	}
	return execute(w, "drive", v)
}

// view is one log of a side, on the page d.
func view(side *page.Side, letter string, i int, named bool, prefix string, d *Drive) LogView {
	suffix := ""
	if named {
		suffix = side.Suffix(i, prefix)
	}
	v := LogView{Drive: side.Drive(i, suffix), }
	res := side.Logs[i].Result
	v.Episodes.Title, v.Episodes.BeforeID = "Episodes"+suffix, d.BeforeID
	if len(res.Episodes) == 0 || !res.Usable() {
		return v
	}
	v.Episodes.Grid = table.EpisodeGrid(side.Report, side.Logs[i].Result)
	for k := range res.Episodes {
		e := &res.Episodes[k]
		row := EpisodeRow{Open: fmt.Sprintf("%s%d.%d", letter, i, e.N), N: e.N, Outcome: words.OutcomeWord(e).Text,
			Verdict: worst(e, side.Map), Cells: v.Episodes.Grid.Rows[k]}
		if row.Open == d.Open {
			row.Card, _ = Card(d.Report, d.Open)
		}
		if !slices.Contains(v.Episodes.Outcomes, row.Outcome) {
			v.Episodes.Outcomes = append(v.Episodes.Outcomes, row.Outcome)
		}
		v.Episodes.Rows = append(v.Episodes.Rows, row)
	}
	return v
}

// worst is the word that the page filters an episode by.
func worst(e *analyze.Episode, m *decode.Map) string {
	verdict, _ := e.Worst(m)
	return cmp.Or(words.Verdict(verdict), "none")
}

// Find gives the episode that an address names: the side, a for after and b for
// before, the log's place in it and the episode's number, as in a0.3. The episode
// has the place k in the log's list.
func Find(r *page.Report, open string) (side *page.Side, log, k int, ok bool) {
	if r == nil || len(open) < 2 {
		return nil, 0, 0, false
	}
	switch open[0] {
	case 'a':
		side = &r.After
	case 'b':
		side = r.Before
	}
	first, second, _ := strings.Cut(open[1:], ".")
	log, err := strconv.Atoi(first)
	if side == nil || err != nil || log < 0 || log >= len(side.Logs) {
		return nil, 0, 0, false
	}
	n, err := strconv.Atoi(second)
	if err != nil {
		return nil, 0, 0, false
	}
	k = slices.IndexFunc(side.Logs[log].Result.Episodes, func(e analyze.Episode) bool { return e.N == n })
	return side, log, k, k >= 0
}

// Card is the story of one episode, with its picture.
func Card(r *page.Report, open string) (*page.Section, bool) {
	side, i, k, ok := Find(r, open)
	if !ok {
		return nil, false
	}
	s := side.Episode(i, k, "")
	s.Open = open
	return &s, true
}
