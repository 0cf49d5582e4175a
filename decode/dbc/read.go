package dbc

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"

	"go.einride.tech/can/pkg/dbc"

	"lull/pkg/failure"
)

// Load reads a file. It is an error only if the file cannot be read or has no message at
// all; everything else is a Mistake of the Database.
func Load(path string) (*Database, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	d, err := Read(file)
	if err != nil {
		return nil, err
	}
	if len(d.Messages) == 0 {
		return nil, &failure.Failure{Where: path, What: "no message is defined in it", Hint: "give a database of the bus in DBC format, whose messages begin with BO_"}
	}
	return d, nil
}

// Parse reads a database. It takes any bytes.
func Parse(data []byte) *Database {
	d, _ := Read(bytes.NewReader(data)) // memory gives no error
	return d
}

// Read reads a database, in memory that does not grow with what is no definition. It takes
// any bytes; its error is that of the reader.
func Read(from io.Reader) (*Database, error) {
	r := reader{d: &Database{}, byID: map[uint32]int{}, tables: map[string]string{}, current: -1}
	l := newLines(from)
	for l.next() {
		r.line = l.number
		if l.cut {
			r.d.mistake(l.number, fmt.Sprintf("the line is longer than %d bytes; the rest of it is left out", longestLine))
		}
		r.read(l.text)
	}
	if err := l.scanner.Err(); err != nil {
		return nil, err
	}
	if r.open.from > 0 {
		r.d.mistake(r.open.from, "the definition does not end; the file ends in it")
		r.finish()
	}
	r.selectors()
	r.share()
	if r.over > 0 {
		r.d.mistake(r.overLine, fmt.Sprintf("the file has more than is kept; %d definitions from here on are left out", r.over))
	}
	slices.SortStableFunc(r.d.Mistakes, func(a, b Mistake) int { return a.Line - b.Line })
	return r.d, nil
}

// reader reads statements one after the other.
type reader struct {
	d       *Database
	line    int
	open    statement
	byID    map[uint32]int    // message by identifier, with bit 31 for 29 bits
	places  []map[string]int  // of each message, signal by name
	tables  map[string]string // VAL_TABLE_: its values as text, by its name
	current int               // index of the message that signals belong to, or -1
	lost    bool              // the message before the signals could not be read
	signals int               // met so far
	strange bool              // the line before was no definition
	formats []string          // what the numbers of VFrameFormat mean

	over, overLine int // how many definitions were left out, and the line of the first
}

// statement is one that ends with a semicolon, as far as it has been read.
type statement struct {
	from   int // its first line; 0: there is none
	text   strings.Builder
	quoted bool // its end so far is within a text
}

// Keywords of the format.
var (
	// plainKeywords begin definitions that end with their line.
	plainKeywords = []string{"VERSION", "NS_", "BS_", "BU_", "BO_", "SG_", "FILTER"}
	// endedKeywords begin definitions that end with a semicolon.
	endedKeywords = []string{"CM_", "VAL_", "VAL_TABLE_", "BA_", "BA_DEF_", "BA_DEF_DEF_", "BA_REL_", "BA_DEF_REL_", "BA_DEF_DEF_REL_",
		"SG_MUL_VAL_", "SIG_VALTYPE_", "BO_TX_BU_", "EV_", "EV_DATA_", "ENVVAR_DATA_", "SIG_GROUP_", "SIG_TYPE_REF_", "SIGTYPE_VALTYPE_",
		"SGTYPE_", "SGTYPE_VAL_", "BA_DEF_SGTYPE_", "BA_SGTYPE_", "CAT_", "CAT_DEF_", "NS_DESC_", "BU_SG_REL_", "BU_EV_REL_", "BU_BO_REL_"}
	// wholeForm is a whole definition on a line. Within a text that has no end, only such
	// a line is taken for the next definition.
	wholeForm = regexp.MustCompile(`^(BO_\s+\d+\s+\w+\s*:\s*\d+\s+\w+$|SG_\s+\w+\s.*@[01]\s*[+-]|(VAL_|SIG_VALTYPE_|SG_MUL_VAL_)\s+\d+\s+\w+\s.*;$|CM_\s+([BES][UVGO]_\s.*)?".*"\s*;$|BA_\s+".*;$)`)
	// wordsForm is a line of names alone, such as further receivers of a signal.
	wordsForm = regexp.MustCompile(`^[\w\s,:]*$`)
)

