package serve

import (
	"fmt"
	"math"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"lull/analyze/draft"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/serve/web"
	"lull/decode/marks"
)

// mostShown is how many values of the dashboard one draft takes.
const mostShown = 8

// mostShownAs is what no dashboard shows.
var mostShownAs = map[draft.Quantity]float64{draft.VehicleSpeed: 1000, draft.EngineSpeed: 20000}

// draft drafts a map from a drop, or takes a choice and measures by it anew.
func (s *Server) draft(w http.ResponseWriter, r *http.Request) {
	t, body := s.newTeller(w, r), r.Body
	at, err := s.drafted(w, r, t)
	s.hangUp(w, r, t, at, err, body)
}

func (s *Server) drafted(w http.ResponseWriter, r *http.Request, t *teller) (at string, err error) {
	g, err := s.given(w, r)
	if err != nil {
		return "", err
	}
	ctx, said := r.Context(), g.said
	files, done, err := s.store.share(r.PathValue("id"))
	if err != nil {
		return "", err
	}
	defer done()
	defer func() {
		if files != nil {
			s.store.release(files)
		}
	}()
	leave, err := s.queue.enter(ctx, t.place)
	if err != nil {
		return "", err
	}
	defer leave()
	m := s.store.get(r.PathValue("id")) // with what was chosen meanwhile
	if m == nil {
		return "", gone()
	}
	choices := measuring.Choices{Beside: m.beside}
	if m.draft != nil {
		if choices, err = chosenBy(m.draft, said, g.form); err != nil {
			return "", err
		}
	}
	for _, f := range g.files {
		if choices.Beside, err = f.beside(choices.Beside); err != nil {
			return "", err
		}
	}
	drafted, err := s.work.Draft(ctx, m.inputs(), m.draft, choices, t.part)
	if ctx.Err() != nil {
		return "", ctx.Err()
	}
	if err != nil {
		return "", &trouble{status: http.StatusUnprocessableEntity, what: err.Error()}
	}
	after := &measurement{id: m.id, at: m.at, logs: m.logs, mapName: draftName, mapText: drafted.Text, draft: drafted, steps: m.steps + 1, beside: choices.Beside, files: files}
	if m.side != nil || m.draft == nil && m.mapText != nil {
		after.id, after.at, after.steps = newToken(), s.now(), 1 // what was measured, or the map that did not fit, stays
	}
	files = nil
	s.store.keep(after)
	at = s.base() + "/drives/" + after.id
	if m.draft != nil { // an address that differs, so that the script goes there
		at += "?step=" + strconv.Itoa(after.steps)
		if n, err := strconv.Atoi(r.URL.Query().Get("curves")); err == nil {
			at += "&curves=" + strconv.Itoa(n)
		}
		if name := signalOf(said); name != "" {
			at += "#" + web.DraftAnchor(name)
		}
	}
	return at, nil
}

// draftName is the name of a drafted map.
const draftName = "map.yaml"

// signalOf is the signal that a choice is about; "": none.
func signalOf(said string) string {
	what, rest, _ := strings.Cut(said, " ")
	if what == "without" {
		return ""
	}
	name, _, _ := strings.Cut(rest, " ")
	return name
}

// chosenBy returns the choices of a draft after what a form says: `out NAME`, `in NAME`,
// `use NAME RIVAL`, `shown NAME` with the fields value, unit and at, `forget NAME`, or
// `without marks` and `without dbc` of the files.
func chosenBy(d *measuring.Drafted, said string, form url.Values) (measuring.Choices, error) {
	c := d.Choices
	if said == "" {
		return c, nil
	}
	switch said {
	case "without marks":
		c.Beside = c.Beside.WithoutMarks()
		return c, nil
	case "without dbc":
		c.Beside = c.Beside.WithoutDatabase()
		return c, nil
	}
	what, _, _ := strings.Cut(said, " ")
	name := signalOf(said)
	if _, chosen := c.Signals[name]; what == "in" && chosen {
		return c.Without(name), nil
	}
	list := d.Draft.Result.Signals
	at := slices.IndexFunc(list, func(s draft.Signal) bool { return s.Name == name })
	if at < 0 {
		return c, unknownChoice()
	}
	s := &list[at] // as the page shows it
	switch what {
	case "out":
		if s.What == draft.EngineSpeed {
			return c, unknownChoice()
		}
		return c.With(name, s.LeftOut()), nil
	case "in":
		return c, nil
	case "use":
		n, err := strconv.Atoi(said[strings.LastIndexByte(said, ' ')+1:])
		if err != nil || n < 0 || n > len(s.Rivals) {
			return c, unknownChoice()
		}
		return c.Used(s, n), nil
	case "shown":
		m := marks.Mark{Name: name, HasValue: true, Value: number(form.Get("value")), Unit: form.Get("unit"), From: number(form.Get("at"))}
		m.To = m.From
		if q, settles := draft.Settles(m); !settles || q != s.What || m.Unit == "" || !(m.Value < mostShownAs[q]) || !(m.From >= 0 && m.From < 1e7) {
			return c, &trouble{http.StatusUnprocessableEntity, "a value of the dashboard is a number above 0, at a number of seconds from the start of the log", "for instance 50 km/h or 2000 rpm at 83 s"}
		}
		if len(c.Shown) == mostShown {
			return c, &trouble{http.StatusUnprocessableEntity, fmt.Sprintf("%d values are enough", mostShown), "forget them first"}
		}
		c.Shown = append(slices.Clone(c.Shown), m)
		return c, nil
	case "forget":
		c.Shown = slices.DeleteFunc(slices.Clone(c.Shown), func(m marks.Mark) bool { return m.Name == name })
		return c, nil
	}
	return c, unknownChoice()
}

// number reads a number as people write it, NaN if it is none.
func number(text string) float64 {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

func unknownChoice() error {
	return &trouble{http.StatusBadRequest, "that is no choice of this draft", "load the page anew"}
}

// showDraft is the page of a draft, with the curves of one of its logs.
func (s *Server) showDraft(w http.ResponseWriter, r *http.Request, m *measurement) {
	p := web.Draft{Frame: s.frame(), ID: m.id, Title: m.title(), Draft: m.draft.Draft, Remarks: m.draft.Remarks, Beside: m.given(),
		MapText: string(m.draft.Text), Choices: m.draft.Choices.Signals, Curved: len(m.draft.Curves)}
	if n, err := strconv.Atoi(r.URL.Query().Get("curves")); err == nil && n > 0 && n <= len(m.draft.Curves) {
		p.CurvesOf = n - 1
	}
	if len(m.draft.Curves) > 0 {
		for _, c := range m.draft.Curves[p.CurvesOf] {
			p.Curves = append(p.Curves, web.Curve{Points: c.Points, Span: c.Span})
		}
	}
	for _, x := range m.draft.Choices.Shown {
		p.Shown = append(p.Shown, web.Shown{Name: x.Name, Text: fmt.Sprintf("%v %s at %v s", x.Value, x.Unit, x.From)})
	}
	s.write(w, http.StatusOK, p.Write)
}

// mapFile is the map of a measurement, to be saved.
func (s *Server) mapFile(w http.ResponseWriter, r *http.Request) {
	m := s.store.get(r.PathValue("id"))
	if m == nil {
		s.refuse(w, http.StatusGone, "that measurement is no longer kept", "drop its log again")
		return
	}
	if m.mapText == nil {
		s.refuse(w, http.StatusNotFound, "there is no such file", "")
		return
	}
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": "map.yaml"}))
	s.answer(w, http.StatusOK, "application/yaml; charset=utf-8", m.mapText)
}
