package source

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// readBack reads a file as a log is read: unpacked, up to where it is whole.
func readBack(t *testing.T, path string) string {
	t.Helper()
	r, err := Open(Input{Path: path, Name: path}, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	text, err := io.ReadAll(r)
	if err != nil && !errors.Is(err, ErrDamaged) {
		t.Fatal(err)
	}
	return string(text)
}

// What was written a second ago is on the disk while the file is still open, plain
// and packed.
func TestAGrowingFileReadsWhileItGrows(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"drive.log", "drive.log.zst"} {
		path := filepath.Join(t.TempDir(), name)
		g, err := Create(path)
		if err != nil {
			t.Fatal(err)
		}
		want := ""
		for n := range 3 {
			line := fmt.Sprintf("line %d\n", n)
			want += line
			if _, err := g.Write([]byte(line)); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Second)
			if got := readBack(t, path); got != want {
				t.Errorf("%s after line %d: %q", name, n, got)
			}
		}
		if _, err := g.Write([]byte("last\n")); err != nil {
			t.Fatal(err)
		}
		if err := g.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := Open(Input{Path: path}, nil)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		r.Close()
		if err != nil || string(text) != want+"last\n" {
			t.Errorf("%s: %q, %v", name, text, err)
		}
	}
}

// disk is a file on a disk that is full after so many bytes.
type disk struct {
	bytes.Buffer
	room    int
	syncing error
}

func (d *disk) Write(p []byte) (int, error) {
	if len(p) > d.room {
		n, _ := d.Buffer.Write(p[:d.room])
		d.room = 0
		return n, &fs.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}
	}
	d.room -= len(p)
	return d.Buffer.Write(p)
}

func (d *disk) Sync() error { return d.syncing }

func (d *disk) Truncate(size int64) error {
	d.Buffer.Truncate(int(size))
	return nil
}

func (d *disk) Close() error { return nil }

// On a disk that fills up everything but the last second stays, no line is torn,
// and it is told.
func TestAFullDiskCostsTheLastSecondAndNoEarlierLine(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"drive.log", "drive.log.zst"} {
		d := &disk{room: 120}
		g, err := newGrowing(name, d, true)
		if err != nil {
			t.Fatal(err)
		}
		kept := ""
		var fault error
		for n := 0; n < 40 && fault == nil; n++ {
			line := fmt.Sprintf("line %d of a drive that does not end %s\n", n, strings.Repeat(string(rune('a'+n)), n))
			if _, fault = g.Write([]byte(line)); fault == nil {
				time.Sleep(flushEvery + flushEvery/5)
				if fault = g.Err(); fault == nil {
					kept += line
				}
			}
		}
		if !errors.Is(fault, syscall.ENOSPC) || !strings.Contains(fault.Error(), "the disk is full") {
			t.Errorf("%s: %v", name, fault)
		}
		if _, err := g.Write([]byte("more\n")); err == nil {
			t.Errorf("%s: a full disk takes more", name)
		}
		if err := g.Close(); !errors.Is(err, syscall.ENOSPC) {
			t.Errorf("%s: closed with %v", name, err)
		}
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, d.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := readBack(t, path); got != kept || kept == "" {
			t.Errorf("%s: %q of %q", name, got, kept)
		}
	}
}

func TestADiskThatCannotFollowIsTold(t *testing.T) {
	g := &Growing{path: "drive.log"} // nothing is taken from it
	big := make([]byte, mostUnwritten/2)
	for range 2 {
		if _, err := g.Write(big); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := g.Write([]byte("x")); !errors.Is(err, os.ErrDeadlineExceeded) || g.Err() == nil {
		t.Errorf("%v", err)
	}
}

func TestWhatIsThereIsNeverWrittenOver(t *testing.T) {
	folder := t.TempDir()
	full, empty := filepath.Join(folder, "full.log"), filepath.Join(folder, "empty.log")
	for path, text := range map[string]string{full: "line\n", empty: ""} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for path, want := range map[string]error{full: fs.ErrExist, filepath.Join(folder, "none", "x.log"): fs.ErrNotExist} {
		var e *Error
		if _, err := Create(path); !errors.As(err, &e) || !errors.Is(err, want) {
			t.Errorf("%s: %v", path, err)
		}
	}
	if _, err := Create(folder); err == nil {
		t.Error("a folder was opened")
	}
	if text, _ := os.ReadFile(full); string(text) != "line\n" {
		t.Errorf("now %q", text)
	}
	made := filepath.Join(folder, "made.log")
	for _, path := range []string{empty, made} {
		g, err := Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := g.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := os.Stat(made); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a new file with nothing in it stays: %v", err)
	}
	if _, err := os.Stat(empty); err != nil {
		t.Errorf("the user's own empty file: %v", err)
	}
}

func TestDevicesAreWrittenStraight(t *testing.T) {
	if _, err := os.Stat(os.DevNull); err != nil {
		t.Skip("SKIPPED: no null device")
	}
	g, err := Create(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	g.Write([]byte("line\n"))
	if err := g.Close(); err != nil {
		t.Error(err)
	}
}

func TestFreeSpaceIsKnownWhereThereIsAFolder(t *testing.T) {
	if n, err := Free(t.TempDir()); err != nil || n <= 0 {
		t.Errorf("%d, %v", n, err)
	}
	if _, err := Free(filepath.Join(t.TempDir(), "none")); err == nil {
		t.Error("a folder that is not there has room")
	}
}
