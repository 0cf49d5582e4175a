package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// Killed while it writes, lull leaves nothing beside its output, and an old result as
// it was.
func TestAKilledCommandLeavesNothingBehind(t *testing.T) {
	folder := townFolder(t)
	unnamed, err := os.OpenFile(folder, os.O_WRONLY|unix.O_TMPFILE, 0o600)
	if err != nil {
		t.Skipf("SKIPPED: no files without a name here: %v", err)
	}
	unnamed.Close()
	log, err := os.ReadFile(filepath.Join(folder, "town.log"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "old.csv"), []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"samples", "-o", "new.csv"}, {"samples", "-o", "old.csv"}, {"report", "-o", "new.html"}} {
		cmd := lullCommand(t, folder, append(args, "-", "--map", "map.yaml", "--quiet")...)
		cmd.Env = append(os.Environ(), "TMPDIR="+folder)
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		if _, err := in.Write(log[:8<<20]); err != nil { // more than a pipe and lull's buffers hold
			t.Fatal(err)
		}
		time.Sleep(50 * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait() // killed
		left, err := filepath.Glob(filepath.Join(folder, "*"))
		hidden, hiding := filepath.Glob(filepath.Join(folder, ".*"))
		if err != nil || hiding != nil || len(left) != 3 || len(hidden) > 0 {
			t.Errorf("%v: left behind: %v %v", args, left, hidden)
		}
	}
	if old, err := os.ReadFile(filepath.Join(folder, "old.csv")); err != nil || string(old) != "old" {
		t.Errorf("the old result is %q, %v", old, err)
	}
}
