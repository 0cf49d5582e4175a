package page

import (
	"bytes"
	"cmp"
	_ "embed"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// What follows are the pages of lull serve. They are made of the report's sections
// by the report's templates; what is more is that a log can be dropped on them, and
// that the card of an episode is there only when it is asked for.

//go:embed web.css
var webCSS string

//go:embed web.js
var webJS []byte

// StyleSheet is that of all pages: the report's, and what they have besides.
func StyleSheet() []byte { return []byte(reportCSS + picture.CSS() + webCSS + liveCSS) }

// Script is that of all pages. Without it they show everything but the cursor in
// pictures, the order of tables and how far a drop is.
func Script() []byte { return webJS }

//go:embed icon.svg
var icon []byte

// Icon is the picture in the browser's tab: a speed that falls to rest and comes
// back.
func Icon() []byte { return icon }

// Frame is what all pages have in common.
type Frame struct {
	Base    string // what the path of every address begins with; "" for who may not know it
	Version string
}

// Choice is a thing to be chosen.
type Choice struct{ Value, Text string }

// Kept is a measurement that can be gone back to.
type Kept struct {
	ID, Title, At string
	Measured      bool // its map has no mistakes and fits
}

// Notice is a page that says why there is no other.
type Notice struct {
	Frame
	Text, Hint string
}

// Write writes the page.
func (n Notice) Write(w io.Writer) error {
	n.Text, n.Hint = words.VisibleBlock(n.Text), words.VisibleBlock(n.Hint)
	return execute(w, "notice", n)
}

// Start is the first page.
type Start struct {
	Frame
	Largest int64  // bytes of one drop
	MapName string // of the map for drops without one; "": none
	Demo    []Choice
	Kept    []Kept
	// Recording is the log that lull serve records, or has recorded; "": none.
	Recording string
	Recorded  bool // it is whole
}

// Write writes the page.
func (s Start) Write(w io.Writer) error {
	s.MapName, s.Kept = words.Visible(s.MapName), harmlessKept(s.Kept)
	s.Demo = slices.Clone(s.Demo)
	for i := range s.Demo {
		s.Demo[i].Value, s.Demo[i].Text = words.Visible(s.Demo[i].Value), words.Visible(s.Demo[i].Text)
	}
	return execute(w, "start", s)
}

func harmlessKept(list []Kept) []Kept {
	list = slices.Clone(list)
	for i := range list {
		list[i].Title = words.Visible(list[i].Title)
	}
	return list
}

// Drive is the page of a measurement.
type Drive struct {
	Frame
	ID, Title             string // the title is the names of the logs
	Report                *Report
	BeforeID, BeforeTitle string // of the drive that this one is held against; "": none
	NoComparison          string // why there is none, though one was asked for
	Largest               int64
	MapName, MapText      string
	Mistakes              []Mistake // of the map; then there is no Report
	Misfit                string    // why the map does not fit the logs; likewise
	Remarks               []string  // made while the logs were read
	Kept                  []Kept
	Open                  string // the episode whose card is shown, as in Find
}

// Mistake is a mistake in a map, at a place in its text, counted from 1.
type Mistake struct {
	Line, Column int
	Why, Hint    string
}

// MapLine is a line of a map with the mistakes in it, or some lines that are left
// out because there is none in or near them.
type MapLine struct {
	Number   int
	Text     string
	Mistakes []Mistake
	Skipped  int // how many lines are left out; then there is no text
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
	Verdict string // the worst of its limits: broken, borderline, unseen, inside, or none
	Cells   []words.Word
	Card    *Section // nil: not shown
}

// LogView is a log on the page of its measurement.
type LogView struct {
	Drive       Section
	Episodes    EpisodeTable
	Standstills Section
}

// driveView is what the template is given.
type driveView struct {
	Drive
	Heading          string
	Answer           Section
	Changed, Figures *Section // of the comparison, nil where there is none
	Logs, Before     []LogView
	Others           []Section // what was tried, and so on
	Measured         []Section
	Cautions         Section
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
		v.Heading = r.title()
		v.Answer = r.answer()
		v.Answer.harmless()
		if r.Comparison != nil {
			v.Changed, v.Figures = r.changes()
			v.Changed.harmless()
			v.Figures.harmless()
		}
		for i := range r.After.Logs {
			v.Logs = append(v.Logs, r.view(&r.After, "a", i, len(r.After.Logs) > 1 || r.Before != nil, "", &d))
		}
		if r.Before != nil {
			for i := range r.Before.Logs {
				v.Before = append(v.Before, r.view(r.Before, "b", i, true, "before: ", &d))
			}
		}
		v.Others = append([]Section{r.coverage()}, r.starter()...)
		v.Measured = r.measured()
		v.Cautions = cautions()
		for _, list := range [][]Section{v.Others, v.Measured} {
			for i := range list {
				list[i].harmless()
			}
		}
	}
	return execute(w, "drive", v)
}

