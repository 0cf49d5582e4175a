package layers

import (
	"fmt"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
)

// layers lists the layers from left to right. A package may import packages of its own
// layer and of the layers to its left.
var layers = []string{"pkg", "decode", "analyze", "cmd"}

// textForms are the packages that know how a log or a map is written. Code that
// computes from frames must not depend on them, except the generator of demonstration
// drives, which writes logs.
var textForms = []string{"decode/candump", "decode/capture", "decode/sigmap"}

// plan is the document whose table says which packages of the analysis and of the
// command may import each other.
const plan = "DEVELOPERS.md"

const (
	module     = "lull/"
	commands   = "cmd/lull/internal/"
	formWriter = "analyze/scenario"
)

// problems reads every Go file below the root and returns one line for each breach of
// the layout.
func problems(root fs.FS) ([]string, error) {
	text, err := fs.ReadFile(root, plan)
	if err != nil {
		return nil, err
	}
	arrows := arrowsOf(string(text))
	var found []string
	err = fs.WalkDir(root, ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && (entry.Name() == "testdata" || name != "." && strings.HasPrefix(entry.Name(), ".")):
			return fs.SkipDir
		case entry.IsDir() || !strings.HasSuffix(name, ".go"):
			return nil
		}
		text, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, text, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range file.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if imported, own := strings.CutPrefix(imported, module); own {
				if why := wrongImport(arrows, name, imported); why != "" {
					found = append(found, fmt.Sprintf("%s imports %s: %s", name, imported, why))
				}
			}
		}
		return nil
	})
	return found, err
}

var (
	arrowRow = regexp.MustCompile("(?m)^\\| `([a-z/]+)` \\| (none|`[a-z/`, ]+`) \\|$")
	quoted   = regexp.MustCompile("`([a-z/]+)`")
)

// arrowsOf reads the rows of the plan: for each package, what it may import.
func arrowsOf(plan string) map[string][]string {
	arrows := map[string][]string{}
	for _, row := range arrowRow.FindAllStringSubmatch(plan, -1) {
		allowed := []string{}
		for _, name := range quoted.FindAllStringSubmatch(row[2], -1) {
			if strings.HasPrefix(row[1], commands) {
				name[1] = commands + name[1]
			}
			allowed = append(allowed, name[1])
		}
		arrows[row[1]] = allowed
	}
	return arrows
}

// wrongImport returns why a file must not import one of lull's packages, or "".
func wrongImport(arrows map[string][]string, file, imported string) string {
	from, to := layerOf(file), layerOf(imported)
	switch {
	case from < 0:
		return "Go code belongs in " + strings.Join(layers, ", ")
	case to > from:
		return "the arrow points right"
	case strings.HasSuffix(file, "_test.go"):
		return ""
	case strings.HasPrefix(file, commands) && strings.HasPrefix(imported, commands), layers[from] == "analyze" && layers[to] == "analyze":
		return wrongArrow(arrows, path.Dir(file), imported)
	case layers[from] != "analyze" || path.Dir(file) == formWriter:
		return ""
	}
	for _, form := range textForms {
		if imported == form {
			return "analyze must not know a text format"
		}
	}
	return ""
}

// wrongArrow returns why a package must not import another one of its kind, or "".
func wrongArrow(arrows map[string][]string, from, to string) string {
	allowed, known := arrows[from]
	switch {
	case !known:
		return from + " has no row in " + plan
	case !slices.Contains(allowed, to):
		return "the row of " + from + " in " + plan + " does not name it"
	}
	return ""
}

func layerOf(name string) int {
	first, _, _ := strings.Cut(name, "/")
	for i, layer := range layers {
		if layer == first {
			return i
		}
	}
	return -1
}

func TestImportsPointLeftAndAlongTheRowsOfThePlan(t *testing.T) {
	root := os.DirFS("../..")
	if _, err := fs.Stat(root, "go.mod"); err != nil {
		t.Fatalf("the module's root is not where it should be: %v", err)
	}
	found, err := problems(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, problem := range found {
		t.Error(problem)
	}
}

func TestEachBreachOfTheLayoutIsFound(t *testing.T) {
	source := func(imports ...string) *fstest.MapFile {
		text := "package p\n"
		for _, imported := range imports {
			text += fmt.Sprintf("import _ %q\n", imported)
		}
		return &fstest.MapFile{Data: []byte(text)}
	}
	root := fstest.MapFS{
		plan:                                     {Data: []byte("| `analyze` | none |\n| `analyze/feed` | `analyze` |\n| `cmd/lull/internal/words` | none |\n| `cmd/lull/internal/table` | `words` |\n")},
		"cmd/lull/main.go":                       source("fmt", "lull/analyze", "lull/decode", "lull/pkg/source"),
		"cmd/lull/internal/words/say.go":         source("lull/analyze", "lull/cmd/lull/internal/table"),
		"cmd/lull/internal/words/say_test.go":    source("lull/cmd/lull/internal/sample"),
		"cmd/lull/internal/table/grid.go":        source("lull/cmd/lull/internal/words", "lull/cmd/lull/internal/sample"),
		"cmd/lull/internal/stranger/stranger.go": source("lull/decode", "lull/cmd/lull/internal/words"),
		"analyze/run.go":                         source("lull/decode", "lull/decode/candump"),
		"analyze/run_test.go":                    source("lull/decode/candump"),
		"analyze/scenario/log.go":                source("lull/decode/candump"),
		"decode/decoder.go":                      source("lull/pkg/bounds", "lull/analyze"),
		"decode/decoder_test.go":                 source("lull/cmd/lull/internal/words"),
		"pkg/bounds/bounds.go":                   source("lull/pkg/stats", "lull/decode"),
		"analyze/result.go":                      source("lull/analyze/feed"),
		"analyze/feed/feed.go":                   source("lull/analyze"),
		"analyze/stranger/stranger.go":           source("lull/analyze"),
		"tools/tool.go":                          source("lull/pkg/bounds"),
		"decode/testdata/broken.go":              {Data: []byte("no Go")},
		".hidden/other.go":                       source("lull/pkg/bounds"),
		"decode/candump/testdata/log":            {Data: []byte("no Go")},
	}
	want := []string{
		"analyze/result.go imports analyze/feed: the row of analyze in DEVELOPERS.md does not name it",
		"analyze/run.go imports decode/candump: analyze must not know a text format",
		"analyze/stranger/stranger.go imports analyze: analyze/stranger has no row in DEVELOPERS.md",
		"cmd/lull/internal/stranger/stranger.go imports cmd/lull/internal/words: cmd/lull/internal/stranger has no row in DEVELOPERS.md",
		"cmd/lull/internal/table/grid.go imports cmd/lull/internal/sample: the row of cmd/lull/internal/table in DEVELOPERS.md does not name it",
		"cmd/lull/internal/words/say.go imports cmd/lull/internal/table: the row of cmd/lull/internal/words in DEVELOPERS.md does not name it",
		"decode/decoder.go imports analyze: the arrow points right",
		"decode/decoder_test.go imports cmd/lull/internal/words: the arrow points right",
		"pkg/bounds/bounds.go imports decode: the arrow points right",
		"tools/tool.go imports pkg/bounds: Go code belongs in pkg, decode, analyze, cmd",
	}
	got, err := problems(root)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("problems (-want +got):\n%s", diff)
	}
}

func TestAFileThatDoesNotParseIsAnError(t *testing.T) {
	if _, err := problems(fstest.MapFS{plan: {}, "pkg/p/p.go": {Data: []byte("no Go")}}); err == nil {
		t.Error("no error for a file that does not parse")
	}
}
