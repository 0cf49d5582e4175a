package serve

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"unicode/utf8"

	"lull/cmd/lull/internal/markup"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
)

// hostile text tries to act, to steer a terminal or a reader's eye, and to end what it
// stands in.
const hostile = `"><script>alert(1)</script><img src=x onerror=alert(2)>'&</textarea></svg>{{.Base}}` + "\u202e\u2028\x1b[2J"

// hostileName is hostile as a file's name, which ends at its last slash.
var hostileName = strings.ReplaceAll(hostile, "/", "")

var textarea = regexp.MustCompile(`(?s)<textarea id="maptext".*?</textarea>`)

// checkPage holds a page to what a page of this server may have: its own script and
// style sheet, addresses of its own, nothing that acts.
func checkPage(t testing.TB, x *site, text string) {
	t.Helper()
	// The text of a map is there to be changed and stays as it is; what got out of its
	// field would be left here.
	text = textarea.ReplaceAllString(text, "")
	elements, err := markup.Elements(text)
	if err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	own := map[string]string{"script": x.base() + "/page.js", "link": x.base()}
	for _, start := range elements {
		switch name := start.Name.Local; name {
		case "img", "iframe", "object", "embed", "base", "foreignObject", "image", "use", "style", "audio", "video", "animate", "set", "template", "frame", "applet":
			t.Fatalf("an element %s", name)
		case "script", "link":
			found := false
			for _, a := range start.Attr {
				found = found || (a.Name.Local == "src" || a.Name.Local == "href") && strings.HasPrefix(a.Value, own[name])
			}
			if !found {
				t.Fatalf("an element %v", start)
			}
		case "meta":
			for _, a := range start.Attr {
				if a.Name.Local == "http-equiv" {
					t.Fatalf("an element %v", start)
				}
			}
		}
		for _, a := range start.Attr {
			switch name := a.Name.Local; {
			case strings.HasPrefix(name, "on"), name == "style", name == "srcdoc", name == "ping":
				t.Fatalf("an attribute %s", name)
			case name == "href", name == "src", name == "action", name == "formaction":
				if !strings.HasPrefix(a.Value, x.base()+"/") && !strings.HasPrefix(a.Value, "?") && !strings.HasPrefix(a.Value, "#") {
					t.Fatalf("an address %s=%q", name, a.Value)
				}
			}
		}
	}
	if strings.ContainsAny(text, "\x00\x1b\u202e\u2028") {
		t.Error("a character that steers stands in the page")
	}
}

// hostileMap is driven.CarMap with hostile text wherever a map has text.
func hostileMap(t testing.TB) string {
	t.Helper()
	// Maps have no control characters.
	spoken := strconv.Quote(strings.ReplaceAll(hostile, "\x1b", "")) // a YAML string, too
	in := func(before string) string { return before[:len(before)-1] + spoken[1:] }
	yaml := strings.NewReplacer(
		"vehicle: Tallowmere 1.2", "vehicle: "+in(`"v"`)+"\nnotes: "+in(`"n"`),
		"module: engine control", "module: "+in(`"m"`),
		"rpm:  {start: 0", in(`"rpm"`)+": {start: 0",
		"stop: {start: 16, length: 1, role: stop_command}", in(`"stop"`)+": {start: 16, length: 1, role: stop_command}\n      page: {start: 17, length: 1, unit: "+in(`"u"`)+", values: {0: "+in(`"off"`)+", 1: "+in(`"on"`)+"}}",
	).Replace(driven.CarMap)
	return yaml + "restart_requests:\n  - {name: " + in(`"request"`) + ", by: driver, when: {signal: page, is_not: 1}}\n" +
		"inhibits:\n  - {name: " + in(`"inhibit"`) + ", when: {signal: page, is: 1}}\nconditions: [" + in(`"rpm"`) + "]\nlimits: {restart_latency: {max: 0.0001}}\n"
}

// Whatever stands in a map, a log, a file's name or a field is shown and never acts.
func TestHostileTextIsShownAndNeverActs(t *testing.T) {
	x := serving(t, Options{}, nil)
	log := part{"log", hostileName + ".log", stops(30) + hostile + "\n(1) " + hostile + " 1A0#00\n"}
	at := x.dropped(log, part{"map", hostileName + ".yaml", hostileMap(t)})
	if a := x.get(at); a.StatusCode != 200 {
		t.Fatalf("status %d: %s", a.StatusCode, a.text)
	}
	id := strings.TrimPrefix(at, "/drives/")
	both := x.dropped(part{"with", "", id}, part{"side", "", "after"}, part{"log", "b" + hostileName, stops(40)}, part{"map", hostileName, hostileMap(t)})
	path, query, _ := strings.Cut(both, "?")
	wrong := x.dropped(log, part{"map", hostileName + ".yaml", hostileMap(t) + "\"" + "x" + "\": 1\n" + hostile + "\n"})
	pages := map[string]string{
		"first page": "/", "drive": at, "episode": at + "?open=a0.1", "comparison": both, "its episode": both + "&open=b0.1", "mistakes": wrong,
		"card": at + "/card?open=a0.1", "card of before": path + "/card?open=b0.1&" + query,
		"hostile address": at + "?open=" + url.QueryEscape(hostile) + "&before=" + url.QueryEscape(hostile) + "&sort=" + url.QueryEscape(hostile),
		"refusal":         "/" + url.PathEscape(hostile), "no such drive": "/drives/" + url.PathEscape(hostile), "no such file": at + "/file/" + url.PathEscape(hostile),
	}
	for name, path := range pages {
		t.Run(name, func(t *testing.T) {
			a := x.get(path)
			checkPage(t, x, a.text)
			checkHeaders(t, a)
			if name != "first page" && !strings.Contains(name, "refus") && !strings.Contains(name, "no such") && !strings.Contains(a.text, "&lt;script&gt;") {
				t.Errorf("the text is not shown: status %d: %s", a.StatusCode, a.text)
			}
		})
	}
	for _, path := range []string{at + "/readings?open=a0.1", at + "/file/episodes.json", at + "/file/standstills.json", path + "/file/compare.json?" + query} {
		a := x.get(path)
		checkHeaders(t, a)
		if a.Header.Get("Content-Type") != "application/json" || !json.Valid([]byte(a.text)) || a.StatusCode != 200 {
			t.Errorf("%s: status %d, %s", path, a.StatusCode, a.Header.Get("Content-Type"))
		}
	}
	fields := url.Values{"file": {"report.html"}}
	for _, name := range []string{"complaint", "vehicle", "order", "technician", "note"} {
		fields.Set(name, name+hostile)
	}
	a := x.do(x.request(context.Background(), http.MethodPost, both[:strings.Index(both, "?")]+"/report?"+query, "application/x-www-form-urlencoded", strings.NewReader(fields.Encode())))
	checkHeaders(t, a)
	if a.StatusCode != 200 || strings.Contains(a.text, "<script") || strings.Contains(a.text, "<img") || !strings.Contains(a.text, "complaint&#34;&gt;&lt;script&gt;") {
		t.Errorf("the report: status %d", a.StatusCode)
	}
	// A part's field, a demonstration's name, a script's line.
	a = x.drop(part{field: hostile, text: hostile})
	checkPage(t, x, a.text)
	kind, body := form(part{"log", hostileName, ""}, part{"map", hostileName, hostileMap(t)})
	r := x.request(context.Background(), http.MethodPost, "/drives", kind, bytes.NewReader(body))
	r.Header.Set("Accept", ndjson)
	if a := x.do(r); strings.ContainsAny(a.text, "<>\u202e\x1b") || len(lines(t, a.text)) != 1 {
		t.Errorf("the script is told %q", a.text)
	}
}

// Everything that can be saved is named after its log, in characters that every
// system takes, by a header that every browser reads (RFC 6266; RFC 5987 for names
// beyond ASCII).
func TestFilesAreNamedAfterTheirLog(t *testing.T) {
	for _, row := range []struct{ log, want string }{
		{"drive.log", "drive-report.pdf"}, {"drive", "drive-report.pdf"}, {"drive.log.gz", "drive.log-report.pdf"}, {"drive.log (2)", "drive-report.pdf"},
		{"東京 é.log", "東京 é-report.pdf"}, {`a"b\c.log`, "a_b_c-report.pdf"}, {"a\r\nb.log", "a_r_nb-report.pdf"}, {"a\x00b.log", "a_x00b-report.pdf"},
		{"a/b:c*d?e<f>g|h%i.log", "a_b_c_d_e_f_g_h_i-report.pdf"}, {"..", "report.pdf"}, {"...log", "report.pdf"}, {".hidden.log", "hidden-report.pdf"}, {".log", "report.pdf"},
		{"", "report.pdf"}, {"/", "_-report.pdf"}, {"a .log", "a-report.pdf"}, {"\xff.log", "_xff-report.pdf"}, {"a\u202egpj.log", "a_u202egpj-report.pdf"},
		{strings.Repeat("é", 200) + ".log", strings.Repeat("é", 50) + "-report.pdf"},
	} {
		if got := saveName(row.log, "report.pdf"); got != row.want || !utf8.ValidString(got) {
			t.Errorf("%q: %q, want %q", row.log, got, row.want)
		}
	}
	x := serving(t, Options{}, nil)
	for _, row := range []struct{ log, want string }{
		{"drive.log", `attachment; filename=drive-episodes.csv`},
		{"a b; filename=evil.exe.log", `attachment; filename="a b; filename=evil.exe-episodes.csv"`},
		{"naïve.log", `attachment; filename*=utf-8''na%C3%AFve-episodes.csv`},
		{"a\r\nSet-Cookie: x=y.log", `attachment; filename="a_r_nSet-Cookie_ x=y-episodes.csv"`},
	} {
		at := x.dropped(part{"log", row.log, stops(20)}, part{"map", "m.yaml", driven.CarMap})
		a := x.get(at + "/file/episodes.csv")
		got := a.Header.Get("Content-Disposition")
		if got != row.want || a.Header.Get("Set-Cookie") != "" {
			t.Errorf("%q: %s, want %s", row.log, got, row.want)
		}
		if _, values, err := mime.ParseMediaType(got); err != nil || values["filename"] != saveName(row.log, "episodes.csv") {
			t.Errorf("%q is read as %v, %v", got, values, err)
		}
	}
}

// Each file is of the kind that it says.
func TestEveryFileCanBeSaved(t *testing.T) {
	x := serving(t, Options{}, nil)
	at := x.dropped(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	id := strings.TrimPrefix(at, "/drives/")
	both := x.dropped(part{"with", "", id}, part{"side", "", "after"}, part{"log", "other.log", stops(40)})
	path, query, _ := strings.Cut(both, "?")
	begins := map[string]string{"csv": "log,", "json": "{", "xlsx": "PK\x03\x04", "html": "<!DOCTYPE html>", "pdf": "%PDF-"}
	for name := range files {
		a := x.get(path + "/file/" + name + "?" + query)
		ending := name[strings.LastIndex(name, ".")+1:]
		want := begins[ending]
		if name == "compare.csv" {
			want = ""
		}
		if a.StatusCode != 200 || !strings.HasPrefix(a.text, want) || a.Header.Get("Content-Type") != files[name].kind || len(a.text) == 0 {
			t.Errorf("%s: status %d, %s, %.20q", name, a.StatusCode, a.Header.Get("Content-Type"), a.text)
		}
		if got := a.Header.Get("Content-Disposition"); got != "attachment; filename=other-"+name {
			t.Errorf("%s: %s", name, got)
		}
		checkHeaders(t, a)
	}
	report := func(file string, size int) *answer {
		return x.do(x.request(context.Background(), http.MethodPost, path+"/report?"+query, "application/x-www-form-urlencoded",
			strings.NewReader("file="+file+"&complaint=slow+to+go&note="+strings.Repeat("x", size))))
	}
	if a := report("sheet.html", 0); a.StatusCode != 200 || !strings.Contains(a.text, "slow to go") || !strings.Contains(a.text, "other.log") || !strings.Contains(a.text, "drive.log") || strings.Contains(a.text, "How it was measured") {
		t.Errorf("status %d: %.300s", a.StatusCode, a.text)
	}
	if a := report("sheet.pdf", 0); a.StatusCode != 200 || !strings.HasPrefix(a.text, "%PDF-") {
		t.Errorf("status %d: %.300s", a.StatusCode, a.text)
	}
	if a := report("report.html", 0); a.StatusCode != 200 || !strings.Contains(a.text, "slow to go") || !strings.Contains(a.text, "How it was measured") {
		t.Errorf("the full report: status %d", a.StatusCode)
	}
	if a := report("sheet.html", 65<<10); a.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("too much text: status %d", a.StatusCode)
	}
}

