package document

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/pkg/bounds"
)

var update = flag.Bool("update", false, "write the golden files anew")

// valid fails the test where a document does not keep its schema.
func valid(t testing.TB, schema *jsonschema.Schema, data []byte) {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatalf("no JSON: %v\n%s", err, data)
	}
	if err := schema.Validate(doc); err != nil {
		t.Fatalf("%v\n%s", err, data)
	}
}

func TestEveryFormatIsAsTheGoldenFilesShow(t *testing.T) {
	full, empty := sample.Report(), sample.Empty()
	for _, c := range []struct {
		name  string
		write func(*bytes.Buffer) error
	}{
		{"episodes.json", func(b *bytes.Buffer) error { return WriteJSON(b, full, words.Episodes) }},
		{"standstills.json", func(b *bytes.Buffer) error { return WriteJSON(b, full, words.Standstills) }},
		{"empty.json", func(b *bytes.Buffer) error { return WriteJSON(b, empty, words.Episodes) }},
		{"episodes.ndjson", func(b *bytes.Buffer) error { return WriteNDJSON(b, full, words.Episodes) }},
		{"standstills.ndjson", func(b *bytes.Buffer) error { return WriteNDJSON(b, full, words.Standstills) }},
		{"episodes.csv", func(b *bytes.Buffer) error { return WriteCSV(b, full, words.Episodes) }},
		{"standstills.csv", func(b *bytes.Buffer) error { return WriteCSV(b, full, words.Standstills) }},
		{"empty.csv", func(b *bytes.Buffer) error { return WriteCSV(b, empty, words.Standstills) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.write(&b); err != nil {
				t.Fatal(err)
			}
			sample.Golden(t, *update, c.name, b.Bytes())
		})
	}
}

func TestJSONKeepsItsSchema(t *testing.T) {
	for _, r := range []*words.Report{sample.Report(), sample.Empty(), {Version: "dev", Map: sample.Map()}} {
		for _, kind := range []words.Kind{words.Episodes, words.Standstills} {
			var b bytes.Buffer
			if err := WriteJSON(&b, r, kind); err != nil {
				t.Fatal(err)
			}
			valid(t, schemaOf(t, kindNames[kind]), b.Bytes())
		}
	}
}

func TestTheSchemaRefusesWhatIsNotComplete(t *testing.T) {
	var b bytes.Buffer
	if err := WriteJSON(&b, sample.Report(), words.Episodes); err != nil {
		t.Fatal(err)
	}
	schema := schemaOf(t, kindNames[words.Episodes])
	for _, key := range []string{`"rest": `, `"also": `, `"covered": `, `"span": `, `"fuel_saved": `} {
		broken := bytes.ReplaceAll(b.Bytes(), []byte(key), []byte(`"renamed": `))
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(broken))
		if err != nil {
			t.Fatal(err)
		}
		if schema.Validate(doc) == nil {
			t.Errorf("a document without %s passes", key)
		}
	}
}

func TestNaNAndInfinityAreWrittenAsNoNumber(t *testing.T) {
	r := sample.Report()
	e := &r.Logs[0].Result.Episodes[0]
	zero := 0.0
	e.Metrics[0] = analyze.MetricValue{Key: "run_down", Unit: "s", Value: bounds.Value{Low: zero / zero, Best: 1 / zero, High: 1}}
	var b bytes.Buffer
	if err := WriteJSON(&b, r, words.Episodes); err != nil {
		t.Fatal(err)
	}
	valid(t, schemaOf(t, kindNames[words.Episodes]), b.Bytes())
	var c bytes.Buffer
	if err := WriteCSV(&c, r, words.Episodes); err != nil {
		t.Fatal(err)
	}
	if s := c.String(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
		t.Errorf("CSV holds no number:\n%s", s)
	}
}

// What a person reads as 0 the document keeps as the difference that it is.
func TestADocumentKeepsADifferenceBelowNothing(t *testing.T) {
	r := sample.Report()
	e := &r.Logs[0].Result.Episodes[0]
	e.Metrics = sample.AllMetrics(sample.Valued("crank_to_run", "s", -3.4, 0.4, 7.1))
	var document bytes.Buffer
	if err := WriteJSON(&document, r, words.Episodes); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(document.String(), `"low": -3.4`) && !strings.Contains(document.String(), `"low":-3.4`) {
		t.Error("the document does not keep the difference")
	}
}

// A writer that is full fails each format.
func TestEveryFormatPassesOnTheFaultOfItsWriter(t *testing.T) {
	r := sample.Report()
	for name, write := range map[string]func() error{
		"json":   func() error { return WriteJSON(full{}, r, words.Episodes) },
		"ndjson": func() error { return WriteNDJSON(full{}, r, words.Standstills) },
		"csv":    func() error { return WriteCSV(full{}, r, words.Episodes) },
	} {
		if err := write(); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }
