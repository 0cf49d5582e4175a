package document

import (
	"bytes"
	"math"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
)

func starterJSONOf(t testing.TB, r *words.Report) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteStarterJSON(&b, words.NewStarterReport(r)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestStarterJSONKeepsItsSchema(t *testing.T) {
	schema := schemaOf(t, "starter")
	limitless := sample.Starter()
	limitless.Map.Settings.StarterLimit = 0
	reached := sample.Starter()
	reached.Map.Settings.StarterLimit = 1
	idle := sample.Starter()
	for i := range idle.Logs {
		idle.Logs[i].Result.Starter = analyze.Starter{First: 5, Last: 5, Agrees: true}
	}
	strange := sample.Starter()
	strange.Logs[0].Result.EngineHours.Value = math.SmallestNonzeroFloat64
	strange.Logs[1].Result.EngineHours.Value = 0
	strange.Logs[0].Result.Distance.Value = math.Inf(1)
	strange.Logs[0].Result.Starter.Last = math.MaxFloat64
	strange.Map.Settings.StarterLimit = math.MaxFloat64
	within := sample.Starter()
	within.Logs[0].Result.Starter.Resets = []analyze.CounterReset{{From: 4, To: 1, Time: 3 * sample.Second}}
	for _, r := range []*words.Report{sample.Starter(), sample.UnknownStarter(), limitless, reached, idle, strange, within, {Version: "dev", Map: sample.Map()}} {
		data := starterJSONOf(t, r)
		valid(t, schema, data)
	}
	for _, key := range []string{`"hand_on": `, `"left": `, `"per_km": `, `"after_log": `, `"engine_hours": `} {
		broken := bytes.ReplaceAll(starterJSONOf(t, sample.Starter()), []byte(key), []byte(`"renamed": `))
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(broken))
		if err != nil {
			t.Fatal(err)
		}
		if schema.Validate(doc) == nil {
			t.Errorf("a document without %s passes", key)
		}
	}
}

func TestAccountsAreAsTheGoldenFilesShow(t *testing.T) {
	sample.Golden(t, *update, "starter.json", starterJSONOf(t, sample.Starter()))
	sample.Golden(t, *update, "starter_unknown.json", starterJSONOf(t, sample.UnknownStarter()))
}
