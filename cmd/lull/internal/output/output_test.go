package output

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/mattn/go-runewidth"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/bounds"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file in testdata, or writes it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("%s (-want +got):\n%s", name, diff)
	}
}

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
	full, empty := sampleReport(), emptyReport()
	wide := Style{Width: 160, Unicode: true}
	coloured := Style{Width: 80, Colour: true}
	for _, c := range []struct {
		name  string
		write func(*bytes.Buffer) error
	}{
		{"episodes.json", func(b *bytes.Buffer) error { return full.WriteJSON(b, Episodes) }},
		{"standstills.json", func(b *bytes.Buffer) error { return full.WriteJSON(b, Standstills) }},
		{"empty.json", func(b *bytes.Buffer) error { return empty.WriteJSON(b, Episodes) }},
		{"episodes.ndjson", func(b *bytes.Buffer) error { return full.WriteNDJSON(b, Episodes) }},
		{"standstills.ndjson", func(b *bytes.Buffer) error { return full.WriteNDJSON(b, Standstills) }},
		{"episodes.csv", func(b *bytes.Buffer) error { return full.WriteCSV(b, Episodes) }},
		{"standstills.csv", func(b *bytes.Buffer) error { return full.WriteCSV(b, Standstills) }},
		{"empty.csv", func(b *bytes.Buffer) error { return empty.WriteCSV(b, Standstills) }},
		{"episodes.md", func(b *bytes.Buffer) error { return full.WriteMarkdown(b, Episodes) }},
		{"standstills.md", func(b *bytes.Buffer) error { return full.WriteMarkdown(b, Standstills) }},
		{"episodes80.txt", func(b *bytes.Buffer) error { return full.WriteTable(b, Episodes, Style{Width: 80}) }},
		{"episodes160.txt", func(b *bytes.Buffer) error { return full.WriteTable(b, Episodes, wide) }},
		{"colour80.txt", func(b *bytes.Buffer) error { return full.WriteTable(b, Episodes, coloured) }},
		{"standstills80.txt", func(b *bytes.Buffer) error { return full.WriteTable(b, Standstills, Style{Width: 80}) }},
		{"standstills160.txt", func(b *bytes.Buffer) error { return full.WriteTable(b, Standstills, wide) }},
		{"empty80.txt", func(b *bytes.Buffer) error { return empty.WriteTable(b, Episodes, Style{Width: 80}) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.write(&b); err != nil {
				t.Fatal(err)
			}
			golden(t, c.name, b.Bytes())
		})
	}
}

func TestJSONKeepsItsSchema(t *testing.T) {
	for _, r := range []*Report{sampleReport(), emptyReport(), {Version: "dev", Map: sampleMap()}} {
		for _, kind := range []Kind{Episodes, Standstills} {
			var b bytes.Buffer
			if err := r.WriteJSON(&b, kind); err != nil {
				t.Fatal(err)
			}
			valid(t, schemaOf(t, kindNames[kind]), b.Bytes())
		}
	}
}

