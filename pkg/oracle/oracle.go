// Package oracle asks independent programs what they say to the same question.
// It is for tests alone and never part of lull. Start with Python and Program.
package oracle

import (
	"fmt"
	"os"
	"os/exec"
	"testing"
)

// Missing ends a test that needs what is not installed, as why says: it is skipped
// and says so, and fails where CI is set, since there everything must be tried.
func Missing(t testing.TB, why string) {
	t.Helper()
	if os.Getenv("CI") != "" {
		t.Fatalf("%s; make tools installs it", why)
	}
	t.Skipf("SKIPPED: %s; make tools installs it", why)
}

func notInstalled(what, debian string) string {
	return fmt.Sprintf("%s is not installed (Debian: %s)", what, debian)
}

// Program returns the path of a program, which the Debian package has. Where it is not
// installed it is Missing.
func Program(t testing.TB, name, debian string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		Missing(t, notInstalled(name, debian))
	}
	return path
}
