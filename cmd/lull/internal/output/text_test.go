package output

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
)

func TestWhatSteersATerminalIsWrittenOut(t *testing.T) {
	for in, want := range map[string]string{
		"plain":               "plain",
		"Kühlmittel °C":       "Kühlmittel °C",
		"\x1b[31mred":         `\x1b[31mred`,
		"a\nb\tc\rd":          `a\nb\tc\rd`,
		"\x00\x7f\u0085":      `\x00\x7f\x85`,
		"gear\u202ekrap":      `gear\u202ekrap`,
		"a\u200bb\u2066c":     `a\u200bb\u2066c`,
		"line\u2028paragraph": `line\u2028paragraph`,
		"tag\U000e0041":       `tag\U000e0041`,
		"\xff\xfe":            `\xff\xfe`,
		"\ufffd stays itself": "\ufffd stays itself",
	} {
		if got := Visible(in); got != want {
			t.Errorf("Visible(%q) = %q, want %q", in, got, want)
		}
	}
	if got := VisibleBlock("a\tb\nc\x1b"); got != "a\tb\nc\\x1b" {
		t.Errorf("VisibleBlock: %q", got)
	}
}

func TestTextBreaksAtBlanksOnly(t *testing.T) {
	for _, c := range []struct{ in, first, indent, want string }{
		{"one two three", "", "", "one two\nthree"},
		{"one two three", "- ", "  ", "- one two\n  three"},
		{"unbreakable-word x", "", "", "unbreakable-word\nx"},
		{"", "  ", "  ", ""},
		{"\x1b[31mone\x1b[0m two three", "", "", "\x1b[31mone\x1b[0m two\nthree"},
	} {
		if got := WrapHanging(c.in, 9, c.first, c.indent); got != c.want {
			t.Errorf("%q: %q, want %q", c.in, got, c.want)
		}
	}
}

// named puts one text wherever a result can carry text from a map or a log.
func named(s string) *Report {
	r := sampleReport()
	r.Map.Name, r.Map.Vehicle = s, s
	for i := range r.Map.Signals {
		r.Map.Signals[i].Name, r.Map.Signals[i].Unit = s, s
		for k := range r.Map.Signals[i].Labels {
			r.Map.Signals[i].Labels[k].Text = s
		}
	}
	for i := range r.Map.Requests {
		r.Map.Requests[i].Name = s
	}
	for i := range r.Map.Inhibits {
		r.Map.Inhibits[i].Name = s
	}
	r.Logs[0].Name = s
	res := r.Logs[0].Result
	res.Info.Interfaces = []string{s}
	for i := range res.Info.Remarks {
		res.Info.Remarks[i].Text = s
	}
	for i := range res.Standstills {
		x := &res.Standstills[i]
		if x.Reason != "" && s != "" {
			x.Reason = s
		}
		for k := range x.CannotTell {
			x.CannotTell[k] = s
		}
		for k := range x.Codes {
			x.Codes[k].Name = s
		}
		for k := range x.Inhibits {
			for n := range x.Inhibits[k].Measured {
				x.Inhibits[k].Measured[n].Against = s
			}
		}
	}
	for i := range res.Findings {
		res.Findings[i].Text, res.Findings[i].Evidence = s, []string{s}
	}
	for i := range res.Silences {
		res.Silences[i].Module, res.Silences[i].Bus, res.Silences[i].ID = s, s, s
	}
	for i := range res.Episodes {
		res.Episodes[i].Notes = []string{s}
		for k := range res.Episodes[i].Metrics {
			if m := &res.Episodes[i].Metrics[k]; m.Absent != "" && s != "" {
				m.Absent = s
			}
		}
	}
	res.Starter.Absent = s
	return r
}

