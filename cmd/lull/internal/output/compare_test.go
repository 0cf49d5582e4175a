package output

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/analyze"
	"lull/analyze/compare"
	"lull/decode"
)

// comparedSide is one log whose restarts took so long, with a silent module where
// they took longest.
func comparedSide(m *decode.Map, name string, day int64, latencies ...float64) *Report {
	r := &analyze.Result{EngineSpeedSeen: true, HasTime: true, Start: (1772442900 + day*86400) * sec, Span: 600 * sec,
		Info: decode.Info{Stamps: decode.StampsAbsolute, StampDigits: 6}}
	for i, v := range latencies {
		e := analyze.Episode{N: i + 1, Outcome: analyze.Restarted, Request: &analyze.Request{}, Cranks: []analyze.Event{{}}}
		for range m.Conditions {
			e.AtStop = append(e.AtStop, analyze.Reading{Value: float64(60 + 20*day + int64(i)), Seen: true})
		}
		e.Metrics = []analyze.MetricValue{{Key: "restart_latency", Unit: "s"}, {Key: "run_down", Unit: "s"}, {Key: "voltage_min", Unit: "V", Absent: "not seen"}}
		e.Metrics[0].Best, e.Metrics[1].Best = v, 1+v/1000
		if v > 0.7 {
			e.Limits = []analyze.LimitVerdict{{Limit: decode.Limit{Metric: "restart_latency", HasMax: true, Max: 0.6}, Verdict: analyze.Outside}}
			r.Silences = append(r.Silences, analyze.Silence{Episode: e.N})
		} else {
			e.Limits = []analyze.LimitVerdict{{Limit: decode.Limit{Metric: "restart_latency", HasMax: true, Max: 0.6}, Verdict: analyze.Borderline}}
		}
		r.Episodes = append(r.Episodes, e)
		r.Standstills = append(r.Standstills, analyze.Standstill{N: i + 1, Opportunity: true, Stopped: true})
	}
	return &Report{Version: "v1.2.3", Map: m, Logs: []Log{{Name: name, SHA256: name, Result: r}}}
}

func compared(by compare.By, before, after *Report) *CompareReport {
	return &CompareReport{Version: "v1.2.3", Before: before.Map, After: after.Map, Comparison: compare.New(SideOf(before), SideOf(after), by)}
}

func comparedSamples() map[string]*CompareReport {
	m := sampleMap()
	m.Conditions = []int{0}
	slow := comparedSide(m, "before=1.log", 0, 0.75, 0.78, 0.81, 0.74, 0.79, 0.8)
	fast := comparedSide(m, "after.log", 1, 0.5, 0.52, 0.55, 0.51, 0.53)
	return map[string]*CompareReport{
		"compare":         compared("", slow, fast),
		"compare_request": compared(compare.ByRequest, slow, fast),
		"compare_few":     compared("", comparedSide(m, "a.log", 0, 0.5), comparedSide(m, "b.log", 1)),
		"compare_swapped": compared("", fast, slow),
		"compare_odd":     compared("", comparedSide(m, "a.log", 0, math.NaN(), math.Inf(1), math.MaxFloat64), comparedSide(m, "b.log", 1, -math.MaxFloat64, 0)),
	}
}

func TestComparisonsAreAsTheGoldenFilesShow(t *testing.T) {
	for name, c := range comparedSamples() {
		if name == "compare_odd" {
			continue // three hundred digits fit no table
		}
		var table, csv, md bytes.Buffer
		if err := c.WriteTable(&table, Style{Width: 80}); err != nil {
			t.Fatal(err)
		}
		golden(t, name+"80.txt", table.Bytes())
		for _, line := range strings.Split(table.String(), "\n") {
			if len(line) > 80 {
				t.Errorf("%s: wider than 80 columns: %s", name, line)
			}
		}
		if err := c.WriteCSV(&csv); err != nil {
			t.Fatal(err)
		}
		golden(t, name+".csv", csv.Bytes())
		if name == "compare" {
			if err := c.WriteMarkdown(&md); err != nil {
				t.Fatal(err)
			}
			golden(t, name+".md", md.Bytes())
		}
	}
}

func TestComparisonsAreValidByTheirSchemaAndHoldNoNumberThatIsNone(t *testing.T) {
	schema := schemaOf(t, "compare")
	for name, c := range comparedSamples() {
		var b bytes.Buffer
		if err := c.WriteJSON(&b); err != nil {
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
