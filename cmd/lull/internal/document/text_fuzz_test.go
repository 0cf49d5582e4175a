package document

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"

	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

// holds checks that no text can break any format.
func holds(t testing.TB, s string) {
	t.Helper()
	r := sample.Named(s)
	asRead := strings.ToValidUTF8(s, "\ufffd")
	if !utf8.ValidString(s) {
		asRead = "" // how many replacement characters stand for it is not ours to say
	}
	for _, kind := range []words.Kind{words.Episodes, words.Standstills} {
		var j bytes.Buffer
		if err := WriteJSON(&j, r, kind); err != nil {
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
		if err := WriteNDJSON(&n, r, kind); err != nil {
			t.Fatal(err)
		}
		rows := map[words.Kind]int{words.Episodes: 3, words.Standstills: 7}[kind]
		if got := strings.Count(n.String(), "\n"); got != rows {
			t.Fatalf("NDJSON: %d lines, want %d", got, rows)
		}
		for _, line := range strings.Split(strings.TrimSuffix(n.String(), "\n"), "\n") {
			if !json.Valid([]byte(line)) {
				t.Fatalf("NDJSON: %q", line)
			}
		}

		var c bytes.Buffer
		if err := WriteCSV(&c, r, kind); err != nil {
			t.Fatal(err)
		}
		read, err := csv.NewReader(bytes.NewReader(c.Bytes())).ReadAll()
		if err != nil || len(read) != rows+1 {
			t.Fatalf("CSV: %d rows, %v\n%s", len(read), err, c.String())
		}
		for _, row := range read {
			for _, field := range row {
				if strings.IndexAny(field, "=+@\t\r＝＋－＠") == 0 {
					t.Fatalf("CSV: a spreadsheet would run %q", field)
				}
			}
		}
		quiet(t, "CSV", c.String(), "\n\r\t")

		var m bytes.Buffer
		if err := table.WriteMarkdown(&m, r, kind); err != nil {
			t.Fatal(err)
		}
		markdownHolds(t, m.String())
		quiet(t, "Markdown", m.String(), "\n")

		var b bytes.Buffer
		if err := table.Write(&b, r, kind, table.Style{Width: 80}); err != nil {
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
