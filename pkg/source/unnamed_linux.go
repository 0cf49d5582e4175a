package source

import (
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// createUnnamed creates a file in a folder that has no name there. It is gone when it
// is closed, or its process ends, unless it was given one. Not every disk has such
// files, and a name can only be given where the system shows what a process has open.
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

// nameUnnamed gives such a file a name at which nothing lies yet.
func nameUnnamed(file *os.File, path string) error {
	return unix.Linkat(unix.AT_FDCWD, opened(file), unix.AT_FDCWD, path, unix.AT_SYMLINK_FOLLOW)
}

// opened returns where the system shows a file that this process has open.
func opened(file *os.File) string { return "/proc/self/fd/" + strconv.Itoa(int(file.Fd())) }
