//go:build linux || darwin

package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/oracle"
	"lull/pkg/source"
)

// served is a lull serve that runs, with a folder of its own for temporary files.
type served struct {
	*exec.Cmd
	url, folder string
	warn        bytes.Buffer
}

func startServe(t *testing.T, folder string, args ...string) *served {
	t.Helper()
	s := &served{folder: folder}
	s.Cmd = lullCommand(t, folder, append([]string{"serve"}, args...)...)
	s.Env = append(os.Environ(), "TMPDIR="+folder)
	s.Stderr = &s.warn
	out, err := s.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Process.Kill() }) // it may have ended
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("%v: %s", err, s.warn.String())
	}
	s.url = strings.TrimSuffix(line, "\n")
	return s
}

// send drops a map and what comes from write as a log, and gives what the last line
// says.
func (s *served) send(ctx context.Context, yaml []byte, write func(io.Writer) error) (at string, err error) {
	from, to := io.Pipe()
	defer from.Close()
	form := multipart.NewWriter(to)
	go func() {
		part, err := form.CreateFormFile("map", "map.yaml")
		if err == nil {
			_, err = part.Write(yaml)
		}
		if err == nil {
			part, err = form.CreateFormFile("log", "drive.log")
		}
		if err == nil {
			err = write(part)
		}
		if err == nil {
			err = form.Close()
		}
		to.CloseWithError(err)
	}()
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, s.url+"drives", from)
	if err != nil {
		return "", err
	}
	own, err := url.Parse(s.url)
	if err != nil {
		return "", err
	}
	r.Header.Set("Origin", own.Scheme+"://"+own.Host)
	r.Header.Set("Accept", "application/x-ndjson")
	r.Header.Set("Content-Type", form.FormDataContentType())
	answer, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		return "", err
	}
	defer answer.Body.Close()
	var last struct{ At, Error string }
	for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
		if err := json.Unmarshal(lines.Bytes(), &last); err != nil {
			return "", err
		}
	}
	if last.At == "" {
		return "", fmt.Errorf("status %d: %s", answer.StatusCode, last.Error)
	}
	return own.Scheme + "://" + own.Host + last.At, nil
}

// drops are the files and folders that lie there; the modes of all are checked.
func (s *served) drops(t *testing.T) (list []string) {
	t.Helper()
	roots, err := filepath.Glob(filepath.Join(s.folder, "lull-serve-*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, root := range roots {
		err := filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil // it goes just now
			}
			if err != nil {
				return err
			}
			list = append(list, path)
			if info, err := entry.Info(); err == nil && info.Mode().Perm()&0o077 != 0 {
				t.Errorf("%s may be read by others: %v", path, info.Mode())
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return list
}

// A signal ends lull serve soon, with a drop under way, and leaves nothing behind; so
// does a terminal that is closed.
func TestServingEndsWithASignalAndLeavesNothing(t *testing.T) {
	_, d := driven.Drive(t, "kept-running.log")
	for _, end := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		s := startServe(t, t.TempDir())
		sent := make(chan error, 1)
		go func() {
			_, err := s.send(context.Background(), scenario.Map(d.Map), func(w io.Writer) error {
				for {
					if _, err := io.WriteString(w, strings.Repeat("(1.000000) can0 7FF#00\n", 1000)); err != nil {
						return err
					}
				}
			})
			sent <- err
		}()
		for deadline := time.Now().Add(time.Minute); len(s.drops(t)) < 4; time.Sleep(10 * time.Millisecond) { // the folder, its lock, the drop's, its log
			if time.Now().After(deadline) {
				t.Fatalf("a drop is under way, and there is %v", s.drops(t))
			}
		}
		began := time.Now()
		if err := s.Process.Signal(end); err != nil {
			t.Fatal(err)
		}
		if err := s.Wait(); err != nil {
			t.Errorf("%v: %v: %s", end, err, s.warn.String())
		}
		if took := time.Since(began); took > 20*time.Second { // 2 s on a machine that has time for it
			t.Errorf("%v: ended after %v", end, took)
		}
		if err := <-sent; err == nil {
			t.Errorf("%v: the drop is said to be measured", end)
		}
		if left := s.drops(t); len(left) > 0 {
			t.Errorf("%v: left behind: %v", end, left)
		}
		if want := "Open this address in a browser on this machine; Ctrl-C ends the server and removes what was dropped.\n"; s.warn.String() != want {
			t.Errorf("standard error says %q", s.warn.String())
		}
	}
}

// Who is started to outlive the terminal does, and is ended as ever.
func TestServingOutlivesItsTerminalWhereToldTo(t *testing.T) {
	signal.Ignore(syscall.SIGHUP) // as nohup does; whom this process starts inherits it
	defer signal.Reset(syscall.SIGHUP)
	s := startServe(t, t.TempDir())
	if err := s.Process.Signal(syscall.SIGHUP); err != nil {
		t.Fatal(err)
	}
	time.Sleep(100 * time.Millisecond) // a signal that ends it would have by now
	answer, err := http.Get(s.url)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		t.Errorf("status %d", answer.StatusCode)
	}
	if err := s.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := s.Wait(); err != nil {
		t.Errorf("%v: %s", err, s.warn.String())
	}
}

