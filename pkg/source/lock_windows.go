package source

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// forLog is how a file is opened that is recorded into: what may only be appended to
// cannot be locked here, so that it is opened to be read, too.
const forLog = os.O_RDWR | os.O_APPEND

// Lock locks a file, for who asks for it in the same way, until it is closed or the
// process ends. ErrLocked is told where somebody else holds it; other errors where the
// file cannot be locked at all. What is locked cannot be read by others here, so that
// it is a byte that no file has.
func Lock(file *os.File) error {
	beyond := &windows.Overlapped{OffsetHigh: 1<<31 - 1}
	err := windows.LockFileEx(windows.Handle(file.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, beyond)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return ErrLocked
	}
	return err
}
