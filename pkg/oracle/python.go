package oracle

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"testing"
)

// pythons are tried in this order. Debian's packages belong to the system's Python,
// which is often not the first in the path.
var pythons = []string{"/usr/bin/python3", "python3"}

// Python runs a script with the question as JSON on its standard input and decodes its
// standard output into answer. If no Python has the module, which the named Debian
// package contains, Python calls Missing.
func Python(t testing.TB, module, debian, script string, question, answer any) {
	t.Helper()
	path := ""
	for _, p := range pythons {
		if exec.Command(p, "-I", "-c", "import "+module).Run() == nil {
			path = p
			break
		}
	}
	if path == "" {
		Missing(t, notInstalled("Python's module "+module, debian))
	}
	in, err := json.Marshal(question)
	if err != nil {
		t.Fatal(err)
	}
	// -I keeps Python from importing files of this folder or of the user's own.
	command := exec.Command(path, "-I", "-c", script)
	var complaint bytes.Buffer
	command.Stdin, command.Stderr = bytes.NewReader(in), &complaint
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", path, err, complaint.String())
	}
	if err := json.Unmarshal(out, answer); err != nil {
		t.Fatalf("%v in %.400q", err, out)
	}
}
