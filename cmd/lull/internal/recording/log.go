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

// createLog opens the log: the file that was named, or a new one named by date and time, as
// candump does.
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

// folderOf returns the folder whose disk the file lies on, "" if it is not a file.
func folderOf(path string) string {
	if path == "-" {
		return ""
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return ""
	}
	return filepath.Dir(path)
}
