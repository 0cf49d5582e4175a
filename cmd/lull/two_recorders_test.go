//go:build unix

package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/live"
)

// endsBy returns the status with which a command that was started ends. One that does not
// end by itself within the time is interrupted.
func endsBy(t *testing.T, cmd *exec.Cmd, within time.Duration) int {
	t.Helper()
	timer := time.AfterFunc(within, func() {
		t.Errorf("%v does not end by itself", cmd.Args[1:])
		_ = cmd.Process.Signal(os.Interrupt) // it may have ended
	})
	defer timer.Stop()
	var exit *exec.ExitError
	if err := cmd.Wait(); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode()
}

// appears waits until a file is there and as large as that.
func appears(t *testing.T, path string, size int64) {
	t.Helper()
	for range 1000 {
		if info, err := os.Stat(path); err == nil && info.Size() >= size {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("%s does not come to %d bytes", path, size)
}

// Who records into a file has it alone: a second recorder is refused, be it before or
// after the first frame, and the first one's log stays and is whole.
func TestASecondRecorderIsRefusedAndTheFirstOnesLogStays(t *testing.T) {
	const frames = 300
	for name, sent := range map[string]int{"before the first frame": 0, "while frames come": 100} {
		for _, second := range [][]string{{"record", "unix:nobody.sock"}, {"serve", "--interface", "unix:nobody.sock"}} {
			t.Run(name+", "+second[0], func(t *testing.T) {
				t.Parallel()
				refused := make(chan struct{})
				address := driven.PlayTo(t, func(w *live.Writer) error {
					for n := range frames {
						if n == sent {
							w.Flush()
							<-refused
						}
						if err := w.Frame(&decode.Frame{Time: 1_700_000_000e9 + int64(n)*1e6, Bus: "can0", ID: 0x123, Len: 8}); err != nil {
							return err
						}
					}
					return w.End()
				})
				folder := t.TempDir()
				path := filepath.Join(folder, "same.log")
				first := lullCommand(t, folder, "record", address, "-o", "same.log")
				if err := first.Start(); err != nil {
					t.Fatal(err)
				}
				appears(t, path, int64(min(sent, 1)))
				other := lullCommand(t, folder, append(second, "-o", "same.log")...)
				var said bytes.Buffer
				other.Stderr = &said
				if err := other.Start(); err != nil {
					t.Fatal(err)
				}
				if status := endsBy(t, other, 5*time.Second); status != statusFailed {
					t.Errorf("the second one ends with %d", status)
				}
				if want := "lull: same.log: another program is recording into it; name another file\n"; said.String() != want {
					t.Errorf("the second one says %q, want %q", said.String(), want)
				}
				close(refused)
				if status := endsBy(t, first, 20*time.Second); status != statusDone {
					t.Errorf("the first one ends with %d", status)
				}
				log, err := os.ReadFile(path)
				if lines := bytes.Count(log, []byte("\n")); err != nil || lines != frames {
					t.Errorf("%d lines of %d, %v", lines, frames, err)
				}
			})
		}
	}
}

// What was recorded into a file that somebody took away is lost, which is no good end.
func TestALogThatIsTakenAwayWhileItIsRecordedIsTold(t *testing.T) {
	taken := make(chan struct{})
	address := driven.PlayTo(t, func(w *live.Writer) error {
		w.Frame(&decode.Frame{Time: 1_700_000_000e9, Bus: "can0", ID: 0x123, Len: 8})
		w.Flush()
		<-taken
		return w.End()
	})
	folder := t.TempDir()
	path := filepath.Join(folder, "drive.log")
	cmd := lullCommand(t, folder, "record", address, "-o", "drive.log")
	var said bytes.Buffer
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	appears(t, path, 1)
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	// Another one's file under the same name stays as it is.
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	close(taken)
	if status := endsBy(t, cmd, 20*time.Second); status != statusFailed || !strings.Contains(said.String(), "drive.log: removed or renamed while it was being recorded") {
		t.Errorf("ends with %d and says %s", status, said.String())
	}
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
}

// Recorders that start in the same second without a name each record into a file of
// their own.
func TestRecordersThatStartAtOnceTakeNamesOfTheirOwn(t *testing.T) {
	const rounds, atOnce = 4, 8
	address := driven.PlayTo(t, func(w *live.Writer) error {
		w.Frame(&decode.Frame{Time: 1_700_000_000e9, Bus: "can0", ID: 0x123, Len: 8})
		return w.End()
	})
	folder := t.TempDir()
	for range rounds {
		var started sync.WaitGroup
		for range atOnce {
			cmd := lullCommand(t, folder, "record", address, "--quiet")
			started.Go(func() {
				if text, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("%v: %s", err, text)
				}
			})
		}
		started.Wait()
	}
	logs, err := filepath.Glob(filepath.Join(folder, "lull-*.log"))
	if err != nil || len(logs) != rounds*atOnce {
		t.Errorf("%d logs of %d recordings, %v", len(logs), rounds*atOnce, err)
	}
	for _, log := range logs {
		if text, err := os.ReadFile(log); err != nil || bytes.Count(text, []byte("\n")) != 1 {
			t.Errorf("%s: %q, %v", log, text, err)
		}
	}
}

// On a disk that is full what another program wrote behind the recording stays.
func TestAFullDiskCutsNothingThatOthersWrote(t *testing.T) {
	folder := t.TempDir()
	disk := filepath.Join(folder, "disk")
	if err := os.Mkdir(disk, 0o700); err != nil {
		t.Fatal(err)
	}
	meant := make(chan struct{})
	address := driven.PlayTo(t, func(w *live.Writer) error {
		for n := 0; ; n++ {
			if n == 100 {
				w.Flush()
				<-meant
			}
			if err := w.Frame(&decode.Frame{Time: 1_700_000_000e9 + int64(n)*1e6, Bus: "can0", ID: 0x123, Len: 8}); err != nil {
				return err
			}
			if n > 100 && n%1000 == 0 {
				w.Flush()
				time.Sleep(5 * time.Millisecond)
			}
		}
	})
	// A disk of its own, that only the command and its shell see.
	record := lullCommand(t, folder, "record", address, "-o", "disk/drive.log")
	cmd := exec.Command("unshare", "--user", "--map-root-user", "--mount", "sh", "-c",
		`mount -t tmpfs -o size=256k none disk || exit 77
"$0" "$@" & sleep 0.2
until [ -s disk/drive.log ]; do sleep 0.05; done
echo '# a remark of somebody else' >> disk/drive.log
echo written
wait $!; echo "status $?"; cat disk/drive.log`, record.Path)
	cmd.Args = append(cmd.Args, record.Args[1:]...)
	cmd.Dir = folder
	var out, said bytes.Buffer
	cmd.Stderr = &said
	cmd.Stdout = writerFunc(func(p []byte) (int, error) {
		if out.Len() == 0 {
			close(meant)
		}
		return out.Write(p)
	})
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := cmd.Start(); err != nil {
		t.Skipf("SKIPPED: no unshare here: %v", err)
	}
	timer := time.AfterFunc(30*time.Second, func() { _ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) })
	defer timer.Stop()
	if err := cmd.Wait(); err != nil {
		if out.Len() == 0 {
			t.Skipf("SKIPPED: no disk of its own can be had here: %v %s", err, said.String())
		}
		t.Fatalf("%v: %s", err, said.String())
	}
	if text := out.String(); !strings.Contains(text, "status 1\n") || !strings.Contains(text, "\n# a remark of somebody else\n") {
		t.Errorf("%.300s\n%s", text, said.String())
	}
	if !strings.Contains(said.String(), "the disk is full") {
		t.Errorf("said %s", said.String())
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }
