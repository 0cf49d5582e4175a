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

// draft drafts a map from a drop, or takes a choice and measures by it anew.
func (s *Server) draft(w http.ResponseWriter, r *http.Request) {
	t := s.newTeller(w, r)
	at, err := s.drafted(w, r, t)
	s.finish(w, r, t, at, err)
}

func (s *Server) drafted(w http.ResponseWriter, r *http.Request, t *teller) (at string, err error) {
	r.Body = http.MaxBytesReader(w, r.Body, mostField)
	if err := r.ParseForm(); err != nil {
		return "", &trouble{http.StatusBadRequest, "that is no choice of this page", "use the page's own form"}
	}
	ctx := r.Context()
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
	said := r.PostForm.Get("say")
	var choices measuring.Choices
	if m.draft != nil {
		if choices, err = chosenBy(m.draft, said, r.PostForm); err != nil {
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
	after := &measurement{id: m.id, at: m.at, logs: m.logs, mapName: draftName, mapText: drafted.Text, draft: drafted, steps: m.steps + 1, files: files}
	if m.side != nil || m.draft == nil && m.mapText != nil {
		after.id, after.at, after.steps = newToken(), s.now(), 1 // what was measured, or the map that did not fit, stays
	}
	files = nil
	s.store.keep(after)
	at = s.base() + "/drives/" + after.id
	if m.draft != nil { // an address that differs, so that the script goes there
		at += "?step=" + strconv.Itoa(after.steps) + "#" + web.DraftAnchor(signalOf(said))
	}
	return at, nil
}

// draftName is the name of a drafted map.
const draftName = "map.yaml"

// signalOf is the signal that a choice is about.
func signalOf(said string) string {
	_, rest, _ := strings.Cut(said, " ")
	name, _, _ := strings.Cut(rest, " ")
	return name
}

// chosenBy returns the choices of a draft after what a form says: `out NAME`, `in NAME`,
// `use NAME RIVAL`, `shown NAME` with the fields value, unit and at, or `forget NAME`.
func chosenBy(d *measuring.Drafted, said string, form url.Values) (measuring.Choices, error) {
	c := d.Choices
	if said == "" {
		return c, nil
	}
	what, _, _ := strings.Cut(said, " ")
	name := signalOf(said)
	at := slices.IndexFunc(d.Proposed.Signals, func(s draft.Signal) bool { return s.Name == name })
	if at < 0 {
		return c, unknownChoice()
	}
	switch what {
	case "out":
		return c.With(name, draft.Choice{Out: true}), nil
	case "in":
		return c.Without(name), nil
	case "use":
		n, err := strconv.Atoi(said[strings.LastIndexByte(said, ' ')+1:])
		if err != nil || n < 0 || n > len(d.Proposed.Signals[at].Rivals) {
			return c, unknownChoice()
		}
		return c.With(name, draft.Choice{This: n}), nil
	case "shown":
		value, unit := number(form.Get("value")), form.Get("unit")
		moment := number(form.Get("at"))
		if !(value > 0 && value < 1000) || !(moment >= 0 && moment < 1e7) || unit != "km/h" && unit != "mph" {
			return c, &trouble{http.StatusUnprocessableEntity, "a value of the dashboard is a number above 0, at a number of seconds from the start of the log", "for instance 50 km/h at 83 s"}
		}
		if len(c.Shown) == mostShown {
			return c, &trouble{http.StatusUnprocessableEntity, fmt.Sprintf("%d values are enough", mostShown), "forget them first"}
		}
		c.Shown = append(slices.Clone(c.Shown), marks.Mark{Name: name, From: moment, To: moment, HasValue: true, Value: value, Unit: unit})
		return c, nil
	case "forget":
		c.Shown = nil
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

// showDraft is the page of a draft.
func (s *Server) showDraft(w http.ResponseWriter, m *measurement) {
	p := web.Draft{Frame: s.frame(), ID: m.id, Title: m.title(), Draft: m.draft.Draft, Remarks: m.draft.Remarks,
		MapText: string(m.draft.Text), Choices: m.draft.Choices.Signals}
	for _, c := range m.draft.Curves {
		p.Curves = append(p.Curves, web.Curve{Points: c.Points, Span: c.Span})
	}
	for _, x := range m.draft.Choices.Shown {
		p.Shown = append(p.Shown, fmt.Sprintf("%v %s at %v s", x.Value, x.Unit, x.From))
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
