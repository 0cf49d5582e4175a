package layers

import (
	"fmt"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
)

// layers from left to right: a package may import what stands in its own layer
// or to the left of it.
var layers = []string{"pkg", "decode", "analyze", "cmd"}

// textForms are the packages that know how a log or a map is written. What is
// computed from frames must not depend on that; the generator of demonstration
// drives, which writes logs, is the exception.
var textForms = []string{"decode/candump", "decode/capture", "decode/sigmap"}

// arrows are the packages of the command and which others of them each may import.
// What is built for tests stands in no list: tests alone may import it, and they may
// import any.
var arrows = map[string][]string{
	"words":         nil,
	"table":         {"words"},
	"document":      {"words"},
	"picture":       {"words"},
	"watch":         nil,
	"page":          {"words", "table", "document", "picture"},
	"measuring":     {"words", "page"},
	"playing":       {"words", "measuring"},
	"recording":     {"words", "table", "measuring", "watch"},
	"serve/web":     {"words", "table", "page"},
	"serve":         {"words", "document", "picture", "page", "measuring", "serve/web"},
	"sample":        {"words"},
	"sample/driven": {"words", "page"},
	"markup":        nil,
	"browsertest":   nil,
	"attack":        nil,
}

const (
	module     = "lull/"
	commands   = "cmd/lull/internal/"
	mostLines  = 500
	formWriter = "analyze/scenario"
)

// problems reads every Go file below the root and says what is wrong with the
// layout, one line each.
func problems(root fs.FS) ([]string, error) {
	var found []string
	err := fs.WalkDir(root, ".", func(name string, entry fs.DirEntry, err error) error {
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
		if lines := strings.Count(string(text), "\n"); lines > mostLines {
			found = append(found, fmt.Sprintf("%s: %d lines, more than %d", name, lines, mostLines))
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
				if why := wrongImport(name, imported); why != "" {
					found = append(found, fmt.Sprintf("%s imports %s: %s", name, imported, why))
				}
			}
		}
		return nil
	})
	return found, err
}

// wrongImport says why a file must not import one of lull's packages, or "".
func wrongImport(file, imported string) string {
	from, to := layerOf(file), layerOf(imported)
	switch {
	case from < 0:
		return "Go code belongs into " + strings.Join(layers, ", ")
	case to > from:
		return "the arrow points right"
	case strings.HasPrefix(file, commands) && !strings.HasSuffix(file, "_test.go"):
		return wrongArrow(path.Dir(file), imported)
	case layers[from] != "analyze" || strings.HasSuffix(file, "_test.go") || path.Dir(file) == formWriter:
		return ""
	}
	for _, form := range textForms {
		if imported == form {
			return "analyze must not know a text format"
		}
	}
	return ""
}

// wrongArrow says why a package of the command must not import another one, or "".
func wrongArrow(folder, imported string) string {
	from := strings.TrimPrefix(folder, commands)
	allowed, known := arrows[from]
	to, own := strings.CutPrefix(imported, commands)
	switch {
	case !known:
		return from + " has no place among the command's packages"
	case own && !slices.Contains(allowed, to):
		return from + " must not know " + to
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

func TestImportsPointLeftAndFilesStayShort(t *testing.T) {
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
	long := source()
	long.Data = append(long.Data, strings.Repeat("// a line\n", mostLines)...)
	root := fstest.MapFS{
		"cmd/lull/main.go":                       source("fmt", "lull/analyze", "lull/decode", "lull/pkg/source"),
		"cmd/lull/internal/words/say.go":         source("lull/analyze", "lull/cmd/lull/internal/table"),
		"cmd/lull/internal/words/say_test.go":    source("lull/cmd/lull/internal/sample"),
		"cmd/lull/internal/table/grid.go":        source("lull/cmd/lull/internal/words", "lull/cmd/lull/internal/sample"),
		"cmd/lull/internal/stranger/stranger.go": source("lull/decode"),
		"analyze/run.go":                         source("lull/decode", "lull/decode/candump"),
		"analyze/run_test.go":                    source("lull/decode/candump"),
		"analyze/scenario/log.go":                source("lull/decode/candump"),
		"decode/decoder.go":                      source("lull/pkg/bounds", "lull/analyze"),
		"decode/decoder_test.go":                 source("lull/cmd/lull/internal/words"),
		"pkg/bounds/bounds.go":                   source("lull/pkg/stats", "lull/decode"),
		"pkg/long/long.go":                       long,
		"tools/tool.go":                          source("lull/pkg/bounds"),
		"decode/testdata/broken.go":              {Data: []byte("no Go")},
		".hidden/other.go":                       source("lull/pkg/bounds"),
		"decode/candump/testdata/log":            {Data: []byte("no Go")},
	}
	want := []string{
		"analyze/run.go imports decode/candump: analyze must not know a text format",
		"cmd/lull/internal/stranger/stranger.go imports decode: stranger has no place among the command's packages",
		"cmd/lull/internal/table/grid.go imports cmd/lull/internal/sample: table must not know sample",
		"cmd/lull/internal/words/say.go imports cmd/lull/internal/table: words must not know table",
		"decode/decoder.go imports analyze: the arrow points right",
		"decode/decoder_test.go imports cmd/lull/internal/words: the arrow points right",
		"pkg/bounds/bounds.go imports decode: the arrow points right",
		"pkg/long/long.go: 501 lines, more than 500",
		"tools/tool.go imports pkg/bounds: Go code belongs into pkg, decode, analyze, cmd",
	}
	got, err := problems(root)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("problems (-want +got):\n%s", diff)
	}
}

func TestAFileThatIsNoGoIsAnError(t *testing.T) {
	if _, err := problems(fstest.MapFS{"pkg/p/p.go": {Data: []byte("no Go")}}); err == nil {
		t.Error("no error for a file that does not parse")
	}
}
