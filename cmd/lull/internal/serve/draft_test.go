package serve

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/oracle"
	"lull/pkg/source"
)

// drafting starts a server that drafts and measures as lull does.
func drafting(t *testing.T) *site {
	t.Helper()
	return serving(t, Options{}, func(s *Server) {
		s.work.Measure = func(ctx context.Context, m *decode.Map, logs []source.Input, told func(float64)) (*page.Side, []string, error) {
			return measuring.Drop(ctx, "1.0", measuring.PageRoom, m, logs, told)
		}
	})
}

// choose sends what a button of a draft says.
func (x *site) choose(path string, fields ...string) *answer {
	x.t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		form.Set(fields[i], fields[i+1])
	}
	path, _, _ = strings.Cut(path, "?")
	return x.do(x.request(context.Background(), http.MethodPost, path+"/draft", "application/x-www-form-urlencoded", strings.NewReader(form.Encode())))
}

// led is where an answer leads.
func (x *site) led(a *answer) string {
	x.t.Helper()
	if a.StatusCode != http.StatusSeeOther {
		x.t.Fatalf("status %d: %s", a.StatusCode, a.text)
	}
	at, _, _ := strings.Cut(strings.TrimPrefix(a.Header.Get("Location"), x.base()), "#")
	return at
}

// townLog is a drive of the demonstration.
func townLog(t *testing.T) string {
	t.Helper()
	_, d := driven.Drive(t, "town.log")
	return driven.Written(t, d.WriteLog)
}

// fastest is when the car of that drive is fastest, and how fast that is, as a speedometer
// shows it.
func fastest(t *testing.T) (value, at string) {
	t.Helper()
	m, d := driven.Drive(t, "town.log")
	decoder := decode.NewDecoder(m)
	var zero, when int64
	top := 0.0
	for f := range d.Frames {
		if zero == 0 {
			zero = f.Time
		}
		for _, x := range decoder.Decode(f) {
			if m.Signals[x.Signal].Role == decode.VehicleSpeed && x.Valid && x.Value > top {
				top, when = x.Value, f.Time-zero
			}
		}
	}
	return fmt.Sprintf("%.0f", 1.03*top), fmt.Sprintf("%.1f", float64(when)/1e9)
}

var said = regexp.MustCompile(`value="((?:use|out|in) [^"]*)"`)

