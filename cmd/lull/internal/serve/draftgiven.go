package serve

import (
	"fmt"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
)

// mostGiven bounds what one request gives a draft, in bytes: both files and some fields.
const mostGiven = mostMarks + mostDBC + 64<<10

// given is what a request says and gives to a draft.
type given struct {
	said  string
	form  url.Values
	files []givenFile
}

// givenFile is a file for a draft: marks or dbc.
type givenFile struct {
	kind, name string
	text       []byte
}

// given reads what a request gives a draft: a choice, as a plain form, or files.
func (s *Server) given(w http.ResponseWriter, r *http.Request) (*given, error) {
	g := &given{form: url.Values{}}
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind == "multipart/form-data" {
		if r.ContentLength > mostGiven {
			return nil, tooMuchGiven()
		}
		return g, s.parts(w, r, mostGiven, g.take)
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostField)
	if err := r.ParseForm(); err != nil {
		return nil, &trouble{http.StatusBadRequest, "that is no choice of this page", "use the page's own form"}
	}
	g.said, g.form = r.PostForm.Get("say"), r.PostForm
	return g, nil
}

// take takes a part of a form that gives a draft files.
func (g *given) take(part *multipart.Part) error {
	kind, name := part.FormName(), part.FileName()
	switch {
	case kind != "marks" && kind != "dbc":
		return &trouble{http.StatusBadRequest, fmt.Sprintf("a field %.40q, which no form of a draft has", kind), ""}
	case name == "":
		return nil
	}
	if k := kindOf(name); k == "marks" || k == "dbc" {
		kind = k // chosen in the other field
	}
	most, what := mostOf(kind)
	text, err := limited(part, most, what)
	if err == nil {
		g.files = append(g.files, givenFile{kind, shortened(name, mostName), text})
	}
	return err
}

// mostOf is how large a file for a draft may be, and what it is called.
func mostOf(kind string) (int64, string) {
	if kind == "dbc" {
		return mostDBC, "the database"
	}
	return mostMarks, "the file of marks"
}

// beside adds the file to those that were given before. What cannot be used is a trouble
// that says where and why.
func (f *givenFile) beside(b *measuring.Beside) (*measuring.Beside, error) {
	with := (*measuring.Beside).WithMarks
	if f.kind == "dbc" {
		with = (*measuring.Beside).WithDatabase
	}
	after, err := with(b, f.name, f.text)
	if err != nil {
		return b, &trouble{status: http.StatusUnprocessableEntity, what: err.Error()}
	}
	return after, nil
}

func tooMuchGiven() error {
	return &trouble{http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %d MB for a draft", mostGiven/1000000), "give a file of marks and a database in DBC format"}
}

// given is what was dropped for a draft, as the page tells it.
func (m *measurement) given() web.Beside {
	g := web.Beside{Unsound: m.unsound, Largest: mostGiven}
	if b := m.beside; b != nil {
		if b.MarksName != "" {
			g.Marks = words.MarksUsed(b.MarksName, b.Marks)
		}
		if b.DatabaseName != "" {
			g.Database = words.DatabaseUsed(b.DatabaseName, b.Messages)
		}
	}
	return g
}