// What a killed one leaves behind is removed by the next, which leaves alone what one
// that lives has.
func TestTheNextServeRemovesWhatAKilledOneLeft(t *testing.T) {
	folder := t.TempDir()
	_, d := driven.Drive(t, "kept-running.log")
	first := startServe(t, folder, "--quiet")
	if _, err := first.send(context.Background(), scenario.Map(d.Map), d.WriteLog); err != nil {
		t.Fatal(err)
	}
	before := first.drops(t)
	second := startServe(t, folder, "--quiet")
	if there := second.drops(t); len(there) != len(before)+2 {
		t.Errorf("beside one that lives: %v", there)
	}
	if err := first.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = first.Wait() // killed
	if there := second.drops(t); len(there) != len(before)+2 {
		t.Errorf("after the kill: %v", there)
	}
	third := startServe(t, folder, "--quiet")
	if there := third.drops(t); len(there) != 4 {
		t.Errorf("after the next start: %v", there)
	}
	for _, s := range []*served{second, third} {
		if err := s.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		if err := s.Wait(); err != nil || s.warn.Len() > 0 {
			t.Errorf("%v: %s", err, s.warn.String())
		}
	}
	if left := third.drops(t); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// A server that is killed while it removes its folder leaves a part of it, and the next
// one removes the rest.
func TestTheNextServeRemovesWhatAKilledRemovalLeft(t *testing.T) {
	const many = 1000
	for range 2 {
		folder := t.TempDir()
		s := startServe(t, folder, "--quiet")
		root := s.drops(t)[0]
		for i := range many {
			if err := os.WriteFile(filepath.Join(root, strconv.Itoa(i)), nil, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		for len(s.drops(t)) > many {
		}
		if err := s.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
			t.Fatal(err)
		}
		_ = s.Wait() // killed
		left := len(s.drops(t))
		next := startServe(t, folder, "--quiet")
		if there := next.drops(t); len(there) != 2 { // its own folder, and the lock
			t.Errorf("%d were left, and %d are there after the next start", left, len(there))
		}
		if err := next.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		if err := next.Wait(); err != nil {
			t.Error(err)
		}
	}
}

// A log of gigabytes goes through a memory that does not grow with it, nor with fifty
// that come at once. LULL_DROP_MB sets its size.
func TestDropsOfAnySizeTakeLittleMemory(t *testing.T) {
	large := int64(500)
	if n, err := strconv.ParseInt(os.Getenv("LULL_DROP_MB"), 10, 64); err == nil {
		large = n
	}
	folder := t.TempDir()
	free, err := source.Free(folder)
	switch {
	case testing.Short() || oracle.RaceDetector:
		t.Skip("SKIPPED: a large drop takes long under the race detector, and more than a short run has")
	case err == nil && free < 2*large<<20:
		t.Skip("SKIPPED: the disk has no room for a large drop")
	}
	_, d := driven.Drive(t, "kept-running.log")
	episodes := len(d.Truth().Episodes)
	peak := func(size int64) int {
		s := startServe(t, folder, "--quiet")
		defer func() {
			if err := s.Process.Signal(os.Interrupt); err != nil {
				t.Fatal(err)
			}
			if err := s.Wait(); err != nil {
				t.Error(err)
			}
		}()
		at, err := s.send(context.Background(), scenario.Map(d.Map), func(w io.Writer) error { return driveAndFill(w, d, size<<20) })
		if err != nil {
			t.Fatal(err)
		}
		if n := episodesAt(t, at); n != episodes {
			t.Errorf("%d episodes, want %d", n, episodes)
		}
		done := make(chan error)
		for range 50 {
			go func() {
				_, err := s.send(context.Background(), scenario.Map(d.Map), d.WriteLog)
				done <- err
			}()
		}
		for range 50 {
			if err := <-done; err != nil {
				t.Error(err)
			}
		}
		return mostMemory(t, s.Process.Pid)
	}
	small, much := peak(20), peak(large)
	t.Logf("peak memory: %d MiB with 20 MiB, %d MiB with %d MiB", small, much, large)
	if much > 128 || much > small+24 {
		t.Errorf("%d MiB for a log of %d MiB, %d for one of 20", much, large, small)
	}
}

// driveAndFill writes a drive, and then frames that no map names up to a size.
func driveAndFill(w io.Writer, d scenario.Drive, size int64) error {
	if err := d.WriteLog(w); err != nil {
		return err
	}
	var last int64
	d.Frames(func(f *decode.Frame) bool { last = f.Time; return true })
	const perSecond = 25000
	var block []byte
	width := 0
	for i := range perSecond {
		block = fmt.Appendf(block, "(%010d.%06d) can0 7F0#0011223344556677\n", 0, i*(1e6/perSecond))
		width = len(block) / (i + 1)
	}
	for second, written := last/1e9+1, int64(0); written < size; second++ {
		stamp := fmt.Sprintf("%010d", second)
		for at := 1; at < len(block); at += width {
			copy(block[at:], stamp)
		}
		n, err := w.Write(block)
		if err != nil {
			return err
		}
		written += int64(n)
	}
	return nil
}

func episodesAt(t *testing.T, at string) int {
	t.Helper()
	answer, err := http.Get(at + "/file/episodes.json")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	var r struct {
		Logs []struct{ Episodes []struct{} }
	}
	if err := json.NewDecoder(answer.Body).Decode(&r); err != nil {
		t.Fatal(err)
	}
	return len(r.Logs[0].Episodes)
}

// mostMemory is the most that a process had at any time, in MiB.
func mostMemory(t *testing.T, pid int) int {
	t.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Skip("SKIPPED: this system does not tell the memory of a process")
	}
	_, text, _ := strings.Cut(string(status), "VmHWM:")
	kib, err := strconv.Atoi(strings.Fields(text)[0])
	if err != nil {
		t.Fatal(err)
	}
	return kib >> 10
}

// A log that never ends and of which nothing is wanted, or nothing is a frame, is
// read no further once its context ends.
func TestMeasuringAnEndlessLogEnds(t *testing.T) {
	_, d := driven.Drive(t, "kept-running.log")
	m, err := sigmap.Parse("map.yaml", scenario.Map(d.Map))
	if err != nil {
		t.Fatal(err)
	}
	for name, line := range map[string]string{
		"nothing wanted": "(1.000000) can0 7FF#0011\n", "all wanted": "(1.000000) can0 1A0#0000000000000000\n", "no frames": "nonsense\n", "blank": "\n", "one line": "x",
	} {
		t.Run(name, func(t *testing.T) {
			pipe := filepath.Join(t.TempDir(), "0.log")
			if err := syscall.Mkfifo(pipe, 0o600); err != nil {
				t.Fatal(err)
			}
			// Opened for both, it neither waits for the reader nor ends with it.
			log, err := os.OpenFile(pipe, os.O_RDWR, 0)
			if err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithCancel(context.Background())
			written := make(chan bool)
			go func() {
				defer close(written)
				lines := []byte(strings.Repeat(line, 1000))
				for total := 0; ; {
					n, err := log.Write(lines)
					if err != nil {
						return
					}
					if total += n; total > 2<<20 { // all but what the pipe holds was read
						cancel()
					}
				}
			}()
			side, _, err := measuring.Drop(ctx, "", measuring.PageRoom, m, []source.Input{{Path: pipe, Name: "a"}}, func(float64) {})
			if !errors.Is(err, context.Canceled) || side != nil {
				t.Errorf("%v", err)
			}
			log.Close()
			<-written
		})
	}
}