func TestALogWithoutAMapIsDraftedAndMeasuredByIt(t *testing.T) {
	x := drafting(t)
	at := x.dropped(part{"log", "town.log", townLog(t)})
	a := x.get(at)
	if a.StatusCode != http.StatusOK || !strings.Contains(a.text, "Draft a map from this log") || !strings.Contains(a.text, "Key on, engine off") {
		t.Fatalf("status %d: %s", a.StatusCode, a.text)
	}
	drafted := x.led(x.choose(at))
	page := x.get(drafted).text
	for _, want := range []string{"Engine speed", "Brake", "<svg", "With this map", "Measure with this map"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	direct := commandDraft(t, townLog(t))
	if saved := x.get(drafted + "/map.yaml"); saved.text != string(direct) || !strings.Contains(saved.Header.Get("Content-Disposition"), "map.yaml") {
		t.Errorf("%s is not what the command writes:\n%s", saved.text, direct)
	}

	// One is left out and taken back, a rival is used and given up again.
	var buttons []string
	for _, m := range said.FindAllStringSubmatch(page, -1) {
		buttons = append(buttons, html.UnescapeString(m[1]))
	}
	if !slices.Contains(buttons, "out battery_voltage") || slices.Contains(buttons, "out engine_speed") {
		t.Errorf("the buttons say %q", buttons)
	}
	at = x.led(x.choose(drafted, "say", "out battery_voltage"))
	if page := x.get(at).text; !strings.Contains(page, "Left out by you") || strings.Contains(x.get(drafted+"/map.yaml").text, "battery_voltage: {") {
		t.Error("the voltage is still there")
	}
	at = x.led(x.choose(at, "say", "in battery_voltage"))
	rival := slices.IndexFunc(buttons, func(b string) bool { return strings.HasPrefix(b, "use ") && !strings.HasSuffix(b, " 0") })
	if rival < 0 {
		t.Fatalf("no rival: %q", buttons)
	}
	at = x.led(x.choose(at, "say", buttons[rival]))
	if page := x.get(at).text; !strings.Contains(page, "which was proposed first") {
		t.Error("the page does not say what was proposed first")
	}
	if bytes.Equal([]byte(x.get(drafted+"/map.yaml").text), direct) {
		t.Error("the rival did not come into the map")
	}
	name := strings.Fields(buttons[rival])[1]
	x.led(x.choose(at, "say", "in "+name))
	if x.get(drafted+"/map.yaml").text != string(direct) {
		t.Error("without choices the map is not what it was")
	}

	// Measured, it is what the command measures by that map.
	measured := x.dropped(part{"again", "", strings.TrimPrefix(drafted, "/drives/")})
	if got, want := x.get(measured+"/file/episodes.csv").text, commandEpisodes(t, direct, townLog(t)); got != want {
		t.Errorf("episodes\n%s\nnot\n%s", got, want)
	}
	if n := len(x.drops()); n != 1 {
		t.Errorf("%d folders for one log", n)
	}
}

// A map of another car stays beside the draft that takes its place.
func TestALogThatAMapDoesNotFitIsDrafted(t *testing.T) {
	x := drafting(t)
	at := x.dropped(part{"log", "town.log", townLog(t)}, part{"map", "other.yaml", strings.ReplaceAll(driven.CarMap, "0x1A0", "0x7F0")})
	if page := x.get(at).text; !strings.Contains(page, "Draft a map from this log") {
		t.Fatalf("no way to a draft: %s", page)
	}
	drafted := x.led(x.choose(at))
	if drafted == at {
		t.Error("the draft took the place of the map that did not fit")
	}
	if page := x.get(drafted).text; !strings.Contains(page, "A map, drafted from the log") {
		t.Error("no draft")
	}
	if page := x.get(at).text; !strings.Contains(page, "other.yaml") {
		t.Error("the map is gone")
	}
}

func TestWhatIsNoLogIsNotDrafted(t *testing.T) {
	x := drafting(t)
	at := x.dropped(part{"log", "no\x1bise<b>.log", "no log\n"})
	if a := x.choose(at); a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.text, `no\x1bise&lt;b&gt;.log`) || strings.Contains(a.text, x.store.root) {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	if n := len(x.drops()); n != 1 {
		t.Errorf("%d folders", n)
	}
	// An engine that stands still all the time has no map, and the page says what to do.
	still := x.dropped(part{"log", "still.log", strings.Repeat("(1.000000) can0 100#0000000000000000\n", 50)})
	page := x.get(x.led(x.choose(still))).text
	if !strings.Contains(page, "Without an engine speed there is no map") || strings.Contains(page, "Save the map") {
		t.Errorf("the page of nothing: %s", page)
	}
	if a := x.get(still + "/map.yaml"); a.StatusCode != http.StatusNotFound {
		t.Errorf("status %d", a.StatusCode)
	}
}

// A draft is worked on as drops are: one after the other, told, and given up with its window.
func TestADraftIsToldItsProgressAndWaitsItsTurn(t *testing.T) {
	x := drafting(t)
	at := x.dropped(part{"log", "town.log", townLog(t)})
	leave, err := x.queue.enter(context.Background(), func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	told := make(chan []line)
	go func() {
		r := x.request(context.Background(), http.MethodPost, at+"/draft", "application/x-www-form-urlencoded", nil)
		r.Header.Set("Accept", ndjson)
		a, err := try(r)
		if err != nil {
			t.Error(err)
			close(told)
			return
		}
		told <- lines(t, a.text)
	}()
	until(t, "the draft waits", func() bool {
		x.queue.mu.Lock()
		defer x.queue.mu.Unlock()
		return len(x.queue.waiting) == 2
	})
	leave()
	list := <-told
	if len(list) < 3 || list[0].Before != 1 || list[1].Part == 0 || !strings.HasPrefix(list[len(list)-1].At, x.base()+"/drives/") {
		t.Errorf("told %v", list)
	}

	// Who goes away ends it, and nothing stays of it.
	leave, err = x.queue.enter(context.Background(), func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	defer leave()
	ctx, end := context.WithCancel(context.Background())
	gone := make(chan error)
	go func() {
		_, err := try(x.request(ctx, http.MethodPost, at+"/draft", "application/x-www-form-urlencoded", nil))
		gone <- err
	}()
	until(t, "the draft waits", func() bool {
		x.queue.mu.Lock()
		defer x.queue.mu.Unlock()
		return len(x.queue.waiting) == 2
	})
	end()
	if <-gone == nil {
		t.Error("it had an answer")
	}
	until(t, "the draft is given up", func() bool {
		x.queue.mu.Lock()
		defer x.queue.mu.Unlock()
		return len(x.queue.waiting) == 1
	})
}

func TestAValueOfTheDashboardSettlesTheFactor(t *testing.T) {
	oneDraftIsEnough(t)
	x := drafting(t)
	drafted := x.led(x.choose(x.dropped(part{"log", "town.log", townLog(t)})))
	if page := x.get(drafted).text; !strings.Contains(page, "Settle the factor") {
		t.Fatal("no field for a value of the dashboard")
	}
	for _, wrong := range [][2]string{{"", "1"}, {"fast", "1"}, {"-5", "1"}, {"NaN", "1"}, {"50", "-1"}, {"50", "Inf"}} {
		if a := x.choose(drafted, "say", "shown vehicle_speed", "unit", "km/h", "value", wrong[0], "at", wrong[1]); a.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("%q: status %d", wrong, a.StatusCode)
		}
	}
	value, at := fastest(t)
	page := x.get(x.led(x.choose(drafted, "say", "shown vehicle_speed", "unit", "km/h", "value", value, "at", at))).text
	if !strings.Contains(page, "the dashboard showed "+value+" km/h") || !strings.Contains(page, "its factor likely") {
		t.Errorf("%s km/h at %s s does not settle it:\n%s", value, at, page)
	}
	page = x.get(x.led(x.choose(drafted, "say", "forget vehicle_speed"))).text
	if strings.Contains(page, "the dashboard showed "+value) {
		t.Error("it is not forgotten")
	}
}

func TestOnlyWhatADraftHasCanBeChosen(t *testing.T) {
	oneDraftIsEnough(t)
	x := drafting(t)
	drafted := x.led(x.choose(x.dropped(part{"log", "town.log", townLog(t)})))
	for _, wrong := range []string{"out", "out nothing", "use engine_speed", "use engine_speed -1", "use engine_speed 99999", "burn engine_speed", "<script>"} {
		if a := x.choose(drafted, "say", wrong); a.StatusCode != http.StatusBadRequest {
			t.Errorf("%q: status %d", wrong, a.StatusCode)
		}
	}
	if a := x.choose("/drives/none"); a.StatusCode != http.StatusGone {
		t.Errorf("status %d", a.StatusCode)
	}
	if a := x.choose(drafted, "say", strings.Repeat("x", mostField)); a.StatusCode != http.StatusBadRequest {
		t.Errorf("too long: status %d", a.StatusCode)
	}
	r := x.request(context.Background(), http.MethodPost, drafted+"/draft", "application/x-www-form-urlencoded", strings.NewReader("say=out+brake"))
	r.Header.Set("Origin", "http://elsewhere.example")
	if a := x.do(r); a.StatusCode != http.StatusForbidden {
		t.Errorf("another page: status %d", a.StatusCode)
	}
}

// commandDraft is the map that the command writes.
func commandDraft(t *testing.T, log string) []byte {
	t.Helper()
	l := commandLogs(t, log)
	_, text, _, err := l.Draft(context.Background(), measuring.DraftOrder{})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// commandEpisodes is the table that the command writes by a map.
func commandEpisodes(t *testing.T, text []byte, log string) string {
	t.Helper()
	l := commandLogs(t, log)
	m, err := sigmap.Parse("map.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	l.Map = m
	r, _, err := l.Report(context.Background(), true)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := document.WriteCSV(&b, r, words.Episodes); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// commandLogs are the logs of a command in a folder that has the log.
func commandLogs(t *testing.T, log string) *measuring.Logs {
	t.Helper()
	t.Chdir(t.TempDir())
	if err := os.WriteFile("town.log", []byte(log), 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := measuring.New(measuring.Order{Args: []string{"town.log"}, NoMap: true, Terse: true, Version: "1.0", Tell: func(measuring.Note) {}})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// oneDraftIsEnough skips a test under the race detector, which makes a draft ten times slower:
// TestALogWithoutAMapIsDraftedAndMeasuredByIt has it look at one.
func oneDraftIsEnough(t *testing.T) {
	t.Helper()
	if oracle.RaceDetector {
		t.Skip("one draft is enough for the race detector")
	}
}
