package serve

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
)

func (s *Server) asset(kind string, text []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) { s.answer(w, http.StatusOK, kind, text) }
}

// answer sends a complete body. A client that does not read is given up after a while, and
// one that went away needs no error.
func (s *Server) answer(w http.ResponseWriter, status int, kind string, text []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Length", strconv.Itoa(len(text)))
	w.WriteHeader(status)
	control := http.NewResponseController(w)
	for part := range slices.Chunk(text, 1<<20) {
		_ = control.SetWriteDeadline(s.late())
		if _, err := w.Write(part); err != nil {
			return
		}
	}
}

// frame is what all pages have in common.
func (s *Server) frame() web.Frame { return web.Frame{Base: s.base(), Version: s.work.Version} }

// write sends a page once it is complete.
func (s *Server) write(w http.ResponseWriter, status int, write func(io.Writer) error) {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		s.answer(w, http.StatusInternalServerError, "text/plain; charset=utf-8", []byte("the page could not be made: "+err.Error()))
		return
	}
	s.answer(w, status, "text/html; charset=utf-8", b.Bytes())
}

// start is the first page.
func (s *Server) start(w http.ResponseWriter, _ *http.Request) {
	p := web.Start{Frame: s.frame(), Largest: s.largest, MapName: s.work.MapName, Kept: s.kept("")}
	p.Recording, p.Recorded = s.recording()
	for _, d := range s.work.Demo {
		p.Demo = append(p.Demo, web.Choice{Value: d.Name, Text: d.Title})
	}
	s.write(w, http.StatusOK, p.Write)
}

// kept lists the measurements kept, except one.
func (s *Server) kept(besides string) []web.Kept {
	var list []web.Kept
	for _, m := range s.store.list() {
		if m.id != besides {
			list = append(list, web.Kept{ID: m.id, Title: m.title(), At: m.at.Format("15:04:05"), Measured: m.side != nil, Drafted: m.draft != nil})
		}
	}
	return list
}

// chosen is the measurement that an address names, and what it is compared with.
type chosen struct {
	*measurement
	before *measurement
	report *page.Report
	why    string // why there is no comparison
	two    string // the drive that it was not held against, as it is of another vehicle
}

// choose finds what an address names; if that is nothing, it answers the request itself.
// The comparison is made only on request.
func (s *Server) choose(w http.ResponseWriter, r *http.Request, compare bool) (*chosen, bool) {
	c := &chosen{measurement: s.store.get(r.PathValue("id"))}
	if c.measurement == nil {
		s.refuse(w, http.StatusGone, "that measurement is no longer kept", "drop its log again")
		return nil, false
	}
	if c.side == nil {
		return c, true
	}
	c.report = &page.Report{After: *c.side}
	// Only the address is read: looking for fields in a body, too, would write parts of it
	// to disk.
	id := r.URL.Query().Get("before")
	if id == "" {
		return c, true
	}
	if c.before = s.store.get(id); c.before == nil || c.before.side == nil {
		c.before, c.why = nil, "the drive of before is no longer kept; drop its log again"
		return c, true
	}
	c.report.Before = c.before.side
	if !compare {
		return c, true
	}
	// Copies, since a comparison of equal maps makes both sides share one.
	after, before := *c.side.Report, *c.before.side.Report
	comparison, err := s.work.Compare(&before, &after, r.URL.Query().Get("two") != "")
	if err != nil {
		if errors.As(err, new(*measuring.TwoVehicles)) {
			c.two = id
		}
		c.before, c.report.Before, c.why = nil, nil, err.Error()
		return c, true
	}
	c.report.Comparison = comparison
	return c, true
}

// show is the page of a measurement.
func (s *Server) show(w http.ResponseWriter, r *http.Request) {
	c, ok := s.choose(w, r, true)
	if !ok {
		return
	}
	if c.draft != nil {
		s.showDraft(w, r, c.measurement)
		return
	}
	p := web.Drive{
		Frame: s.frame(), ID: c.id, Title: c.title(), Report: c.report, NoComparison: c.why, TwoVehicles: c.two,
		Largest: s.largest, MapName: c.mapName, MapText: string(c.mapText), Remarks: slices.Concat(c.remarks, c.unsound), Kept: s.kept(c.id), Beside: c.given(), Open: r.URL.Query().Get("open"),
	}
	if p.CanRemember = s.work.Remember != nil && s.work.Remembered != nil; p.CanRemember {
		p.Job, _ = s.work.Remembered() // what cannot be read is typed again
	}
	if c.before != nil {
		p.BeforeID, p.BeforeTitle = c.before.id, c.before.title()
	}
	status := http.StatusOK
	switch {
	case c.mapText == nil:
		p.NoMap = true
	case c.side == nil:
		p.Misfit = c.misfit
		status = http.StatusUnprocessableEntity
		for _, e := range c.mistakes {
			p.Mistakes = append(p.Mistakes, web.Mistake{Line: e.Line, Column: e.Column, Why: e.Why, Hint: e.Hint})
		}
	}
	s.write(w, status, p.Write)
}

// card is the story of one episode or standstill, for the script to put into the page.
func (s *Server) card(w http.ResponseWriter, r *http.Request) {
	c, ok := s.choose(w, r, false)
	if !ok {
		return
	}
	section, ok := web.Card(c.report, r.URL.Query().Get("open"))
	if !ok {
		s.refuse(w, http.StatusNotFound, "there is no such episode or standstill", "")
		return
	}
	s.write(w, http.StatusOK, section.Write)
}

