//go:build attack && linux

package attack

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"lull/cmd/internal/browser"
)

// lull is the program, built once for all tests.
var lull string

func TestMain(m *testing.M) {
	os.Exit(func() int {
		folder, err := os.MkdirTemp("", "lull-attack-")
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		defer os.RemoveAll(folder)
		if lull, err = browser.Build(folder); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		return m.Run()
	}())
}

// process is a lull that runs in a folder of its own. It ends with the test at the
// latest.
type process struct {
	*exec.Cmd
	t      testing.TB
	out    said
	err    said
	memory chan int64 // the most it took, in bytes; once it has ended
	ended  chan struct{}
	fault  error // of Wait
}

// said is what a process has said so far.
type said struct {
	mutex sync.Mutex
	text  bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.text.Write(p)
}

func (s *said) String() string {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.text.String()
}

// command prepares a lull that is not started yet. Its temporary files go into the folder
// that it runs in by default.
func command(t testing.TB, folder string, args ...string) *process {
	return script(t, folder, "", args...)
}

// script prepares a lull that a shell starts: words of the shell that come before and
// behind its arguments, as in `ulimit -f 8; LULL > FILE`.
func script(t testing.TB, folder, line string, args ...string) *process {
	t.Helper()
	end := time.Now().Add(time.Minute)
	if test, ok := t.(*testing.T); ok {
		if deadline, has := test.Deadline(); has { // so that none outlives a run that is cut off
			end = deadline.Add(-3 * time.Second)
		}
	}
	ctx, cancel := context.WithDeadline(t.Context(), end)
	p := &process{t: t, memory: make(chan int64, 1), ended: make(chan struct{})}
	if line == "" {
		p.Cmd = exec.CommandContext(ctx, lull, args...)
	} else {
		before, behind, _ := strings.Cut(line, "LULL")
		p.Cmd = exec.CommandContext(ctx, "sh", append([]string{"-c", before + `exec "$0" "$@"` + behind, lull}, args...)...)
	}
	p.Dir = folder
	p.Env = append(os.Environ(), "TMPDIR="+folder)
	p.Stdout, p.Stderr = &p.out, &p.err
	t.Cleanup(func() { // the context has ended: it is killed
		if p.Process != nil {
			<-p.ended
		}
		cancel()
	})
	return p
}

// begin starts the process.
func (p *process) begin() *process {
	p.t.Helper()
	if err := p.Start(); err != nil {
		p.t.Fatal(err)
	}
	go func() {
		defer close(p.ended)
		stop := make(chan struct{})
		go watch(p.Process.Pid, stop, p.memory)
		p.fault = p.Wait()
		close(stop)
	}()
	return p
}

// watch sends the peak memory of a process. What the system reports for a process that has
// ended is never less than the test's own.
func watch(pid int, stop <-chan struct{}, told chan<- int64) {
	most := int64(0)
	for {
		status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
		if _, text, found := strings.Cut(string(status), "VmHWM:"); found {
			kib, _ := strconv.ParseInt(strings.Fields(text)[0], 10, 64)
			most = max(most, kib<<10)
		}
		select {
		case <-stop:
			told <- most
			return
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// status waits for its end, at most that long, and gives its exit status; -1 where a
// signal ended it.
func (p *process) status(within time.Duration) int {
	p.t.Helper()
	select {
	case <-p.ended:
	case <-time.After(within):
		p.t.Errorf("lull %.200q has not ended after %v: %.500s", p.Args[1:], within, p.err.String())
		p.kill()
	}
	var exit *exec.ExitError
	if p.fault != nil && !errors.As(p.fault, &exit) {
		p.t.Errorf("lull %.200q: %v", p.Args[1:], p.fault)
	}
	return p.ProcessState.ExitCode()
}

// kill ends it as a power failure would, as far as the program can tell.
func (p *process) kill() {
	_ = p.Process.Kill() // it may have ended
	<-p.ended
}

// interrupt does what Ctrl-C does.
func (p *process) interrupt() {
	p.t.Helper()
	if err := p.Process.Signal(syscall.SIGINT); err != nil {
		p.t.Errorf("it has ended by itself: %v: %s", err, p.err.String())
	}
}

// run runs lull to its end and, if it fails, demands a clear message: a status of its own,
// something said, and no stack of a panic.
func (p *process) run(within time.Duration) int {
	p.t.Helper()
	status := p.begin().status(within)
	text := p.err.String()
	if status < 0 || status > 3 || strings.Contains(text, "goroutine ") || strings.Contains(text, "runtime error") {
		p.t.Errorf("lull %.200q: status %d, says %.2000s", p.Args[1:], status, text)
	}
	if status == 1 && text+p.out.String() == "" {
		p.t.Errorf("lull %.200q fails without a word", p.Args[1:])
	}
	return status
}

// tookLess wants that a process that has ended took less memory than so many MiB.
func (p *process) tookLess(mib int64) {
	p.t.Helper()
	most := <-p.memory
	p.memory <- most
	if most > mib<<20 {
		p.t.Errorf("lull %.200q took %d MiB, more than %d", p.Args[1:], most>>20, mib)
	}
}

// soon waits until something holds.
func soon(t testing.TB, within time.Duration, what string, holds func() bool) bool {
	t.Helper()
	for end := time.Now().Add(within); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Errorf("not within %v: %s", within, what)
			return false
		}
	}
	return true
}

// files lists everything in a folder and below.
func files(t testing.TB, folder string) (list []string) {
	t.Helper()
	err := filepath.WalkDir(folder, func(path string, _ os.DirEntry, err error) error {
		if name, _ := filepath.Rel(folder, path); name != "." && !errors.Is(err, os.ErrNotExist) {
			list = append(list, name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func write(t testing.TB, path string, text []byte) string {
	t.Helper()
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func read(t testing.TB, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Error(err)
	}
	return string(text)
}
