//go:build unix

package main

import (
	"bytes"
	"errors"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// startPlayer starts lull replay of the town drive in a folder that holds it; the function
// given back waits for its end.
func startPlayer(t *testing.T, folder string, args ...string) (interrupt func(), end func() (status int, said string)) {
	t.Helper()
	cmd := lullCommand(t, folder, append([]string{"replay", "town.log", "--to", "unix:car.sock"}, args...)...)
	var said bytes.Buffer
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	return func() { _ = cmd.Process.Signal(os.Interrupt) }, func() (int, string) {
		_ = cmd.Wait() // its status tells
		return cmd.ProcessState.ExitCode(), said.String()
	}
}

// connect waits for a player's socket. Paths of sockets are short, so it is reached
// from its folder.
func connect(t *testing.T, folder string) net.Conn {
	t.Helper()
	path := filepath.Join(folder, "car.sock")
	for range 1000 {
		if c, err := net.Dial("unix", path); err == nil {
			return c
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("the player never listened")
	return nil
}

// The socket of a player that died is taken over; that of one that still waits is not.
func TestASocketLeftBehindIsTakenOverAndOneInUseIsNot(t *testing.T) {
	folder := townFolder(t)
	t.Chdir(folder)
	left, err := net.ListenUnix("unix", &net.UnixAddr{Name: "car.sock", Net: "unix"})
	if err != nil {
		t.Fatal(err)
	}
	left.SetUnlinkOnClose(false)
	left.Close() // as a player that was killed
	_, end := startPlayer(t, folder, "--speed", "0")
	c := connect(t, folder)
	if n, err := io.Copy(io.Discard, c); err != nil || n < 1<<20 {
		t.Errorf("%d bytes, %v", n, err)
	}
	if status, said := end(); status != statusDone || !strings.Contains(said, "played 305767 frames of town.log") {
		t.Errorf("status %d: %s", status, said)
	}

	other, err := net.Listen("unix", "car.sock")
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	_, end = startPlayer(t, folder)
	if status, said := end(); status != statusFailed || said != "lull: unix:car.sock: cannot be listened on: address already in use; choose another socket\n" {
		t.Errorf("status %d: %s", status, said)
	}
}

func TestAReaderThatLeavesEndsThePlayer(t *testing.T) {
	folder := townFolder(t)
	_, end := startPlayer(t, folder, "--speed", "20")
	c := connect(t, folder)
	if _, err := io.ReadFull(c, make([]byte, 1000)); err != nil {
		t.Fatal(err)
	}
	c.Close()
	if status, said := end(); status != statusFailed || !strings.Contains(said, "lull: unix:car.sock: the recorder disconnected after ") {
		t.Errorf("status %d: %s", status, said)
	}
}

func TestAnInterruptEndsThePlayerWhileItWaitsAndWhileItPlays(t *testing.T) {
	folder := townFolder(t)
	interrupt, end := startPlayer(t, folder)
	for range 1000 { // until it waits
		if _, err := os.Stat(filepath.Join(folder, "car.sock")); !errors.Is(err, os.ErrNotExist) {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	interrupt()
	if status, said := end(); status != statusFailed || !strings.HasSuffix(said, "lull: unix:car.sock: interrupted before a reader came\n") {
		t.Errorf("waiting: status %d: %s", status, said)
	}
	if _, err := os.Stat(filepath.Join(folder, "car.sock")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("its socket is left behind: %v", err)
	}
	interrupt, end = startPlayer(t, folder, "--speed", "1")
	c := connect(t, folder)
	defer c.Close()
	if _, err := io.ReadFull(c, make([]byte, 1000)); err != nil {
		t.Fatal(err)
	}
	interrupt()
	if status, said := end(); status != statusFailed || !strings.Contains(said, "lull: town.log: stopped after ") {
		t.Errorf("playing: status %d: %s", status, said)
	}
}
