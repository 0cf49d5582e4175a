// Mutants changes a package in one place after the other (a comparison, an operand, a
// number, a condition) and runs the package's own tests on each change, and where they
// notice nothing, those of the packages of -also. What no test notices is a hole in the
// tests, or no difference at all: who has looked writes it down with the reason, and it
// is not tried again.
//
//	go run ./cmd/mutants ./decode/...             each change that survives, and the sums
//	go run ./cmd/mutants -done FILE ./decode/...  the same, going on where the last run ended
//	go run ./cmd/mutants -one-in 20 ./decode/...  the same of one change of twenty
//
// The tree is never touched: changes reach the compiler by -overlay.
package main

import (
	"bufio"
	"bytes"
	"context"
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
	"strconv"
	"strings"
	"sync"
	"time"
)

// options are what the flags say.
type options struct {
	accepted, done, again, files, also, skip string
	oneIn                                    uint64
}

func main() {
	var o options
	flag.StringVar(&o.accepted, "accepted", "cmd/mutants/accepted.txt", "file of the survivors that are no holes: what is printed of one, a tab and the reason")
	flag.StringVar(&o.done, "done", "", "file of those killed, which are not tried again; it is added to. Remove it where code or tests have changed")
	flag.StringVar(&o.again, "again", "", "try only the changes that this file names, in lines as they are printed: survivors, after tests were written")
	flag.StringVar(&o.files, "files", "", "change only files whose path matches this pattern")
	flag.StringVar(&o.also, "also", "", "packages, with commas between, whose tests are run on what a package's own tests do not notice, where they depend on that package")
	flag.StringVar(&o.skip, "skip", "", "leave out tests whose names match this pattern")
	flag.Uint64Var(&o.oneIn, "one-in", 1, "try only one change of so many: always the same ones, as long as nobody touches their lines")
	flag.Parse()
	survived, err := run(os.Stdout, o, flag.Args())
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
	TestGoFiles, XTestGoFiles []string
	TestImports, XTestImports []string
}

