package serve

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/pkg/source"
)

// results are what episodes.json of a measurement says.
type results struct {
	Logs []struct {
		Name     string
		Episodes []struct {
			Metrics map[string]struct{ Value float64 }
		}
	}
}

func (x *site) results(path string) (r results) {
	x.t.Helper()
	a := x.get(path + "/file/episodes.json")
	if err := json.Unmarshal([]byte(a.text), &r); err != nil {
		x.t.Fatalf("status %d: %v: %.300s", a.StatusCode, err, a.text)
	}
	return r
}

func (r results) names() (list []string) {
	for _, l := range r.Logs {
		list = append(list, l.Name)
	}
	return list
}

func packed(text string) string {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, _ = io.WriteString(w, text) // a buffer takes all
	_ = w.Close()
	return b.String()
}

// Whatever is dropped, there is a page that says what came of it, and nothing is left
// of what could not be used.
func TestEveryDropHasAnAnswer(t *testing.T) {
	x := serving(t, Options{Largest: 30e6}, nil)
	log, yaml := part{"log", "drive.log", stops(30)}, part{"map", "car.yaml", driven.CarMap}
	long := strings.Repeat("long name ", 1000)
	rows := []struct {
		name  string
		parts []part
		want  int
		says  string
	}{
		{"log and map", []part{log, yaml}, 303, "drive.log"},
		{"map first", []part{yaml, log}, 303, "drive.log"},
		{"two logs", []part{log, {"log", "other.log", stops(20)}, yaml}, 303, "drive.log, other.log"},
		{"packed log", []part{{"log", "drive.log.gz", packed(stops(30))}, yaml}, 303, "drive.log.gz"},
		{"map from elsewhere", []part{log, {"map", "car.yaml", "\uFEFF" + strings.ReplaceAll(driven.CarMap, "\n", "\r\n")}}, 303, "drive.log"},
		{"map without a file's name", []part{log, {"maptext", "", driven.CarMap}}, 303, "map.yaml"},
		{"map with mistakes", []part{log, {"map", "car.yaml", driven.CarMap + "nonsense: 1\n"}}, 303, "1 mistake"},
		{"empty map", []part{log, {"map", "car.yaml", ""}}, 303, "mistake"},
		{"log as the map", []part{log, {"map", "car.yaml", stops(10)}}, 303, "mistake"},
		{"picture as the map", []part{log, {"map", "car.yaml", "\x89PNG\r\n\x1a\n\x00\x00"}}, 303, "mistake"},
		{"absolute name", []part{{"log", "/etc/passwd", stops(30)}, yaml}, 303, "passwd"},
		{"name that leads up", []part{{"log", "../../../etc/passwd", stops(30)}, yaml}, 303, "passwd"},
		{"name of a device", []part{{"log", "/dev/null", stops(30)}, yaml}, 303, "null"},
		{"name that means standard input", []part{{"log", "-", stops(30)}, yaml}, 303, "-"},
		{"long name", []part{{"log", long, stops(30)}, {"map", long, driven.CarMap}}, 303, long[:200]},
		{"two maps", []part{log, yaml, {"map", "second.yaml", "format: 2\n"}}, 303, "car.yaml"},
		{"no map chosen", []part{log, {"map", "", ""}, yaml}, 303, "drive.log"},

		{"no map", []part{log}, 303, "Draft a map from this log"},
		{"no log", []part{yaml}, 422, "no log was dropped"},
		{"no log chosen", []part{{"log", "", ""}, yaml}, 422, "no log was dropped"},
		{"nothing", nil, 422, "no log was dropped"},
		{"empty log", []part{{"log", "drive.log", ""}, yaml}, 422, "drive.log: holds no frame"},
		{"picture as the log", []part{{"log", "drive.png", "\x89PNG\r\n\x1a\n\x00\x00"}, yaml}, 422, "holds no frame"},
		{"unknown field", []part{{"path", "", "/etc/passwd"}, log, yaml}, 400, "a field"},
		{"map too large", []part{log, {"map", "car.yaml", strings.Repeat("#", mostMap+1)}}, 413, "the map is larger than 1024 KiB"},
		{"text of a map too large", []part{log, {"maptext", "", strings.Repeat("#", mostMap+1)}}, 413, "the map is larger than"},
		{"field too large", []part{{"with", "", strings.Repeat("x", mostField+1)}, log, yaml}, 413, "a field is larger than"},
		{"too many logs", append(slices.Repeat([]part{{"log", "a.log", "x"}}, mostLogs+1), yaml), 413, "more than 200 logs at once"},
		{"too many parts", append(slices.Repeat([]part{{"side", "", "after"}}, mostParts+1), log, yaml), 413, "more than 200 logs at once"},
		{"against what is gone", []part{{"with", "", "gone"}, log, yaml}, 410, "no longer kept"},
		{"again what is gone", []part{{"again", "", "gone"}, {"maptext", "", driven.CarMap}}, 410, "no longer kept"},
		{"too large", []part{{"log", "drive.log", strings.Repeat("x", 31e6)}, yaml}, 413, "more than 0.03 GB at once"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			before := len(x.drops())
			a := x.drop(row.parts...)
			text := a.text
			if a.StatusCode != row.want {
				t.Fatalf("status %d, want %d: %s", a.StatusCode, row.want, text)
			}
			checkHeaders(t, a)
			if row.want == 303 {
				text = x.get(strings.TrimPrefix(a.Header.Get("Location"), x.base())).text
			} else if left := len(x.drops()); left != before {
				t.Errorf("%d folders more", left-before)
			}
			if !strings.Contains(text, row.says) {
				t.Errorf("the page lacks %q: %s", row.says, text)
			}
			if strings.Contains(text, x.store.root) || strings.Contains(text, os.TempDir()) {
				t.Error("the page names the server's folder")
			}
		})
	}
	// No name of a client's became a file's.
	names := map[string]bool{}
	err := filepath.WalkDir(x.store.root, func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := entry.Info()
		if err != nil {
			return err
		}
		if want := fs.FileMode(0o600); !entry.IsDir() {
			names[entry.Name()] = true
			if info.Mode() != want {
				t.Errorf("%s has the mode %v", path, info.Mode())
			}
		} else if info.Mode() != fs.ModeDir|0o700 {
			t.Errorf("%s has the mode %v", path, info.Mode())
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(names) != 3 || !names["lock"] || !names["0.log"] || !names["1.log"] {
		t.Errorf("files of these names: %v", names)
	}
}

// What a script is told about a drop is a line, with the same status.
func TestTheScriptIsToldInLines(t *testing.T) {
	x := serving(t, Options{}, nil)
	ask := func(parts ...part) *answer {
		kind, body := form(parts...)
		r := x.request(context.Background(), http.MethodPost, "/drives", kind, bytes.NewReader(body))
		r.Header.Set("Accept", ndjson)
		a := x.do(r)
		checkHeaders(t, a)
		if a.Header.Get("Content-Type") != ndjson {
			t.Errorf("Content-Type %q", a.Header.Get("Content-Type"))
		}
		return a
	}
	log := part{"log", "drive.log", stops(30)}
	a := ask(log, part{"map", "car.yaml", driven.CarMap})
	told := lines(t, a.text)
	if a.StatusCode != 200 || len(told) < 2 || told[0].Part != 0.5 {
		t.Errorf("status %d: %v", a.StatusCode, told)
	}
	if last := told[len(told)-1]; !strings.HasPrefix(last.At, x.base()+"/drives/") {
		t.Errorf("no address: %v", last)
	}
	a = ask(part{"map", "car.yaml", driven.CarMap})
	if told := lines(t, a.text); a.StatusCode != 422 || len(told) != 1 || !strings.HasPrefix(told[0].Error, "no log was dropped; ") {
		t.Errorf("status %d: %v", a.StatusCode, told)
	}
	a = ask(part{"log", "a\x01\u202e<b>.log", ""}, part{"map", "car.yaml", driven.CarMap})
	if told := lines(t, a.text); a.StatusCode != 422 || told[0].Error != `a\x01\u202e<b>.log: holds no frame` || strings.Contains(a.text, "<b>") {
		t.Errorf("status %d: %q", a.StatusCode, a.text)
	}
}

// Several logs of one name in a drop stay apart, each with its own episodes.
func TestLogsOfOneNameStayApart(t *testing.T) {
	x := serving(t, Options{}, nil)
	at := x.dropped(part{"log", "drive.log", stops(30)}, part{"log", "drive.log", stops(50)}, part{"log", "drive.log (2)", stops(70)}, part{"log", "drive.log", stops(90)}, part{"map", "m.yaml", driven.CarMap})
	r := x.results(at)
	want := []string{"drive.log", "drive.log (2)", "drive.log (2) (2)", "drive.log (3)"}
	if !slices.Equal(r.names(), want) {
		t.Errorf("names %q, want %q", r.names(), want)
	}
	for i, rest := range []int{30, 50, 70, 90} {
		if off := r.Logs[i].Episodes[0].Metrics["engine_off"].Value; math.Abs(off-offFor(rest)) > 0.02 {
			t.Errorf("%s: engine off for %v s, want %v", want[i], off, offFor(rest))
		}
	}
}

// A map with mistakes is mended on the page: its log waits, under its name.
func TestAMapIsMendedOnThePage(t *testing.T) {
	x := serving(t, Options{}, nil)
	wrong := strings.Replace(driven.CarMap, "role: engine_speed", "role: engine_sped", 1)
	at := x.dropped(part{"log", "drive.log", stops(30)}, part{"map", "car.yaml", wrong})
	if a := x.get(at); a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.text, "engine_sped") || !strings.Contains(a.text, "drive.log") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	for _, path := range []string{"/card?open=a0.1", "/readings?open=a0.1", "/file/episodes.csv", "/file/report.html"} {
		if a := x.get(at + path); a.StatusCode != http.StatusNotFound {
			t.Errorf("%s: status %d", path, a.StatusCode)
		}
	}
	id := strings.TrimPrefix(at, "/drives/")
	// Forms end lines as HTML says (multipart/form-data encoding: CRLF).
	again := x.dropped(part{"again", "", id}, part{"maptext", "", strings.ReplaceAll(driven.CarMap, "\n", "\r\n")})
	if r := x.results(again); len(r.Logs) != 1 || r.Logs[0].Name != "drive.log" || len(r.Logs[0].Episodes) != 1 {
		t.Errorf("%+v", r)
	}
	if a := x.get(again); !strings.Contains(a.text, "car.yaml") || strings.Contains(a.text, "\r") {
		t.Error("the map has another name or other line ends")
	}
	// Once more with the text as it is: the map that is kept is the one that came.
	kept := x.store.get(strings.TrimPrefix(again, "/drives/"))
	same := x.dropped(part{"again", "", kept.id}, part{"maptext", "", strings.ReplaceAll(driven.CarMap, "\n", "\r\n")})
	if m := x.store.get(strings.TrimPrefix(same, "/drives/")); !bytes.Equal(m.mapText, kept.mapText) || m.files != kept.files {
		t.Error("another map or other files")
	}
}

