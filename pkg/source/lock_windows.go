package source

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// recordFlags are the flags with which a file is opened to be recorded into. Windows
// cannot lock a file that is open for appending alone, so it is opened for reading, too.
const recordFlags = os.O_RDWR | os.O_APPEND

// Lock locks a file against other callers of Lock until it is closed or the process
// ends. It returns ErrLocked if another process holds the lock, and other errors if the
// file cannot be locked at all. Windows does not let others read locked bytes, so Lock
// locks a byte beyond the end of any file.
func Lock(file *os.File) error {
	beyond := &windows.Overlapped{OffsetHigh: 1<<31 - 1}
	err := windows.LockFileEx(windows.Handle(file.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, beyond)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return ErrLocked
	}
	return err
}
