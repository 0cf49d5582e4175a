package source

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// tree creates files that contain their own name in a new folder, and makes that folder
// the working directory.
func tree(t *testing.T, files ...string) string {
	t.Helper()
	root := t.TempDir()
	t.Chdir(root)
	for _, name := range files {
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(name), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func TestExpandTakesTheLogsOfAFolderByName(t *testing.T) {
	tree(t, "job/b.log", "job/a.log.gz", "job/candump", "job/c.txt",
		"job/map.yaml", "job/MAP.YML", "job/out.json", "job/out.ndjson", "job/out.csv", "job/notes.md", "job/t.XLSX", "job/r.html", "job/r.pdf", "job/photo.jpg",
		"job/.hidden", "job/old.log~", "job/a.log.BAK", "job/sub/deeper.log", "single.log")
	inputs, err := Expand([]string{"single.log", "job", "-"})
	if err != nil {
		t.Fatal(err)
	}
	want := []Input{
		{Path: "single.log", Name: "single.log"},
		{Path: filepath.Join("job", "a.log.gz"), Name: "a.log.gz", Folder: "job"},
		{Path: filepath.Join("job", "b.log"), Name: "b.log", Folder: "job"},
		{Path: filepath.Join("job", "c.txt"), Name: "c.txt", Folder: "job"},
		{Path: filepath.Join("job", "candump"), Name: "candump", Folder: "job"},
		{Path: "-", Name: "standard input"},
	}
	if diff := cmp.Diff(want, inputs); diff != "" {
		t.Errorf("inputs (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{".hidden", "a.log.BAK", "old.log~"}, PassedOver("job")); diff != "" {
		t.Errorf("passed over (-want +got):\n%s", diff)
	}
	if got := PassedOver("single.log"); got != nil {
		t.Errorf("passed over in a file: %q", got)
	}
}

// A backup that is named directly is read like any other file.
func TestABackupIsTakenIfItIsNamed(t *testing.T) {
	tree(t, "job/a.log.bak")
	inputs, err := Expand([]string{filepath.Join("job", "a.log.bak")})
	if err != nil || len(inputs) != 1 {
		t.Errorf("%v, %v", inputs, err)
	}
	_, err = Expand([]string{"job"})
	if want := "job: holds no log: skipped a.log.bak (hidden, or a backup); to read one, name it: " + filepath.Join("job", "a.log.bak"); err == nil || err.Error() != want {
		t.Errorf("error %q\nwant  %q", err, want)
	}
}

func TestExpandFollowsLinksToFilesButNotToFolders(t *testing.T) {
	tree(t, "real/a.log", "job/b.log")
	for name, target := range map[string]string{"job/link.log": "../real/a.log", "job/folder": "../real", "job/nowhere.log": "gone"} {
		if err := os.Symlink(target, name); err != nil {
			t.Skipf("SKIPPED: links are not supported here: %v", err)
		}
	}
	inputs, err := Expand([]string{"job"})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, in := range inputs {
		names = append(names, in.Name)
	}
	if diff := cmp.Diff([]string{"b.log", "link.log", "nowhere.log"}, names); diff != "" {
		t.Errorf("names (-want +got):\n%s", diff)
	}
}

func TestExpandSaysWhichFolderHasNoLogsAndKeepsTheRest(t *testing.T) {
	tree(t, "empty/map.yaml", "none/sub/a.log", "a.log")
	inputs, err := Expand([]string{"empty", "a.log", "none", "gone.log"})
	if !errors.Is(err, ErrNoLogs) {
		t.Fatalf("error %v", err)
	}
	const advice = "; name the folder that contains the logs; subfolders are not searched"
	if got, want := err.Error(), "empty: holds no log: skipped map.yaml (no log by its name)"+advice+"\nnone: holds no log: skipped 1 subfolder"+advice; got != want {
		t.Errorf("error %q\nwant  %q", got, want)
	}
	want := []Input{{Path: "a.log", Name: "a.log"}, {Path: "gone.log", Name: "gone.log"}}
	if diff := cmp.Diff(want, inputs); diff != "" {
		t.Errorf("inputs (-want +got):\n%s", diff)
	}
}

func TestWhatOfAFolderIsSkippedIsNamed(t *testing.T) {
	tree(t, "job/a.log", "job/map.yaml", "job/a.PNG", "job/b.csv", "job/c.csv", "job/d.csv", "job/e.csv", "job/f.csv", "job/.hid", "job/one/x", "job/two/x", "plain/a.log")
	want := "a.PNG, b.csv, c.csv, d.csv, e.csv and 2 more (no logs by their names), .hid (hidden, or a backup) and 2 subfolders"
	if got := Skipped("job"); got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
	for _, folder := range []string{"plain", "none"} {
		if got := Skipped(folder); got != "" {
			t.Errorf("%s: %q", folder, got)
		}
	}
	if err := os.Mkdir("bare", 0o777); err != nil {
		t.Fatal(err)
	}
	if _, err := Expand([]string{"bare"}); err == nil || !strings.HasPrefix(err.Error(), "bare: holds no log: it is empty; ") {
		t.Errorf("error %v", err)
	}
}

func TestExpandOfAFolderThatCannotBeRead(t *testing.T) {
	tree(t, "job/a.log")
	if err := os.Chmod("job", 0); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod("job", 0o777)
	if _, err := os.ReadDir("job"); err == nil {
		t.Skip("permission bits do not bind this user or system")
	}
	if _, err := Expand([]string{"job"}); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("error %v", err)
	}
}

func TestAFileNamedTwiceIsTakenOnce(t *testing.T) {
	root := tree(t, "job/a.log", "job/b.log")
	inputs, err := Expand([]string{"job/b.log", "job", "./job/", filepath.Join(root, "job", "a.log"), "-", "-"})
	if err != nil {
		t.Fatal(err)
	}
	want := []Input{
		{Path: "job/b.log", Name: "b.log"},
		{Path: filepath.Join("job", "a.log"), Name: "a.log", Folder: "job"},
		{Path: "-", Name: "standard input"},
	}
	if diff := cmp.Diff(want, inputs); diff != "" {
		t.Errorf("inputs (-want +got):\n%s", diff)
	}
}

func TestNamesAreTheShortestThatTellTheInputsApart(t *testing.T) {
	tests := []struct{ paths, want []string }{
		{[]string{"a.log", "b.log"}, []string{"a.log", "b.log"}},
		{[]string{"before/a.log", "after/a.log", "after/b.log"}, []string{"before/a.log", "after/a.log", "b.log"}},
		{[]string{"x/1/a.log", "y/1/a.log", "x/2/a.log"}, []string{"x/1/a.log", "y/1/a.log", "2/a.log"}},
		{[]string{"/w/job/a.log", "/w/job/sub/a.log"}, []string{"job/a.log", "sub/a.log"}},
		{[]string{"/a.log", "/w/a.log"}, []string{"/a.log", "w/a.log"}},
		{[]string{"one/a.log", "one/./a.log", "two/a.log"}, []string{"one/a.log", "one/a.log", "two/a.log"}},
		{[]string{"-", "a.log"}, []string{"standard input", "a.log"}},
	}
	for _, c := range tests {
		if runtime.GOOS == "windows" && filepath.ToSlash(c.paths[0])[0] == '/' {
			continue // absolute paths look different there
		}
		var inputs []Input
		for _, path := range c.paths {
			inputs = append(inputs, Input{Path: path})
		}
		NameAll(inputs)
		var names []string
		for _, in := range inputs {
			names = append(names, in.Name)
		}
		if diff := cmp.Diff(c.want, names); diff != "" {
			t.Errorf("%v (-want +got):\n%s", c.paths, diff)
		}
	}
}

func TestSortingByStart(t *testing.T) {
	starts := map[string]int64{"late": 30, "early": 10, "middle": 20, "middle2": 20}
	asked := 0
	startOf := func(in Input) (int64, bool) {
		asked++
		s, known := starts[in.Path]
		return s, known
	}
	build := func(names ...string) (list []Input) {
		for _, n := range names {
			folder := ""
			if n[0] == '/' {
				n, folder = n[1:], "job"
			} else if n[0] == '+' {
				n, folder = n[1:], "other"
			}
			list = append(list, Input{Path: n, Folder: folder})
		}
		return list
	}
	all := build("undated", "late", "middle", "none", "early", "middle2")
	SortByStart(all, startOf)
	if diff := cmp.Diff(build("early", "middle", "middle2", "late", "undated", "none"), all); diff != "" {
		t.Errorf("all (-want +got):\n%s", diff)
	}
	if asked != 6 {
		t.Errorf("asked %d times for 6 inputs", asked)
	}
	mixed := build("late", "early", "/late", "/undated", "/early", "+late", "+middle", "middle")
	SortFolders(mixed, startOf)
	if diff := cmp.Diff(build("late", "early", "/early", "/late", "/undated", "+middle", "+late", "middle"), mixed); diff != "" {
		t.Errorf("folders (-want +got):\n%s", diff)
	}
	asked = 0
	one := build("late", "+early", "middle")
	same := slices.Clone(one)
	SortFolders(one, startOf)
	if diff := cmp.Diff(same, one, cmpopts.EquateEmpty()); diff != "" || asked != 0 {
		t.Errorf("asked %d times where there is nothing to sort; (-want +got):\n%s", asked, diff)
	}
}
