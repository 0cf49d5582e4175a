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

// console is the three streams of the program and what is known of them. Tests use their
// own.
type console struct {
	in       io.Reader
	out, err io.Writer

	inTerminal, outTerminal, errTerminal bool
	dumb                                 bool // the terminal cannot move its cursor
	width                                int  // columns of standard output
	colour                               bool // standard output may have colour
	unicode                              bool // standard output may have more than ASCII
}

// newConsole looks at the process's own streams and environment.
func newConsole() *console {
	c := &console{in: os.Stdin, out: os.Stdout, err: os.Stderr}
	c.inTerminal = term.IsTerminal(int(os.Stdin.Fd()))
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

// terminalWidth returns the width of tables and help: COLUMNS if it is set, else the width
// of the terminal, else 80; at least 40.
func terminalWidth(columns string, ask func() (int, bool)) int {
	if n, err := strconv.Atoi(columns); err == nil && n > 0 {
		return min(max(n, 40), 400)
	}
	if n, ok := ask(); ok && n > 0 {
		return min(max(n, 40), 400)
	}
	return defaultWidth
}

// speaksUTF8 reads the locale as the C library does: the first of LC_ALL, LC_CTYPE and LANG
// that is set decides.
func speaksUTF8(getenv func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := getenv(name); v != "" {
			v = strings.ToLower(v)
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return false
}

// style returns how results for a person may look on standard output.
func (c *console) style() table.Style {
	return table.Style{Width: c.width, Colour: c.colour, Unicode: c.unicode}
}

// styleFor returns the style of a result that goes to the file, or to standard output if
// none is named. In a file there is neither colour nor anything but ASCII, as its later
// reader may show neither.
func (c *console) styleFor(file string) table.Style {
	style := c.style()
	if file != "" && file != "-" {
		style.Colour, style.Unicode = false, false
	}
	return style
}
