package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func TestOnlyNearNamesAreSuggested(t *testing.T) {
	names := []string{"episodes", "standstills", "samples", "map", "metrics"}
	for word, want := range map[string][]string{
		"episods": {"episodes"}, "Metric": {"metrics"}, "stand": {"standstills"}, "mpa": {"map"}, "frobnicate": {}, "zzz": {},
	} {
		if diff := cmp.Diff(want, nearest(word, names)); diff != "" {
			t.Errorf("%s: %s", word, diff)
		}
	}
}

func TestTheWidthComesFromColumnsThenTheTerminal(t *testing.T) {
	terminal := func(n int, ok bool) func() (int, bool) { return func() (int, bool) { return n, ok } }
	for _, c := range []struct {
		columns string
		ask     func() (int, bool)
		want    int
	}{
		{"120", terminal(100, true), 120}, {"", terminal(100, true), 100}, {"", terminal(0, false), 80}, {"", terminal(0, true), 80},
		{"many", terminal(0, false), 80}, {"-5", terminal(100, true), 100}, {"3", terminal(100, true), 40}, {"99999", terminal(1, true), 400},
		{"", terminal(10, true), 40},
	} {
		if got := terminalWidth(c.columns, c.ask); got != c.want {
			t.Errorf("COLUMNS=%q: %d, want %d", c.columns, got, c.want)
		}
	}
}

func TestTheLocaleDecidesOnUnicode(t *testing.T) {
	for _, c := range []struct {
		env  map[string]string
		want bool
	}{
		{nil, false}, {map[string]string{"LANG": "en_GB.UTF-8"}, true}, {map[string]string{"LANG": "C"}, false},
		{map[string]string{"LC_ALL": "C", "LANG": "en_GB.UTF-8"}, false}, {map[string]string{"LC_CTYPE": "C.utf8", "LANG": "C"}, true},
	} {
		if got := speaksUTF8(func(k string) string { return c.env[k] }); got != c.want {
			t.Errorf("%v: %v", c.env, got)
		}
	}
}

