package page

import (
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

// templates are those of the report and of the page, which share their parts. They
// are read when they are first used: most commands write no page.
var templates = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{
		"svg":  svg,
		"join": func(list ...string) string { return strings.Join(list, "") },
	}).ParseFS(templateFiles, "*.html.tmpl"))
})

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
	style := "\n" + reportCSS + picture.CSS()
	sum := sha256.Sum256([]byte(style))
	d := document{
		Title:    r.title(),
		Policy:   "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'",
		Style:    template.CSS(style),
		Sections: r.Sections(),
	}
	return execute(w, "report.html.tmpl", d)
}

// title names the report: the vehicle, else the map's.
func (r *Report) title() string {
	name := r.Vehicle
	if name == "" {
		name = r.After.Map.Vehicle
	}
	if name == "" {
		name = r.After.Map.Name
	}
	return "Idle stops: " + words.Visible(name)
}
