package web

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/draft"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Draft is the page of a drafted map.
type Draft struct {
	Frame
	ID, Title string // the title is the names of the logs
	Draft     *words.Draft
	Curves    []Curve // of its signals, in the first log; may be missing
	Choices   map[string]draft.Choice
	Shown     []string // values of the dashboard that were told
	MapText   string   // "": there is none
	Remarks   []string
}

// Curve is a signal over the first log.
type Curve struct {
	Points []analyze.TracePoint
	Span   int64
}

// Say is a button that says something to the draft.
type Say struct {
	Say, Text string
	Label     string // for who hears the button by itself
	First     bool
}

// SignalCard is a proposed signal.
type SignalCard struct {
	Anchor, Name, Place       string
	Sureness, Trust, Evidence string
	NotWritten                string // why the map does not have it
	Figure                    *page.Figure
	Choices                   []Say
	Rivals                    []RivalRow
	RivalsTitle, More         string
	RivalsOpen                bool
	Dash                      bool // a value of the dashboard is asked for
	DashChoice, Forget        Say
}

// RivalRow is another field that may be meant, or a signal that was left out.
type RivalRow struct {
	Anchor, Name, Place string
	Choice              Say
}

// draftView is the data of the template.
type draftView struct {
	Draft
	Lines    []words.DraftLine
	Cards    []SignalCard
	Out      []RivalRow
	CurvesOf string
	Logs     []draftLog
	How      []string
}

// draftLog is what a log gives by the drafted map.
type draftLog struct {
	Title, Label, Text string
	Grid               table.Grid
}

const (
	mostRivals  = 12  // on a card
	few         = 3   // rivals, which are shown at once
	mostPreview = 200 // episodes of a log
)

// DraftAnchor is where on the page the card of a signal is.
func DraftAnchor(name string) string {
	return "signal-" + strings.ReplaceAll(words.Visible(name), " ", "_")
}

// Write writes the page.
func (d Draft) Write(w io.Writer) error {
	v := draftView{Draft: d, How: words.HowToRecord}
	v.Title, v.MapText = words.Visible(d.Title), words.VisibleBlock(d.MapText)
	v.Remarks, v.Shown = nil, nil
	for _, r := range d.Remarks {
		v.Remarks = append(v.Remarks, words.VisibleBlock(r))
	}
	for _, x := range d.Shown {
		v.Shown = append(v.Shown, words.Visible(x))
	}
	for _, l := range d.Draft.Lines() {
		l.Text, l.Items = words.Visible(l.Text), slices.Clone(l.Items)
		for i := range l.Items {
			l.Items[i] = words.Visible(l.Items[i])
		}
		v.Lines = append(v.Lines, l)
	}
	if len(d.Draft.Logs) > 1 {
		v.CurvesOf = words.Visible(d.Draft.Logs[0])
	}
	for i := range d.Draft.Result.Signals {
		v.Cards = append(v.Cards, d.card(i))
	}
	for i := range d.Draft.Result.Out {
		s := &d.Draft.Result.Out[i]
		name := words.Visible(words.DraftSignalName(s))
		v.Out = append(v.Out, RivalRow{DraftAnchor(s.Name), name, words.Visible(words.DraftPlace(s)), Say{Say: "in " + words.Visible(s.Name), Text: "Take it back", Label: "Take it back: " + name}})
	}
	if r := d.Draft.Measured; r != nil {
		for i := range r.Logs {
			v.Logs = append(v.Logs, previewed(r, i))
		}
	}
	return execute(w, "draft", v)
}

// previewed is what a log gives.
func previewed(r *words.Report, i int) draftLog {
	res := r.Logs[i].Result
	l := draftLog{Label: "the episodes of " + words.Visible(r.Logs[i].Name)}
	if len(r.Logs) > 1 {
		l.Title = words.Visible(r.Logs[i].Name)
	}
	switch {
	case !res.Usable():
		l.Text = words.Sentence(words.NotShown(res))
	case len(res.Episodes) == 0:
		l.Text = "No episode."
	default:
		l.Grid = table.EpisodeGrid(r, res)
		if n := len(l.Grid.Rows); n > mostPreview {
			l.Grid.Rows = l.Grid.Rows[:mostPreview]
			l.Text = fmt.Sprintf("The first %d of %d.", mostPreview, n)
		}
	}
	return l
}

// card is the card of one signal.
func (d *Draft) card(i int) SignalCard {
	s := &d.Draft.Result.Signals[i]
	name := words.Visible(words.DraftSignalName(s))
	choice, said := d.Choices[s.Name]
	key := words.Visible(s.Name) // no draft of the page has another name than lull's own
	c := SignalCard{Anchor: DraftAnchor(s.Name), Name: words.Sentence(name), Place: words.Sentence(words.Visible(words.DraftPlace(s))), Trust: s.FieldIs.String(),
		Sureness: words.DraftTrust(s), Evidence: words.Sentence(words.Visible(words.DraftEvidence(s)))}
	switch {
	case !s.Complete():
		c.NotWritten = "It stays a comment in the map, as nothing tells its factor."
	case !s.Written:
		c.NotWritten = "It stays a comment in the map, as it is only a guess."
	}
	c.Name, c.Place = strings.TrimSuffix(c.Name, "."), strings.TrimSuffix(c.Place, ".")
	if i < len(d.Curves) {
		curve := picture.Curve{Name: name, Unit: words.Visible(s.Field.Unit), Points: d.Curves[i].Points, Span: d.Curves[i].Span, Switch: s.What.Switch()}
		if r := d.Draft.Measured; r != nil && len(r.Logs) > 0 {
			curve.Result = r.Logs[0].Result
		}
		c.Figure = &page.Figure{Wide: curve.Draw(picture.Wide), Narrow: curve.Draw(picture.Narrow)}
	}
	if !said && s.FieldIs < draft.Sure && s.Complete() {
		c.Choices = append(c.Choices, Say{Say: "use " + key + " 0", Text: "This is right", Label: "This is right: " + name})
	}
	if s.What != draft.EngineSpeed {
		c.Choices = append(c.Choices, Say{Say: "out " + key, Text: "Not this one", Label: "Not this one: " + name})
	}
	if said {
		c.Choices = append(c.Choices, Say{Say: "in " + key, Text: "Take my choice back", Label: "Take my choice back: " + name})
	}
	for k := range s.Rivals {
		if k == mostRivals {
			n := len(s.Rivals) - mostRivals
			c.More = fmt.Sprintf("%d more %s not shown.", n, decode.Pick(n, "is", "are"))
			break
		}
		at := words.Visible(words.RivalPlace(&s.Rivals[k]))
		row := RivalRow{Place: at, Choice: Say{Say: fmt.Sprintf("use %s %d", key, k+1), Text: "Use this instead", Label: "Use this instead: " + at + " as " + name}}
		if k+1 == choice.This {
			row.Place += ", which was proposed first"
			row.Choice.Say = "use " + key + " 0"
		}
		c.Rivals = append(c.Rivals, row)
	}
	n := len(s.Rivals)
	c.RivalsTitle = fmt.Sprintf("%d %s", n, decode.Pick(n, "other field may be meant", "other fields may be meant"))
	c.RivalsOpen = n <= few || choice.This > 0
	if s.What == draft.VehicleSpeed && (s.ScaleIs == draft.Guess || len(d.Shown) > 0) {
		c.Dash = true
		c.DashChoice = Say{Say: "shown " + key, Text: "Settle the factor", Label: "Settle the factor of " + name}
		c.Forget = Say{Say: "forget " + key, Text: "Forget that", Label: "Forget that: what the dashboard showed"}
	}
	return c
}