func TestTheVersionNamesWhatWasBuilt(t *testing.T) {
	setting := func(pairs ...string) (list []debug.BuildSetting) {
		for i := 0; i < len(pairs); i += 2 {
			list = append(list, debug.BuildSetting{Key: pairs[i], Value: pairs[i+1]})
		}
		return list
	}
	for want, info := range map[string]debug.BuildInfo{
		"v1.2.0":                   {Main: debug.Module{Version: "v1.2.0"}},
		"dev":                      {Main: debug.Module{Version: "(devel)"}},
		"dev-0123456789ab":         {Settings: setting("vcs.revision", "0123456789abcdef", "vcs.modified", "false")},
		"dev-0123456789ab+changed": {Settings: setting("vcs.revision", "0123456789abcdef", "vcs.modified", "true")},
		"dev-0123":                 {Settings: setting("vcs.revision", "0123")},
	} {
		if got := versionOf(&info); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestProgressShowsOnATerminalAfterASecond(t *testing.T) {
	var out bytes.Buffer
	now := time.Unix(0, 0)
	p := newProgress(&out)
	p.now = func() time.Time { return now }
	x := measuring.Progress{Log: "drive.log", Size: 400e6}
	p.show(x)
	if p.show(measuring.Progress{Log: "drive.log", Done: true}); out.Len() != 0 {
		t.Fatalf("too early: %q", out.String())
	}
	p.show(x)
	now, x.Position = now.Add(2*time.Second), 100e6
	p.show(x)
	now = now.Add(redraw / 2)
	p.show(x) // too soon after the one before
	now, x.Size = now.Add(time.Second), 0
	p.show(x)
	x.Again = true
	p.show(x) // all was shown at the first reading
	x.Again, x.Done = false, true
	p.show(x)
	want := "\r\x1b[Kdrive.log: 25 %, 50 MB/s\r\x1b[Kdrive.log: 100 MB, 32 MB/s\r\x1b[K"
	if out.String() != want {
		t.Errorf("%q, want %q", out.String(), want)
	}
	for _, silent := range []measuring.Order{(&console{err: &out, errTerminal: true}).order(true, measuring.Order{}), (&console{err: &out}).order(false, measuring.Order{})} {
		if silent.Progress != nil {
			t.Error("progress is shown where it was not asked for, or where there is no terminal")
		}
	}
}

const smallMap = `format: 1
frames:
  - id: 0x1A0
    bus: can0
    signals:
      rpm: {start: 0, length: 16, unit: rpm, role: engine_speed}
`

// cancelling cancels the context once some of it was read, and goes on for ever.
type cancelling struct {
	cancel  context.CancelFunc
	lines   int
	pending []byte
}

func (c *cancelling) Read(p []byte) (int, error) {
	if len(c.pending) == 0 {
		c.pending = fmt.Appendf(nil, "(%d.%06d) can0 1A0#BC02\n", 1772442900+c.lines/100, c.lines%100*10000)
		if c.lines++; c.lines == 20000 {
			c.cancel()
		}
	}
	n := copy(p, c.pending)
	c.pending = c.pending[n:]
	return n, nil
}

func TestAnInterruptLeavesNoFile(t *testing.T) {
	for _, command := range []string{"episodes", "samples"} {
		folder := t.TempDir()
		if err := os.WriteFile(filepath.Join(folder, "car.yaml"), []byte(smallMap), 0o666); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		c := &console{in: &cancelling{cancel: cancel}, out: io.Discard, err: io.Discard, width: 80}
		root := newRoot(c)
		root.SetArgs([]string{command, "-", "--map", filepath.Join(folder, "car.yaml"), "-o", filepath.Join(folder, "out.csv")})
		if err := root.ExecuteContext(ctx); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", command, err)
		}
		left, err := os.ReadDir(folder)
		if err != nil || len(left) != 1 {
			t.Errorf("%s: left behind: %v, %v", command, left, err)
		}
	}
}

func TestAnErrorOfTheOutputEndsSamples(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "car.yaml")
	if err := os.WriteFile(path, []byte(smallMap), 0o666); err != nil {
		t.Fatal(err)
	}
	log := strings.Repeat("(1772442900.000000) can0 1A0#BC02\n", 5000)
	var said bytes.Buffer
	c := &console{in: strings.NewReader(log), out: fullDisk{}, err: &said, width: 80}
	if got := run([]string{"samples", "-", "--map", path}, c); got != statusFailed {
		t.Errorf("status %d", got)
	}
	if want := "lull: standard output: no room; what was written there is not whole\n"; said.String() != want {
		t.Errorf("%q, want %q", said.String(), want)
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) {
	return 0, &os.PathError{Op: "write", Path: "/dev/stdout", Err: errors.New("no room")}
}

func TestReadingThatFailsIsTold(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "car.yaml")
	if err := os.WriteFile(path, []byte(smallMap), 0o666); err != nil {
		t.Fatal(err)
	}
	in := io.MultiReader(strings.NewReader("(1772442900.000000) can0 1A0#BC02\n"), failing{})
	var said bytes.Buffer
	c := &console{in: in, out: io.Discard, err: &said, width: 80}
	if got := run([]string{"episodes", "-", "--map", path}, c); got != statusFailed {
		t.Errorf("status %d", got)
	}
	if !strings.HasPrefix(said.String(), "lull: standard input: reading failed after line 1: ") {
		t.Errorf("%q", said.String())
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("the cable was pulled") }

func TestABusRestrictsTheMapAndKeepsItsIndices(t *testing.T) {
	m := &decode.Map{Entries: []decode.Entry{{Bus: ""}, {Bus: "can0"}, {Bus: "can1"}}}
	if measuring.OnlyBus(m, "") != m {
		t.Error("nothing asked for, something done")
	}
	var got []string
	for _, e := range measuring.OnlyBus(m, "can0").Entries {
		got = append(got, e.Bus)
	}
	if diff := cmp.Diff([]string{"can0", "can0", " "}, got); diff != "" {
		t.Error(diff)
	}
	if m.Entries[0].Bus != "" {
		t.Error("the map itself was changed")
	}
}

func TestErrorsAreOneHarmlessLine(t *testing.T) {
	for _, c := range []struct {
		err    error
		status int
		want   string
	}{
		{nil, statusDone, ""},
		{words.ErrTold, statusFailed, ""},
		{measuring.ErrBroken, statusBroken, ""},
		{words.Misused("see help", "--x: no such flag"), statusUsage, "lull: --x: no such flag; see help\n"},
		{&words.Failure{Where: "a\x1b[31m.log", What: "broken"}, statusFailed, "lull: a\\x1b[31m.log: broken\n"},
		{errors.New("plain"), statusFailed, "lull: plain\n"},
		{errors.Join(errors.New("one"), errors.New("two")), statusFailed, "lull: one\nlull: two\n"},
		{fmt.Errorf("wrapped: %w", measuring.ErrBroken), statusBroken, ""},
	} {
		var b bytes.Buffer
		if got := printError(&b, c.err); got != c.status || b.String() != c.want {
			t.Errorf("%v: status %d, %q", c.err, got, b.String())
		}
	}
}

func TestAWorkbookOrAReportIsNotWrittenToATerminal(t *testing.T) {
	for _, test := range []struct {
		formats     []string
		format, out string
		terminal    bool
		want        string // the error's text; "" if there is none
	}{
		{resultFormats, formatXLSX, "", true, "xlsx is not written to a terminal; name a file: -o FILE.xlsx"},
		{resultFormats, formatXLSX, "-", true, "xlsx is not written to a terminal; name a file: -o FILE.xlsx"},
		{[]string{formatHTML, formatPDF}, "", "", true, "html is not written to a terminal; name a file: -o FILE.html"},
		{[]string{formatHTML, formatPDF}, formatPDF, "", true, "pdf is not written to a terminal; name a file: -o FILE.pdf"},
		{resultFormats, formatXLSX, "", false, ""},
		{resultFormats, formatXLSX, "drive.xlsx", true, ""},
		{resultFormats, formatCSV, "", true, ""},
	} {
		f := &outFlags{formats: test.formats, format: test.format, out: test.out}
		_, err := f.chooseFor(&console{outTerminal: test.terminal})
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != test.want {
			t.Errorf("%q to %q, terminal %v: %q, want %q", test.format, test.out, test.terminal, got, test.want)
		}
	}
}
