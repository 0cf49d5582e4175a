package web

import (
	"bytes"
	"embed"
	"html/template"
	"io"
	"slices"
	"sync"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
)

//go:embed web.css
var webCSS string

//go:embed web.js
var webJS []byte

// StyleSheet returns the style sheet of all pages.
func StyleSheet() []byte { return []byte(page.StyleSheet() + webCSS + liveCSS) }

// Script returns the script of all pages. Without it they show everything but the cursor in
// pictures, sorted tables and the progress of a drop.
func Script() []byte { return webJS }

//go:embed icon.svg
var icon []byte

// Icon returns the icon of the browser's tab: a speed that falls to rest and comes back.
func Icon() []byte { return icon }

// Frame is what all pages have in common.
type Frame struct {
	Base    string // what the path of every address begins with; "" for who may not know it
	Version string
}

// Choice is an item of a list to choose from.
type Choice struct{ Value, Text string }

// Kept is an earlier measurement that can be opened again.
type Kept struct {
	ID, Title, At string
	Measured      bool // its map has no mistakes and fits
	Drafted       bool // its map is a draft
}

// Notice is a page that says why there is no other page.
type Notice struct {
	Frame
	Text, Hint string
}

// Write writes the page.
func (n Notice) Write(w io.Writer) error {
	n.Text, n.Hint = words.VisibleBlock(n.Text), words.VisibleBlock(n.Hint)
	return execute(w, "notice", n)
}

// Start is the first page.
type Start struct {
	Frame
	Largest int64  // bytes of one drop
	MapName string // of the map for drops without one; "": none
	Demo    []Choice
	Kept    []Kept
	// Recording is the log being recorded, or recorded before; "": none.
	Recording string
	Recorded  bool // it is complete
}

// Write writes the page.
func (s Start) Write(w io.Writer) error {
	s.MapName, s.Kept = words.Visible(s.MapName), harmlessKept(s.Kept)
	s.Demo = slices.Clone(s.Demo)
	for i := range s.Demo {
		s.Demo[i].Value, s.Demo[i].Text = words.Visible(s.Demo[i].Value), words.Visible(s.Demo[i].Text)
	}
	return execute(w, "start", s)
}

func harmlessKept(list []Kept) []Kept {
	list = slices.Clone(list)
	for i := range list {
		list[i].Title = words.Visible(list[i].Title)
	}
	return list
}

//go:embed *.html.tmpl
var templateFiles embed.FS

// templates returns the templates of the report and of the pages. They are parsed on first
// use.
var templates = sync.OnceValue(func() *template.Template {
	return template.Must(page.Templates().ParseFS(templateFiles, "*.html.tmpl"))
})

func execute(w io.Writer, name string, data any) error {
	var b bytes.Buffer
	if err := templates().ExecuteTemplate(&b, name, data); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
