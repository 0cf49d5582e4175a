package output

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/analyze"
	"lull/decode"
)

// sampleStarter has two logs, given in the wrong order, with a reset between them.
func sampleStarter() *Report {
	m := sampleMap()
	m.Signals = append(m.Signals, decode.Signal{Name: "starts", Length: 16, Scale: decode.Identity})
	m.Role[decode.StarterCount] = len(m.Signals) - 1
	m.Settings.StarterLimit = 20000
	log := func(name string, start int64, s analyze.Starter, km float64) Log {
		return Log{Name: name, SHA256: name, Result: &analyze.Result{
			HasTime: true, Start: 1772442900*sec + start*sec, Span: 600 * sec, EngineSpeedSeen: true,
			Info:    decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6},
			Starter: s, EngineHours: analyze.Total{Value: 0.15}, Distance: analyze.Total{Value: km},
		}}
	}
	before := log("before.log", 0, analyze.Starter{Key: 1, Restart: 7, Retry: 1, First: 12003, Last: 12012, Step: 9, Agrees: true}, 5.25)
	after := log("after.log", 90000, analyze.Starter{Restart: 3, First: 0, Last: 2, Step: 2}, 4)
	after.Result.Findings = []analyze.Finding{
		{Code: "counter_disagrees", Severity: analyze.Attention, Text: "the starter-operation counter stepped by 2 from 0 to 2, but 3 operations were seen in all"},
	}
	return &Report{Version: "v1.2.3", Map: m, Logs: []Log{after, before}}
}

// unknownStarter is one log that tells nothing of the starter.
func unknownStarter() *Report {
	r := emptyReport()
	r.Logs[0].Result.EngineHours = analyze.Total{Absent: "rpm was never seen"}
	r.Logs[0].Result.Distance = analyze.Total{Absent: "no signal has the role vehicle_speed"}
	return r
}

func starterJSONOf(t testing.TB, r *Report) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := NewStarterReport(r).WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestStarterFormatsAreAsTheGoldenFilesShow(t *testing.T) {
	for _, c := range []struct {
		name   string
		report *Report
		style  Style
	}{
		{"starter80.txt", sampleStarter(), Style{Width: 80}},
		{"starter160.txt", sampleStarter(), Style{Width: 160, Unicode: true, Colour: true}},
		{"starter_unknown80.txt", unknownStarter(), Style{Width: 80}},
	} {
		var b bytes.Buffer
		if err := NewStarterReport(c.report).WriteTable(&b, c.style); err != nil {
			t.Fatal(err)
		}
		golden(t, c.name, b.Bytes())
	}
	golden(t, "starter.json", starterJSONOf(t, sampleStarter()))
	golden(t, "starter_unknown.json", starterJSONOf(t, unknownStarter()))
}

func TestStarterJSONKeepsItsSchema(t *testing.T) {
	schema := schemaOf(t, "starter")
	limitless := sampleStarter()
	limitless.Map.Settings.StarterLimit = 0
	reached := sampleStarter()
	reached.Map.Settings.StarterLimit = 1
	idle := sampleStarter()
	for i := range idle.Logs {
		idle.Logs[i].Result.Starter = analyze.Starter{First: 5, Last: 5, Agrees: true}
	}
	strange := sampleStarter()
	strange.Logs[0].Result.EngineHours.Value = math.SmallestNonzeroFloat64
	strange.Logs[1].Result.EngineHours.Value = 0
	strange.Logs[0].Result.Distance.Value = math.Inf(1)
	strange.Logs[0].Result.Starter.Last = math.MaxFloat64
	strange.Map.Settings.StarterLimit = math.MaxFloat64
	within := sampleStarter()
	within.Logs[0].Result.Starter.Resets = []analyze.CounterReset{{From: 4, To: 1, Time: 3 * sec}}
	for _, r := range []*Report{sampleStarter(), unknownStarter(), limitless, reached, idle, strange, within, {Version: "dev", Map: sampleMap()}} {
		data := starterJSONOf(t, r)
		valid(t, schema, data)
	}
	for _, key := range []string{`"hand_on": `, `"left": `, `"per_km": `, `"after_log": `, `"engine_hours": `} {
		broken := bytes.ReplaceAll(starterJSONOf(t, sampleStarter()), []byte(key), []byte(`"renamed": `))
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(broken))
		if err != nil {
			t.Fatal(err)
		}
		if schema.Validate(doc) == nil {
			t.Errorf("a document without %s passes", key)
		}
	}
}

func TestTheStartersAnswerCanBeSaidWhateverHappened(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Report)
		want   []string
	}{
		{"limit reached", func(r *Report) { r.Map.Settings.StarterLimit = 1 }, []string{"The limit of 1 operations is reached: the car stops its engine no more."}},
		{"one log without km", func(r *Report) {
			r.Logs = r.Logs[1:]
			r.Logs[0].Result.Distance = analyze.Total{Absent: "no road speed"}
		}, []string{
			"9 starter operations were seen: 7 restarts, 1 start by key and 1 further try.",
			"The counter read 12003 first and 12012 last, which agrees with the operations seen.",
			"A new control module is given 12012; a new starter begins at 0.",
			"Operations a km are not known: no road speed.",
			"Of the 20000 that the map allows 7988 are left; how far that takes is not known: no road speed.",
		}},
		{"nothing seen", func(r *Report) {
			for i := range r.Logs {
				r.Logs[i].Result.Starter = analyze.Starter{First: 5, Last: 5, Agrees: true}
				r.Logs[i].Result.Findings = nil
			}
		}, []string{
			"No starter operation was seen in 2 logs.", "That is 0 operations an engine hour (0 to 12)",
			"how far that takes is not known: no starter operation was seen.",
		}},
		{"starts between the logs", func(r *Report) {
			r.Logs[0].Result.Starter.First, r.Logs[0].Result.Starter.Last = 12014, 12017
			r.Logs[0].Result.Findings = nil
		}, []string{"which agrees with the operations seen and 2 between the logs that were not recorded."}},
		{"disagrees", func(r *Report) { r.Logs[0].Result.Starter.First, r.Logs[0].Result.Starter.Last = 12012, 12014 },
			[]string{"The counter read 12003 first and 12014 last, which disagrees with the operations seen."}},
	} {
		r := sampleStarter()
		c.change(r)
		got := NewStarterReport(r).answer()
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q is not in %q", c.name, want, got)
			}
		}
	}
}
