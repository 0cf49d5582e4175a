package source

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// files lists what is in the working directory, temporary files included.
func files(t *testing.T) []string {
	t.Helper()
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func content(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func says(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func TestWriteFileCreatesAndReplaces(t *testing.T) {
	tree(t)
	long := strings.Repeat("0123456789", 50_000)
	for _, want := range []string{"first", long, ""} {
		if err := WriteFile("out.csv", says(want)); err != nil {
			t.Fatal(err)
		}
		if got := content(t, "out.csv"); got != want {
			t.Errorf("%d bytes, want %d", len(got), len(want))
		}
		if diff := cmp.Diff([]string{"out.csv"}, files(t)); diff != "" {
			t.Errorf("files (-want +got):\n%s", diff)
		}
	}
}

func TestWriteFileKeepsTheOldFileIfWritingFails(t *testing.T) {
	tree(t)
	if err := WriteFile("out.csv", says("old")); err != nil {
		t.Fatal(err)
	}
	fault := errors.New("no such metric")
	err := WriteFile("out.csv", func(w io.Writer) error {
		io.WriteString(w, strings.Repeat("new", 100_000))
		return fault
	})
	if err != fault {
		t.Errorf("error %v", err)
	}
	if err := WriteFile("other.csv", func(io.Writer) error { return fault }); err != fault {
		t.Errorf("error %v", err)
	}
	func() {
		defer func() { recover() }()
		WriteFile("out.csv", func(io.Writer) error { panic("a mistake") })
	}()
	if got := content(t, "out.csv"); got != "old" {
		t.Errorf("the old file holds %.10q", got)
	}
	if diff := cmp.Diff([]string{"out.csv"}, files(t)); diff != "" {
		t.Errorf("files (-want +got):\n%s", diff)
	}
}

func TestWriteFileKeepsTheModeAndFollowsLinks(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows has no such modes, and links need a privilege")
	}
	tree(t, "real.csv")
	if err := os.Chmod("real.csv", 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("real.csv", "link.csv"); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile("link.csv", says("new")); err != nil {
		t.Fatal(err)
	}
	info, err := os.Lstat("real.csv")
	if err != nil || info.Mode() != 0o640 || content(t, "real.csv") != "new" {
		t.Errorf("mode %v, error %v", info.Mode(), err)
	}
	if to, err := os.Readlink("link.csv"); to != "real.csv" {
		t.Errorf("the link is gone: %v", err)
	}
}

// Writing to a link whose file does not exist yet creates the file and keeps the link, as
// a shell's redirection does; links in a circle are an error.
func TestWriteFileWritesThroughLinksToFilesThatDoNotExistYet(t *testing.T) {
	tree(t, "real/x", "links/x")
	for name, target := range map[string]string{"links/out.csv": "again.csv", "links/again.csv": "../folder/new.csv", "folder": "real",
		"lost.csv": "gone/new.csv", "round.csv": "back.csv", "back.csv": "round.csv"} {
		if err := os.Symlink(target, name); err != nil {
			t.Skipf("SKIPPED: links are not supported here: %v", err)
		}
	}
	if err := WriteFile("links/out.csv", says("new")); err != nil {
		t.Fatal(err)
	}
	if got := content(t, "real/new.csv"); got != "new" {
		t.Errorf("the file holds %q", got)
	}
	for _, name := range []string{"links/out.csv", "links/again.csv"} {
		if info, err := os.Lstat(name); err != nil || info.Mode()&fs.ModeSymlink == 0 {
			t.Errorf("%s is no longer a link: %v", name, err)
		}
	}
	for name, is := range map[string]error{"lost.csv": fs.ErrNotExist, "round.csv": syscall.ELOOP} {
		if err := WriteFile(name, says("new")); !errors.Is(err, is) {
			t.Errorf("%s: error %v, want %v", name, err, is)
		}
	}
}

func TestWriteFileSaysWhatStandsInTheWay(t *testing.T) {
	tree(t, "folder/x", "file")
	for _, c := range []struct {
		path, want string
		is         error
	}{
		{"folder", "folder: a folder, not a file; name a file in it", ErrFolder},
		{filepath.Join("gone", "out.csv"), filepath.Join("gone", "out.csv") + ": its folder does not exist; create the folder, or name another", fs.ErrNotExist},
	} {
		called := false
		err := WriteFile(c.path, func(io.Writer) error { called = true; return nil })
		if err == nil || err.Error() != c.want || !errors.Is(err, c.is) || called {
			t.Errorf("%s: error %v, want %q; writing began: %v", c.path, err, c.want, called)
		}
	}
}

// The system decides who may write to a file, and not by the mode alone: root may write
// to write-protected files, and others may not write even if the owner may.
func TestTheSystemDecidesWhoMayWrite(t *testing.T) {
	tree(t, "mine", "protected")
	if err := os.Chmod("protected", 0o444); err != nil {
		t.Fatal(err)
	}
	probe, err := os.OpenFile("protected", os.O_WRONLY, 0)
	if err == nil {
		probe.Close()
	}
	may := map[string]error{"mine": nil, "protected": nil}
	if err != nil {
		may["protected"] = fs.ErrPermission
	}
	mayBeWritten(t, may)
	if info, err := os.Stat("protected"); err != nil || info.Mode().Perm() != 0o444 {
		t.Errorf("the mode is %v, %v", info.Mode(), err)
	}
}

// mayBeWritten tries to write to files that contain their own names.
func mayBeWritten(t *testing.T, may map[string]error) {
	t.Helper()
	for path, want := range may {
		called, holds := false, path
		err := WriteFile(path, func(w io.Writer) error { called = true; return says("new")(w) })
		if !errors.Is(err, want) || called != (want == nil) {
			t.Errorf("%s: error %v, want %v; writing began: %v", path, err, want, called)
		}
		if want == nil {
			holds = "new"
		}
		if got := content(t, path); got != holds {
			t.Errorf("%s holds %q", path, got)
		}
	}
}

// If files without a name are not supported, or cannot be given one, a file is written
// under a hidden name, and what a killed process has left is removed with the next output.
func TestWriteFileDoesWithoutFilesThatHaveNoName(t *testing.T) {
	t.Cleanup(func() { openUnnamed, linkUnnamed = createUnnamed, nameUnnamed })
	none := func(string) (*os.File, error) { return nil, errors.ErrUnsupported }
	unlinked := func(*os.File, string) error { return &os.LinkError{Op: "link", Err: syscall.EPERM} }
	for name, system := range map[string]struct {
		open func(string) (*os.File, error)
		link func(*os.File, string) error
	}{"none": {none, unlinked}, "no links": {createUnnamed, unlinked}} {
		openUnnamed, linkUnnamed = system.open, system.link
		tree(t, "old.csv", ".lull-kept", "a.tmp")
		if err := os.Chmod("old.csv", 0o600); err != nil {
			t.Fatal(err)
		}
		long := strings.Repeat("0123456789", 50_000)
		for _, path := range []string{"old.csv", "new.csv"} {
			if err := WriteFile(path, says(long)); err != nil || content(t, path) != long {
				t.Errorf("%s: %s: %v", name, path, err)
			}
		}
		if info, err := os.Stat("old.csv"); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s: mode %v, %v", name, info.Mode(), err)
		}
		if err := WriteFile("new.csv", func(io.Writer) error { return io.ErrUnexpectedEOF }); err != io.ErrUnexpectedEOF {
			t.Errorf("%s: %v", name, err)
		}
		if diff := cmp.Diff([]string{".lull-kept", "a.tmp", "new.csv", "old.csv"}, files(t)); diff != "" {
			t.Errorf("%s: files (-want +got):\n%s", name, diff)
		}
	}
}

// A draft that is being written is not taken for an abandoned one, however long nothing
// is written; a recent one may be about to be locked or renamed.
func TestWriteFileRemovesWhatKilledProcessesLeft(t *testing.T) {
	t.Cleanup(func() { openUnnamed = createUnnamed })
	tree(t, ".lull-young.tmp", ".lull-old.tmp", ".lull-held.tmp", "lull-other.tmp")
	long := time.Now().Add(-2 * abandonedAfter)
	for _, name := range []string{".lull-old.tmp", ".lull-held.tmp", "lull-other.tmp"} {
		if err := os.Chtimes(name, long, long); err != nil {
			t.Fatal(err)
		}
	}
	held, err := os.OpenFile(".lull-held.tmp", os.O_RDWR, 0)
	if err == nil {
		err = Lock(held)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer held.Close()
	openUnnamed = func(string) (*os.File, error) { return nil, errors.ErrUnsupported }
	err = WriteFile("out.csv", func(w io.Writer) error {
		left, err := filepath.Glob(".lull-*.tmp")
		if err != nil || len(left) != 3 { // the draft itself among them
			t.Errorf("the files left are %v, %v", left, err)
		}
		for _, draft := range left {
			if draft == ".lull-young.tmp" {
				continue
			}
			if err := os.Chtimes(draft, long, long); err != nil {
				t.Error(err)
			}
		}
		return WriteFile("other.csv", says("meanwhile"))
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{".lull-held.tmp", ".lull-young.tmp", "lull-other.tmp", "other.csv", "out.csv"}, files(t)); diff != "" {
		t.Errorf("files (-want +got):\n%s", diff)
	}
}

func TestWriteFileReportsAFullDisk(t *testing.T) {
	if info, err := os.Stat("/dev/full"); err != nil || info.Mode().IsRegular() {
		t.Skip("SKIPPED: no /dev/full here")
	}
	for name, size := range map[string]int{"within the buffer": 10, "beyond it": 1 << 20} {
		err := WriteFile("/dev/full", says(strings.Repeat("x", size)))
		if err == nil || err.Error() != "/dev/full: the disk is full; make room or choose another place" {
			t.Errorf("%s: error %v", name, err)
		}
	}
	// Even if the writer returns another error.
	err := WriteFile("/dev/full", func(w io.Writer) error {
		if _, err := w.Write(make([]byte, 1<<20)); err != nil {
			return errors.New("could not render")
		}
		return nil
	})
	if err == nil || !strings.Contains(err.Error(), "the disk is full") {
		t.Errorf("error %v", err)
	}
}

func TestWriteFileWritesDirectlyToPipesAndDescriptors(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("SKIPPED: /proc/self/fd exists on Linux only")
	}
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("/proc/self/fd", strconv.Itoa(int(write.Fd())))
	if err := WriteFile(path, says("down the pipe")); err != nil {
		t.Fatal(err)
	}
	fault := errors.New("no such metric")
	if err := WriteFile(path, func(w io.Writer) error { io.WriteString(w, "half"); return fault }); err != fault {
		t.Errorf("error %v", err)
	}
	write.Close()
	if got, _ := io.ReadAll(read); string(got) != "down the pipe" {
		t.Errorf("the pipe got %q", got)
	}

	for path, stream := range map[string]**os.File{"/dev/stdout": &os.Stdout, "/dev/stderr": &os.Stderr} {
		if _, err := os.Stat(path); err != nil {
			t.Skipf("SKIPPED: no such devices here: %v", err)
		}
		read, write, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		kept := *stream
		*stream = write
		err = WriteFile(path, says("said to "+path))
		*stream = kept
		write.Close()
		if got, _ := io.ReadAll(read); string(got) != "said to "+path || err != nil {
			t.Errorf("%s got %q, error %v", path, got, err)
		}
	}

	// Standard output is redirected to a file that is not empty.
	tree(t)
	file, err := os.OpenFile("log.txt", os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o666)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	io.WriteString(file, "before, ")
	if err := WriteFile(filepath.Join("/proc/self/fd", strconv.Itoa(int(file.Fd()))), says("behind")); err != nil {
		t.Fatal(err)
	}
	io.WriteString(file, ", after")
	if got := content(t, "log.txt"); got != "before, behind, after" {
		t.Errorf("the file holds %q", got)
	}
	for path, want := range map[string]bool{"/dev/stdout": true, "/dev/../dev/stderr": true, "/dev/fd/3": true, "/proc/self/fd/1": true,
		"/dev/shm/x": false, "/proc/self/x": false, "stdout": false, "dev/stdout": false} {
		if isDescriptor(path) != want {
			t.Errorf("%s is a descriptor: %v", path, !want)
		}
	}
}
