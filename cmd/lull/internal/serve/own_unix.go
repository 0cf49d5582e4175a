//go:build linux || darwin

package serve

import (
	"io/fs"
	"os"
	"syscall"
)

// own reports whether a file belongs to this user.
func own(info fs.FileInfo) bool {
	system, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(system.Uid) == os.Geteuid()
}
