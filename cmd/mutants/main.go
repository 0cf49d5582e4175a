// Mutants changes a package in one place after the other (a comparison, an operand, a
// number, a condition) and runs the package's own tests on each change. What no test
// notices is a hole in the tests, or no difference at all: who has looked writes it
// down with the reason, and it is not tried again.
//
//	go run ./cmd/mutants ./decode/...             each change that survives, and the sums
//	go run ./cmd/mutants -done FILE ./decode/...  the same, going on where the last run ended
//
// The tree is never touched: changes reach the compiler by -overlay.
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
)

func main() {
	accepted := flag.String("accepted", "cmd/mutants/accepted.txt", "file of the survivors that are no holes: what is printed of one, a tab and the reason")
	done := flag.String("done", "", "file of those killed, which are not tried again; it is added to. Remove it where code or tests have changed")
	only := flag.String("files", "", "change only files whose path matches this pattern")
	flag.Parse()
	survived, err := run(os.Stdout, *accepted, *done, *only, flag.Args())
	if err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(2)
	}
	if survived > 0 {
		os.Exit(1)
	}
}

// pkg is what `go list` says of a package.
type pkg struct {
	Dir, ImportPath           string
	GoFiles                   []string
	TestImports, XTestImports []string
}

func run(out io.Writer, acceptedFile, doneFile, only string, patterns []string) (survived int, err error) {
	pattern, err := regexp.Compile(only)
	if err != nil {
		return 0, err
	}
	known, err := read(acceptedFile)
	if err != nil {
		return 0, err
	}
	killed := map[string]bool{}
	var progress io.Writer = io.Discard
	if doneFile != "" {
		if killed, err = read(doneFile); err != nil {
			return 0, err
		}
		file, err := os.OpenFile(doneFile, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o666)
		if err != nil {
			return 0, err
		}
		defer file.Close()
		progress = file
	}
	list, err := exec.Command("go", append([]string{"list", "-json=Dir,ImportPath,GoFiles,TestImports,XTestImports"}, patterns...)...).Output()
	if err != nil {
		return 0, fmt.Errorf("go list: %w", err)
	}
	count := map[verdict]int{}
	for decoder := json.NewDecoder(strings.NewReader(string(list))); decoder.More(); {
		var p pkg
		if err := decoder.Decode(&p); err != nil {
			return 0, err
		}
		mutants, err := p.mutants(pattern)
		if err != nil {
			return 0, err
		}
		var left []mutant
		for _, m := range mutants {
			switch {
			case known[m.key()]:
				count[accepted]++
			case killed[m.key()]:
				count[dead]++
			default:
				left = append(left, m)
			}
		}
		if err := p.try(left, func(m *mutant, v verdict) {
			count[v]++
			switch v {
			case alive:
				fmt.Fprintf(out, "%s:%d\t%s\t%s\n", m.path, m.line, m.was, m.is)
			case dead:
				fmt.Fprintln(progress, m.key())
			}
		}); err != nil {
			return 0, err
		}
	}
	fmt.Fprintf(out, "%d killed, %d survived, %d survived and are known to be no holes, %d do not build\n", count[dead], count[alive], count[accepted], count[broken])
	return count[alive], nil
}

// lineNumber is what stands behind a path for people, and changes with every edit.
var lineNumber = regexp.MustCompile(`^([^\t]*):\d+\t`)

// read takes the keys out of a file that need not be there; # begins a comment.
func read(path string) (map[string]bool, error) {
	keys := map[string]bool{}
	file, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return keys, nil
	}
	if err != nil {
		return nil, err
	}
	defer file.Close()
	lines := bufio.NewScanner(file)
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		if line == "" || line[0] == '#' {
			continue
		}
		columns := strings.Split(lineNumber.ReplaceAllString(line, "$1\t"), "\t")
		if len(columns) < 3 {
			return nil, fmt.Errorf("%s:%d: want file, old line, new line and reason with tabs between", path, n)
		}
		keys[strings.Join(columns[:3], "\t")] = true
	}
	return keys, lines.Err()
}

type verdict int

const (
	dead verdict = iota
	alive
	accepted
	broken // does not build
)

// try runs the package's tests on each mutant and tells the verdicts, in the order
// of the mutants, as they come.
func (p *pkg) try(mutants []mutant, tell func(*mutant, verdict)) error {
	if len(mutants) == 0 {
		return nil
	}
	began := time.Now()
	if v, said := p.test("", 10*time.Minute); v != alive {
		return fmt.Errorf("the tests of %s fail as it is:\n%s", p.ImportPath, said)
	}
	patience := 3*time.Since(began) + 10*time.Second
	folder, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)

	verdicts := make([]chan verdict, len(mutants))
	next := make(chan int)
	var wait sync.WaitGroup
	for i := range verdicts {
		verdicts[i] = make(chan verdict, 1)
	}
	for range max(1, runtime.GOMAXPROCS(0)/2) { // tests have goroutines of their own
		wait.Go(func() {
			for i := range next {
				v := broken
				if overlay, err := mutants[i].write(folder, i); err == nil {
					v, _ = p.test(overlay, patience)
				}
				verdicts[i] <- v
			}
		})
	}
	wait.Go(func() {
		defer close(next)
		for i := range mutants {
			next <- i
		}
	})
	for i := range mutants {
		tell(&mutants[i], <-verdicts[i])
	}
	wait.Wait()
	return nil
}

// test runs the package's tests. A mutant that allocates without end must not take the
// machine with it.
func (p *pkg) test(overlay string, patience time.Duration) (verdict, string) {
	args := []string{"-c", `ulimit -v 8388608 2>/dev/null; exec "$@"`, "sh",
		"go", "test", "-short", "-failfast", "-vet=off", "-count=1", "-timeout", patience.String(), "-overlay", overlay, "."}
	if slices.Contains(append(p.TestImports, p.XTestImports...), "pgregory.net/rapid") {
		args = append(args, "-rapid.nofailfile") // what failed is not kept in the tree
	}
	command := exec.Command("sh", args...)
	command.Dir = p.Dir
	said, err := command.CombinedOutput()
	switch {
	case err == nil:
		return alive, ""
	case strings.Contains(string(said), "[build failed]"):
		return broken, string(said)
	}
	return dead, string(said)
}

// write writes the mutant and the overlay that puts it into its place.
func (m *mutant) write(folder string, n int) (overlay string, err error) {
	source := filepath.Join(folder, fmt.Sprintf("%d.go", n))
	if err := os.WriteFile(source, m.source, 0o600); err != nil {
		return "", err
	}
	text, err := json.Marshal(map[string]any{"Replace": map[string]string{m.file: source}})
	if err != nil {
		return "", err
	}
	overlay = filepath.Join(folder, fmt.Sprintf("%d.json", n))
	return overlay, os.WriteFile(overlay, text, 0o600)
}
