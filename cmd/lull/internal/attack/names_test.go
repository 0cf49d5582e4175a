//go:build attack && linux

package attack

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"lull/cmd/lull/internal/sample/driven"
)

// hostileNames are file names chosen to do harm.
var hostileNames = []string{
	"../../outside.log", "..\\..\\outside.log", "/etc/outside.log", "C:\\outside.log", "..", ".", "....//outside",
	"%2e%2e%2foutside.log", "~/outside", "$(touch outside)", "`touch outside`", "a;touch outside", "a|b", "a\x00b.log",
	"two\nlines.log", "carriage\rreturn.log", "\x1b[2J\x1b]0;owned\x07.log", "\u009b31m.log", "back\b\b\bspace.log",
	"\u202egol.exe", "\u2066hidden\u2069", "zero\u200bwidth", "bad\xff\xfeutf8.log", "a\u0300\u0301\u0302.log",
	"<script>owned()</script>.log", "\"><img src=x onerror=owned()>.log", "' onmouseover='owned()", "javascript:owned()", "{{.}}", "&amp;&lt;",
	"=cmd|' /C calc'!A0.log", "+1", "@SUM(1)", "-o", "--help", "--map=/etc/passwd", "-",
	"CON", "NUL.log", "COM1.log", "aux", "name.", "name ", "a:stream", "lock", "0.log", ".hidden.log", "a.log~",
	strings.Repeat("long", 60), strings.Repeat("long", 5000), strings.Repeat("ü", 127), "",
}

// shown says what is wrong with a text for a terminal or a page.
func shown(text string) error {
	for i, r := range text {
		if r == '\n' || r == '\t' {
			continue
		}
		if unicode.IsControl(r) || unicode.In(r, unicode.Bidi_Control) || r == unicode.ReplacementChar && !strings.HasPrefix(text[i:], "\uFFFD") {
			return fmt.Errorf("%q in %q", r, text[max(0, i-30):min(len(text), i+30)])
		}
	}
	return nil
}

// acts are what the names above must not become in a page.
var acts = []string{"<script>owned", "<img src=x", "' onmouseover='", "href=\"javascript:", "src=\"javascript:"}

// Whatever files are called that are dropped, nothing is written beside the server's own
// folder, and the pages and what is saved from them show the names as text.
func TestDropsOfAnyNameStayInTheirFolderAndAreText(t *testing.T) {
	folder := t.TempDir()
	s := serve(t, folder)
	hear := func(name, what, text string) {
		t.Helper()
		if err := shown(text); err != nil {
			t.Errorf("%.50q, %s: %v", name, what, err)
		}
		for _, act := range acts {
			if strings.Contains(text, act) && strings.HasPrefix(text, "<!") {
				t.Errorf("%.50q, %s: has %s", name, what, act)
			}
		}
	}
	measured := 0
	for n, name := range hostileNames {
		sent := strings.NewReplacer("\\", "\\\\", "\"", "\\\"", "\n", "%0A", "\r", "%0D").Replace(name)
		broken := driven.CarMap + "unknown: 1\n"
		for what, parts := range map[string][]part{
			"a log":         {mapPart("map.yaml", driven.CarMap), logPart(sent, drive(1))},
			"a map":         {logPart("drive.log", drive(1)), mapPart(sent, driven.CarMap)},
			"a broken map":  {logPart("drive.log", drive(1)), mapPart(sent, broken)},
			"a log of junk": {mapPart("map.yaml", driven.CarMap), logPart(sent, "\x1b]0;owned\x07<script>owned()</script>\n")},
		} {
			if n%4 != 0 && what != "a log" { // each kind with a fourth of them
				continue
			}
			at, said := s.drop(parts...)
			hear(name, what+" is refused", said)
			if at == "" {
				continue
			}
			measured++
			for _, path := range []string{"", "/file/report.html", "/file/episodes.json", "/file/episodes.csv"} {
				status, header, text := s.get(at + path)
				if strings.HasSuffix(path, "csv") {
					text = strings.ReplaceAll(text, "\r", "") // a cell may have line ends
				}
				hear(name, what+path, text)
				if status >= 500 || strings.ContainsFunc(header.Get("Content-Disposition"), unicode.IsControl) || strings.ContainsAny(header.Get("Content-Disposition"), "/\\") {
					t.Errorf("%.50q, %s: status %d, %q", name, what+path, status, header.Get("Content-Disposition"))
				}
			}
		}
	}
	if measured < len(hostileNames) { // the last, which is no name, is not taken
		t.Errorf("only %d drops were measured", measured)
	}
	for _, name := range files(t, folder) {
		if first, _, _ := strings.Cut(name, "/"); !strings.HasPrefix(first, "lull-serve-") || strings.Contains(name, "owned") || strings.Contains(name, "outside") {
			t.Errorf("there is %q", name)
		}
	}
	s.end()
	if left := files(t, folder); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

// Whatever files are called on the command line, a terminal is sent no control
// character, nothing of a name is run, and nothing but what -o names is written.
func TestFilesOfAnyNameAreReadAndShownAsText(t *testing.T) {
	folder := t.TempDir()
	good := write(t, filepath.Join(t.TempDir(), "map.yaml"), []byte(driven.CarMap))
	var names []string
	for _, name := range hostileNames {
		if name == "" || name == "." || name == ".." || len(name) > 255 || strings.ContainsAny(name, "/\x00") {
			continue // no file can be called so
		}
		write(t, filepath.Join(folder, name), []byte(drive(1)+"\x1b]0;owned\x07\n"))
		names = append(names, name)
	}
	broken := write(t, filepath.Join(folder, "\x1b[31m\u202e.yaml"), []byte("format: 1\n\"\x1b[31m\u202e\": 1\n"))
	before := files(t, folder)
	args := func(more ...string) []string { return slices.Concat(more, []string{"--map", good, "--"}) }
	for _, run := range [][]string{
		append(args("episodes"), names...),
		append(args("standstills"), names...),
		append(args("starter"), names...),
		append([]string{"frames", "--"}, names...),
		append(args("episodes"), "."),
		append(args("episodes", "--format", "csv"), "."),
		{"map", "check", "--", filepath.Base(broken)},
		{"episodes", "--map", filepath.Base(broken), "0.log"},
		{"\x1b[31m"}, {"episodes", "\x1b[31m.not.there", "\u202e"}, {"episodes", "0.log", "--\x1b[31m"}, {"record", "\x1b[31m"}, {"frames", "0.log", "--bitrate", "\x1b[31m"},
	} {
		p := command(t, folder, run...)
		p.run(20 * time.Second)
		for _, text := range []string{p.out.String(), p.err.String()} {
			if slices.Contains(run, "csv") {
				text = strings.ReplaceAll(text, "\r", "") // a cell may have line ends
			}
			if err := shown(text); err != nil {
				t.Errorf("lull %.60q: %v", run, err)
			}
		}
	}
	if after := files(t, folder); !slices.Equal(before, after) {
		t.Errorf("the folder holds %q, before %q", after, before)
	}
	for _, name := range names {
		if strings.HasPrefix(name, "-") {
			continue // a flag, where it is not behind --
		}
		p := command(t, folder, "report", "--map", good, "-o", "r.html", "./"+name)
		if status := p.run(20 * time.Second); status != 0 {
			t.Errorf("%.50q: status %d: %s", name, status, p.err.String())
		}
		text := read(t, filepath.Join(folder, "r.html"))
		for _, act := range acts {
			if strings.Contains(text, act) {
				t.Errorf("%.50q: the report has %s", name, act)
			}
		}
	}
}
