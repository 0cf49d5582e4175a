package dbc

import (
	"bufio"
	"bytes"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	wide "golang.org/x/text/encoding/unicode"
)

// lines gives the lines of a file as text, whatever its encoding and its line ends.
type lines struct {
	scanner *bufio.Scanner
	number  int    // of the line in text
	text    string // without its end
	cut     bool   // the line is longer than longestLine; text is its beginning
}

// newLines looks at the first bytes for an encoding of two bytes a letter.
func newLines(r io.Reader) *lines {
	buffered := bufio.NewReaderSize(r, 1<<16)
	head, _ := buffered.Peek(4)
	r = buffered
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		r = wide.UTF16(wide.LittleEndian, wide.ExpectBOM).NewDecoder().Reader(r)
	case len(head) == 4 && head[0] != 0 && head[1] == 0 && head[2] != 0 && head[3] == 0:
		r = wide.UTF16(wide.LittleEndian, wide.IgnoreBOM).NewDecoder().Reader(r)
	case len(head) == 4 && head[0] == 0 && head[1] != 0 && head[2] == 0 && head[3] != 0:
		r = wide.UTF16(wide.BigEndian, wide.IgnoreBOM).NewDecoder().Reader(r)
	}
	l := &lines{scanner: bufio.NewScanner(r)}
	l.scanner.Buffer(make([]byte, 1<<16), longestLine+2)
	l.scanner.Split(split)
	return l
}

// split cuts the input after each line end, which stays at the line. What is longer than
// longestLine is cut there, and has no end.
func split(data []byte, atEOF bool) (int, []byte, error) {
	at := bytes.IndexAny(data, "\r\n")
	switch {
	case at >= 0 && data[at] == '\r' && at+1 < len(data) && data[at+1] == '\n':
		return at + 2, data[:at+2], nil
	case at >= 0 && (data[at] == '\n' || at+1 < len(data) || atEOF):
		return at + 1, data[:at+1], nil
	case at < 0 && len(data) >= longestLine:
		return longestLine, data[:longestLine], nil
	case atEOF && len(data) > 0:
		return len(data), data, nil
	}
	return 0, nil, nil
}

// next reads the next line. It returns false at the end and where reading fails.
func (l *lines) next() bool {
	if !l.scanner.Scan() {
		return false
	}
	l.number++
	data := l.scanner.Bytes()
	ended := len(bytes.TrimRight(data, "\r\n")) < len(data)
	if l.number == 1 {
		data = bytes.TrimPrefix(data, []byte("\uFEFF"))
	}
	l.text, l.cut = lineText(data), false
	for !ended && len(data) >= longestLine { // the rest of a line that is too long
		l.cut = true
		if !l.scanner.Scan() {
			break
		}
		data = l.scanner.Bytes()
		ended = len(bytes.TrimRight(data, "\r\n")) < len(data)
	}
	return true
}

// lineText is a line as text: UTF-8, else Windows-1252, in which most databases are that are
// not plain ASCII. Control characters become blanks.
func lineText(data []byte) string {
	text := string(data)
	if !utf8.Valid(data) {
		text, _ = charmap.Windows1252.NewDecoder().String(text)
	}
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == 0x2028 || r == 0x2029 || r == 0xFEFF || r == 0xFFFE || r == 0xFFFF {
			return ' '
		}
		return r
	}, text))
}
