package page

import (
	"slices"
	"unicode/utf8"

	"lull/analyze"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/words"
)

// Sheet is the one side of paper that a customer is given: what is wrong in plain words, one
// picture that shows it, and what that is based on. Every text in it is bounded, so that it
// stays one side whatever was driven.
type Sheet struct {
	Title    string
	Head     []HeadField // what the user said of the job
	Status   words.Word
	Verdict  []string
	Measures *Figure // what was measured beside its limits; nil if there is nothing to show
	Fault    *Figure // nil if there is none
	Caption  string  // of Fault
	Facts    []Item  // what was driven, and how sure the figures are
	Cautions []string
	Tight    bool // there is so much text that it is to be set small
}

// HeadField is one thing that the user said of the job.
type HeadField struct {
	Item
	Long bool // over the whole width
}

// How many characters of a text a sheet has room for. The rest stands in the full report.
const (
	roomForTitle    = 70
	roomForField    = 60
	roomForLong     = 250
	roomForSentence = 320
	roomForCaption  = 200
	roomBeforeTight = 1500 // of all texts together
)

// room is how many characters of a field the sheet shows.
func (f *Field) room() int {
	switch {
	case f.Key == "vehicle": // in the title
		return roomForTitle
	case f.Long:
		return roomForLong
	}
	return roomForField
}

// Sheet puts the sheet together.
func (r *Report) Sheet() *Sheet {
	s := &Sheet{Title: within(r.Heading(), roomForTitle)}
	for _, f := range Fields {
		text := *f.Of(&r.Job)
		if text == "" || f.Key == "vehicle" { // which is the title
			continue
		}
		s.Head = append(s.Head, HeadField{Item{Term: f.Label, Text: within(words.VisibleBlock(text), f.room())}, f.Long})
	}
	after := r.After.Report
	var measures []words.Measure
	if r.compares() {
		s.Status, s.Verdict, measures = r.Comparison.Status(), r.Comparison.Verdict(), r.Comparison.Measures(r.Before.Report, after)
		s.Facts = append(s.Facts, fact("Driven before", r.Before.Driven()), fact("Driven after", after.Driven()))
		s.Facts = append(s.Facts, fact("How sure", both(r.Comparison.Sure(), after.Sure())))
	} else {
		s.Status, s.Verdict, measures = after.Status(), after.Verdict(), after.Measures()
		s.Facts = append(s.Facts, fact("Driven", after.Driven()))
		if after.Credence() != analyze.Unusable { // else that is the verdict
			s.Facts = append(s.Facts, fact("How sure", after.Sure()))
		}
		if r.Before != nil {
			s.Facts = append(s.Facts, fact("Before", words.NotCompared(r.Before.Report)))
		}
	}
	for i := range s.Verdict {
		s.Verdict[i] = within(words.VisibleBlock(s.Verdict[i]), roomForSentence)
	}
	if len(measures) > 0 {
		s.Measures = &Figure{picture.Bars(measures, picture.Sheet), picture.Bars(measures, picture.Narrow)}
	}
	if f := r.fault(); f != nil {
		s.Fault, s.Caption = f.figure(), within(words.VisibleBlock(f.Caption), roomForCaption)
	}
	for _, item := range cautions().Blocks[0].List {
		s.Cautions = append(s.Cautions, item.Text)
	}
	s.Tight = s.length() > roomBeforeTight
	return s
}

// length is how many characters the texts have whose lengths differ.
func (s *Sheet) length() int {
	n := 0
	for _, v := range s.Head {
		n += utf8.RuneCountInString(v.Text)
	}
	for _, v := range s.Facts {
		n += utf8.RuneCountInString(v.Text)
	}
	for _, text := range s.Verdict {
		n += utf8.RuneCountInString(text)
	}
	return n
}

// compares reports whether both sides can be used, so that the sheet holds one against the
// other.
func (r *Report) compares() bool {
	return r.Comparison != nil && r.Before != nil && r.After.Credence() != analyze.Unusable && r.Before.Credence() != analyze.Unusable
}

