//go:build linux || darwin

package source

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// recordFlags are the flags with which a file is opened to be recorded into.
const recordFlags = os.O_WRONLY | os.O_APPEND

// Lock locks a file against other callers of Lock until it is closed or the process
// ends. It returns ErrLocked if another process holds the lock, and other errors if the
// file cannot be locked at all.
func Lock(file *os.File) error {
	for {
		switch err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB); {
		case errors.Is(err, unix.EWOULDBLOCK):
			return ErrLocked
		case !errors.Is(err, unix.EINTR):
			return err
		}
	}
}
