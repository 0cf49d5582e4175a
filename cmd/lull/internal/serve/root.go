package serve

import (
	"os"
	"path/filepath"
	"strings"
	"time"

	"lull/pkg/source"
)

const (
	rootPattern = "lull-serve-*"
	lockName    = "lock"
	unlocked    = 10 * time.Second // longer than a new lock takes to be held
)

// newRoot makes a folder for what is dropped, into which only its owner may look,
// and holds a lock in it for as long as the process lives. Folders of servers that
// could not remove theirs, because they were killed, are removed.
func newRoot(parent string) (root string, lock *os.File, err error) {
	removeStale(parent)
	if root, err = os.MkdirTemp(parent, rootPattern); err != nil {
		return "", nil, err
	}
	lock, err = os.OpenFile(filepath.Join(root, lockName), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err == nil {
		if err = source.Lock(lock); err == nil {
			return root, lock, nil
		}
		_ = lock.Close()
	}
	_ = os.RemoveAll(root)
	return "", nil, err
}

// removeStale removes the user's own folders whose lock nobody holds. Those of other
// users stay and are not looked into: anything may lie there under the lock's name.
func removeStale(parent string) {
	entries, _ := os.ReadDir(parent) // newRoot tells what is wrong with it
	for _, entry := range entries {
		if prefix, _, _ := strings.Cut(rootPattern, "*"); !strings.HasPrefix(entry.Name(), prefix) {
			continue
		}
		root := filepath.Join(parent, entry.Name())
		if info, err := os.Lstat(root); err != nil || !info.IsDir() || !own(info) {
			continue // a link may lead anywhere
		}
		lock, err := os.OpenFile(filepath.Join(root, lockName), os.O_RDWR, 0)
		if err != nil {
			continue
		}
		info, err := lock.Stat()
		stale := err == nil && time.Since(info.ModTime()) > unlocked && source.Lock(lock) == nil
		_ = lock.Close()
		if stale {
			_ = os.RemoveAll(root) // the next start tries again
		}
	}
}
