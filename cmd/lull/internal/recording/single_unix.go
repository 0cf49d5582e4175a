//go:build linux || darwin

package recording

import (
	"errors"

	"golang.org/x/sys/unix"
)

// SingleKeys has a terminal give each key as it is pressed and not show it. Ctrl-C still
// interrupts; what would suspend or abort the program, and leave the terminal so, is off.
func SingleKeys(fd int) (restore func(), err error) {
	// A program in the background that changes its terminal is stopped.
	if front, err := unix.IoctlGetInt(fd, unix.TIOCGPGRP); err == nil && front != unix.Getpgrp() {
		return nil, errors.New("lull runs in the background")
	}
	was, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return nil, err
	}
	single := *was
	single.Lflag &^= unix.ICANON | unix.ECHO
	single.Cc[unix.VMIN], single.Cc[unix.VTIME] = 1, 0
	single.Cc[unix.VSUSP], single.Cc[unix.VQUIT] = noKey, noKey
	if err := unix.IoctlSetTermios(fd, setTermios, &single); err != nil {
		return nil, err
	}
	return func() { _ = unix.IoctlSetTermios(fd, setTermios, was) }, nil // the terminal may be gone
}
