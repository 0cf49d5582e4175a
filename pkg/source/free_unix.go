//go:build linux || darwin

package source

import "golang.org/x/sys/unix"

// Free returns how many bytes this user may still write to the disk of a folder.
func Free(folder string) (int64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(folder, &s); err != nil {
		return 0, plain(folder, err)
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}