// keyword is the first word of a line.
func keyword(line string) string {
	if end := strings.IndexAny(line, " \t:"); end >= 0 {
		return line[:end]
	}
	return line
}

// read reads one line.
func (r *reader) read(line string) {
	for line != "" {
		first := keyword(line)
		ended := slices.Contains(endedKeywords, first)
		if r.open.from > 0 {
			begins := ended || slices.Contains(plainKeywords, first)
			if r.open.quoted {
				begins = wholeForm.MatchString(line)
			}
			if !begins && r.open.text.Len()+len(line) <= longestLine {
				line = r.goOn(line)
				continue
			}
			r.d.mistake(r.open.from, "the definition does not end; what follows is read as if it did")
			r.finish()
		}
		known := true
		switch {
		case first == "BO_" && len(line) > len("BO_"):
			r.message(line)
		case first == "SG_" && len(line) > len("SG_"):
			r.signal(line)
		case ended && len(line) > len(first):
			r.open.from, r.open.quoted = r.line, false
			line, r.strange = r.goOn(line), false
			continue
		case ended, slices.Contains(plainKeywords, first): // the list of keywords at the file's head has them alone
		default:
			known = false
		}
		if !known && !wordsForm.MatchString(line) && !r.strange { // a lump of strange lines is told once
			r.d.mistake(r.line, "this is no definition that is known; left out")
		}
		r.strange = !known
		return
	}
}

// goOn adds a line to the open statement and returns what follows the statement's end.
func (r *reader) goOn(line string) string {
	o := &r.open
	if o.text.Len() > 0 {
		o.text.WriteByte('\n')
	}
	for i := 0; i < len(line); i++ {
		switch line[i] {
		case '\\':
			if o.quoted {
				i++
			}
		case '"':
			o.quoted = !o.quoted
		case ';':
			if !o.quoted {
				o.text.WriteString(line[:i])
				r.finish()
				return strings.TrimSpace(line[i+1:])
			}
		}
	}
	o.text.WriteString(line)
	return ""
}

// finish reads the open statement, with whatever its end lacks.
func (r *reader) finish() {
	text, from := r.open.text.String(), r.open.from
	if r.open.quoted {
		text += `"`
	}
	r.open = statement{}
	line := r.line
	r.line = from
	switch keyword(text) {
	case "VAL_":
		r.labels(text)
	case "VAL_TABLE_":
		r.table(text)
	case "SG_MUL_VAL_":
		r.selected(text)
	case "SIG_VALTYPE_":
		r.valueType(text)
	case "CM_":
		r.comment(text)
	case "BA_", "BA_DEF_", "BA_DEF_DEF_":
		r.attribute(text)
	}
	r.line = line
}

// tooMuch counts a definition that is left out, as there are too many.
func (r *reader) tooMuch() {
	if r.over == 0 {
		r.overLine = r.line
	}
	r.over++
}

// parse has the library read a definition. It never panics, whatever the library does.
func parse(text string) (def dbc.Def, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = fmt.Errorf("%v", x)
		}
	}()
	p := dbc.NewParser("", []byte(text))
	if e := p.Parse(); e != nil {
		return nil, errors.New(short(e.Reason(), 60))
	}
	if len(p.Defs()) == 0 {
		return nil, errors.New("nothing is there")
	}
	return p.Defs()[0], nil
}

// short is a text of at most so many letters.
func short(text string, most int) string {
	letters := []rune(text)
	if len(letters) <= most {
		return text
	}
	return strings.TrimSpace(string(letters[:most])) + "..."
}