// readings is what the cursor in the picture of an episode or standstill shows.
func (s *Server) readings(w http.ResponseWriter, r *http.Request) {
	c, ok := s.choose(w, r, false)
	if !ok {
		return
	}
	readings, ok := readingsOf(c.report, r.URL.Query().Get("open"))
	if !ok {
		s.refuse(w, http.StatusNotFound, "there is no such picture", "")
		return
	}
	text, err := json.Marshal(readings)
	if err != nil {
		s.refuse(w, http.StatusInternalServerError, "the readings could not be made: "+err.Error(), "")
		return
	}
	s.answer(w, http.StatusOK, "application/json", text)
}

// readingsOf returns the readings of the picture that an address names.
func readingsOf(r *page.Report, open string) (picture.Readings, bool) {
	o, ok := web.Find(r, open)
	if !ok {
		return picture.Readings{}, false
	}
	m, res, all := o.Side.Map, o.Side.Logs[o.Log].Result, &o.Side.Traces[o.Log]
	if !o.Standstill {
		return picture.ReadingsOf(m, res, &res.Episodes[o.Place], all.Episodes[o.Place]), true
	}
	traces, ok := all.Standstills[o.Place]
	if !ok {
		return picture.Readings{}, false
	}
	return picture.StandstillReadings(m, res, &res.Standstills[o.Place], traces), true
}

// files are the downloads by name: media type and how each is written.
var files = map[string]struct {
	kind  string
	write func(*page.Report, io.Writer) error
}{
	"episodes.csv":  {"text/csv; charset=utf-8", func(p *page.Report, w io.Writer) error { return document.WriteCSV(w, p.After.Report, words.Episodes) }},
	"episodes.json": {"application/json", func(p *page.Report, w io.Writer) error { return document.WriteJSON(w, p.After.Report, words.Episodes) }},
	"episodes.xlsx": {xlsxKind, func(p *page.Report, w io.Writer) error { return document.WriteXLSX(w, p.After.Report, words.Episodes) }},
	"standstills.csv": {"text/csv; charset=utf-8", func(p *page.Report, w io.Writer) error {
		return document.WriteCSV(w, p.After.Report, words.Standstills)
	}},
	"standstills.json": {"application/json", func(p *page.Report, w io.Writer) error {
		return document.WriteJSON(w, p.After.Report, words.Standstills)
	}},
	"standstills.xlsx": {xlsxKind, func(p *page.Report, w io.Writer) error {
		return document.WriteXLSX(w, p.After.Report, words.Standstills)
	}},
	"compare.csv":  {"text/csv; charset=utf-8", func(p *page.Report, w io.Writer) error { return document.WriteComparisonCSV(w, p.Comparison) }},
	"compare.json": {"application/json", func(p *page.Report, w io.Writer) error { return document.WriteComparisonJSON(w, p.Comparison) }},
	"sheet.html":   {"text/html; charset=utf-8", (*page.Report).WriteHTML},
	"sheet.pdf":    {"application/pdf", (*page.Report).WritePDF},
	"report.html":  {"text/html; charset=utf-8", full((*page.Report).WriteHTML)},
	"report.pdf":   {"application/pdf", full((*page.Report).WritePDF)},
}

// full writes the full report in place of the sheet.
func full(write func(*page.Report, io.Writer) error) func(*page.Report, io.Writer) error {
	return func(p *page.Report, w io.Writer) error {
		p.Full = true
		return write(p, w)
	}
}

const xlsxKind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// file is a download.
func (s *Server) file(w http.ResponseWriter, r *http.Request) {
	s.send(w, r, r.PathValue("name"), func(*page.Report) {})
}

// report is the sheet or the full report, with the form's fields on the job.
func (s *Server) report(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 64<<10)
	if err := r.ParseForm(); err != nil {
		s.refuse(w, http.StatusRequestEntityTooLarge, "too much text for a report", "shorten it")
		return
	}
	var job page.Job
	for _, f := range page.Fields {
		*f.Of(&job) = r.PostFormValue(f.Key)
	}
	if r.PostFormValue("remember") != "" && s.work.Remember != nil {
		if err := s.work.Remember(job); err != nil {
			s.refuse(w, http.StatusInternalServerError, err.Error(), "")
			return
		}
	}
	s.send(w, r, cmp.Or(r.PostFormValue("file"), "sheet.html"), func(p *page.Report) { p.Job = job })
}

func (s *Server) send(w http.ResponseWriter, r *http.Request, name string, fill func(*page.Report)) {
	c, ok := s.choose(w, r, true)
	if !ok {
		return
	}
	f, known := files[name]
	if !known || c.report == nil || strings.HasPrefix(name, "compare") && c.report.Comparison == nil {
		s.refuse(w, http.StatusNotFound, "there is no such file", "")
		return
	}
	fill(c.report)
	var b bytes.Buffer
	if err := f.write(c.report, &b); err != nil {
		s.refuse(w, http.StatusInternalServerError, fmt.Sprintf("%s could not be made: %v", name, err), "")
		return
	}
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": saveName(c.logs[0].name, name)}))
	s.answer(w, http.StatusOK, f.kind, b.Bytes())
}

// saveName returns a file name after the log: of characters that every system allows, not
// hidden, and not too long.
func saveName(log, name string) string {
	const most = 100 // bytes of the log's part
	base := strings.TrimSuffix(log, filepath.Ext(log))
	base = strings.Map(func(r rune) rune {
		if r == '/' || strings.ContainsRune(`\:*?"<>|%`, r) {
			return '_'
		}
		return r
	}, words.Visible(base))
	base = strings.Trim(shortened(base, most), ". ")
	if base == "" {
		return name
	}
	return base + "-" + name
}
