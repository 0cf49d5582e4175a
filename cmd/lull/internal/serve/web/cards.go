package web

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// What a row of a CardTable is.
const (
	episodeKind    = "episode"
	standstillKind = "standstill"
)

// marks are what an address has behind the letter of the side, by what it names.
var marks = map[string]string{episodeKind: "", standstillKind: "s"}

// CardTable is a table of a log whose rows open their cards.
type CardTable struct {
	Kind       string // what a row is
	ID         string // for links; empty: none
	Heading    string
	Title      string // the heading, with the log's name where there are several
	None       string // what is said where there is no row
	Grid       table.Grid
	Filters    []Filter
	Rows       []CardRow
	BeforeID   string   // as in Drive
	NotStopped []string // what is said below it of the standstills in which the engine ran on
}

// Filter is a list to choose from which rows are shown.
type Filter struct {
	Name, Label string
	Choices     []string
}

// CardRow is a row of a CardTable.
type CardRow struct {
	Open  string // what it opens, as in Find
	N     int
	Name  string // "episode 3", "standstill at 9.50 s"
	Word  string // what came of it
	Is    string // the choices of the filters that show it, as name=choice, with | between them
	Cells []words.Word
	Card  *page.Section // nil: not shown
}

// is adds a choice that shows the row.
func (r *CardRow) is(filter, choice string) {
	if r.Is != "" {
		r.Is += "|"
	}
	r.Is += filter + "=" + choice
}

// offer adds a choice to a filter that does not have it yet.
func (f *Filter) offer(choice string) {
	if !slices.Contains(f.Choices, choice) {
		f.Choices = append(f.Choices, choice)
	}
}

// episodes is the table of a log's episodes.
func episodes(side *page.Side, i int) CardTable {
	res := side.Logs[i].Result
	t := CardTable{Kind: episodeKind, Heading: "Episodes", None: "No episode."}
	if !shows(&t, res, len(res.Episodes)) {
		return t
	}
	t.Grid = table.EpisodeGrid(side.Report, res)
	outcomes := Filter{Name: "outcome", Label: "Outcome"}
	for k := range res.Episodes {
		e := &res.Episodes[k]
		row := CardRow{N: e.N, Name: "episode " + strconv.Itoa(e.N), Word: words.OutcomeWord(e).Text, Cells: t.Grid.Rows[k]}
		row.is("outcome", row.Word)
		row.is("verdict", worst(e, side.Map))
		outcomes.offer(row.Word)
		t.Rows = append(t.Rows, row)
	}
	t.Filters = []Filter{outcomes, {Name: "verdict", Label: "Limits", Choices: []string{"out", "borderline", "unseen", "within"}}}
	return t
}

// standstills is the table of a log's standstills.
func standstills(side *page.Side, i int) CardTable {
	l := &side.Logs[i]
	res := l.Result
	t := CardTable{Kind: standstillKind, Heading: "Standstills", None: "No standstill."}
	if !shows(&t, res, len(res.Standstills)) {
		return t
	}
	t.Grid = table.StandstillGrid(side.Report, res)
	engine := Filter{Name: "engine", Label: "Engine", Choices: []string{"stopped", "not stopped", "no reason found", "not counted"}}
	for k := range res.Standstills {
		s := &res.Standstills[k]
		row := CardRow{N: s.N, Name: "standstill at " + words.Moment(s.Start) + " s", Word: words.StandstillWord(side.Map, res, s).Text, Cells: t.Grid.Rows[k]}
		for _, choice := range words.StandstillKinds(s) {
			row.is("engine", choice)
			engine.offer(choice)
		}
		t.Rows = append(t.Rows, row)
	}
	t.Filters = []Filter{engine}
	t.NotStopped = side.Refusals(l)
	return t
}

// shows reports whether there is anything to show in a table of n rows, and says why not.
func shows(t *CardTable, res *analyze.Result, n int) bool {
	if !res.Usable() {
		t.None = words.Sentence(words.NotShown(res))
		return false
	}
	return n > 0
}

// worst is the word that the page filters an episode by.
func worst(e *analyze.Episode, m *decode.Map) string {
	verdict, _ := e.Worst(m)
	return cmp.Or(words.Verdict(verdict), "none")
}

// Opened is what an address names: an episode or a standstill, by its place in the list of
// a log of a side.
type Opened struct {
	Side       *page.Side
	Log, Place int
	Standstill bool
}

// Find gives what an address names: the side, a for after and b for before, an s where it
// is a standstill, the log's place in the side, and the number, as in a0.3 and as0.3.
func Find(r *page.Report, open string) (Opened, bool) {
	if r == nil || open == "" {
		return Opened{}, false
	}
	var o Opened
	switch open[0] {
	case 'a':
		o.Side = &r.After
	case 'b':
		o.Side = r.Before
	}
	place, standstill := strings.CutPrefix(open[1:], marks[standstillKind])
	first, second, _ := strings.Cut(place, ".")
	log, err := strconv.Atoi(first)
	if o.Side == nil || err != nil || log < 0 || log >= len(o.Side.Logs) {
		return Opened{}, false
	}
	n, err := strconv.Atoi(second)
	if err != nil {
		return Opened{}, false
	}
	res := o.Side.Logs[log].Result
	o.Log, o.Standstill = log, standstill
	if standstill {
		o.Place = slices.IndexFunc(res.Standstills, func(s analyze.Standstill) bool { return s.N == n })
	} else {
		o.Place = slices.IndexFunc(res.Episodes, func(e analyze.Episode) bool { return e.N == n })
	}
	return o, o.Place >= 0
}

// Card is the story of what an address names, with its picture.
func Card(r *page.Report, open string) (*page.Section, bool) {
	o, ok := Find(r, open)
	if !ok {
		return nil, false
	}
	var s page.Section
	if o.Standstill {
		s = o.Side.Standstill(o.Log, o.Place, "")
	} else {
		s = o.Side.Episode(o.Log, o.Place, "")
	}
	s.Open = open
	return &s, true
}