// A body where none belongs is not read, least of all into files of its own.
func TestABodyOfAReadingRequestIsNotTaken(t *testing.T) {
	x := serving(t, Options{}, nil)
	at := x.dropped(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	kind, body := form(part{"file", "big", strings.Repeat("x", 40<<20)}, part{"before", "", "gone"})
	for _, path := range []string{at, at + "/card?open=a0.1", at + "/readings?open=a0.1", at + "/file/episodes.csv"} {
		// What was made of the body would be there before it ends.
		var made atomic.Int32
		from := io.MultiReader(bytes.NewReader(body[:len(body)-100]), readerFunc(func([]byte) (int, error) {
			list, _ := os.ReadDir(os.Getenv("TMPDIR"))
			made.Store(int32(len(list)))
			return 0, io.EOF
		}))
		a, err := try(x.request(context.Background(), http.MethodGet, path, kind, from))
		if err == nil && (a.StatusCode != 200 || strings.Contains(a.text, "No comparison")) {
			t.Errorf("%s: status %d", path, a.StatusCode)
		}
		if list, _ := os.ReadDir(os.Getenv("TMPDIR")); len(list) != 1 || made.Load() > 1 {
			t.Errorf("%s: %d files, %d", path, len(list), made.Load())
		}
	}
}

// What fails while an answer is made is told whole, with its status.
func TestAnAnswerThatCannotBeMadeIsTold(t *testing.T) {
	x := serving(t, Options{}, func(s *Server) {
		s.work.Compare = func(_, _ *words.Report, _ bool) (*words.CompareReport, error) { return nil, errors.New("compared <b>") }
	})
	at := x.dropped(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	both := x.dropped(part{"with", "", strings.TrimPrefix(at, "/drives/")}, part{"side", "", "after"}, part{"log", "other.log", stops(40)})
	if a := x.get(both); a.StatusCode != 200 || !strings.Contains(a.text, "No comparison: compared &lt;b&gt;") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	broken := func(*page.Report, io.Writer) error { return fmt.Errorf("a pen broke") }
	kept := files["report.pdf"]
	defer func() { files["report.pdf"] = kept }()
	f := kept
	f.write = broken
	files["report.pdf"] = f
	if a := x.get(at + "/file/report.pdf"); a.StatusCode != 500 || !strings.Contains(a.text, "report.pdf could not be made: a pen broke") || a.Header.Get("Content-Disposition") != "" {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	w := httptest.NewRecorder()
	x.write(w, http.StatusOK, func(io.Writer) error { return errors.New("no paper") })
	if w.Code != 500 || w.Body.String() != "the page could not be made: no paper" {
		t.Errorf("status %d: %s", w.Code, w.Body.String())
	}
}

// Workshop and technician are asked for once: what is remembered stands in the form, and it
// is kept only where the box is ticked.
func TestTheSheetsFieldsAreRememberedOnlyIfAsked(t *testing.T) {
	x := serving(t, Options{}, nil)
	var kept page.Job
	times := 0
	x.work.Remembered = func() (page.Job, error) { return kept, nil }
	x.work.Remember = func(job page.Job) error { kept, times = job, times+1; return nil }
	at := x.dropped(part{"log", "drive.log", stops(20)}, part{"map", "m.yaml", driven.CarMap})
	for _, ticked := range []string{"", "&remember=yes"} {
		a := x.do(x.request(context.Background(), http.MethodPost, at+"/report", "application/x-www-form-urlencoded",
			strings.NewReader("file=sheet.html&workshop=Harbour+Lane"+ticked)))
		if a.StatusCode != 200 || !strings.Contains(a.text, "<dd>Harbour Lane</dd>") {
			t.Fatalf("status %d\n%.300s", a.StatusCode, a.text)
		}
		if (times == 1) != (ticked != "") {
			t.Errorf("%q: remembered %d times", ticked, times)
		}
		if holds := strings.Contains(x.get(at).text, `name="workshop" maxlength="500" value="Harbour Lane"`); holds != (ticked != "") {
			t.Errorf("%q: the form holds it: %v", ticked, holds)
		}
	}
}
