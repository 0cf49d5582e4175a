//go:build unix

package main

import (
	"bytes"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/live"
	"lull/decode/sigmap"
)

// still is a console that nobody looks at.
func still() (*console, *bytes.Buffer, *bytes.Buffer) {
	out, warn := &bytes.Buffer{}, &bytes.Buffer{}
	return &console{out: out, err: warn, width: 80}, out, warn
}

func demoDrive(t *testing.T, name string) (*decode.Map, scenario.Drive) {
	t.Helper()
	d := exampleDrive(t, name)
	m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
	if err != nil {
		t.Fatal(err)
	}
	return m, d
}

// playTo lets whoever connects read what feed writes.
func playTo(t *testing.T, feed func(*live.Writer) error) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "car.sock")
	listener, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { listener.Close() })
	go func() {
		for {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			feed(live.NewWriter(c)) // it ends when the reader leaves
			c.Close()
		}
	}()
	return "unix:" + path
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
