//go:build linux || darwin

package serve

import (
	"io/fs"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// tryLock locks a file until it is closed or the process ends; an error where
// another process holds it.
func tryLock(file *os.File) error { return unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB) }

// own tells whether a file belongs to this user.
func own(info fs.FileInfo) bool {
	system, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(system.Uid) == os.Geteuid()
}
