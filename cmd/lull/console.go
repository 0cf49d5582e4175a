package main

import (
	"io"
	"os"
	"strconv"
	"strings"

	"golang.org/x/term"

	"lull/cmd/lull/internal/table"
)

// defaultWidth is used where nothing says how wide the output may be.
const defaultWidth = 80

// console is what the program talks to: three streams and what is known of
// them. Tests put their own in its place.
type console struct {
	in       io.Reader
	out, err io.Writer

	outTerminal, errTerminal bool
	dumb                     bool // the terminal cannot move its cursor
	width                    int  // columns of standard output
	colour                   bool // may standard output carry colour
	unicode                  bool // may it carry more than ASCII
}

// newConsole looks at the process's own streams and environment.
func newConsole() *console {
	c := &console{in: os.Stdin, out: os.Stdout, err: os.Stderr}
	c.outTerminal = term.IsTerminal(int(os.Stdout.Fd()))
	c.errTerminal = term.IsTerminal(int(os.Stderr.Fd()))
	c.dumb = os.Getenv("TERM") == "dumb" || os.Getenv("TERM") == ""
	c.width = terminalWidth(os.Getenv("COLUMNS"), func() (int, bool) {
		if !c.outTerminal {
			return 0, false
		}
		w, _, err := term.GetSize(int(os.Stdout.Fd()))
		return w, err == nil
	})
	c.colour = c.outTerminal && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
	c.unicode = c.outTerminal && speaksUTF8(os.Getenv)
	return c
}

// terminalWidth decides how wide tables and help may be: COLUMNS where it is
// set, then the terminal's own width, then 80. Narrower than 40 is not served.
func terminalWidth(columns string, ask func() (int, bool)) int {
	if n, err := strconv.Atoi(columns); err == nil && n > 0 {
		return min(max(n, 40), 400)
	}
	if n, ok := ask(); ok && n > 0 {
		return min(max(n, 40), 400)
	}
	return defaultWidth
}

// speaksUTF8 reads the locale as the C library does: the first of LC_ALL,
// LC_CTYPE and LANG that is set decides.
func speaksUTF8(getenv func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := getenv(name); v != "" {
			v = strings.ToLower(v)
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return false
}

// style is how results for a person may look here.
func (c *console) style() table.Style {
	return table.Style{Width: c.width, Colour: c.colour, Unicode: c.unicode}
}

// styleFor is the style of a result that goes to the file, or to standard output
// where none is named: what reads a file later may show neither colour nor more
// than ASCII.
func (c *console) styleFor(file string) table.Style {
	style := c.style()
	if file != "" && file != "-" {
		style.Colour, style.Unicode = false, false
	}
	return style
}
