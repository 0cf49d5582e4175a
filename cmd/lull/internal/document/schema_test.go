package document

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/cmd/lull/internal/words"
)

// schemas holds the compiled schema of every document, by its name.
var schemas = sync.OnceValues(func() (map[string]*jsonschema.Schema, error) {
	const ending = ".schema.json"
	files, err := filepath.Glob("schema/*" + ending)
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	compiled := map[string]*jsonschema.Schema{}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		if err != nil {
			return nil, err
		}
		name := strings.TrimSuffix(filepath.Base(file), ending)
		if err := c.AddResource("urn:lull:"+name, doc); err != nil {
			return nil, err
		}
		compiled[name] = nil
	}
	for name := range compiled {
		if compiled[name], err = c.Compile("urn:lull:" + name); err != nil {
			return nil, err
		}
	}
	return compiled, nil
})

// schemaOf is the schema of the document of that name.
func schemaOf(t testing.TB, name string) *jsonschema.Schema {
	t.Helper()
	all, err := schemas()
	if err != nil {
		t.Fatal(err)
	}
	if all[name] == nil {
		t.Fatalf("no schema %s", name)
	}
	return all[name]
}

// kindNames are the names of the schemas of the two kinds of report.
var kindNames = map[words.Kind]string{words.Episodes: "episodes", words.Standstills: "standstills"}
