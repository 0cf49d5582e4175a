package document

import (
	"bytes"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/sample"
)

func TestComparisonsAreValidByTheirSchemaAndHoldOnlyFiniteNumbers(t *testing.T) {
	schema := schemaOf(t, "compare")
	for name, c := range sample.Comparisons() {
		var b bytes.Buffer
		if err := WriteComparisonJSON(&b, c); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		valid(t, schema, b.Bytes())
		for _, key := range []string{`"verdict": `, `"n": `} {
			broken := bytes.Replace(b.Bytes(), []byte(key), []byte(`"renamed": `), 1)
			if doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(broken)); err != nil || schema.Validate(doc) == nil {
				t.Errorf("%s: the schema accepts a document without a %s", name, key)
			}
		}
	}
}

func TestComparisonsAreAsTheGoldenFilesShow(t *testing.T) {
	for name, c := range sample.Comparisons() {
		if name == "compare_odd" {
			continue // nobody reads three hundred digits
		}
		var b bytes.Buffer
		if err := WriteComparisonCSV(&b, c); err != nil {
			t.Fatal(err)
		}
		sample.Golden(t, *update, name+".csv", b.Bytes())
	}
}

func TestAComparisonOfNoEpisodesByKindsIsWhole(t *testing.T) {
	m := sample.Map()
	c := sample.Compared(compare.ByOutcome, sample.Side(m, "a.log", 0), sample.Side(m, "b.log", 1))
	var b bytes.Buffer
	if err := WriteComparisonJSON(&b, c); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), `"groups": []`) {
		t.Errorf("no empty list of groups in\n%s", b.String())
	}
	valid(t, schemaOf(t, "compare"), b.Bytes())
}