func list(patterns ...string) ([]*pkg, error) {
	said, err := exec.Command("go", append([]string{"list", "-json=Dir,ImportPath,GoFiles,TestGoFiles,XTestGoFiles,TestImports,XTestImports"}, patterns...)...).Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	var all []*pkg
	for decoder := json.NewDecoder(bytes.NewReader(said)); decoder.More(); {
		p := new(pkg)
		if err := decoder.Decode(p); err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}

// dependencies are the packages whose code the tests of p run.
func (p *pkg) dependencies() (map[string]bool, error) {
	said, err := exec.Command("go", "list", "-test", "-deps", "-f", "{{.ImportPath}}", p.ImportPath).Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	all := map[string]bool{}
	for line := range strings.Lines(string(said)) {
		all[strings.Fields(line)[0]] = true // behind it may stand for which tests it is built
	}
	return all, nil
}

func run(out io.Writer, o options, patterns []string) (survived int, err error) {
	pattern, err := regexp.Compile(o.files)
	if err != nil {
		return 0, err
	}
	if o.oneIn == 0 {
		return 0, errors.New("-one-in 0: want 1 or more")
	}
	known, err := read(o.accepted)
	if err != nil {
		return 0, err
	}
	var wanted map[string]bool
	if o.again != "" {
		if wanted, err = read(o.again); err == nil && len(wanted) == 0 {
			err = errors.New("no changes in " + o.again)
		}
		if err != nil {
			return 0, err
		}
	}
	killed := map[string]bool{}
	var progress io.Writer = io.Discard
	if o.done != "" {
		if killed, err = read(o.done); err != nil {
			return 0, err
		}
		file, err := os.OpenFile(o.done, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o666)
		if err != nil {
			return 0, err
		}
		defer file.Close()
		progress = file
	}
	packages, err := list(patterns...)
	if err != nil {
		return 0, err
	}
	folder, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(folder)
	var also []*pkg
	if o.also != "" {
		if also, err = list(strings.Split(o.also, ",")...); err != nil {
			return 0, err
		}
	}
	tested := map[*pkg]map[string]bool{}
	for _, q := range also {
		if tested[q], err = q.dependencies(); err != nil {
			return 0, err
		}
	}
	suites := map[string]*suite{} // of packages whose tests were run as they are
	count := map[verdict]int{}
	for _, p := range packages {
		mutants, err := p.mutants(pattern)
		if err != nil {
			return 0, err
		}
		var left []mutant
		for _, m := range mutants {
			switch {
			case !m.among(o.oneIn) || wanted != nil && !wanted[m.key()]:
			case known[m.key()]:
				count[accepted]++
			case killed[m.key()]:
				count[dead]++
			default:
				left = append(left, m)
			}
		}
		if len(left) == 0 {
			continue
		}
		var tests []*suite
		for _, q := range append([]*pkg{p}, also...) {
			if q != p && (q.ImportPath == p.ImportPath || !tested[q][p.ImportPath]) {
				continue
			}
			if suites[q.ImportPath] == nil {
				if suites[q.ImportPath], err = newSuite(q, o.skip, folder); err != nil {
					return 0, err
				}
			}
			tests = append(tests, suites[q.ImportPath])
		}
		try(left, tests, folder, func(m *mutant, v verdict) {
			count[v]++
			switch v {
			case alive:
				fmt.Fprintf(out, "%s:%d\t%s\t%s\n", m.path, m.line, m.was, m.is)
			case dead:
				fmt.Fprintln(progress, m.key())
			}
		})
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

// try runs the tests on each mutant, one suite after the other until one notices it,
// and tells the verdicts, in the order of the mutants, as they come.
func try(mutants []mutant, tests []*suite, folder string, tell func(*mutant, verdict)) {
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
					v = alive
					for _, s := range tests {
						if v == alive {
							v, _ = s.judge(overlay, filepath.Join(folder, fmt.Sprintf("%d.test", i)))
						}
					}
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
}

// suite is the tests of a package.
type suite struct {
	*pkg
	skip     string   // a pattern of tests that are left out
	slow     []string // tests that are run after all the others
	patience time.Duration
}

// slowTest is how long a test may take to be among the first: of the tests that notice
// a change most are quick.
const slowTest = 0.3 // seconds

// passed is what `go test -v` says of a test that is no part of another one.
var passed = regexp.MustCompile(`(?m)^--- PASS: (\S+) \(([0-9.]+)s\)$`)

// newSuite runs the package's tests once as they are: they have to pass, and tell how
// long they take.
func newSuite(p *pkg, skip, folder string) (*suite, error) {
	s := &suite{pkg: p, skip: skip, patience: 10 * time.Minute}
	began := time.Now()
	v, said := s.judge("", filepath.Join(folder, "as-it-is.test"))
	if v != alive {
		return nil, fmt.Errorf("the tests of %s fail as it is:\n%s", p.ImportPath, said)
	}
	s.patience = 3*time.Since(began) + 10*time.Second
	for _, m := range passed.FindAllStringSubmatch(said, -1) {
		if took, err := strconv.ParseFloat(m[2], 64); err == nil && took >= slowTest {
			s.slow = append(s.slow, m[1])
		}
	}
	return s, nil
}

// judge builds the tests with the overlay, and runs them.
func (s *suite) judge(overlay, binary string) (verdict, string) {
	args := []string{"test", "-c", "-vet=off", "-ldflags=-s -w", "-overlay", overlay, "-o", binary, "."}
	none := len(s.TestGoFiles)+len(s.XTestGoFiles) == 0
	if none {
		args = []string{"build", "-overlay", overlay, "-o", os.DevNull, "."}
	}
	build := exec.Command("go", args...)
	build.Dir = s.Dir
	if said, err := build.CombinedOutput(); err != nil {
		return broken, string(said)
	}
	if none {
		return alive, ""
	}
	defer os.Remove(binary)
	if len(s.slow) == 0 {
		return s.test(binary, "", s.skip)
	}
	slow := "^(" + strings.Join(s.slow, "|") + ")$"
	v, said := s.test(binary, "", strings.TrimSuffix(slow+"|"+s.skip, "|"))
	if v == alive {
		v, said = s.test(binary, slow, s.skip)
	}
	return v, said
}

// test runs those of the tests that match only, and not skip. A mutant that allocates
// without end must not take the machine with it.
func (s *suite) test(binary, only, skip string) (verdict, string) {
	args := []string{"-c", `ulimit -v 8388608 2>/dev/null; exec "$@"`, "sh", binary,
		"-test.short", "-test.failfast", "-test.v", "-test.paniconexit0", "-test.timeout", s.patience.String(), "-test.run", only, "-test.skip", skip}
	if slices.Contains(append(s.TestImports, s.XTestImports...), "pgregory.net/rapid") {
		args = append(args, "-rapid.nofailfile") // what failed is not kept in the tree
	}
	// What does not even come to its own end is ended.
	within, cancel := context.WithTimeout(context.Background(), s.patience+10*time.Second)
	defer cancel()
	command := exec.CommandContext(within, "sh", args...)
	command.Dir = s.Dir
	command.WaitDelay = time.Second
	if said, err := command.CombinedOutput(); err != nil {
		return dead, string(said)
	} else {
		return alive, string(said)
	}
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
