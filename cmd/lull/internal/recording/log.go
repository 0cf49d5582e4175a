package recording

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"lull/pkg/source"
)

// createLog opens what is recorded into: the file that was named, or a new one whose
// name is made of date and time, as candump's are.
func createLog(path string, now time.Time) (string, *source.Growing, error) {
	if path != "" {
		file, err := source.Create(path)
		return path, file, err
	}
	stem := "lull-" + now.Format("2006-01-02_150405")
	for n := 1; ; n++ {
		name := stem + ".log"
		if n > 1 {
			name = fmt.Sprintf("%s-%d.log", stem, n)
		}
		file, err := source.CreateNew(name)
		if !errors.Is(err, fs.ErrExist) && !errors.Is(err, source.ErrLocked) {
			return name, file, err
		}
	}
}

// folderOf is the folder whose disk a file lies on; "" where it is no file.
func folderOf(path string) string {
	if path == "-" {
		return ""
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return ""
	}
	return filepath.Dir(path)
}
