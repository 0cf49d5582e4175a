package source

import (
	"io/fs"
	"os"
	"runtime"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// Another user's file stays as it is, even in a folder in which everybody may create and
// rename files. If no file may be created in the folder, the error says so.
func TestAnotherUsersFileIsNotReplaced(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root can create files of several users")
	}
	tree(t, "roots", "roots-protected", "shared", "own", "own-protected", "closed/own")
	const nobody = 65534
	for path, mode := range map[string]fs.FileMode{".": 0o777, "roots": 0o644, "roots-protected": 0o444, "shared": 0o666, "own": 0o644, "own-protected": 0o444, "closed/own": 0o644} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(path, "own") {
			if err := os.Chown(path, nobody, nobody); err != nil {
				t.Fatal(err)
			}
		}
	}
	asked := make(chan struct{})
	go func() {
		defer close(asked)
		runtime.LockOSThread() // never unlocked, so that the thread ends with the goroutine, with its changed rights
		if _, err := unix.SetfsuidRetUid(nobody); err != nil {
			t.Error(err)
			return
		}
		denied := fs.ErrPermission
		mayBeWritten(t, map[string]error{"roots": denied, "roots-protected": denied, "own-protected": denied, "own": nil, "shared": nil})
		err := WriteFile("closed/own", says("new"))
		if want := "closed/own: you may not create files in its folder; change the folder's permissions, or name another folder"; err == nil || err.Error() != want {
			t.Errorf("error %v, want %q", err, want)
		}
	}()
	<-asked
}
