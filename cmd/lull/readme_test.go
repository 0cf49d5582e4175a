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

const readmePath = "../../README.md"

// The commands in the README's console blocks are run on the demonstration, and
// what they print must stand below them. The table of metrics stands behind its
// mark.
func TestReadmeShowsTrueOutput(t *testing.T) {
	text, err := os.ReadFile(readmePath)
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	readmePrint(t, folder, "lull demo .")
	block := regexp.MustCompile("(?s)```console\n\\$ (lull [^\n]*)\n.*?```")
	runs := 0
	want := block.ReplaceAllStringFunc(string(text), func(b string) string {
		runs++
		command := block.FindStringSubmatch(b)[1]
		return "```console\n$ " + command + "\n" + readmePrint(t, folder, command) + "```"
	})
	if runs < 5 {
		t.Errorf("only %d console blocks were found", runs)
	}
	metrics := regexp.MustCompile(`(?s)<!-- metrics -->\n(\|.*?\n\n)?\n?`)
	table := readmePrint(t, folder, "lull metrics --format markdown")
	want = metrics.ReplaceAllStringFunc(want, func(string) string { return "<!-- metrics -->\n" + table + "\n" })
	if want == string(text) {
		return
	}
	if *update {
		if err := os.WriteFile(readmePath, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Errorf("the README's output is not what the commands print; run make golden and read the difference\n%s", firstDifference(string(text), want))
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
