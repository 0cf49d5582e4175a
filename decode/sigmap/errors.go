package sigmap

import (
	"errors"
	"fmt"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Kinds of mistakes, for errors.Is. Every Error wraps exactly one.
var (
	ErrSyntax        = errors.New("not valid YAML")
	ErrTooLarge      = errors.New("map too large")
	ErrUnknownKey    = errors.New("unknown key")
	ErrMissing       = errors.New("missing key")
	ErrNoEngineSpeed = fmt.Errorf("%w: role engine_speed", ErrMissing)
	ErrDuplicate     = errors.New("given twice")
	ErrType          = errors.New("value of the wrong kind")
	ErrRange         = errors.New("value out of range")
	ErrConflict      = errors.New("keys that exclude each other")
	ErrOverlap       = errors.New("bits used twice")
	ErrOutside       = errors.New("field outside the payload")
	ErrUnit          = errors.New("unit")
	ErrRole          = errors.New("role")
	ErrUnknownSignal = errors.New("unknown signal")
	ErrLabel         = errors.New("unknown label")
	ErrDuration      = errors.New("duration")
	ErrCycle         = errors.New("selectors in a circle")
	ErrUnknownMetric = errors.New("unknown metric")
)

// Error is one mistake in a map.
type Error struct {
	File string // as given to Load or Parse
	// Line and Column count from 1. Column counts characters, not bytes, and may be one
	// past the end of the line.
	Line, Column int
	// Source is the line without its line ending. Characters that do not print, except
	// tabs, are replaced by U+FFFD, so that it can be shown on a terminal. It is empty
	// for a line of more than 64 KiB.
	Source string
	Why    string // what is wrong
	Hint   string // what would be right; may be empty

	kind error
}

// Error returns the place, the mistake and the hint in one line.
func (e *Error) Error() string {
	text := fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Column, e.Why)
	if e.Hint != "" {
		text += "; " + e.Hint
	}
	return text
}

// Unwrap returns the kind of mistake, one of the package's sentinels.
func (e *Error) Unwrap() error { return e.kind }

// Show returns the error in several lines: the place and the mistake, the line with a mark
// below the place, and the hint. It does not end with a newline.
func (e *Error) Show() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d:%d: %s", e.File, e.Line, e.Column, e.Why)
	if strings.TrimSpace(e.Source) != "" {
		source, column := window(e.Source, e.Column)
		fmt.Fprintf(&b, "\n    %s\n    ", source)
		for i, r := range []rune(source) {
			if i >= column-1 {
				break
			}
			if r != '\t' { // tabs are kept, so that the mark is below its place
				r = ' '
			}
			b.WriteRune(r)
		}
		b.WriteByte('^')
	}
	if e.Hint != "" {
		b.WriteString("\n    " + e.Hint)
	}
	return b.String()
}

// window returns the part of a very long line that surrounds the column, so that errors are
// readable even for a map written on one line.
func window(source string, column int) (string, int) {
	const before, most = 60, 140
	runes := []rune(source)
	if len(runes) <= most {
		return source, column
	}
	from := max(0, min(column-1-before, len(runes)-1))
	to := min(len(runes), from+most)
	cut, shift := string(runes[from:to]), from
	if from > 0 {
		cut, shift = "... "+cut, from-4
	}
	if to < len(runes) {
		cut += " ..."
	}
	return cut, column - shift
}

// Errors holds all mistakes in a map, sorted by place, each once.
type Errors []*Error

// Error returns one line for each mistake.
func (list Errors) Error() string {
	lines := make([]string, len(list))
	for i, e := range list {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.Is and errors.As look at each mistake.
func (list Errors) Unwrap() []error {
	all := make([]error, len(list))
	for i, e := range list {
		all[i] = e
	}
	return all
}

// Show returns every mistake like Error.Show, separated by empty lines.
func (list Errors) Show() string {
	parts := make([]string, len(list))
	for i, e := range list {
		parts[i] = e.Show()
	}
	return strings.Join(parts, "\n\n")
}

// collector collects the mistakes in one file.
type collector struct {
	file  string
	lines []string
	list  Errors
	// last is the line of the last mistake, and width its length in characters.
	last, width int
}

func newCollector(file string, text string) *collector {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	return &collector{file: file, lines: strings.Split(text, "\n")}
}

// add records a mistake. Places beyond the end of the file, which the parser may report, are
// moved to the last character.
func (c *collector) add(kind error, line, column int, why, hint string) {
	if len(c.list) >= maxErrors {
		return
	}
	line = max(1, min(line, len(c.lines)))
	source := c.lines[line-1]
	if c.last != line { // the width is cached because a file may be one long line
		c.last, c.width = line, utf8.RuneCountInString(source)
	}
	column = max(1, min(column, c.width+1))
	if len(source) > maxSource {
		source = ""
	}
	c.list = append(c.list, &Error{File: c.file, Line: line, Column: column, Source: strings.Map(printable, source), Why: why, Hint: hint, kind: kind})
}

// maxSource is the length in bytes of the longest line that is shown with its mistakes.
const maxSource = 64 << 10

func printable(r rune) rune {
	if unicode.IsPrint(r) || r == '\t' {
		return r
	}
	return utf8.RuneError
}

// maxErrors bounds the list, since a file with more mistakes is not a map, and each may show
// a long line.
const maxErrors = 1000

// err returns the sorted mistakes, each once, or nil.
func (c *collector) err() error {
	if len(c.list) == 0 {
		return nil
	}
	sort.SliceStable(c.list, func(i, j int) bool {
		a, b := c.list[i], c.list[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Column < b.Column
	})
	kept := c.list[:1]
	for _, e := range c.list[1:] {
		// The target of an alias is read at each use, but its mistakes count once.
		if last := kept[len(kept)-1]; e.Line == last.Line && e.Column == last.Column && e.Why == last.Why {
			continue
		}
		kept = append(kept, e)
	}
	return kept
}
