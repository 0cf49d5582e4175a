package page

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"html/template"
	"io"
	"strings"
	"sync"

	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/words"
)

//go:embed *.html.tmpl
var templateFiles embed.FS

//go:embed report.css
var reportCSS string

// svg is a picture as markup. The picture package escapes all text in it.
func svg(d picture.Drawing) template.HTML { return template.HTML(d.SVG()) }

// parsed are the templates of the report as they are copied: those that were used
// cannot be. They are read when they are first asked for: most commands write no page.
var parsed = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{
		"svg":  svg,
		"join": func(list ...string) string { return strings.Join(list, "") },
	}).ParseFS(templateFiles, "*.html.tmpl"))
})

// Templates are those that set sections, for pages that are made of them, too.
func Templates() *template.Template { return template.Must(parsed().Clone()) }

var templates = sync.OnceValue(Templates)

// StyleSheet is that of sections.
func StyleSheet() string { return reportCSS + picture.CSS() }

// document is what the template is given.
type document struct {
	Title    string
	Policy   string
	Style    template.CSS
	Sections []Section
}

// WriteHTML writes the report as one file that needs nothing else: its content
// policy allows its own style sheet, by hash, and nothing besides.
func (r *Report) WriteHTML(w io.Writer) error {
	style := "\n" + StyleSheet()
	sum := sha256.Sum256([]byte(style))
	d := document{
		Title:    r.Heading(),
		Policy:   "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'",
		Style:    template.CSS(style),
		Sections: r.Sections(),
	}
	return execute(w, "report.html.tmpl", d)
}

// Heading names the report: the vehicle, else the map's.
func (r *Report) Heading() string {
	name := r.Vehicle
	if name == "" {
		name = r.After.Map.Vehicle
	}
	if name == "" {
		name = r.After.Map.Name
	}
	return "Idle stops: " + words.Visible(name)
}

// Write writes a section by itself, to be put into a page.
func (s *Section) Write(w io.Writer) error { return execute(w, "section", s) }

func execute(w io.Writer, name string, data any) error {
	var b bytes.Buffer
	if err := templates().ExecuteTemplate(&b, name, data); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
