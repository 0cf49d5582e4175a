package document

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/cmd/lull/internal/words"
	"lull/decode"
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

// The keys of metrics stand in the schema in one place, from the table of metrics.
func TestTheSchemaNamesEveryMetricOfTheTable(t *testing.T) {
	const file = "schema/episodes.schema.json"
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	keys, err := json.MarshalIndent(decode.MetricKeys, "      ", "  ")
	if err != nil {
		t.Fatal(err)
	}
	want := regexp.MustCompile(`("metric_key": \{\s*"enum": )\[[^\]]*\]`).ReplaceAll(data, append([]byte("${1}"), keys...))
	want = regexp.MustCompile(`("minProperties": )\d+`).ReplaceAll(want, fmt.Appendf(nil, "${1}%d", len(decode.MetricKeys)))
	if *update {
		if err := os.WriteFile(file, want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(data, want) {
		t.Errorf("%s does not name the metrics of the table: go test ./cmd/lull/internal/document -update writes it anew", file)
	}
	var schema struct {
		Defs map[string]struct{ Enum []string } `json:"$defs"`
	}
	if err := json.Unmarshal(data, &schema); err != nil || !slices.Equal(schema.Defs["metric_key"].Enum, decode.MetricKeys) {
		t.Errorf("metric_key of %s: %v, %v", file, schema.Defs["metric_key"].Enum, err)
	}
}
