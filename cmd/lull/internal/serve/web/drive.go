package web

import (
	"fmt"
	"io"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
)

// Drive is the page of a measurement.
type Drive struct {
	Frame
	ID, Title             string // the title is the names of the logs
	Report                *page.Report
	BeforeID, BeforeTitle string // of the drive that this one is compared with; "": none
	NoComparison          string // why there is none though it was requested
	TwoVehicles           string // the drive of another vehicle that it was not compared with
	Largest               int64
	MapName, MapText      string
	Mistakes              []Mistake // of the map; if any, there is no Report
	NoMap                 bool      // none was dropped; if set, there is no Report
	Misfit                string    // why the map does not fit the logs; if set, there is no Report
	Remarks               []string  // made while the logs were read
	Kept                  []Kept
	Beside                Beside   // for a draft
	CanRemember           bool     // workshop and technician
	Job                   page.Job // what of it is remembered
	Open                  string   // the episode or standstill whose card is shown, as in Find
}

// LogView is a log on the page of its measurement.
type LogView struct {
	Drive                 page.Section
	Episodes, Standstills CardTable
}

// driveView is the data of the template.
type driveView struct {
	Drive
	Heading          string
	Answer           page.Section
	Changed, Figures *page.Section // of the comparison, nil if there is none
	Logs, Before     []LogView
	Others           []page.Section // what was tried, and so on
	Measured         []page.Section
	Cautions         page.Section
	MapLines         []MapLine
	Fields           []field
	How              []string // to record a drive for a draft
	Beside           besideView
}

// field is a text that the form for the sheet asks for.
type field struct {
	page.Field
	Value string
}

// Write writes the page.
func (d Drive) Write(w io.Writer) error {
	v := driveView{Drive: d, Heading: "Idle stops", How: words.HowToRecordForPage(), Beside: d.Beside.shown()}
	v.NoComparison, v.Misfit = words.VisibleBlock(d.NoComparison), words.VisibleBlock(d.Misfit)
	v.Title, v.BeforeTitle, v.MapName = words.Visible(d.Title), words.Visible(d.BeforeTitle), words.Visible(d.MapName)
	v.Kept = harmlessKept(d.Kept)
	v.Remarks = nil
	for _, r := range d.Remarks {
		v.Remarks = append(v.Remarks, words.VisibleBlock(r))
	}
	if d.NoMap {
		v.Heading = "A log without a map"
	}
	v.MapLines = mapLines(d.MapText, d.Mistakes)
	if r := d.Report; r != nil {
		v.Heading = r.Heading()
		for _, f := range page.Fields {
			v.Fields = append(v.Fields, field{f, words.Visible(*f.Of(&d.Job))})
		}
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

// view returns one log of a side, on the page d.
func view(side *page.Side, letter string, i int, named bool, prefix string, d *Drive) LogView {
	suffix := ""
	if named {
		suffix = side.Suffix(i, prefix)
	}
	v := LogView{Drive: side.Drive(i, suffix), Episodes: episodes(side, i), Standstills: standstills(side, i)}
	for _, t := range []*CardTable{&v.Episodes, &v.Standstills} {
		t.Title, t.BeforeID = t.Heading+suffix, d.BeforeID
		if letter == "a" && i == 0 {
			t.ID = t.Kind + "s"
		}
		for k := range t.Rows {
			row := &t.Rows[k]
			if row.Open = fmt.Sprintf("%s%s%d.%d", letter, marks[t.Kind], i, row.N); row.Open == d.Open {
				row.Card, _ = Card(d.Report, d.Open)
			}
		}
	}
	return v
}
