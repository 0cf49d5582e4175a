package measuring

import (
	"bytes"
	"fmt"

	"lull/cmd/lull/internal/words"
	"lull/decode/dbc"
	"lull/decode/marks"
)

// Beside is what was dropped beside logs, for a draft of their map. It does not change.
type Beside struct {
	MarksName    string
	Marks        []marks.Mark // on the first log
	DatabaseName string
	Database     []byte // a DBC file of the bus
	Messages     int    // that it defines
}

// mostMarks is how many marks are taken: far more than a hand sets in a drive. Each takes
// its time.
const mostMarks = 1000

// WithMarks returns it with the marks of a file, or why they cannot be used: with the file
// and the line. It may be nil before.
func (b *Beside) WithMarks(name string, text []byte) (*Beside, error) {
	name = words.Visible(name)
	list, err := marks.Parse(name, text)
	switch {
	case err != nil:
		return b, err
	case len(list) == 0:
		return b, &words.Failure{Where: name, What: "no mark is in it", Hint: "a mark is NAME FROM TO [VALUE UNIT], such as `brake 12.3 15.0`"}
	case len(list) > mostMarks:
		return b, &words.Failure{Where: name, What: fmt.Sprintf("it has %d marks", len(list)), Hint: fmt.Sprintf("up to %d are taken", mostMarks)}
	}
	after := b.copied()
	after.MarksName, after.Marks = name, list
	return after, nil
}

// WithDatabase returns it with a DBC file of the bus, or why that cannot be used.
func (b *Beside) WithDatabase(name string, text []byte) (*Beside, error) {
	name = words.Visible(name)
	d, err := dbc.Read(bytes.NewReader(text))
	if err != nil {
		return b, &words.Failure{Where: name, What: words.PlainError(err)}
	}
	if len(d.Messages) == 0 {
		f := &words.Failure{Where: name, What: "no message is defined in it", Hint: "give a database of the bus in DBC format, whose messages begin with BO_"}
		if len(d.Mistakes) > 0 {
			f.Where, f.What = fmt.Sprintf("%s:%d", name, d.Mistakes[0].Line), d.Mistakes[0].What+", and no message is defined in the file"
		}
		return b, f
	}
	after := b.copied()
	after.DatabaseName, after.Database, after.Messages = name, text, len(d.Messages)
	return after, nil
}

// Has reports whether there are marks, or a database (dbc).
func (b *Beside) Has(kind string) bool {
	switch {
	case b == nil:
		return false
	case kind == "dbc":
		return b.DatabaseName != ""
	}
	return b.MarksName != ""
}

// WithoutMarks and WithoutDatabase return it without one of the two.
func (b *Beside) WithoutMarks() *Beside {
	after := b.copied()
	after.MarksName, after.Marks = "", nil
	return after.orNil()
}

func (b *Beside) WithoutDatabase() *Beside {
	after := b.copied()
	after.DatabaseName, after.Database, after.Messages = "", nil, 0
	return after.orNil()
}

func (b *Beside) copied() *Beside {
	if b == nil {
		return &Beside{}
	}
	after := *b
	return &after
}

func (b *Beside) orNil() *Beside {
	if b.MarksName == "" && b.DatabaseName == "" {
		return nil
	}
	return b
}

// Memory is how many bytes it takes.
func (b *Beside) Memory() int64 {
	if b == nil {
		return 0
	}
	return int64(len(b.Database)) + 100*int64(len(b.Marks))
}
