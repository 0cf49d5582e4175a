//go:build linux || darwin

package source

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// forLog is how a file is opened that is recorded into.
const forLog = os.O_WRONLY | os.O_APPEND

// Lock locks a file, for who asks for it in the same way, until it is closed or the
// process ends. ErrLocked is told where somebody else holds it; other errors where the
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
