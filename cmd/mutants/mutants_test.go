package main

import (
	"bytes"
	"fmt"
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
	module(t, map[string]string{
		"p.go":      "package p\n\nfunc small(n int) bool {\n\treturn n < 10\n}\n",
		"p_test.go": "package p\n\nimport \"testing\"\n\nfunc TestSmall(t *testing.T) {\n\tif !small(9) || small(11) {\n\t\tt.Fail()\n\t}\n}\n",
	})
	const survivors = "p.go:4\treturn n < 10\treturn n <= 10\np.go:4\treturn n < 10\treturn n < 11\n"
	for _, round := range []struct{ accepted, want string }{
		{"", survivors + "1 killed, 2 survived, 0 survived and are known to be no holes, 0 do not build\n"},
		{"# why\n" + strings.ReplaceAll(survivors, "\n", "\tno difference\n"), "1 killed, 0 survived, 2 survived and are known to be no holes, 0 do not build\n"},
	} {
		if err := os.WriteFile("accepted.txt", []byte(round.accepted), 0o666); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if _, err := run(&out, options{accepted: "accepted.txt", done: "done.txt", oneIn: 1}, []string{"./..."}); err != nil {
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

// module makes a module of these files and goes there.
func module(t *testing.T, files map[string]string) {
	t.Helper()
	folder := t.TempDir()
	files["go.mod"] = "module p\n\ngo 1.26\n"
	for name, text := range files {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(folder, name)), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(folder)
}

// The package has no tests. Those of user, which alone import it, notice what happens at 9,
// and a slow one what happens at 10; apart does not depend on the package.
func TestTestsOfOtherPackagesAreRunWhereTheyDependOnThePackage(t *testing.T) {
	if _, err := exec.LookPath("sh"); err != nil || testing.Short() {
		t.Skip("SKIPPED: it builds packages many times, by a shell")
	}
	const head = "import (\n\t\"testing\"\n\t\"time\"\n)\n\nvar _ = time.Second\n\n"
	module(t, map[string]string{
		"p.go":         "package p\n\nfunc Small(n int) bool {\n\treturn n < 10\n}\n",
		"user/user.go": "package user\n",
		"user/user_test.go": "package user\n\n" + strings.Replace(head, "(\n", "(\n\t\"p\"\n", 1) + "func TestBelow(t *testing.T) {\n\tif !p.Small(9) {\n\t\tt.Fail()\n\t}\n}\n\n" +
			"func TestSlow(t *testing.T) {\n\ttime.Sleep(400 * time.Millisecond)\n\tif p.Small(10) {\n\t\tt.Fail()\n\t}\n}\n",
		"named.txt":           "p.go:3\treturn n < 10\treturn n <= 10\nelsewhere.go:4\treturn n < 10\treturn n <= 10\n",
		"apart/apart.go":      "package apart\n",
		"apart/apart_test.go": "package apart\n\n" + head + "func TestOfNothing(t *testing.T) {}\n",
	})
	const at9, at10, at11 = "p.go:4\treturn n < 10\treturn n < 9\n", "p.go:4\treturn n < 10\treturn n <= 10\n", "p.go:4\treturn n < 10\treturn n < 11\n"
	sums := func(killed, survived string) string {
		return killed + " killed, " + survived + " survived, 0 survived and are known to be no holes, 0 do not build\n"
	}
	for _, c := range []struct {
		name string
		options
		want string
	}{
		{"own tests alone", options{}, at10 + at9 + at11 + sums("0", "3")},
		{"those of the user", options{also: "./user"}, sums("3", "0")},
		{"of the user but one", options{also: "./user", skip: "Slow"}, at10 + at11 + sums("1", "2")},
		{"of one that is apart", options{also: "./apart"}, at10 + at9 + at11 + sums("0", "3")},
		{"only what is named", options{also: "./user", skip: "Slow", again: "named.txt"}, at10 + sums("0", "1")},
		{"of both", options{also: "./apart,./user"}, sums("3", "0")},
	} {
		var out bytes.Buffer
		c.oneIn = 1
		if _, err := run(&out, c.options, []string{"."}); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, out.String()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
	if _, err := run(new(bytes.Buffer), options{}, []string{"."}); err == nil {
		t.Error("one change of none is no error")
	}
}

func TestOneOfSoManyIsSpreadEvenlyAndAlwaysTheSame(t *testing.T) {
	const all = 20_000
	for _, oneIn := range []uint64{1, 2, 7, 40} {
		chosen := 0
		byTens := map[int]int{}
		for line := range all {
			m := mutant{path: "a/b.go", line: line, was: fmt.Sprintf("if n < %d {", line), is: fmt.Sprintf("if n <= %d {", line)}
			moved := m
			moved.line += 3
			if m.among(oneIn) != moved.among(oneIn) {
				t.Errorf("line %d: another choice where the line has only moved", line)
			}
			if m.among(oneIn) {
				chosen++
				byTens[line*10/all]++
			}
		}
		if want := all / int(oneIn); chosen < want*9/10 || chosen > want*11/10 {
			t.Errorf("one in %d: %d of %d", oneIn, chosen, all)
		}
		for ten, n := range byTens {
			if want := all / 10 / int(oneIn); n < want/2 || n > want*3/2 {
				t.Errorf("one in %d: %d of the %d. tenth, want about %d", oneIn, n, ten+1, want)
			}
		}
		if len(byTens) != 10 {
			t.Errorf("one in %d: nothing of some tenth: %v", oneIn, byTens)
		}
	}
}
