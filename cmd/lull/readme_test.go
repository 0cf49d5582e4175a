package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The commands in the console blocks of a README are run, the main one's on the
// demonstration, with the examples beside it, and what they print must stand below them. The table of metrics
// stands behind its mark.
func TestReadmesShowTrueOutput(t *testing.T) {
	if raceDetector {
		t.Skip("text is compared without the race detector")
	}
	demo := t.TempDir()
	readmePrint(t, demo, "lull demo .")
	here, err := filepath.Abs(examples)
	if err == nil {
		err = os.Symlink(here, filepath.Join(demo, "examples"))
	}
	if err != nil {
		t.Fatal(err)
	}
	folders, err := filepath.Glob(filepath.Join(examples, "*", "README.md"))
	if err != nil || len(folders) < 2 {
		t.Fatalf("examples: %v, %v", folders, err)
	}
	checkReadme(t, "../../README.md", demo, 5)
	for _, path := range folders {
		checkReadme(t, path, filepath.Dir(path), 1)
	}
}

func checkReadme(t *testing.T, path, folder string, least int) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)```console\n\\$ ([^\n]*)\n.*?```")
	runs := 0
	want := block.ReplaceAllStringFunc(string(text), func(b string) string {
		runs++
		command := block.FindStringSubmatch(b)[1]
		return "```console\n$ " + command + "\n" + readmePrint(t, folder, command) + "```"
	})
	if runs < least {
		t.Errorf("%s: only %d console blocks were found", path, runs)
	}
	metrics := regexp.MustCompile(`(?s)<!-- metrics -->\n(\|.*?\n\n)?\n?`)
	table := readmePrint(t, folder, "lull metrics --format markdown")
	want = metrics.ReplaceAllStringFunc(want, func(string) string { return "<!-- metrics -->\n" + table + "\n" })
	if want == string(text) {
		return
	}
	if *update {
		if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Errorf("%s shows what its commands do not print; run make golden and read the difference\n%s", path, firstDifference(string(text), want))
}

// readmePrint runs a command line by the shell, with the test binary in lull's
// place, and returns what it prints on standard output.
func readmePrint(t *testing.T, folder, command string) string {
	t.Helper()
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("SKIPPED: no shell to run the README's commands in")
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
			return "README: " + x[i] + "\nprinted: " + y[i]
		}
	}
	return "one is longer than the other"
}
