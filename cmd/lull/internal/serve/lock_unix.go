//go:build linux || darwin

package serve

import (
	"os"

	"golang.org/x/sys/unix"
)

// tryLock locks a file until it is closed or the process ends; an error where
// another process holds it.
func tryLock(file *os.File) error { return unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB) }