func fact(term, text string) Item {
	return Item{Term: term, Text: within(words.VisibleBlock(text), roomForSentence)}
}

// both joins two texts of which one may be empty.
func both(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + " " + b
}

// within shortens a text to so many characters, and to few lines.
func within(text string, most int) string {
	const mostLines = 4
	lines := 0
	for i, c := range text {
		if c == '\n' {
			lines++
		}
		if lines == mostLines {
			text = text[:i] + " …"
			break
		}
	}
	if utf8.RuneCountInString(text) <= most {
		return text
	}
	return string([]rune(text)[:most-1]) + "…"
}

// faultOf is what the one picture of a sheet shows, and on which side.
type faultOf struct {
	words.Fault
	side *Side
}

// fault finds it: of a repair what is left of what was wrong, else what was wrong before.
func (r *Report) fault() *faultOf {
	sides := []*Side{&r.After}
	if r.compares() && r.Comparison.Status().Tone != words.Bad {
		sides = []*Side{r.Before, &r.After}
	}
	for _, side := range sides {
		if f, ok := side.Report.Fault(); ok {
			if r.compares() {
				f.Caption = words.OnSide(f.Caption, side == r.Before)
			}
			return &faultOf{f, side}
		}
	}
	return nil
}

// Drawn is what is drawn in the report of each log of both sides.
func (r *Report) Drawn() (before, after []Drawn) {
	f := r.fault()
	of := func(side *Side) []Drawn {
		list := make([]Drawn, len(side.Logs))
		for i := range list {
			if r.Full && side.Logs[i].Result.Usable() {
				list[i] = r.appended(side, i)
			}
			switch {
			case f == nil || f.side != side || f.Log != i:
			case f.Standstill:
				list[i].Standstills = with(list[i].Standstills, f.Place)
			default:
				list[i].Episodes = with(list[i].Episodes, f.Place)
			}
		}
		return list
	}
	if r.Before != nil {
		before = of(r.Before)
	}
	return before, of(&r.After)
}

// appended is what of a log is drawn beyond the sheet.
func (r *Report) appended(side *Side, log int) Drawn {
	d := Everything(side.Logs[log].Result)
	if !r.All {
		d.Episodes = slices.DeleteFunc(d.Episodes, func(k int) bool { return side.Plain(&side.Logs[log], k) })
		d.Standstills = slices.DeleteFunc(d.Standstills, func(k int) bool { return !side.standsOut(log, k) })
	}
	return d
}

func with(list []int, i int) []int {
	if slices.Contains(list, i) {
		return list
	}
	return append(list, i)
}

// standsOut reports whether the engine ran on in a standstill and nothing is known to have kept
// it running.
func (side *Side) standsOut(log, standstill int) bool {
	s := &side.Logs[log].Result.Standstills[standstill]
	return s.RanOn() && s.Reason == ""
}

// figure draws it; nil where nothing was traced for it.
func (f *faultOf) figure() *Figure {
	m, res, t := f.side.Map, f.side.Logs[f.Log].Result, LogTraces{}
	if f.Log < len(f.side.Traces) {
		t = f.side.Traces[f.Log]
	}
	draw := func(draw func(width float64) picture.Drawing) *Figure {
		return &Figure{draw(picture.Sheet), draw(picture.Narrow)}
	}
	if f.Standstill {
		if traces, ok := t.Standstills[f.Place]; ok {
			return draw(func(width float64) picture.Drawing {
				return picture.Standstill(m, res, &res.Standstills[f.Place], traces, width)
			})
		}
	} else if traces, ok := t.Episodes[f.Place]; ok {
		return draw(func(width float64) picture.Drawing {
			return picture.EpisodeOutline(m, res, &res.Episodes[f.Place], traces, f.Metric, width)
		})
	}
	return nil
}
