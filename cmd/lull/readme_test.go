package main

import (
	"bytes"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"lull/pkg/oracle"
)

// The commands in the console blocks of all documents are run, those of an example in
// its folder, all others on the demonstration with the examples beside it, and what they
// print must stand below them. The table of metrics stands behind its mark.
func TestDocumentsShowTrueOutput(t *testing.T) {
	if oracle.RaceDetector {
		t.Skip("text is compared without the race detector")
	}
	demo := t.TempDir()
	documentPrint(t, demo, "lull demo .")
	here, err := filepath.Abs(examples)
	if err == nil {
		err = os.Symlink(here, filepath.Join(demo, "examples"))
	}
	if err != nil {
		t.Fatal(err)
	}
	table := documentPrint(t, demo, "lull metrics --format markdown")
	shown := map[string]int{}
	for _, d := range documents(t) {
		folder := demo
		if ok, _ := path.Match("examples/*/*", d.name); ok {
			folder = filepath.Join(root, filepath.FromSlash(path.Dir(d.name)))
		}
		shown[d.name] = checkOutput(t, d, folder, table)
	}
	for name, least := range map[string]int{
		"README.md": 1, "examples/TOUR.md": 10, "decode/sigmap/README.md": 1, "analyze/measure/README.md": 1,
		"examples/polled/README.md": 1, "examples/capture/README.md": 1, "examples/road/README.md": 1,
	} {
		if shown[name] < least {
			t.Errorf("%s shows the output of %d commands, at least %d are expected", name, shown[name], least)
		}
	}
}

var (
	consoleBlock = regexp.MustCompile("(?s)```console\n\\$ ([^\n]*)\n.*?```")
	metricsMark  = regexp.MustCompile(`(?s)<!-- metrics -->\n(\|.*?\n\n)?\n?`)
)

// checkOutput holds what a document shows against what is printed, and tells how much
// that was.
func checkOutput(t *testing.T, d manual, folder, metrics string) (shown int) {
	t.Helper()
	want := consoleBlock.ReplaceAllStringFunc(d.text, func(b string) string {
		shown++
		command := consoleBlock.FindStringSubmatch(b)[1]
		return "```console\n$ " + command + "\n" + documentPrint(t, folder, command) + "```"
	})
	want = metricsMark.ReplaceAllStringFunc(want, func(string) string {
		shown++
		return "<!-- metrics -->\n" + metrics + "\n"
	})
	switch {
	case want == d.text:
	case *update:
		if err := os.WriteFile(filepath.Join(root, filepath.FromSlash(d.name)), []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	default:
		t.Errorf("%s shows what its commands do not print; run make golden and read the difference\n%s", d.name, firstDifference(d.text, want))
	}
	return shown
}

// documentPrint runs a command line by the shell, with the test binary in lull's
// place, and returns what it prints on standard output.
func documentPrint(t *testing.T, folder, command string) string {
	t.Helper()
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("SKIPPED: no shell to run the documents' commands in")
	}
	bin := t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(self, filepath.Join(bin, "lull")); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(shell, "-c", command)
	cmd.Dir = folder
	cmd.Env = append(os.Environ(), "COLUMNS=80", "PATH="+bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	var out, warn bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &warn
	if err := cmd.Run(); err != nil && !strings.Contains(command, "--check") {
		t.Fatalf("%s: %v\n%s", command, err, warn.String())
	}
	return out.String()
}

func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return "shown:   " + x[i] + "\nprinted: " + y[i]
		}
	}
	return "one is longer than the other"
}
