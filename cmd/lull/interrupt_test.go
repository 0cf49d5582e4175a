//go:build unix

package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"lull/analyze/scenario"
)

// townFolder is a folder with the town drive's log and map.
func townFolder(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	for _, f := range scenario.Files() {
		if f.Name == "town.log" || f.Name == "map.yaml" {
			if err := os.WriteFile(filepath.Join(folder, f.Name), f.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	return folder
}

// Whoever interrupts lull while it waits for the rest of a log on standard input, or
// closes its terminal, gets one line, no half a file, and no temporary one.
func TestWhoeverInterruptsIsToldInOneLine(t *testing.T) {
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		for _, args := range [][]string{{"episodes", "-o", "out.csv"}, {"report", "-o", "out.html"}} {
			interrupted(t, signal, args...)
		}
	}
}

func interrupted(t *testing.T, signal os.Signal, args ...string) {
	t.Helper()
	folder := townFolder(t)
	log, err := os.ReadFile(filepath.Join(folder, "town.log"))
	if err != nil {
		t.Fatal(err)
	}
	cmd := lullCommand(t, folder, append(args, "-", "--map", "map.yaml", "--quiet")...)
	cmd.Env = append(os.Environ(), "TMPDIR="+folder)
	var said bytes.Buffer
	cmd.Stderr = &said
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	// More than a pipe holds: once it is written, lull is reading.
	if _, err := in.Write(log[:1<<20]); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Process.Signal(signal); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != statusFailed {
		t.Errorf("%v, %v: ended with %v", args, signal, err)
	}
	if got, want := said.String(), "lull: interrupted; no output file was written\n"; got != want {
		t.Errorf("%v, %v: said %q, want %q", args, signal, got, want)
	}
	entries, err := os.ReadDir(folder)
	if err != nil || len(entries) != 2 {
		t.Errorf("%v, %v: left behind: %v, %v", args, signal, entries, err)
	}
}

// A pipe that nobody writes to cannot be waited for without end: the second interrupt
// ends the program at once.
func TestASecondInterruptEndsWhatWaitsForAPipe(t *testing.T) {
	folder := townFolder(t)
	pipe := filepath.Join(folder, "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skipf("no pipes here: %v", err)
	}
	cmd := lullCommand(t, folder, "episodes", "pipe")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	writer, err := os.OpenFile(pipe, os.O_WRONLY, 0) // which waits for lull to open it
	if err != nil {
		t.Fatal(err)
	}
	defer writer.Close()
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	for range 200 {
		_ = cmd.Process.Signal(os.Interrupt) // it may have ended
		select {
		case err := <-ended:
			if err == nil {
				t.Error("it ended as if all was well")
			}
			return
		case <-time.After(50 * time.Millisecond):
		}
	}
	_ = cmd.Process.Kill()
	t.Error("it still waits")
}

// A report reads each log twice, also one that comes through a pipe and is gone then.
func TestAReportOfWhatComesThroughAPipeIsThatOfTheFile(t *testing.T) {
	folder := townFolder(t)
	log, err := os.ReadFile(filepath.Join(folder, "town.log"))
	if err != nil {
		t.Fatal(err)
	}
	if out, err := lullCommand(t, folder, "report", "town.log", "-o", "file.html").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	want, err := os.ReadFile(filepath.Join(folder, "file.html"))
	if err != nil {
		t.Fatal(err)
	}
	// The same name, so that the reports are the same.
	pipes := filepath.Join(folder, "pipes")
	if err := os.Mkdir(pipes, 0o700); err != nil {
		t.Fatal(err)
	}
	pipe := filepath.Join(pipes, "town.log")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skipf("no pipes here: %v", err)
	}
	go func() {
		if w, err := os.OpenFile(pipe, os.O_WRONLY, 0); err == nil {
			_, _ = io.Copy(w, bytes.NewReader(log)) // the report says whether all came
			_ = w.Close()
		}
	}()
	kept := t.TempDir()
	cmd := lullCommand(t, folder, "report", pipe, "--map", "map.yaml", "-o", "pipe.html")
	cmd.Env = append(cmd.Env, "TMPDIR="+kept)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	got, err := os.ReadFile(filepath.Join(folder, "pipe.html"))
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("%d bytes by the pipe, %d by the file, %v", len(got), len(want), err)
	}
	if left, err := os.ReadDir(kept); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