// view is one log of a side, on the page d.
func (r *Report) view(side *Side, letter string, i int, named bool, prefix string, d *Drive) LogView {
	suffix := ""
	if named {
		suffix = ", " + prefix + words.Visible(side.Logs[i].Name)
	}
	v := LogView{Drive: side.drive(i, suffix), Standstills: side.standstills(i, suffix)}
	v.Drive.harmless()
	v.Standstills.harmless()
	res := side.Logs[i].Result
	v.Episodes.Title, v.Episodes.BeforeID = "Episodes"+suffix, d.BeforeID
	if len(res.Episodes) == 0 {
		return v
	}
	v.Episodes.Grid = table.EpisodeGrid(side.Report, side.Logs[i].Result)
	for k := range res.Episodes {
		e := &res.Episodes[k]
		row := EpisodeRow{Open: fmt.Sprintf("%s%d.%d", letter, i, e.N), N: e.N, Outcome: words.Spoken(string(e.Outcome)),
			Verdict: worst(e, side.Map), Cells: v.Episodes.Grid.Rows[k]}
		if row.Open == d.Open {
			row.Card, _ = r.Card(d.Open)
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
func (r *Report) Find(open string) (side *Side, log, k int, ok bool) {
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
func (r *Report) Card(open string) (*Section, bool) {
	side, i, k, ok := r.Find(open)
	if !ok {
		return nil, false
	}
	s := side.episode(i, k, "")
	s.Open = open
	s.harmless()
	return &s, true
}

// Write writes a section by itself, to be put into a page.
func (s *Section) Write(w io.Writer) error { return execute(w, "section", s) }

// mapLines puts mistakes to the lines of a map's text, and leaves out what is far
// from any.
func mapLines(text string, mistakes []Mistake) []MapLine {
	if len(mistakes) == 0 {
		return nil
	}
	const near = 4
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	at := map[int][]Mistake{}
	for _, m := range mistakes {
		m.Why, m.Hint = words.VisibleBlock(m.Why), words.VisibleBlock(m.Hint)
		number := min(max(m.Line, 1), len(lines))
		at[number] = append(at[number], m)
	}
	shown := func(number int) bool {
		for n := number - near; n <= number+near; n++ {
			if len(at[n]) > 0 {
				return true
			}
		}
		return false
	}
	var list []MapLine
	for i, t := range lines {
		switch {
		case shown(i + 1):
			t = strings.ReplaceAll(strings.TrimSuffix(t, "\r"), "\t", "    ")
			list = append(list, MapLine{Number: i + 1, Text: words.Visible(t), Mistakes: at[i+1]})
		case len(list) > 0 && list[len(list)-1].Skipped > 0:
			list[len(list)-1].Skipped++
		default:
			list = append(list, MapLine{Skipped: 1})
		}
	}
	return list
}

func execute(w io.Writer, name string, data any) error {
	var b bytes.Buffer
	if err := templates().ExecuteTemplate(&b, name, data); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
