package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestEveryKindOfChangeIsMade(t *testing.T) {
	source := `package p

func f(a, b int, on bool) bool {
	if a < b && on {
		return min(a, 10) == 0x1F
	}
	switch {
	case on:
		return 0.05 > 1.5e3
	}
	return a+b != 0
}
`
	mutants, err := mutate("p.go", []byte(source))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, m := range mutants {
		got = append(got, m.is)
		if n := strings.Count(source, "\n"); strings.Count(string(m.source), "\n") != n || string(m.source) == source {
			t.Errorf("%s: %s", m.is, m.source)
		}
	}
	want := []string{
		"if !(a < b && on) {", "if (a < b) {", "if (on) {", "if a <= b && on {",
		"return min(a, 10) != 0x1F", "return max(a, 10) == 0x1F", "return min(a, 9) == 0x1F", "return min(a, 11) == 0x1F", "return min(a, 10) == 30", "return min(a, 10) == 32",
		"case !(on):",
		"return 0.05 >= 1.5e3", "return 0.04 > 1.5e3", "return 0.06 > 1.5e3", "return 0.05 > 1.4e3", "return 0.05 > 1.6e3",
		"return a+b == 0", "return a-b != 0", "return a+b != 1",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("changes (-want +got):\n%s", diff)
	}
}

// What happens at 10 is not tested. A second run goes on from the first one and tries
// neither what was killed nor what was accepted.
func TestWhatNoTestNoticesIsTold(t *testing.T) {
	if _, err := exec.LookPath("sh"); err != nil || testing.Short() {
		t.Skip("SKIPPED: it builds a package five times, by a shell")
	}
	folder := t.TempDir()
	for name, text := range map[string]string{
		"go.mod":    "module p\n\ngo 1.26\n",
		"p.go":      "package p\n\nfunc small(n int) bool {\n\treturn n < 10\n}\n",
		"p_test.go": "package p\n\nimport \"testing\"\n\nfunc TestSmall(t *testing.T) {\n\tif !small(9) || small(11) {\n\t\tt.Fail()\n\t}\n}\n",
	} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(folder)
	const survivors = "p.go:4\treturn n < 10\treturn n <= 10\np.go:4\treturn n < 10\treturn n < 11\n"
	for _, round := range []struct{ accepted, want string }{
		{"", survivors + "1 killed, 2 survived, 0 survived and are known to be no holes, 0 do not build\n"},
		{"# why\n" + strings.ReplaceAll(survivors, "\n", "\tno difference\n"), "1 killed, 0 survived, 2 survived and are known to be no holes, 0 do not build\n"},
	} {
		if err := os.WriteFile("accepted.txt", []byte(round.accepted), 0o666); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if _, err := run(&out, "accepted.txt", "done.txt", "", []string{"./..."}); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(round.want, out.String()); diff != "" {
			t.Errorf("told (-want +got):\n%s", diff)
		}
		if done, err := os.ReadFile("done.txt"); string(done) != "p.go\treturn n < 10\treturn n < 9\n" {
			t.Errorf("killed: %q, %v", done, err)
		}
	}
}