// holds checks that no text can break any format.
func holds(t testing.TB, s string) {
	t.Helper()
	r := named(s)
	asRead := strings.ToValidUTF8(s, "\ufffd")
	if !utf8.ValidString(s) {
		asRead = "" // how many replacement characters stand for it is not ours to say
	}
	for _, kind := range []Kind{Episodes, Standstills} {
		var j bytes.Buffer
		if err := r.WriteJSON(&j, kind); err != nil {
			t.Fatal(err)
		}
		valid(t, schemaOf(t, kindNames[kind]), j.Bytes())
		var doc struct {
			Logs []struct{ Name string }
		}
		if err := json.Unmarshal(j.Bytes(), &doc); err != nil {
			t.Fatal(err)
		}
		if asRead != "" && doc.Logs[0].Name != asRead {
			t.Fatalf("JSON: the name %q reads back as %q", s, doc.Logs[0].Name)
		}
		quiet(t, "JSON", j.String(), "\n")

		var n bytes.Buffer
		if err := r.WriteNDJSON(&n, kind); err != nil {
			t.Fatal(err)
		}
		rows := map[Kind]int{Episodes: 3, Standstills: 7}[kind]
		if got := strings.Count(n.String(), "\n"); got != rows {
			t.Fatalf("NDJSON: %d lines, want %d", got, rows)
		}
		for _, line := range strings.Split(strings.TrimSuffix(n.String(), "\n"), "\n") {
			if !json.Valid([]byte(line)) {
				t.Fatalf("NDJSON: %q", line)
			}
		}

		var c bytes.Buffer
		if err := r.WriteCSV(&c, kind); err != nil {
			t.Fatal(err)
		}
		table, err := csv.NewReader(bytes.NewReader(c.Bytes())).ReadAll()
		if err != nil || len(table) != rows+1 {
			t.Fatalf("CSV: %d rows, %v\n%s", len(table), err, c.String())
		}
		for _, row := range table {
			for _, field := range row {
				if strings.IndexAny(field, "=+@\t\r＝＋－＠") == 0 {
					t.Fatalf("CSV: a spreadsheet would run %q", field)
				}
			}
		}
		quiet(t, "CSV", c.String(), "\n\r\t")

		var m bytes.Buffer
		if err := r.WriteMarkdown(&m, kind); err != nil {
			t.Fatal(err)
		}
		markdownHolds(t, m.String())
		quiet(t, "Markdown", m.String(), "\n")

		var b bytes.Buffer
		if err := r.WriteTable(&b, kind, Style{Width: 80}); err != nil {
			t.Fatal(err)
		}
		quiet(t, "table", b.String(), "\n")
	}
}

// quiet fails where a character that steers a terminal came through.
func quiet(t testing.TB, format, text, allowed string) {
	t.Helper()
	for _, r := range text {
		if unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) && !strings.ContainsRune(allowed, r) {
			t.Fatalf("%s: %U came through", format, r)
		}
	}
}

// markdownHolds checks that every row of a Markdown table has the cells of its
// titles and that no HTML begins.
func markdownHolds(t testing.TB, text string) {
	t.Helper()
	bars := func(line string) int {
		return strings.Count(strings.ReplaceAll(strings.ReplaceAll(line, `\\`, ""), `\|`, ""), "|")
	}
	want := 0
	for _, line := range strings.Split(text, "\n") {
		if !strings.HasPrefix(line, "| ") {
			want = 0
			continue
		}
		if want == 0 {
			want = bars(line)
		}
		if got := bars(line); got != want {
			t.Fatalf("Markdown: a row of %d bars under titles of %d: %q", got, want, line)
		}
	}
	if strings.ContainsAny(text, "<>") {
		t.Fatalf("Markdown: HTML may begin:\n%s", text)
	}
}

