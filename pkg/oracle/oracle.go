// Package oracle runs independent programs whose answers tests compare with lull's,
// and says when tests have to skip. Only tests use it. Start with Python and Program.
package oracle

import (
	"fmt"
	"os"
	"os/exec"
	"testing"
)

// Missing ends a test that needs a program that is not installed; why names it. The test
// is skipped, or fails if the environment variable CI is set, since no test may be
// skipped there.
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

// Program returns the path of a program, which the named Debian package contains. If the
// program is not installed, Program calls Missing.
func Program(t testing.TB, name, debian string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		Missing(t, notInstalled(name, debian))
	}
	return path
}
