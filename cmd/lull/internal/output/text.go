package output

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/mattn/go-runewidth"
)

// Visible returns the text with everything that could steer a terminal or turn
// the reading direction written out: control characters (so ANSI sequences
// too), line and paragraph separators, bidirectional controls and invisible
// format characters become \x1b or \u202e; bytes that are no UTF-8 become \xff.
func Visible(s string) string { return spell(s, "") }

// VisibleBlock is Visible for text of several lines: tabs and line ends stay.
func VisibleBlock(s string) string { return spell(s, "\t\n") }

// spell is Visible with some characters let through.
func spell(s, keep string) string {
	clean := true
	for _, r := range s {
		if r == utf8.RuneError || steers(r) && !strings.ContainsRune(keep, r) {
			clean = false
			break
		}
	}
	if clean {
		return s
	}
	var b strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\x%02x`, s[0])
		case !steers(r) || strings.ContainsRune(keep, r):
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\r':
			b.WriteString(`\r`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x100:
			fmt.Fprintf(&b, `\x%02x`, r)
		case r > 0xFFFF:
			fmt.Fprintf(&b, `\U%08x`, r)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
		s = s[n:]
	}
	return b.String()
}

// steers tells whether a character acts instead of being shown: the classes Cc,
// Cf (bidirectional and invisible controls), Zl and Zp of Unicode.
func steers(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// Wrap breaks a paragraph at blanks so that no line is wider than width, each
// line with the indent before it. A word that is wider stands alone.
func Wrap(text string, width int, indent string) string {
	return WrapHanging(text, width, indent, indent)
}

// WrapHanging is Wrap with an indent of its own for the first line.
func WrapHanging(text string, width int, first, indent string) string {
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
