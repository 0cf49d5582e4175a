package source

import (
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// createUnnamed creates a file without a name in a folder. Unless nameUnnamed gives it a
// name, the file disappears when it is closed or the process ends. Not every file system
// supports such files, and naming one requires /proc/self/fd.
func createUnnamed(folder string) (*os.File, error) {
	file, err := os.OpenFile(folder, os.O_RDWR|unix.O_TMPFILE, 0o666)
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(opened(file)); err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}

// nameUnnamed gives such a file a name. It fails if the name is taken.
func nameUnnamed(file *os.File, path string) error {
	return unix.Linkat(unix.AT_FDCWD, opened(file), unix.AT_FDCWD, path, unix.AT_SYMLINK_FOLLOW)
}

// opened returns the path under /proc of an open file of this process.
func opened(file *os.File) string { return "/proc/self/fd/" + strconv.Itoa(int(file.Fd())) }