// A map that is in order and does not fit the log is mended on the page too: the log
// waits, and the page says what does not fit.
func TestAMapThatDoesNotFitIsMendedOnThePage(t *testing.T) {
	x := serving(t, Options{}, func(s *Server) {
		measure := s.work.Measure
		s.work.Measure = func(ctx context.Context, m *decode.Map, logs []source.Input, told func(float64)) (*page.Side, []string, error) {
			if m.Entries[0].ID == 0x1A1 {
				return nil, nil, fmt.Errorf("wrapped: %w", &measuring.Misfit{Text: "drive.log: <b>the engine speed is never seen"})
			}
			return measure(ctx, m, logs, told)
		}
	})
	at := x.dropped(part{"log", "drive.log", stops(30)}, part{"map", "car.yaml", strings.Replace(driven.CarMap, "0x1A0", "0x1A1", 1)})
	a := x.get(at)
	if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.text, "&lt;b&gt;the engine speed is never seen.") || !strings.Contains(a.text, "id: 0x1A1") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	checkPage(t, x, a.text)
	if a := x.get("/"); !strings.Contains(a.text, "needs a map that fits") {
		t.Error("the first page does not say that it waits")
	}
	again := x.dropped(part{"again", "", strings.TrimPrefix(at, "/drives/")}, part{"maptext", "", driven.CarMap})
	if r := x.results(again); len(r.Logs) != 1 || len(r.Logs[0].Episodes) != 1 {
		t.Errorf("%+v", r)
	}
}

