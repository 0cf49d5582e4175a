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
	lockless    = time.Minute // longer than it takes to lock a new folder
)

// newRoot makes a private folder for what is dropped, and holds a lock in it for as long as
// the process lives. It removes the folders of servers that were killed before they could.
func newRoot(parent string) (root string, lock *os.File, err error) {
	removeStale(parent)
	for range 10 { // another server may remove it before it is locked
		if root, err = os.MkdirTemp(parent, rootPattern); err != nil {
			return "", nil, err
		}
		if lock, err = hold(root); err == nil {
			return root, lock, nil
		}
		_ = os.RemoveAll(root)
	}
	return "", nil, err
}

// hold makes and takes the lock of a new folder.
func hold(root string) (*os.File, error) {
	lock, err := os.OpenFile(filepath.Join(root, lockName), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	if err = source.Lock(lock); err == nil {
		if _, err = os.Stat(lock.Name()); err == nil { // it was not removed meanwhile
			return lock, nil
		}
	}
	_ = lock.Close()
	return nil, err
}

// removeStale removes the user's own folders whose lock nobody holds. Those of other users
// are not looked into: anything may be there under the lock's name.
func removeStale(parent string) {
	entries, _ := os.ReadDir(parent) // newRoot tells what is wrong with it
	for _, entry := range entries {
		if prefix, _, _ := strings.Cut(rootPattern, "*"); !strings.HasPrefix(entry.Name(), prefix) {
			continue
		}
		root := filepath.Join(parent, entry.Name())
		info, err := os.Lstat(root)
		if err != nil || !info.IsDir() || !own(info) {
			continue // a link may lead anywhere
		}
		lock, err := os.OpenFile(filepath.Join(root, lockName), os.O_RDWR, 0)
		switch {
		case err == nil && source.Lock(lock) == nil:
			_ = removeRoot(root, lock) // the next start tries again
		case err == nil:
			_ = lock.Close()
		case os.IsNotExist(err) && time.Since(info.ModTime()) > lockless:
			_ = os.RemoveAll(root)
		}
	}
}

// removeRoot removes a folder whose lock is held. The lock goes last: should this process
// be killed, the next start knows by it whose the rest is.
func removeRoot(root string, lock *os.File) (err error) {
	defer lock.Close()
	entries, _ := os.ReadDir(root) // RemoveAll tells what is wrong with it
	for _, entry := range entries {
		if entry.Name() == lockName {
			continue
		}
		if one := os.RemoveAll(filepath.Join(root, entry.Name())); err == nil {
			err = one
		}
	}
	if err != nil {
		return err
	}
	_ = os.Remove(lock.Name())
	_ = lock.Close() // some systems remove no file that is open
	return os.RemoveAll(root)
}
