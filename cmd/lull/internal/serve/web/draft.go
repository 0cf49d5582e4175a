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
	Curves    []Curve // of its signals, in one log; may be missing
	CurvesOf  int     // which log that is
	Curved    int     // how many logs have curves
	Choices   map[string]draft.Choice
	Shown     []Shown // values of the dashboard that were told
	Beside    Beside
	MapText   string // "": there is none
	Remarks   []string
}

// Shown is a value of the dashboard that was told, of a signal.
type Shown struct{ Name, Text string }

// Beside is what was given for a draft beside the logs, in words.
type Beside struct {
	Marks, Database string   // "": there is none
	Unsound         []string // why more of it cannot be used
	Largest         int64    // bytes of one request
}

// besideView is Beside for the template.
type besideView struct {
	Used    []besideRow
	Unsound []string
	Largest int64
	MarksOf string // the log that marks are of, where there are several
}

// besideRow is a file that is used, and the button that takes it out.
type besideRow struct {
	Text    string
	Without Say
}

func (b Beside) shown() besideView {
	v := besideView{Largest: b.Largest}
	if b.Marks != "" {
		v.Used = append(v.Used, besideRow{words.Visible(b.Marks), Say{Say: "without marks", Text: "Draft without it", Label: "Draft without the marks"}})
	}
	if b.Database != "" {
		v.Used = append(v.Used, besideRow{words.Visible(b.Database), Say{Say: "without dbc", Text: "Draft without it", Label: "Draft without the database"}})
	}
	for _, u := range b.Unsound {
		v.Unsound = append(v.Unsound, words.VisibleBlock(u))
	}
	return v
}

// Curve is a signal over a log.
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
	Dash                      *DashField
}

// DashField asks for a value of the dashboard, and has what was told so far.
type DashField struct {
	Ask            string
	Units          []string
	Shown          string // "": nothing
	Unused         string // why that settles nothing
	Choice, Forget Say
}

// RivalRow is another field that may be meant, or a signal that was left out.
type RivalRow struct {
	Anchor, Name, Place string
	Choice              Say
}

// draftView is the data of the template.
type draftView struct {
	Draft
	Lines      []words.DraftLine
	Cards      []SignalCard
	Out        []RivalRow
	CurveLinks []curvesLink // where there are several logs
	CurvesNow  int          // which log that is, from 1, if not the first; else 0
	Uncurved   string       // which logs have no curves
	Logs       []draftLog
	How        []string
	Beside     besideView
}

// curvesLink leads to the curves of a log, unless they are shown.
type curvesLink struct {
	Name   string
	Number int // 0: they are shown
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
	v := draftView{Draft: d, How: words.HowToRecordForPage(), Beside: d.Beside.shown()}
	v.Title, v.MapText = words.Visible(d.Title), words.VisibleBlock(d.MapText)
	v.Remarks = nil
	for _, r := range d.Remarks {
		v.Remarks = append(v.Remarks, words.VisibleBlock(r))
	}
	for _, l := range d.Draft.PageLines() {
		l.Text, l.Items = words.Visible(l.Text), slices.Clone(l.Items)
		for i := range l.Items {
			l.Items[i] = words.Visible(l.Items[i])
		}
		v.Lines = append(v.Lines, l)
	}
	if n := len(d.Draft.Logs); n > 1 {
		v.Beside.MarksOf = words.Visible(d.Draft.Logs[0])
		for i := range min(d.Curved, n) {
			link := curvesLink{Name: words.Visible(d.Draft.Logs[i])}
			if i != d.CurvesOf {
				link.Number = i + 1
			}
			v.CurveLinks = append(v.CurveLinks, link)
		}
		if d.CurvesOf > 0 {
			v.CurvesNow = d.CurvesOf + 1
		}
		if more := n - d.Curved; more > 0 {
			v.Uncurved = fmt.Sprintf("%d more %s no curves here.", more, decode.Pick(more, "log has", "logs have"))
		}
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
		if r := d.Draft.Measured; r != nil && d.CurvesOf < len(r.Logs) {
			curve.Result = r.Logs[d.CurvesOf].Result
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
		if k+1 == choice.First {
			row.Place += ", which was proposed first"
		}
		c.Rivals = append(c.Rivals, row)
	}
	n := len(s.Rivals)
	c.RivalsTitle = fmt.Sprintf("%d %s", n, decode.Pick(n, "other field may be meant", "other fields may be meant"))
	c.RivalsOpen = n <= few || choice.First > 0
	c.Dash = d.dash(s, key, name)
	return c
}

// dash asks for a value of the dashboard where one may settle the factor of a signal, or
// was told. nil: it is not asked for.
func (d *Draft) dash(s *draft.Signal, key, name string) *DashField {
	var told []string
	for _, x := range d.Shown {
		if x.Name == s.Name {
			told = append(told, words.Visible(x.Text))
		}
	}
	f := &DashField{Shown: strings.Join(told, "; "),
		Choice: Say{Say: "shown " + key, Text: "Settle the factor", Label: "Settle the factor of " + name},
		Forget: Say{Say: "forget " + key, Text: "Forget that", Label: "Forget that: what the dashboard showed of " + name}}
	switch s.What {
	case draft.VehicleSpeed:
		f.Ask, f.Units = words.AskSpeed, []string{"km/h", "mph"}
	case draft.EngineSpeed:
		f.Ask, f.Units = words.AskRevs, []string{"rpm"}
	default:
		return nil
	}
	if len(told) > 0 {
		f.Unused = words.Visible(words.DashUnused(s))
	} else if !words.DashHelps(s) {
		return nil
	}
	return f
}
