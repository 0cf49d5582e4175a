//go:build unix

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// still is a console that nobody looks at.
func still() (*console, *bytes.Buffer, *bytes.Buffer) {
	out, warn := &bytes.Buffer{}, &bytes.Buffer{}
	return &console{out: out, err: warn, width: 80}, out, warn
}

// lullCommand runs the test binary as lull.
func lullCommand(t *testing.T, folder string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	bin := filepath.Join(t.TempDir(), "lull")
	if err := os.Symlink(self, bin); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(bin, args...)
	cmd.Dir = folder
	return cmd
}
