package oracle

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// This runs the script that installs what Program and Python ask for, on a machine that
// has next to nothing and where nothing can be installed.
func TestToolsThatCannotBeInstalledAreNamedAndFailWhereCIIsSet(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("SKIPPED: no shell scripts on Windows")
	}
	folder := t.TempDir()
	for _, program := range []string{"id", "go"} {
		path, err := exec.LookPath(program)
		if err == nil {
			err = os.Symlink(path, filepath.Join(folder, program))
		}
		if err != nil {
			t.Skipf("SKIPPED: %v", err)
		}
	}
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("SKIPPED: no bash here")
	}
	for _, ci := range []string{"", "true"} {
		command := exec.Command(bash, "../../.ci/tools")
		command.Env = []string{"PATH=" + folder, "CI=" + ci}
		said, err := command.CombinedOutput()
		if (err != nil) != (ci != "") {
			t.Errorf("CI=%q: %v", ci, err)
		}
		for _, name := range []string{"text2pcap", "pdftotext", "soffice", "chromium"} {
			if !strings.Contains(string(said), "tools: SKIPPED: "+name+" is not here (Debian: ") {
				t.Errorf("CI=%q: nothing is said of %s:\n%s", ci, name, said)
			}
		}
	}
}
