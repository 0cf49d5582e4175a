package serve

import (
	"io/fs"
	"os"

	"golang.org/x/sys/windows"
)

// tryLock locks a file until it is closed or the process ends; an error where
// another process holds it.
func tryLock(file *os.File) error {
	return windows.LockFileEx(windows.Handle(file.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &windows.Overlapped{})
}

// own tells whether a file belongs to this user: each has a folder for temporary
// files to himself here.
func own(fs.FileInfo) bool { return true }
