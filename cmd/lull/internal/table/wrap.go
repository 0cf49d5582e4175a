package table

import (
	"strings"

	"github.com/mattn/go-runewidth"
)

// Wrap breaks a paragraph at spaces so that no line is wider than width, including the
// indent before each. A wider word gets a line of its own.
func Wrap(text string, width int, indent string) string {
	return WrapHanging(text, width, indent, indent)
}

// widestProse bounds the width of prose: longer lines are hard to read.
const widestProse = 100

// WrapHanging is Wrap with an indent of its own for the first line.
func WrapHanging(text string, width int, first, indent string) string {
	width = min(width, widestProse)
	var b strings.Builder
	b.WriteString(first)
	column := runewidth.StringWidth(first)
	start := true
	for _, word := range strings.Fields(text) {
		w := runewidth.StringWidth(plain(word))
		switch {
		case start:
		case column+1+w > width:
			b.WriteString("\n" + indent)
			column = runewidth.StringWidth(indent)
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += w
		start = false
	}
	return strings.TrimRight(b.String(), " ")
}

// hanging is WrapHanging with an indent of spaces.
func hanging(text string, width int, first string, indent int) string {
	return WrapHanging(text, width, first, strings.Repeat(" ", indent))
}

// plain removes the colour codes that this package itself puts around words.
func plain(s string) string {
	for {
		i := strings.Index(s, "\x1b[")
		if i < 0 {
			return s
		}
		j := strings.IndexByte(s[i:], 'm')
		if j < 0 {
			return s
		}
		s = s[:i] + s[i+j+1:]
	}
}