// A second log is held against the first, on the side that was said, by its own map
// or by the first one's.
func TestASecondLogIsHeldAgainstTheFirst(t *testing.T) {
	x := serving(t, Options{}, nil)
	first := x.dropped(part{"log", "first.log", stops(30)}, part{"map", "car.yaml", driven.CarMap})
	id := strings.TrimPrefix(first, "/drives/")
	after := x.dropped(part{"with", "", id}, part{"side", "", "after"}, part{"log", "second.log", stops(50)})
	if !strings.HasSuffix(after, "?before="+id) {
		t.Errorf("to %s", after)
	}
	before := x.dropped(part{"with", "", id}, part{"side", "", "before"}, part{"log", "second.log", stops(50)}, part{"map", "other.yaml", driven.CarMap})
	if !strings.HasPrefix(before, first+"?before=") {
		t.Errorf("to %s", before)
	}
	if a := x.get(after); a.StatusCode != 200 || !strings.Contains(a.text, "first.log") || !strings.Contains(a.text, "second.log") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	path, query, _ := strings.Cut(after, "?")
	for name, want := range map[string]int{"/file/compare.csv?" + query: 200, "/file/compare.json?" + query: 200, "/card?open=b0.1&" + query: 200, "/readings?open=b0.1&" + query: 200,
		"/file/report.pdf?" + query: 200, "/file/compare.csv": 404, "/card?open=b0.1": 404, "/card?open=b0.2&" + query: 404, "/file/compare.csv?before=gone": 404} {
		if a := x.get(path + name); a.StatusCode != want {
			t.Errorf("%s: status %d, want %d", name, a.StatusCode, want)
		}
	}
	// What cannot be compared is shown without it.
	if a := x.get(first + "?before=" + id); a.StatusCode != 200 || !strings.Contains(a.text, "No comparison: first.log: is on both sides") {
		t.Errorf("with itself: status %d: %s", a.StatusCode, a.text)
	}
	if a := x.get(first + "?before=gone"); a.StatusCode != 200 || !strings.Contains(a.text, "No comparison: ") {
		t.Errorf("with what is gone: status %d: %s", a.StatusCode, a.text)
	}
	wrong := x.dropped(part{"with", "", id}, part{"log", "third.log", stops(50)}, part{"map", "other.yaml", "format: 2\n"})
	if strings.Contains(wrong, "before=") {
		t.Errorf("held against a log without a result: %s", wrong)
	}
}

