package source

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// readBack reads a file as a log is read: unpacked, up to where it is damaged or ends.
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
func TestAGrowingFileCanBeReadWhileItGrows(t *testing.T) {
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

// disk is a file on a disk that is full after a given number of bytes.
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

func (d *disk) Seek(int64, int) (int64, error) { return int64(d.Len()), nil }

func (d *disk) Close() error { return nil }

// If the disk fills up, everything but the last second is kept, no line is torn, and the
// error says so.
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
			t.Errorf("%s: a write to a full disk succeeded", name)
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

// What somebody else wrote into the file is never cut off, whether it was written before
// the fault or follows an incomplete write.
func TestAFaultCutsOffNothingThatOthersWrote(t *testing.T) {
	t.Parallel()
	d := &disk{room: 1 << 20}
	g := &Growing{path: "drive.log", file: d}
	if err := g.put([]byte("line 1\n"), false); err != nil {
		t.Fatal(err)
	}
	d.Buffer.WriteString("somebody else's\n")
	d.room = 3
	if err := g.put([]byte("line 2\n"), false); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("error %v", err)
	}
	if got := d.String(); got != "line 1\nsomebody else's\nlin" {
		t.Errorf("the file holds %q", got)
	}
}

func TestADiskThatIsTooSlowIsReported(t *testing.T) {
	g := &Growing{path: "drive.log"} // nothing takes its pending data
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

func TestExistingFilesAreNeverOverwritten(t *testing.T) {
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
		t.Errorf("the file now holds %q", text)
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
		t.Errorf("a new file with nothing in it was not removed: %v", err)
	}
	if _, err := os.Stat(empty); err != nil {
		t.Errorf("the user's own empty file: %v", err)
	}
}

// Only one recorder at a time has a file, whether it is new or the user's own empty one;
// afterwards it is free again.
func TestOnlyOneRecorderHasAFile(t *testing.T) {
	tree(t)
	if err := os.WriteFile("empty.log", nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"empty.log", "new.log"} {
		for range 2 {
			g, err := Create(path)
			if err != nil {
				t.Fatal(err)
			}
			for _, create := range []func(string) (*Growing, error){Create, CreateNew} {
				var e *Error
				if _, err := create(path); !errors.As(err, &e) || !errors.Is(err, ErrLocked) && !errors.Is(err, fs.ErrExist) {
					t.Errorf("%s a second time: %v", path, err)
				}
			}
			if err := g.Close(); err != nil {
				t.Error(err)
			}
		}
	}
	if _, err := CreateNew("empty.log"); !errors.Is(err, fs.ErrExist) {
		t.Errorf("CreateNew accepted an existing empty file: %v", err)
	}
	if diff := cmp.Diff([]string{"empty.log"}, files(t)); diff != "" {
		t.Errorf("files (-want +got):\n%s", diff)
	}
}

// The file that is removed at the end is the one that was created, and only if nobody has
// written into it; a link to it stays.
func TestOnlyItsOwnEmptyFileIsRemoved(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("SKIPPED: Windows cannot remove an open file")
	}
	tree(t)
	for name, c := range map[string]struct {
		meanwhile func(path string) error
		stays     bool
		is        error
	}{
		"written": {func(path string) error { return os.WriteFile(path, []byte("x"), 0o600) }, true, nil},
		"replaced": {func(path string) error {
			return errors.Join(os.WriteFile("other", nil, 0o600), os.Rename("other", path))
		}, true, fs.ErrNotExist},
		"removed": {os.Remove, false, fs.ErrNotExist},
		"left":    {func(string) error { return nil }, false, nil},
	} {
		g, err := Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := c.meanwhile(name); err != nil {
			t.Fatal(err)
		}
		if err := g.Close(); !errors.Is(err, c.is) {
			t.Errorf("%s: closed with %v", name, err)
		}
		if _, err := os.Lstat(name); (err == nil) != c.stays {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := os.Symlink("real.log", "link.log"); err != nil {
		t.Fatal(err)
	}
	for want, text := range map[bool]string{false: "", true: "line\n"} {
		g, err := Create("link.log")
		if err != nil {
			t.Fatal(err)
		}
		g.Write([]byte(text))
		if err := g.Close(); err != nil {
			t.Error(err)
		}
		_, err = os.Stat("real.log")
		if link, reading := os.Readlink("link.log"); reading != nil || link != "real.log" || (err == nil) != want {
			t.Errorf("through a link, with %q: %v, %v", text, err, reading)
		}
		os.Remove("real.log")
	}
}

func TestDevicesAreWrittenDirectly(t *testing.T) {
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

func TestFreeSpaceIsThatOfAnExistingFolder(t *testing.T) {
	if n, err := Free(t.TempDir()); err != nil || n <= 0 {
		t.Errorf("%d, %v", n, err)
	}
	if _, err := Free(filepath.Join(t.TempDir(), "none")); err == nil {
		t.Error("a folder that does not exist has free space")
	}
}

// What is in a hurry is on the disk before its time.
func TestWhatIsInAHurryIsWrittenAtOnce(t *testing.T) {
	for n := 0; ; n++ {
		path := filepath.Join(t.TempDir(), "a.marks")
		g, err := Create(path)
		if err != nil {
			t.Fatal(err)
		}
		began := time.Now()
		g.Write([]byte("brake 1.00 2.00\n"))
		g.Hurry()
		g.Hurry()
		text := []byte{}
		for len(text) == 0 && time.Since(began) < 2*time.Second {
			text, _ = os.ReadFile(path)
			time.Sleep(time.Millisecond)
		}
		took := time.Since(began)
		if err := g.Close(); err != nil || string(text) != "brake 1.00 2.00\n" {
			t.Fatalf("%q %v", text, err)
		}
		switch {
		case took < flushEvery/2:
			return
		case n == 4: // else the machine was busy
			t.Fatalf("took %v", took)
		}
	}
}