func TestNoTextBreaksAnyFormat(t *testing.T) {
	for _, s := range []string{
		"", "a|b", `a\|b`, `\`, "<script>alert(1)</script>", "=cmd()", "＝cmd()", "－1", "+1", "-1", "@x", "\t=1", "\r\n", "a\nb\n\n# c",
		"\x1b]0;title\x07", "\u202egnp", `"quoted", 'and' not`, "`code`", "**bold**", "[link](x)", "\xff\xfe\x00", "-", "'", "&amp;", "\U0001f697",
	} {
		holds(t, s)
	}
	rapid.Check(t, func(rt *rapid.T) { holds(t, rapid.String().Draw(rt, "text")) })
}

func FuzzNoTextBreaksAnyFormat(f *testing.F) {
	for _, s := range []string{"a|b", "=1", "＝1", "\x1b[31m", "a\r\nb", "\u202e", "<b>", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) { holds(t, s) })
}

// sampleSeries writes a few samples of every kind.
func sampleSeries(t *testing.T, m *decode.Map, ndjson bool, digits int) string {
	t.Helper()
	var b bytes.Buffer
	w := NewSampleWriter(&b, m, ndjson)
	w.Begin("drive, one.log")
	for _, s := range []struct {
		sample decode.Sample
		t      int64
	}{
		{decode.Sample{Signal: 0, Value: 9.6, Raw: 192, Valid: true}, 0},
		{decode.Sample{Signal: 1, Value: 1, Raw: 1, Valid: true}, 1_234_567_890},
		{decode.Sample{Signal: 1, Value: 7, Raw: 7, Valid: true}, 1_234_567_899},
		{decode.Sample{Signal: 2}, -20_000_000},
		{decode.Sample{Signal: 3, Value: 1e-7, Raw: 1, Valid: true}, 12 * sec},
		{decode.Sample{Signal: 4, Value: 1e300, Raw: 1, Valid: true}, 12 * sec},
	} {
		if err := w.Write(&s.sample, "can0", s.t, digits); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// sampleEntries is a map whose entries are of every kind.
func sampleEntries() *decode.Map {
	m := &decode.Map{
		Name: "kinds.yaml", Vehicle: "Tallowmere van",
		Entries: []decode.Entry{
			{Kind: decode.ByID, ID: 0x1A0, Signals: []int{0, 1, 5, 6}, Bus: "can0", Module: "engine control", Period: 10e6},
			{Kind: decode.ByID, ID: 0x18FF0102, Extended: true, Signals: []int{2}, OnChange: true},
			{Kind: decode.ByPGN, PGN: 61444, Source: 0, Signals: []int{3}},
			{Kind: decode.ByOBD, Mode: 1, PID: 0x0C, Response: 0x7E8, Address: 0xF1, Signals: []int{4}},
			{Kind: decode.ByOBD, Mode: 1, PID: 0x0C, Response: 0x7E9, Address: -1},
			{Kind: decode.ByDID, DID: 0xF40D, Response: 0x18DAF110, ResponseExtended: true, Address: -1},
			{Kind: decode.ByPGN, PGN: 65265, Source: -1},
		},
		Signals: []decode.Signal{
			{Name: "engine_speed", Start: 16, Length: 16, Scale: decode.Scale{Factor: 0.25}, Unit: "rpm", Role: decode.EngineSpeed},
			{Name: "brake, left", Start: 3, Length: 1, Scale: decode.Identity, Labels: []decode.Label{{Raw: 0, Text: "released"}, {Raw: 1, Text: "=pressed"}}},
			{Name: "big", Entry: 1, Start: 7, Length: 12, BigEndian: true, Signed: true, Scale: decode.Scale{Factor: 1, Offset: -40}, Unit: "degC",
				HasMin: true, Min: -40, HasMax: true, Max: 210, Invalid: []int64{-1, 254}},
			{Name: "tiny", Entry: 2, Start: 24, Length: 16, Scale: decode.Scale{Factor: 1, Offset: 2.5}},
			{Name: "huge", Entry: 3, Start: 0, Length: 64, Float: true, Scale: decode.Identity},
			{Name: "far", Start: 500, Length: 12, Scale: decode.Identity},
			{Name: "mode", Start: 8, Length: 2, Scale: decode.Identity, When: []decode.Selector{{Signal: 5, Raws: []int64{2, 3}}}},
		},
	}
	for r := range m.Role {
		m.Role[r] = -1
	}
	m.Role[decode.EngineSpeed] = 0
	return m
}

func TestSamplesAreWrittenAsPromised(t *testing.T) {
	m := sampleEntries()
	golden(t, "samples.csv", []byte(sampleSeries(t, m, false, 6)))
	golden(t, "samples9.csv", []byte(sampleSeries(t, m, false, 9)))
	golden(t, "samples.ndjson", []byte(sampleSeries(t, m, true, 6)))
	golden(t, "samples_no_times.csv", []byte(sampleSeries(t, m, false, 0)))
	untimed := sampleSeries(t, m, true, 0)
	for _, line := range strings.Split(strings.TrimSpace(untimed), "\n") {
		var row map[string]any
		if err := json.Unmarshal([]byte(line), &row); err != nil {
			t.Fatal(err)
		}
		if at, there := row["t"]; !there || at != nil || len(row) != 8 {
			t.Errorf("without times: %s", line)
		}
	}
}

func TestTheBitsOfAMapAreDrawn(t *testing.T) {
	var plainText, drawn bytes.Buffer
	if err := WriteMapBits(&plainText, sampleEntries(), Style{Width: 80}); err != nil {
		t.Fatal(err)
	}
	golden(t, "map80.txt", plainText.Bytes())
	for _, line := range strings.Split(plainText.String(), "\n") {
		if len(line) > 80 {
			t.Errorf("wider than 80: %q", line)
		}
		for _, r := range line {
			if r > unicode.MaxASCII {
				t.Errorf("not ASCII: %q", line)
			}
		}
	}
	if err := WriteMapBits(&drawn, sampleEntries(), Style{Width: 80, Unicode: true}); err != nil {
		t.Fatal(err)
	}
	if got := strings.ReplaceAll(drawn.String(), "━", "="); got != plainText.String() {
		t.Errorf("the drawing differs by more than its line:\n%s", got)
	}
}

func TestFieldBitsRunAsTheBusSendsThem(t *testing.T) {
	for _, c := range []struct {
		signal decode.Signal
		want   []int
	}{
		{decode.Signal{Start: 6, Length: 4}, []int{6, 7, 8, 9}},
		// Big endian from bit 1 of byte 0: bits 1 and 0 of byte 0 are the most
		// significant, then 7 and 6 of byte 1.
		{decode.Signal{Start: 1, Length: 4, BigEndian: true}, []int{14, 15, 0, 1}},
	} {
		got := fieldBits(&c.signal)
		for i := range c.want {
			if got[i] != c.want[i] {
				t.Errorf("%+v: %v, want %v", c.signal, got, c.want)
				break
			}
		}
	}
}

func TestMetricsAreExplainedInEveryFormat(t *testing.T) {
	list := []measure.Metric{
		{Key: "restart_latency", Unit: "s", Better: "lower", Window: "restart request to running", Needs: []decode.Role{decode.EngineSpeed}, Text: "what the driver waits for"},
		{Key: "flare", Unit: "rpm", Window: "2 s after running", Text: "the overshoot | after a start"},
	}
	for name, write := range map[string]func(*bytes.Buffer) error{
		"metrics80.txt":  func(b *bytes.Buffer) error { return WriteMetricsTable(b, list, Style{Width: 80}) },
		"metrics160.txt": func(b *bytes.Buffer) error { return WriteMetricsTable(b, list, Style{Width: 160}) },
		"metrics.json":   func(b *bytes.Buffer) error { return WriteMetricsJSON(b, list) },
		"metrics.md":     func(b *bytes.Buffer) error { return WriteMetricsMarkdown(b, list) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		golden(t, name, b.Bytes())
	}
}

// The time between two wide instants may reach below 0 as a difference. Text says 0, as
// the one follows the other; the document keeps the difference. How long after its
// standstill an engine was stopped can be less than 0: it was stopped while rolling.
func TestInterfacesOfGarbageAreNotAllNamed(t *testing.T) {
	names := strings.Split("can0,can1,c2,c3,c4,c5,c6,c7,c8,c9", ",")
	for n, want := range map[int]string{0: "none", 1: "can0", 2: "can0, can1", 8: "can0, can1, c2, c3, c4, c5, c6, c7", 9: "can0, can1, c2, c3, c4, c5, c6, c7 and 1 more",
		10: "can0, can1, c2, c3, c4, c5, c6, c7 and 2 more"} {
		if got := Interfaces(&decode.Info{Interfaces: names[:n]}); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}

func TestNoTimeIsToldAsLessThanNothing(t *testing.T) {
	for _, c := range []struct {
		m    analyze.MetricValue
		want string
	}{
		{valued("crank_to_run", "s", -3.4, 0.4, 7.1), "0.4 s (0.0 to 7.1)"},
		{valued("request_to_crank", "s", -0.05, -0.01, 0.03), "0.000 s (0.000 to 0.030)"},
		{valued("crank_to_run", "s", 0.39, 0.4, 0.41), "0.400 s (0.390 to 0.410)"},
		{valued("take_off_shock", "m/s3", -3, 1, 5), "1.0 m/s3 (-3.0 to 5.0)"},
		{valued("stop_delay", "s", -0.4, -0.3, -0.2), "-0.30 s (-0.40 to -0.20)"},
	} {
		if got, ok := MetricText(c.m); got != c.want || !ok {
			t.Errorf("%s: %q, want %q", c.m.Key, got, c.want)
		}
		value, _, _ := strings.Cut(c.want, " s (")
		if got := withBounds([]analyze.MetricValue{c.m}, c.m.Key); c.m.Unit == "s" && !strings.HasPrefix(got, value+" (") {
			t.Errorf("%s in a table: %q, want %q", c.m.Key, got, c.want)
		}
	}
	r := sampleReport()
	e := &r.Logs[0].Result.Episodes[0]
	e.Metrics = allMetrics(valued("crank_to_run", "s", -3.4, 0.4, 7.1))
	var document bytes.Buffer
	if err := r.WriteJSON(&document, Episodes); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(document.String(), `"low": -3.4`) && !strings.Contains(document.String(), `"low":-3.4`) {
		t.Error("the document does not keep the difference")
	}
}