// The map that serving began with is for drops without one.
func TestTheServersOwnMapIsTaken(t *testing.T) {
	x := serving(t, Options{}, func(s *Server) { s.work.Map, s.work.MapName = []byte(driven.CarMap), "own.yaml" })
	at := x.dropped(part{"log", "drive.log", stops(30)})
	if a := x.get(at); !strings.Contains(a.text, "own.yaml") {
		t.Error("its name is not there")
	}
	if a := x.get("/"); !strings.Contains(a.text, "own.yaml") {
		t.Error("the first page does not name it")
	}
}

// A demonstration is measured as a drop is.
func TestTheDemonstrationIsMeasured(t *testing.T) {
	x := serving(t, Options{}, nil)
	ask := func(name string) *answer {
		return x.do(x.request(context.Background(), http.MethodPost, "/demo", "application/x-www-form-urlencoded", strings.NewReader("name="+name)))
	}
	a := ask("short")
	if r := x.results(strings.TrimPrefix(a.Header.Get("Location"), x.base())); len(r.Logs) != 1 || r.Logs[0].Name != "short.log" || len(r.Logs[0].Episodes) != 1 {
		t.Errorf("%+v", r)
	}
	before := len(x.drops())
	for _, name := range []string{"", "..%2fshort", strings.Repeat("x", mostField+1)} {
		if a := ask(name); a.StatusCode != http.StatusNotFound {
			t.Errorf("%.20s: status %d", name, a.StatusCode)
		}
	}
	if left := len(x.drops()); left != before {
		t.Errorf("%d folders more", left-before)
	}
}

// A folder that cannot be written to is told without its path.
func TestAFolderThatIsGoneIsTold(t *testing.T) {
	x := serving(t, Options{}, nil)
	if err := os.RemoveAll(x.store.root); err != nil {
		t.Fatal(err)
	}
	a := x.drop(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	if a.StatusCode != http.StatusInsufficientStorage || !strings.Contains(a.text, "the drop cannot be kept") || strings.Contains(a.text, x.store.root) {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
}

// A name is cut between characters, never within one.
func TestNamesAreCutBetweenCharacters(t *testing.T) {
	for _, row := range []struct {
		name, want string
		most       int
	}{
		{"drive", "drive", 5}, {"drives", "drive", 5}, {"aéé", "aé", 4}, {"aéé", "aéé", 5}, {"東京", "東", 5}, {"東", "", 2}, {"\x80\x80\x80", "", 2},
	} {
		if got := shortened(row.name, row.most); got != row.want {
			t.Errorf("%q to %d: %q, want %q", row.name, row.most, got, row.want)
		}
	}
}
