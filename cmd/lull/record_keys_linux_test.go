package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"

	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/live"
)

// On a terminal each key counts as it is pressed and is not shown; Ctrl-C ends the
// recording, after which the terminal is as it was.
func TestKeysOfATerminalMark(t *testing.T) {
	address := driven.PlayTo(t, func(w *live.Writer) error {
		for n := range int64(101) {
			if err := w.Frame(&decode.Frame{Bus: "can0", Time: 1e18 + n*1e8, Len: 1}); err != nil {
				return err
			}
		}
		w.Flush()
		<-t.Context().Done() // the car goes on
		return w.End()
	})
	folder := t.TempDir()
	cmd := lullCommand(t, folder, "record", address, "-o", "drive.log", "--marks", "drive.marks")
	cmd.Env = append(os.Environ(), "TERM=xterm", "COLUMNS=")
	screen, tty, err := pty.Open()
	if err != nil {
		t.Skipf("SKIPPED: no pseudo-terminals here: %v", err)
	}
	defer screen.Close()
	defer tty.Close()
	if err := pty.Setsize(screen, &pty.Winsize{Rows: 40, Cols: 100}); err != nil {
		t.Fatal(err)
	}
	cmd.Stdin, cmd.Stdout, cmd.Stderr = tty, tty, tty
	cmd.SysProcAttr = &unix.SysProcAttr{Setsid: true, Setctty: true}
	modes := func() (flags uint32) {
		t.Helper()
		m, err := unix.IoctlGetTermios(int(tty.Fd()), unix.TCGETS)
		if err != nil {
			t.Fatal(err)
		}
		return m.Lflag & (unix.ICANON | unix.ECHO)
	}
	before := modes()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	defer func() { _ = cmd.Process.Kill() }() // unless it ended
	shown := &textBuffer{}
	go func() {
		buffer := make([]byte, 4096)
		for {
			n, err := screen.Read(buffer)
			_, _ = shown.Write(buffer[:n])
			if err != nil {
				return
			}
		}
	}()
	seen := func(want string) bool { return strings.Contains(shown.String(), want) }
	until := func(want string) {
		t.Helper()
		for range 2000 {
			if seen(want) {
				return
			}
			time.Sleep(5 * time.Millisecond)
		}
		t.Fatalf("never shown: %q in\n%q", want, shown)
	}
	press := func(keys string) {
		t.Helper()
		if _, err := screen.WriteString(keys); err != nil {
			t.Fatal(err)
		}
	}

	until("keys: b brake")
	until("frames/s")
	if got := modes(); got != 0 {
		t.Errorf("keys are shown, or wait for Enter: %b", got)
	}
	press("\x1a") // Ctrl-Z, which would leave the terminal without its modes
	press("b")
	until("brake since 1")
	press("B")
	until("marked: brake from 1")
	press("d")
	until("the dashboard shows: _")
	press("99")
	until("the dashboard shows: 99_")
	press("\x1b")
	time.Sleep(300 * time.Millisecond) // what comes with Escape is that of a function key
	press("d5 km\x7f\x7f\x7f0 km/h\r")
	until("marked: vehicle speed 50 km/h")
	press("x") // no key of any mark
	press("l")
	until("turn lamp left since 1") // Ctrl-C takes back what was not read yet
	press("\x03")
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("it ended with %v:\n%q", err, shown)
		}
	case <-time.After(20 * time.Second):
		t.Fatalf("Ctrl-C did not end it:\n%q", shown)
	}
	if got := modes(); got != before {
		t.Errorf("the terminal is left with modes %b instead of %b", got, before)
	}
	text, err := os.ReadFile(filepath.Join(folder, "drive.marks"))
	if err != nil || !regexp.MustCompile(`^brake 1\d\.\d\d 1\d\.\d\d\nvehicle_speed 1\d\.\d\d 1\d\.\d\d 50 km/h\nturn_left 1\d\.\d\d 1\d\.\d\d\n$`).Match(text) {
		t.Errorf("marked %q, %v", text, err)
	}
}
