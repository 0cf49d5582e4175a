package source

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Stdin is the path that means standard input.
const Stdin = "-"

// Input is one log to be read.
type Input struct {
	Path string // "-" is standard input
	// Name is what reports show: the base name, and where two are alike the
	// shortest tail of the path, with forward slashes, that tells them apart.
	Name string
	// Folder is the argument that the input was found in, empty where the file
	// itself was named.
	Folder string
	// Kept holds all of an input that can be read only once; nil: it is read from
	// where it lies.
	Kept *os.File
}

// notLogs are endings of what lies beside logs in a job's folder: signal maps,
// what lull itself writes, pictures and documents.
var notLogs = map[string]bool{
	".yaml": true, ".yml": true,
	".json": true, ".ndjson": true, ".csv": true, ".md": true, ".xlsx": true, ".html": true, ".htm": true, ".pdf": true,
	".png": true, ".jpg": true, ".jpeg": true, ".svg": true, ".doc": true, ".docx": true, ".odt": true, ".xls": true, ".ods": true,
}

// Expand turns arguments into inputs, in their order. A folder means the logs in
// it by name: not its subfolders, hidden files and backups (see PassedOver), maps,
// outputs and documents. A
// file that is named twice, itself or by its folder, is taken once.
//
// Files that do not exist are inputs too; Open tells about them. A folder that
// cannot be read or has no logs is an error; the inputs of the other arguments
// are returned beside it, and several errors are joined.
func Expand(args []string) ([]Input, error) {
	var inputs []Input
	var failed []error
	seen := make(map[string]bool)
	add := func(in Input) {
		if key := absolute(in.Path); !seen[key] {
			seen[key] = true
			inputs = append(inputs, in)
		}
	}
	for _, arg := range args {
		if info, err := os.Stat(arg); arg == Stdin || err != nil || !info.IsDir() {
			add(Input{Path: arg})
			continue
		}
		paths, err := logsIn(arg)
		if err != nil {
			failed = append(failed, err)
		}
		for _, path := range paths {
			add(Input{Path: path, Folder: arg})
		}
	}
	NameAll(inputs)
	return inputs, errors.Join(failed...)
}

// logsIn lists the logs of a folder by name.
func logsIn(folder string) ([]string, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, plain(folder, err)
	}
	var paths []string
	for _, entry := range entries {
		name := entry.Name()
		path := filepath.Join(folder, name)
		if isAside(name) || notLogs[strings.ToLower(filepath.Ext(name))] {
			continue
		}
		mode := entry.Type()
		if mode&fs.ModeSymlink != 0 {
			// A link that leads nowhere is kept, so that its error is seen.
			if info, err := os.Stat(path); err == nil {
				mode = info.Mode().Type()
			} else {
				mode = 0
			}
		}
		if mode.IsRegular() {
			paths = append(paths, path)
		}
	}
	if len(paths) == 0 {
		hint := "name the folder that the logs lie in; its subfolders are not looked into"
		if aside := PassedOver(folder); len(aside) > 0 {
			hint = "its hidden files and backups are passed over; name one to read it, such as " + filepath.Join(folder, aside[0])
		}
		return nil, &Error{Path: folder, Why: "a folder without logs", Hint: hint, Err: ErrNoLogs}
	}
	return paths, nil
}

// isAside reports whether a name is that of a hidden file or of a backup, which lies
// beside the logs and is most likely one of them once more.
func isAside(name string) bool {
	return strings.HasPrefix(name, ".") || strings.HasSuffix(name, "~") || strings.EqualFold(filepath.Ext(name), ".bak")
}

// PassedOver lists the hidden files and backups that Expand does not take from a
// folder, by name. It is empty for what is no folder.
func PassedOver(folder string) []string {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil // Expand tells
	}
	var names []string
	for _, entry := range entries {
		if isAside(entry.Name()) && entry.Type().IsRegular() {
			names = append(names, entry.Name())
		}
	}
	return names
}

// NameAll gives each input the shortest name that tells it from all the others.
func NameAll(inputs []Input) {
	paths := make([][]string, len(inputs))
	tails := make(map[string]int) // how many different paths end so
	counted := make(map[string]bool)
	for i := range inputs {
		whole := filepath.ToSlash(absolute(inputs[i].Path))
		paths[i] = strings.Split(whole, "/")
		if counted[whole] {
			continue
		}
		counted[whole] = true
		for n := 1; n <= len(paths[i]); n++ {
			tails[tail(paths[i], n)]++
		}
	}
	for i := range inputs {
		if inputs[i].Path == Stdin {
			inputs[i].Name = "standard input"
			continue
		}
		n := 1
		for n < len(paths[i]) && tails[tail(paths[i], n)] > 1 {
			n++
		}
		inputs[i].Name = tail(paths[i], n)
	}
}

func tail(parts []string, n int) string { return strings.Join(parts[len(parts)-n:], "/") }

// absolute returns the path from the root, as far as that can be told.
func absolute(path string) string {
	if path == Stdin {
		return path
	}
	if whole, err := filepath.Abs(path); err == nil {
		return whole
	}
	return filepath.Clean(path)
}

// SortByStart orders inputs by the start that startOf tells, which is called
// once for each. Those without a start come last, in the order that they had.
func SortByStart(inputs []Input, startOf func(Input) (int64, bool)) {
	type started struct {
		input Input
		start int64
		known bool
	}
	list := make([]started, len(inputs))
	for i, in := range inputs {
		list[i].input = in
		list[i].start, list[i].known = startOf(in)
	}
	slices.SortStableFunc(list, func(a, b started) int {
		switch {
		case a.known != b.known:
			if a.known {
				return -1
			}
			return 1
		case a.known && a.start < b.start:
			return -1
		case a.known && a.start > b.start:
			return 1
		}
		return 0
	})
	for i := range list {
		inputs[i] = list[i].input
	}
}

// SortFolders orders the logs of each folder by start and leaves everything that
// was named itself where it is.
func SortFolders(inputs []Input, startOf func(Input) (int64, bool)) {
	for from := 0; from < len(inputs); {
		to := from + 1
		for to < len(inputs) && inputs[to].Folder == inputs[from].Folder {
			to++
		}
		if inputs[from].Folder != "" && to-from > 1 {
			SortByStart(inputs[from:to], startOf)
		}
		from = to
	}
}
