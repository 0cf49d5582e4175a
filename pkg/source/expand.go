package source

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Stdin is the path that means standard input.
const Stdin = "-"

// Input is one log to be read.
type Input struct {
	Path string // "-" is standard input
	// Name is what reports show: the base name, or if several inputs have the same
	// base name, the shortest tail of the path that tells them apart, with forward
	// slashes.
	Name string
	// Folder is the argument in which the input was found. It is empty if the file
	// itself was named.
	Folder string
	// Kept is a copy of an input that can be read only once. If it is nil, the input
	// is read from Path.
	Kept *os.File
}

// notLogs holds the extensions of other files in folders of logs: signal maps, lull's own
// output, pictures and documents.
var notLogs = map[string]bool{
	".yaml": true, ".yml": true,
	".json": true, ".ndjson": true, ".csv": true, ".md": true, ".xlsx": true, ".html": true, ".htm": true, ".pdf": true,
	".png": true, ".jpg": true, ".jpeg": true, ".svg": true, ".doc": true, ".docx": true, ".odt": true, ".xls": true, ".ods": true,
}

// Expand turns arguments into inputs, in the order of the arguments. A folder stands for
// the logs in it, sorted by name: it leaves out subfolders, hidden files and backups (see
// PassedOver), maps, outputs and documents. A file that is named twice, directly or by
// its folder, is taken once.
//
// Files that do not exist are inputs, too; Open reports them. A folder that cannot be
// read or contains no logs is an error. Expand then still returns the inputs of the other
// arguments, and joins several errors.
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
		if isHiddenOrBackup(name) || notLogs[strings.ToLower(filepath.Ext(name))] {
			continue
		}
		mode := entry.Type()
		if mode&fs.ModeSymlink != 0 {
			// A link that leads nowhere is kept, so that its error is reported.
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
		hint := "name the folder that contains the logs; subfolders are not searched"
		if passed := PassedOver(folder); len(passed) > 0 {
			hint = "to read one, name it: " + filepath.Join(folder, passed[0])
		}
		why := "it is empty"
		if skipped := Skipped(folder); skipped != "" {
			why = "skipped " + skipped
		}
		return nil, &Error{Path: folder, Why: "holds no log: " + why, Hint: hint, Err: ErrNoLogs}
	}
	return paths, nil
}

// Skipped describes what Expand leaves out of a folder, such as "map.yaml (no log by its
// name) and 2 subfolders". It is empty if Expand leaves out nothing.
func Skipped(folder string) string {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return "" // Expand reports the error
	}
	var others, hidden []string
	folders := 0
	for _, entry := range entries {
		switch name := entry.Name(); {
		case isHiddenOrBackup(name):
			hidden = append(hidden, name)
		case entry.IsDir():
			folders++
		case notLogs[strings.ToLower(filepath.Ext(name))]:
			others = append(others, name)
		}
	}
	var parts []string
	if len(others) > 0 {
		parts = append(parts, few(others)+" (no "+plural(len(others), "log by its name", "logs by their names")+")")
	}
	if len(hidden) > 0 {
		parts = append(parts, few(hidden)+" (hidden, or "+plural(len(hidden), "a backup", "backups")+")")
	}
	if folders > 0 {
		parts = append(parts, strconv.Itoa(folders)+" "+plural(folders, "subfolder", "subfolders"))
	}
	if n := len(parts) - 1; n > 0 {
		return strings.Join(parts[:n], ", ") + " and " + parts[n]
	}
	return strings.Join(parts, "")
}

// few joins names, and counts those beyond the first few.
func few(names []string) string {
	const most = 5
	if more := len(names) - most; more > 1 {
		return strings.Join(names[:most], ", ") + " and " + strconv.Itoa(more) + " more"
	}
	return strings.Join(names, ", ")
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// isHiddenOrBackup reports whether a name is that of a hidden file or a backup, which is
// most likely a copy of one of the logs.
func isHiddenOrBackup(name string) bool {
	return strings.HasPrefix(name, ".") || strings.HasSuffix(name, "~") || strings.EqualFold(filepath.Ext(name), ".bak")
}

// PassedOver returns the names of the hidden files and backups in a folder, which Expand
// leaves out. It returns none if folder is not a folder.
func PassedOver(folder string) []string {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil // Expand reports the error
	}
	var names []string
	for _, entry := range entries {
		if isHiddenOrBackup(entry.Name()) && entry.Type().IsRegular() {
			names = append(names, entry.Name())
		}
	}
	return names
}

// NameAll sets the Name of each input to the shortest one that tells it apart from all
// others.
func NameAll(inputs []Input) {
	paths := make([][]string, len(inputs))
	tails := make(map[string]int) // how many different paths have this tail
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

// absolute returns the path from the root, or the cleaned path if that is unknown.
func absolute(path string) string {
	if path == Stdin {
		return path
	}
	if whole, err := filepath.Abs(path); err == nil {
		return whole
	}
	return filepath.Clean(path)
}

// SortByStart sorts inputs by the start that startOf returns for them. startOf is called
// once for each input. Inputs without a start come last, in their original order.
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

// SortFolders sorts the logs of each folder by start. Inputs that were named directly
// stay where they are.
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
