package page_test

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"html"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/markup"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/oracle"
)

var styleElement = regexp.MustCompile(`(?s)<style>(.*)</style>`)

// The policy in the file allows its style sheet by hash and nothing else, and the
// hash is that of the sheet as it stands there.
func TestThePolicyAllowsTheStyleSheetAlone(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "kept-running")}
	text := driven.Written(t, r.WriteHTML)
	style := styleElement.FindStringSubmatch(text)
	policy := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(text)
	if style == nil || policy == nil {
		t.Fatal("no style sheet or no policy")
	}
	sum := sha256.Sum256([]byte(style[1]))
	want := "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'"
	if got := html.UnescapeString(policy[1]); got != want {
		t.Errorf("policy %q, want %q", got, want)
	}
	if strings.Contains(styleElement.ReplaceAllString(text, ""), "style=") {
		t.Error("a style attribute, which the policy forbids")
	}
}

// everywhere is a job with the text in every field.
func everywhere(text string) page.Job {
	var job page.Job
	for _, f := range page.Fields {
		*f.Of(&job) = text
	}
	return job
}

// Whatever stands in a map, a log's name or what the user gives is shown and never
// acts: the file is well-formed, and holds no element that is not lull's.
func TestHostileTextIsEscapedEverywhere(t *testing.T) {
	const hostile = `"><script>alert(1)</script><img src=x onerror=alert(2)>'&\u202e` + "\x00\x1b[2J\u202e\u2028"
	s := driven.Hostile(t, hostile)
	r := &page.Report{After: *s, Before: s, Job: everywhere(hostile), Extent: page.Extent{Full: true, All: true},
		Comparison: driven.Compared(s, s)}
	text := driven.Written(t, r.WriteHTML)
	elements, err := markup.Elements(text)
	if err != nil {
		t.Fatal(err)
	}
	for _, start := range elements {
		if strings.Contains(" script img iframe object embed link base form a foreignObject image use ", " "+start.Name.Local+" ") {
			t.Fatalf("an element %s", start.Name.Local)
		}
		for _, a := range start.Attr {
			if strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "style" || a.Name.Local == "href" || a.Name.Local == "src" {
				t.Fatalf("an attribute %s", a.Name.Local)
			}
		}
	}
	if !strings.Contains(text, "&lt;script&gt;") {
		t.Error("the hostile text is not shown")
	}
	if strings.ContainsAny(text, "\x00\x1b\u202e\u2028") {
		t.Error("a character that steers stands in the page")
	}
	if pdf := driven.Written(t, r.WritePDF); !strings.HasPrefix(pdf, "%PDF-") {
		t.Error("no PDF")
	}
}

// Every episode, and every standstill in which the engine ran on, has a picture in both
// widths, and every section of the HTML is in the PDF.
func TestBothFormsSayTheSame(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "failed-start", "kept-running"), Job: page.Job{Complaint: "does not start at lights"}, Extent: page.Extent{Full: true, All: true}}
	text := driven.Written(t, r.WriteHTML)
	pictures, ran := 2, 0 // those of the sheet
	for i := range r.After.Logs {
		res := r.After.Logs[i].Result
		pictures += 1 + len(res.Episodes)
		for k := range res.Standstills {
			if res.Standstills[k].RanOn() {
				ran++
			}
		}
	}
	if n := strings.Count(text, "<svg "); n != 2*(pictures+ran) || ran < 6 {
		t.Errorf("%d pictures, of %d standstills in which the engine ran on", n, ran)
	}
	program := oracle.Program(t, "pdftotext", "poppler-utils")
	file := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(file, []byte(driven.Written(t, r.WritePDF)), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	plain := func(s string) string { return strings.Join(strings.Fields(s), "") }
	pdf := plain(string(out))
	for _, section := range r.Sections() {
		if !strings.Contains(pdf, plain(section.Title)) {
			t.Errorf("the PDF lacks the section %q", section.Title)
		}
		for _, b := range section.Blocks {
			for _, item := range b.List {
				if first := plain(item.Term); !strings.Contains(pdf, first) {
					t.Errorf("the PDF lacks %q", item.Term)
				}
			}
			if b.Figure == nil {
				continue
			}
			for _, shape := range b.Figure.Wide.Shapes {
				if !strings.Contains(pdf, plain(shape.Label)) {
					t.Errorf("the PDF lacks %q of the picture %q", shape.Label, b.Figure.Wide.Title)
				}
			}
		}
	}
	if !strings.Contains(pdf, "doesnotstartatlights") {
		t.Error("the PDF lacks the complaint")
	}
}

// A pool of characters outside of the font, of any plane, is no obstacle.
func TestAnyCharacterCanBeSet(t *testing.T) {
	s := driven.Side(t, nil, "kept-running")
	for _, note := range []string{"東京 кириллица ελληνικά עברית", "\U0001F697 \U0010FFFF", "\xff\xfe", strings.Repeat("x", 5000), strings.Repeat("word ", 3000), "a\nb\tc"} {
		r := &page.Report{After: *s, Job: everywhere(note)}
		if pdf := driven.Written(t, r.WritePDF); !strings.HasPrefix(pdf, "%PDF-") {
			t.Errorf("no PDF with %.20q", note)
		}
	}
}

// A drive with nothing in it makes a report too.
func TestALogWithoutEpisodesIsReported(t *testing.T) {
	m, err := sigmap.Parse("car.yaml", scenario.Map("map.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	res := onelog.NewRun(m).Finish(decode.Info{})
	s := page.Side{Report: &words.Report{Map: m, Logs: []words.Log{{Name: "empty.log", Result: res}}}}
	drawn := page.Everything(res)
	s.Traces = append(s.Traces, drawn.Traces(res, trace.New(m, res, drawn.Windows(res)).Finish()))
	r := &page.Report{After: s, Before: &s, Comparison: driven.Compared(&s, &s), Extent: page.Extent{Full: true}}
	for _, want := range []string{"Not measured: the engine speed was never seen.", "Nothing measured is there on both sides."} {
		if !strings.Contains(driven.Written(t, r.WriteHTML), want) {
			t.Errorf("the report lacks %q", want)
		}
	}
	if !strings.HasPrefix(driven.Written(t, r.WritePDF), "%PDF-") {
		t.Error("no PDF")
	}
}

// Below 5 MB and 5 s is the aim for an hour of driving, which has some 70
// episodes; this measures the making of the file, without the reading.
func BenchmarkReport(b *testing.B) {
	s := driven.Side(b, nil, "slow-to-go-before")
	hour := page.Side{Report: &words.Report{Map: s.Map}}
	for i := range 7 {
		l := s.Logs[0]
		l.Name = fmt.Sprint(i, l.Name)
		hour.Logs = append(hour.Logs, l)
		hour.Traces = append(hour.Traces, s.Traces[0])
	}
	r := &page.Report{After: hour, Extent: page.Extent{Full: true, All: true}}
	for name, write := range map[string]func(io.Writer) error{"html": r.WriteHTML, "pdf": r.WritePDF} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				b.ReportMetric(float64(len(driven.Written(b, write)))/1e6, "MB")
			}
		})
	}
}

// Pages that are made of sections can be set up after a report was written.
func TestTheTemplatesCanBeHadAfterAReportWasWritten(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "town")}
	driven.Written(t, r.WriteHTML)
	if page.Templates().Lookup("section") == nil {
		t.Error("no template of a section")
	}
}