func TestTheSchemaRefusesWhatIsNotComplete(t *testing.T) {
	var b bytes.Buffer
	if err := sampleReport().WriteJSON(&b, Episodes); err != nil {
		t.Fatal(err)
	}
	schema := schemaOf(t, kindNames[Episodes])
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

func TestNoNumberIsMadeUpOfWhatIsNone(t *testing.T) {
	r := sampleReport()
	e := &r.Logs[0].Result.Episodes[0]
	zero := 0.0
	e.Metrics[0] = analyze.MetricValue{Key: "run_down", Unit: "s", Value: bounds.Value{Low: zero / zero, Best: 1 / zero, High: 1}}
	var b bytes.Buffer
	if err := r.WriteJSON(&b, Episodes); err != nil {
		t.Fatal(err)
	}
	valid(t, schemaOf(t, kindNames[Episodes]), b.Bytes())
	var c bytes.Buffer
	if err := r.WriteCSV(&c, Episodes); err != nil {
		t.Fatal(err)
	}
	if s := c.String(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
		t.Errorf("CSV holds no number:\n%s", s)
	}
}

func TestStartsAreWrittenByTheirKindOfStamp(t *testing.T) {
	const ns = 1772442900123456789
	for _, c := range []struct {
		stamps  decode.Stamps
		digits  int
		hasTime bool
		want    any
	}{
		{decode.StampsAbsolute, 6, true, "2026-03-02T09:15:00.123456Z"},
		{decode.StampsAbsolute, 9, true, "2026-03-02T09:15:00.123456789Z"},
		{decode.StampsDate, 6, true, "2026-03-02T09:15:00.123456"},
		{decode.StampsZero, 6, true, nil},
		{decode.StampsDelta, 6, true, nil},
		{decode.StampsNone, 0, false, nil},
		{decode.StampsAbsolute, 6, false, nil},
	} {
		got := startText(&analyze.Result{HasTime: c.hasTime, Start: ns, Info: decode.Info{Stamps: c.stamps, StampDigits: c.digits}})
		var have any
		if got != nil {
			have = *got
		}
		if have != c.want {
			t.Errorf("%v with %d digits: %v, want %v", c.stamps, c.digits, have, c.want)
		}
	}
}

func TestTheTableIsNoWiderThanTheOutput(t *testing.T) {
	r := sampleReport()
	for width := 40; width <= 200; width += 8 {
		for _, kind := range []Kind{Episodes, Standstills} {
			var b bytes.Buffer
			if err := r.WriteTable(&b, kind, Style{Width: width, Unicode: true}); err != nil {
				t.Fatal(err)
			}
			for _, line := range strings.Split(b.String(), "\n") {
				if w := runewidth.StringWidth(line); w > max(width, 46) { // three columns always stay
					t.Errorf("width %d: a line of %d: %q", width, w, line)
				}
			}
		}
	}
}

func TestColourOnlyAddsToWords(t *testing.T) {
	r := sampleReport()
	for _, kind := range []Kind{Episodes, Standstills} {
		var with, without bytes.Buffer
		if err := r.WriteTable(&with, kind, Style{Width: 100, Colour: true}); err != nil {
			t.Fatal(err)
		}
		if err := r.WriteTable(&without, kind, Style{Width: 100}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(with.String(), "\x1b[") {
			t.Error("no colour where it was asked for")
		}
		if diff := cmp.Diff(without.String(), plain(with.String())); diff != "" {
			t.Errorf("colour changes the text:\n%s", diff)
		}
	}
}

func TestCSVTextCannotBecomeAFormula(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+x": "'+x", "-x": "'-x", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx",
		"＝1+1": "'＝1+1", "＋x": "'＋x", "－x": "'－x", "＠x": "'＠x", // full width; some spreadsheets run these, too
		"x=1": "x=1", "x＝1": "x＝1", "": "", "a,b": "a,b", "\x1b[31mred": `\x1b[31mred`,
	} {
		if got := text(in); got != want {
			t.Errorf("text(%q) = %q, want %q", in, got, want)
		}
	}
	r := sampleReport()
	r.Logs[0].Result.Standstills[0].StopDelay.Best = -0.4
	var b bytes.Buffer
	if err := r.WriteCSV(&b, Standstills); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := rows[1][7]; got != "-0.4" {
		t.Errorf("a negative number is %q", got)
	}
}

func TestCSVReadsBackAsTheSameNumbers(t *testing.T) {
	r := sampleReport()
	var b bytes.Buffer
	if err := r.WriteCSV(&b, Episodes); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i := range r.Logs[0].Result.Episodes {
		for k, key := range decode.MetricKeys {
			m, ok := metricOf(r.Logs[0].Result.Episodes[i].Metrics, key)
			cells := rows[i+1][10+3*k : 13+3*k]
			if !ok {
				if cells[0]+cells[1]+cells[2] != "" {
					t.Errorf("%s of episode %d is absent and has %q", key, i+1, cells)
				}
				continue
			}
			for n, want := range []float64{m.Best, m.Low, m.High} {
				if got, err := strconv.ParseFloat(cells[n], 64); err != nil || got != want {
					t.Errorf("%s of episode %d: %q is not %v", key, i+1, cells[n], want)
				}
			}
		}
	}
}

func TestNDJSONNamesTheLogInEachLine(t *testing.T) {
	r := sampleReport()
	second := r.Logs[0]
	second.Name = "other.log"
	r.Logs = append(r.Logs, second)
	for kind, each := range map[Kind]int{Episodes: 3, Standstills: 7} {
		var b bytes.Buffer
		if err := r.WriteNDJSON(&b, kind); err != nil {
			t.Fatal(err)
		}
		count := map[string]int{}
		for _, line := range strings.Split(strings.TrimSpace(b.String()), "\n") {
			var row struct {
				Log string `json:"log"`
				N   int    `json:"n"`
			}
			if err := json.Unmarshal([]byte(line), &row); err != nil {
				t.Fatal(err)
			}
			count[row.Log]++
			if row.N == 0 {
				t.Errorf("a line without its number: %s", line)
			}
		}
		if diff := cmp.Diff(map[string]int{"drive.log": each, "other.log": each}, count); diff != "" {
			t.Error(diff)
		}
	}
}

func TestTheAnswerCanBeSaidWhateverHappened(t *testing.T) {
	latency := decode.Limit{Metric: "restart_latency", HasMin: true, Min: 0.2, HasMax: true, Max: 0.6}
	restart := func(n int, v bounds.Value, verdict analyze.Verdict) analyze.Episode {
		return analyze.Episode{N: n, Outcome: analyze.Restarted, Running: &bounds.Instant{},
			Metrics: []analyze.MetricValue{{Key: "restart_latency", Unit: "s", Value: v}},
			Limits:  []analyze.LimitVerdict{{Limit: latency, Verdict: verdict}}}
	}
	absent := analyze.Episode{N: 1, Outcome: analyze.Restarted, Running: &bounds.Instant{},
		Metrics: []analyze.MetricValue{{Key: "restart_latency", Absent: "no mapped request explains it"}}}
	for _, c := range []struct {
		name string
		logs []analyze.Result
		want string
	}{
		{"nothing", []analyze.Result{{}},
			"No stop of the engine, and no standstill of at least 3 s in which it could have been stopped."},
		{"never stopped", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1}, Standstills: []analyze.Standstill{{Opportunity: true, Unexplained: true}}}},
			"The engine was never stopped in 1 standstill. 1 standstill stays unexplained: nothing in the map explains why the engine ran on."},
		{"no road speed", []analyze.Result{{Episodes: []analyze.Episode{restart(1, bounds.Value{Low: 0.5, Best: 0.51, High: 0.52}, analyze.Inside)}}},
			"1 stop of the engine. The restart took 0.510 s (0.500 to 0.520) in episode 1: inside the limit of 0.2 to 0.6 s. Every limit of the map is kept."},
		{"two logs", []analyze.Result{
			{Summary: analyze.Summary{Opportunities: 2, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Value{Low: 0.58, Best: 0.6, High: 0.62}, analyze.Borderline)}},
			{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{restart(1, bounds.Exactly(0.4), analyze.Inside), {N: 2, Outcome: analyze.Stalled}, {N: 3, Outcome: analyze.Aborted}, {N: 4, Outcome: analyze.Aborted}}},
		},
			"The engine was stopped in 2 of 3 standstills over 2 logs. The slowest restart took 0.600 s (0.580 to 0.620) in episode 1 of log 1: limit of 0.2 to 0.6 s perhaps broken, the bounds lie on both sides of it. 1 stall and 2 stops called off. Borderline: restart latency once."},
		{"broken on either side, the worst told", []analyze.Result{{Summary: analyze.Summary{Opportunities: 4, Stops: 4}, Episodes: []analyze.Episode{
			restart(1, bounds.Exactly(0.05), analyze.Outside), restart(2, bounds.Exactly(0.7), analyze.Outside), restart(3, bounds.Exactly(0.65), analyze.Outside), restart(4, bounds.Exactly(0.3), analyze.Inside)}}},
			"The engine was stopped in 4 of 4 standstills. Broken limits: restart latency 3 times (at worst 0.05 s, limit 0.2 to 0.6 s). The slowest restart took 0.7 s (0.7 to 0.7) in episode 2."},
		{"no latency", []analyze.Result{{Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{absent}}},
			"The engine was stopped in 1 of 1 standstill. How long a restart took cannot be said: no mapped request explains it."},
		{"cannot tell, three reasons", []analyze.Result{{Summary: analyze.Summary{Opportunities: 5, Stops: 0}, Standstills: []analyze.Standstill{
			{Opportunity: true, Reason: "coolant cold"}, {Opportunity: true, Reason: "cabin demand"}, {Opportunity: true, Reason: "coolant cold"},
			{Opportunity: true, Reason: "switched off"}, {Opportunity: true, CannotTell: []string{"x"}}, {Opportunity: true, Open: true}, {Opportunity: true}}}},
			"The engine was never stopped in 5 standstills. It was kept running by coolant cold (twice), cabin demand (once) and switched off (once). For 1 standstill it cannot be told. 1 standstill was not recorded to its end."},
		{"two open", []analyze.Result{{Summary: analyze.Summary{Opportunities: 3, Stops: 1}, Standstills: []analyze.Standstill{
			{Opportunity: true, Open: true}, {Opportunity: true, Open: true, Stopped: true}, {Opportunity: true, Open: true, Reason: "coolant cold"}}}},
			"The engine was stopped in 1 of 3 standstills. 2 standstills were not recorded to their ends."},
		{"two logs, one of them without engine speed", []analyze.Result{
			{Summary: analyze.Summary{Opportunities: 2, Stops: 2}, EngineSpeedSeen: true}, {}},
			"The engine was stopped in 2 of 2 standstills (1 further log shows no engine speed and cannot be measured)."},
		{"silent modules, one of them without a name", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 3, Stops: 3}, Episodes: []analyze.Episode{{N: 1}, {N: 2}, {N: 3}},
			Silences: []analyze.Silence{{ID: "0x99", Module: "between the stops"}, {ID: "0x3A0", Module: "body unit", Episode: 1},
				{ID: "0x4E0", Episode: 1}, {ID: "0x3A0", Module: "body unit", Episode: 3}}}},
			"The engine was stopped in 3 of 3 standstills. Fell silent in 2 of 3 episodes: body unit and 0x4E0."},
		{"six silent modules", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Episodes: []analyze.Episode{{N: 1}},
			Silences: []analyze.Silence{{ID: "1", Episode: 1}, {ID: "2", Episode: 1}, {ID: "3", Episode: 1}, {ID: "4", Episode: 1}, {ID: "5", Episode: 1}, {ID: "6", Episode: 1}}}},
			"The engine was stopped in 1 of 1 standstill. Fell silent in 1 of 1 episode: 1, 2, 3, 4 and 2 more."},
		{"findings of one kind count as the line that they are", []analyze.Result{{
			Summary: analyze.Summary{Opportunities: 1, Stops: 1}, Findings: []analyze.Finding{
				{Code: "a", Severity: analyze.Attention, Text: "episode 1: 0.7 s"}, {Code: "a", Severity: analyze.Attention, Text: "episode 2: 0.8 s"},
				{Code: "b", Severity: analyze.Attention, Text: "a gap"}, {Code: "c", Severity: analyze.Note, Text: "a note"}}}},
			"The engine was stopped in 1 of 1 standstill. 2 findings need attention below."},
		{"nothing, and no road speed", []analyze.Result{{}},
			"No stop of the engine. No signal has the role vehicle_speed, so nothing can be said of standstills."},
	} {
		r := &Report{Map: sampleMap()}
		if strings.HasSuffix(c.name, "no road speed") {
			r.Map.Role[decode.VehicleSpeed] = -1
		}
		for i := range c.logs {
			if !strings.Contains(c.name, "without engine speed") {
				c.logs[i].EngineSpeedSeen = true
			}
			r.Logs = append(r.Logs, Log{Name: "log " + strconv.Itoa(i+1), Result: &c.logs[i]})
		}
		if diff := cmp.Diff(c.want, r.answer()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// Two findings that name different things are two, however alike their names are.
func TestFindingsOfDifferentThingsAreNotOne(t *testing.T) {
	finding := func(text string) analyze.Finding {
		return analyze.Finding{Code: "c", Severity: analyze.Attention, Text: text, Evidence: []string{}}
	}
	for _, different := range [][2]string{
		{"0x310 on can0 was silent for 1.2 s", "0x420 on can1 was silent for 1.2 s"},
		{"body unit (0x310) on can0 was silent for 1.2 s", "body unit (0x310) on can1 was silent for 3 s"},
		{`cannot tell whether "brake 1" asked for it`, `cannot tell whether "brake 2" asked for it`},
		{"volt1 reads 300 V", "volt2 reads 300 V"},
	} {
		lines := findingLines([]analyze.Finding{finding(different[0]), finding(different[1])})
		if len(lines) != 2 {
			t.Errorf("%q and %q are told as %+v", different[0], different[1], lines)
		}
	}
}

func TestFindingsOfOneKindAreGathered(t *testing.T) {
	finding := func(code, text string, evidence ...string) analyze.Finding {
		return analyze.Finding{Code: code, Severity: analyze.Attention, Text: text, Evidence: evidence}
	}
	got := findingLines([]analyze.Finding{
		finding("limit_broken", "episode 1: 0.7 s", "episode 1"),
		finding("gap", "a gap"),
		finding("limit_broken", "episode 2: 0.8 s", "episode 2"),
		finding("limit_broken", "episode 3: 12 V", "episode 3"),
		finding("limit_broken", "episode 5: 0.75 s", "episode 5"),
		finding("gap", "a gap"),
		finding("other", "mixed", "episode 1", "standstill 2"),
	})
	want := []findingLine{
		{analyze.Attention, "episode 1: 0.7 s; 2 more like it: episodes 2, 5"},
		{analyze.Attention, "a gap; 1 more like it"},
		{analyze.Attention, "episode 3: 12 V"},
		{analyze.Attention, "mixed (episode 1, standstill 2)"},
	}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(findingLine{})); diff != "" {
		t.Error(diff)
	}
}

func TestSharesNeverClaimMoreThanTheyAre(t *testing.T) {
	for share, want := range map[float64]string{0: "0 %", 0.001: "<1 %", 0.5: "50 %", 0.994: ">99 %", 1: "100 %", 0.014: "1 %"} {
		if got := percent(share); got != want {
			t.Errorf("%v: %s, want %s", share, got, want)
		}
	}
}

// A writer that is full fails each format.
func TestEveryFormatPassesOnTheFaultOfItsWriter(t *testing.T) {
	r := sampleReport()
	for name, write := range map[string]func() error{
		"table":    func() error { return r.WriteTable(full{}, Episodes, Style{Width: 80}) },
		"json":     func() error { return r.WriteJSON(full{}, Episodes) },
		"ndjson":   func() error { return r.WriteNDJSON(full{}, Standstills) },
		"csv":      func() error { return r.WriteCSV(full{}, Episodes) },
		"markdown": func() error { return r.WriteMarkdown(full{}, Standstills) },
		"map":      func() error { return WriteMapBits(full{}, sampleMap(), Style{Width: 80}) },
		"metrics":  func() error { return WriteMetricsTable(full{}, measure.Metrics, Style{Width: 80}) },
		"grid":     func() error { return writeGrid(full{}, r.standstillColumns(r.Logs[0].Result), Style{Width: 80}) },
	} {
		if err := write(); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

// What could not be judged is said, and never counts as kept.
func TestALimitThatWasNotSeenIsNotSaidToBeKept(t *testing.T) {
	limit := decode.Limit{Metric: "voltage_min", HasMin: true, Min: 8.5}
	seen := analyze.Episode{N: 1, Outcome: analyze.Restarted, Metrics: allMetrics(valued("voltage_min", "V", 9, 9, 9)),
		Limits: []analyze.LimitVerdict{{Limit: limit, Verdict: analyze.Inside}}}
	unseen := analyze.Episode{N: 2, Outcome: analyze.Restarted, Metrics: allMetrics(valued("voltage_min", "V", 9, 9, 9)),
		Limits: []analyze.LimitVerdict{{Limit: limit, Verdict: analyze.Unseen}}}
	gone := analyze.MetricValue{Key: "voltage_min", Absent: "the recording has a gap", Unseen: 0.4}
	absent := analyze.Episode{N: 3, Outcome: analyze.Restarted, Metrics: allMetrics(gone)}
	for _, c := range []struct {
		episodes []analyze.Episode
		answer   string
		cells    []string
	}{
		{[]analyze.Episode{seen}, "Every limit of the map is kept.", []string{"inside"}},
		{[]analyze.Episode{seen, unseen, absent}, "Not enough was seen to judge the limits of: voltage min twice.", []string{"inside", "unseen", "unseen"}},
		{[]analyze.Episode{absent}, "Not enough was seen to judge the limits of: voltage min once.", []string{"unseen"}},
	} {
		r := &Report{Map: sampleMap(), Logs: []Log{{Name: "a.log", Result: &analyze.Result{EngineSpeedSeen: true, Episodes: c.episodes}}}}
		r.Map.Limits = []decode.Limit{limit}
		answer := r.Answer()
		if !strings.Contains(answer, c.answer) || strings.Contains(answer, "is kept") != (len(c.episodes) == 1 && c.cells[0] == "inside") {
			t.Errorf("%s, want %s", answer, c.answer)
		}
		for i := range c.episodes {
			if got := r.verdictCell(&c.episodes[i]); got.text != c.cells[i] {
				t.Errorf("episode %d: %q, want %q", i+1, got.text, c.cells[i])
			}
		}
	}
}
