package words

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Visible returns the text with everything that could steer a terminal or turn
// the reading direction written out: control characters (so ANSI sequences
// too), line and paragraph separators, bidirectional controls and invisible
// format characters become \x1b or \u202e; bytes that are no UTF-8 become \xff.
func Visible(s string) string { return VisibleBut(s, "") }

// VisibleBlock is Visible for text of several lines: tabs and line ends stay.
func VisibleBlock(s string) string { return VisibleBut(s, "\t\n") }

// VisibleBut is Visible with some characters let through.
func VisibleBut(s, keep string) string {
	clean := true
	for _, r := range s {
		if r == utf8.RuneError || Steers(r) && !strings.ContainsRune(keep, r) {
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
		case !Steers(r) || strings.ContainsRune(keep, r):
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

// Steers reports whether a character acts instead of being shown: the classes Cc,
// Cf (bidirectional and invisible controls), Zl and Zp of Unicode.
func Steers(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}
