package main

import (
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
	"lull/decode/sigmap"
)

// root is the top of the checkout, whose documents these tests read.
const root = "../.."

// A document is a Markdown file of the checkout; those in testdata are results, not
// documents.
type manual struct {
	name string // from the top of the checkout, with slashes
	text string
}

func documents(t *testing.T) []manual {
	t.Helper()
	var list []manual
	for _, name := range files(t, ".md") {
		text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		if strings.Count("\n"+string(text), "\n```")%2 != 0 {
			t.Errorf("%s: a fenced block has no end, or one too many", name)
		}
		list = append(list, manual{name, string(text)})
	}
	return list
}

// files returns the names of all files of the checkout with that ending, except those of a
// demonstration written into it.
func files(t *testing.T, ending string) []string {
	t.Helper()
	var names []string
	err := fs.WalkDir(os.DirFS(root), ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && (entry.Name() == "testdata" || name == "lull-demo" || name != "." && strings.HasPrefix(entry.Name(), ".")):
			return fs.SkipDir
		case !entry.IsDir() && strings.HasSuffix(name, ending):
			names = append(names, name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

var (
	fence   = regexp.MustCompile("(?ms)^```([a-z]*)\n(.*?)^```$")
	span    = regexp.MustCompile("`[^`\n]+`")
	link    = regexp.MustCompile(`\]\(([^()\s]+)\)`)
	heading = regexp.MustCompile(`(?m)^#{1,6} +(.*)$`)
	notSlug = regexp.MustCompile(`[^\p{L}\p{N} _-]`)
)

// blocks returns the fenced blocks of a document in that language.
func (d manual) blocks(language string) []string {
	var list []string
	for _, m := range fence.FindAllStringSubmatch(d.text, -1) {
		if m[1] == language {
			list = append(list, m[2])
		}
	}
	return list
}

// links returns where a document points to, except in code.
func (d manual) links() []string {
	var list []string
	for _, m := range link.FindAllStringSubmatch(span.ReplaceAllString(fence.ReplaceAllString(d.text, ""), ""), -1) {
		list = append(list, m[1])
	}
	return list
}

// anchors returns the fragments that lead to the document's headings, as the usual viewers
// of repositories make them.
func (d manual) anchors() []string {
	var list []string
	seen := map[string]int{}
	for _, m := range heading.FindAllStringSubmatch(fence.ReplaceAllString(d.text, ""), -1) {
		slug := strings.ReplaceAll(notSlug.ReplaceAllString(strings.ToLower(m[1]), ""), " ", "-")
		anchor := slug
		if n := seen[slug]; n > 0 {
			anchor = fmt.Sprintf("%s-%d", slug, n)
		}
		seen[slug]++
		list = append(list, anchor)
	}
	return list
}

// linkProblems says what is wrong with the documents' links, and which documents cannot
// be reached by them from the first one.
func linkProblems(root fs.FS, first string, list []manual) []string {
	var found []string
	byName := map[string]manual{}
	for _, d := range list {
		byName[d.name] = d
	}
	leadsTo := map[string][]string{}
	for _, d := range list {
		for _, to := range d.links() {
			wrong := func(format string, args ...any) {
				found = append(found, fmt.Sprintf("%s: link to %s: %s", d.name, to, fmt.Sprintf(format, args...)))
			}
			u, err := url.Parse(to)
			if err != nil || u.Scheme != "" || u.Host != "" || strings.HasPrefix(u.Path, "/") {
				wrong("is not relative")
				continue
			}
			name := d.name
			if u.Path != "" {
				name = path.Join(path.Dir(d.name), u.Path)
			}
			if _, err := fs.Stat(root, name); err != nil {
				wrong("nothing is there")
				continue
			}
			leadsTo[d.name] = append(leadsTo[d.name], name)
			if u.Fragment != "" && !slices.Contains(byName[name].anchors(), u.Fragment) {
				wrong("%s has no such heading", name)
			}
		}
	}
	reached := []string{first}
	for i := 0; i < len(reached); i++ {
		for _, name := range leadsTo[reached[i]] {
			if !slices.Contains(reached, name) {
				reached = append(reached, name)
			}
		}
	}
	for _, d := range list {
		if !slices.Contains(reached, d.name) {
			found = append(found, fmt.Sprintf("%s: no link leads here from %s", d.name, first))
		}
	}
	return found
}

func TestEveryLinkOfTheDocumentsLeadsSomewhereAndTheyAllHangTogether(t *testing.T) {
	for _, problem := range linkProblems(os.DirFS(root), "README.md", documents(t)) {
		t.Error(problem)
	}
}

func TestLinksThatLeadNowhereAreFound(t *testing.T) {
	list := []manual{
		{"README.md", "# Top\n[a](docs/a.md#two-words) [b](docs/b.md) [c](docs/a.md#three) [d](/docs/a.md)\n" +
			"[e](https://example.com) `[f](nowhere.md)` ![g](docs/picture.png) [h](#top)\n```sh\n[i](nowhere.md)\n```\n"},
		{"docs/a.md", "# Two *words*\n## `Two` words\n[up](../README.md#top) [h](#two-words-1) [i](#two-words-2)\n"},
		{"docs/lost.md", "[up](../README.md)\n"},
	}
	disk := fstest.MapFS{}
	for _, d := range list {
		disk[d.name] = &fstest.MapFile{Data: []byte(d.text)}
	}
	want := []string{
		"README.md: link to docs/b.md: nothing is there",
		"README.md: link to docs/a.md#three: docs/a.md has no such heading",
		"README.md: link to /docs/a.md: is not relative",
		"README.md: link to https://example.com: is not relative",
		"README.md: link to docs/picture.png: nothing is there",
		"docs/a.md: link to #two-words-2: docs/a.md has no such heading",
		"docs/lost.md: no link leads here from README.md",
	}
	if diff := cmp.Diff(want, linkProblems(disk, "README.md", list)); diff != "" {
		t.Error(diff)
	}
}

// Who meets lull for the first time has five minutes.
func TestTheReadmeIsReadInFiveMinutes(t *testing.T) {
	const most = 12_500
	for _, d := range documents(t) {
		if d.name == "README.md" && len(d.text) > most {
			t.Errorf("%s has %d bytes, more than %d: move what is looked up to the folder that it is about", d.name, len(d.text), most)
		}
	}
}

func TestMapsInDocumentsHaveNoMistakes(t *testing.T) {
	maps := 0
	for _, d := range documents(t) {
		for _, block := range d.blocks("yaml") {
			maps++
			if _, err := sigmap.Parse(d.name, []byte(block)); err != nil {
				t.Error(err)
			}
		}
	}
	if maps == 0 {
		t.Error("no document shows a map")
	}
}

// A loop over a log that does not ask for Err takes half a log for a whole one.
func TestGoInDocumentsIsCompiledAndAsksForErr(t *testing.T) {
	var code []manual
	for _, d := range documents(t) {
		for _, block := range d.blocks("go") {
			d.text = block
			code = append(code, d)
		}
	}
	if len(code) == 0 {
		t.Fatal("no document shows Go")
	}
	for _, d := range code {
		file := filepath.Join(t.TempDir(), "main.go")
		if err := os.WriteFile(file, []byte("package main\n\n"+d.text+"\nfunc main() {}\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		vet := exec.Command("go", "vet", file)
		vet.Dir = root
		if out, err := vet.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", d.name, err, out)
		}
	}
	for _, name := range files(t, "example_test.go") {
		text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		code = append(code, manual{name, string(text)})
	}
	for _, d := range code {
		if strings.Contains(d.text, ".Scan()") && !strings.Contains(d.text, ".Err()") {
			t.Errorf("%s: scans a log and does not ask for Err", d.name)
		}
	}
}

// Contributors find a folder by what the guide says of it.
func TestTheLayoutNamesEveryFolderOfCode(t *testing.T) {
	guide, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, layout, _ := strings.Cut(string(guide), "\n## Layout\n")
	layout, _, _ = strings.Cut(layout, "\n## ")
	var there, named []string
	for _, name := range files(t, ".go") {
		if folder := path.Dir(name); !slices.Contains(there, folder) {
			there = append(there, folder)
		}
	}
	for _, row := range regexp.MustCompile("(?m)^\\| \\[?`([^`]+)`").FindAllStringSubmatch(layout, -1) {
		named = append(named, row[1])
	}
	slices.Sort(there)
	slices.Sort(named)
	if diff := cmp.Diff(there, named); diff != "" {
		t.Errorf("folders that hold code (-) and those that the layout names (+):\n%s", diff)
	}
}

func TestTheReferenceOfTheMapNamesEveryRoleAndEveryDefault(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "decode", "sigmap", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, settings, _ := strings.Cut(string(text), "\n## Settings\n")
	rows := regexp.MustCompile("(?m)^\\| `([a-z_]+)` \\| ([^|]+) \\|").FindAllStringSubmatch(settings, -1)
	if fields := reflect.TypeFor[decode.Settings]().NumField(); len(rows) != fields {
		t.Errorf("%d settings are named, there are %d", len(rows), fields)
	}
	m := "format: 1\nframes: [{id: 1, signals: {n: {start: 0, length: 16, unit: rpm, role: engine_speed}}}]\nsettings:\n"
	for _, row := range rows {
		m += "  " + row[1] + ": " + row[2] + "\n"
	}
	switch read, err := sigmap.Parse("defaults", []byte(m)); {
	case err != nil:
		t.Error(err)
	case read.Settings != decode.DefaultSettings():
		t.Errorf("the reference says %+v, the defaults are %+v", read.Settings, decode.DefaultSettings())
	}
	for _, r := range decode.Roles[1:] {
		unit := r.Unit
		if unit == "" {
			unit = "-"
		}
		if row := fmt.Sprintf("\n| `%s` | %s | %s |\n", r.Name, unit, r.Text); !strings.Contains(string(text), row) {
			t.Errorf("there is no row%s", row)
		}
	}
}
