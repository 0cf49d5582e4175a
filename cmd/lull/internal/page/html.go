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

//go:embed sheet.css
var sheetCSS string

// svg returns a picture as markup. Package picture escapes all text in it.
func svg(d picture.Drawing) template.HTML { return template.HTML(d.SVG()) }

// parsed returns the templates of the report, from which copies are made, as a template
// cannot be cloned once it was executed. They are parsed on first use, since most commands
// write no page.
var parsed = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{
		"svg":  svg,
		"join": func(list ...string) string { return strings.Join(list, "") },
	}).ParseFS(templateFiles, "*.html.tmpl"))
})

// Templates returns the templates that typeset sections, for pages made of them.
func Templates() *template.Template { return template.Must(parsed().Clone()) }

var templates = sync.OnceValue(Templates)

// StyleSheet returns the style sheet of sections.
func StyleSheet() string { return reportCSS + picture.CSS() }

// document is the data of the template.
type document struct {
	Title    string
	Policy   string
	Style    template.CSS
	Sheet    *Sheet
	Sections []Section // after the sheet; none unless the full report is asked for
}

// WriteHTML writes the report as one file that needs nothing else: its content policy
// allows its own style sheet, by hash, and nothing more.
func (r *Report) WriteHTML(w io.Writer) error {
	style := "\n" + StyleSheet() + sheetCSS
	sum := sha256.Sum256([]byte(style))
	d := document{
		Title:  r.Heading(),
		Policy: "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'",
		Style:  template.CSS(style),
		Sheet:  r.Sheet(),
	}
	if r.Full {
		d.Sections = r.Sections()
	}
	return execute(w, "report.html.tmpl", d)
}

// Heading returns the name of the vehicle: the report's own, else the map's.
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
