package serve

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/marks"
	"lull/decode/sigmap"
)

// give sends files to a draft.
func (x *site) give(path string, parts ...part) *answer {
	x.t.Helper()
	path, _, _ = strings.Cut(path, "?")
	kind, body := form(parts...)
	return x.do(x.request(context.Background(), http.MethodPost, path+"/draft", kind, strings.NewReader(string(body))))
}

// townMarks are marks of the brake in that drive, by its own map.
func townMarks(t *testing.T) string {
	t.Helper()
	m, d := driven.Drive(t, "town.log")
	var text []byte
	decoder := decode.NewDecoder(m)
	zero, since := int64(0), -1.0
	for f := range d.Frames {
		if zero == 0 {
			zero = f.Time
		}
		at := float64(f.Time-zero) / 1e9
		for _, v := range decoder.Decode(f) {
			switch {
			case m.Signals[v.Signal].Name != "brake" || !v.Valid:
			case v.Raw != 0 && since < 0:
				since = at
			case v.Raw == 0 && since >= 0:
				text = marks.Append(text, marks.Mark{Name: "brake", From: since + 0.2, To: at + 0.2})
				since = -1
			}
		}
	}
	return string(text)
}

const townDBC = "VERSION \"\"\nBO_ 416 Engine: 8 ECU\n SG_ StopLamp : 3|1@1+ (1,0) [0|1] \"\" X\n SG_ EngineSpeed : 16|16@1+ (0.25,0) [0|16383.75] \"rpm\" X\n"

// Files for a draft come with the log, in whatever field, and afterwards; the map is drafted
// with them and without them again.
func TestMarksAndADatabaseAreDraftedWith(t *testing.T) {
	oneDraftIsEnough(t)
	x := drafting(t)
	byMarks, byDatabase := "marked time", "of the database"
	at := x.dropped(part{"log", "town.log", townLog(t)}, part{"log", "my.marks", townMarks(t)}, part{"dbc", "car.dbc", townDBC})
	if page := x.get(at).text; !strings.Contains(page, "my.marks: ") || !strings.Contains(page, "car.dbc: a database of 1 message") || !strings.Contains(page, "Draft a map from this log") {
		t.Fatalf("what waits is not told: %s", page)
	}
	at = x.led(x.choose(at))
	page := x.get(at).text
	for _, want := range []string{byMarks, byDatabase, "Used for this draft", "without marks"} {
		if !strings.Contains(page, want) {
			t.Errorf("both: no %q", want)
		}
	}
	at = x.led(x.choose(at, "say", "without marks"))
	if page := x.get(at).text; strings.Contains(page, byMarks) || !strings.Contains(page, byDatabase) {
		t.Error("the marks are still used, or the database is not")
	}
	at = x.led(x.choose(at, "say", "without dbc"))
	plain := x.get(strings.Split(at, "?")[0] + "/map.yaml").text
	if plain != string(commandDraft(t, townLog(t))) {
		t.Errorf("without both it is not the draft from the log alone:\n%s", plain)
	}
	// Afterwards, one after the other, in the wrong field.
	at = x.led(x.give(at, part{"dbc", "my.marks", townMarks(t)}))
	at = x.led(x.give(at, part{"marks", "car.dbc", townDBC}))
	if page := x.get(at).text; !strings.Contains(page, byMarks) || !strings.Contains(page, byDatabase) {
		t.Error("given afterwards they are not used")
	}
	// On a log that waits for its map.
	at = x.led(x.give(x.dropped(part{"log", "town.log", townLog(t)}), part{"marks", "by hand.txt", townMarks(t)}, part{"dbc", "", ""}))
	if page := x.get(at).text; !strings.Contains(page, "by hand.txt: ") || !strings.Contains(page, byMarks) {
		t.Error("the first draft is without what it was given")
	}
}

// What is damaged is told with its line and costs nothing that was there.
func TestDamagedFilesForADraftAreToldAndCostNothing(t *testing.T) {
	x := drafting(t)
	bad := "brake 1 2\nbrake 3\n"
	at := x.dropped(part{"log", "town.log", townLog(t)}, part{"marks", "my.marks", bad}, part{"dbc", "car.dbc", "BO_ x\n"}, part{"dbc", "huge.dbc", strings.Repeat("x", mostDBC+1)},
		part{"marks", "one.marks", "brake 1 2\n"}, part{"log", "two.marks", "brake 1 2\n"})
	page := x.get(at).text
	for _, want := range []string{"my.marks:2: 2 words instead of 3", "car.dbc:1: ", "the database is larger than 16384 KiB", "one.marks: 1 marked time", "two.marks: another one came before it", "Draft a map from this log"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	at = x.led(x.choose(at))
	before := x.get(at).text
	for _, wrong := range []struct {
		part
		status int
		want   string
	}{
		{part{"marks", "my<b>.marks", bad}, 422, "my&lt;b&gt;.marks:2: 2 words"},
		{part{"marks", "none.marks", "# nothing\n"}, 422, "no mark is in it"},
		{part{"marks", "many.marks", strings.Repeat("brake 1 2\n", 1001)}, 422, "it has 1001 marks"},
		{part{"marks", "large.marks", strings.Repeat("#", mostMarks+1)}, 413, "larger than 256 KiB"},
		{part{"dbc", "car.dbc", "no database"}, 422, "no message is defined"},
		{part{"log", "town.log", "x"}, 400, "no form of a draft has"},
		{part{"dbc", "endless.dbc", strings.Repeat("x", mostGiven+1)}, 413, "for a draft"},
	} {
		if a := x.give(at, wrong.part); a.StatusCode != wrong.status || !strings.Contains(a.text, wrong.want) {
			t.Errorf("%s: status %d: %.400s", wrong.name, a.StatusCode, a.text)
		}
	}
	if x.get(at).text != before {
		t.Error("the draft is another one")
	}
	// What is sound of a database is used, and what is not is told with its line.
	page = x.get(x.led(x.give(at, part{"dbc", "car.dbc", townDBC + " SG_ Odd : 60|16@1+ (1,0) [0|1] \"\" X\n"}))).text
	if !strings.Contains(page, "car.dbc:5: ") || !strings.Contains(page, "of the database") {
		t.Errorf("the mistake is not told: %s", page)
	}
	if n := len(x.drops()); n != 1 {
		t.Errorf("%d folders", n)
	}
}

// Files beside a log with its map change nothing of what is measured.
func TestFilesForADraftDoNotDisturbAMeasurement(t *testing.T) {
	x := drafting(t)
	at := x.dropped(part{"log", "town.log", stops(30)}, part{"log", "car.yaml", driven.CarMap}, part{"marks", "my.marks", "brake 1"})
	page := x.get(at).text
	if !strings.Contains(page, "Idle stops") || !strings.Contains(page, "my.marks:1: ") {
		t.Errorf("%s", page)
	}
}

// Each log has its curves, and a choice stays with those that were looked at.
func TestEachLogHasItsCurves(t *testing.T) {
	oneDraftIsEnough(t)
	x := drafting(t)
	log := townLog(t)
	at := x.led(x.choose(x.dropped(part{"log", "one.log", log}, part{"log", "two.log", log[:len(log)/2]})))
	first := x.get(at).text
	second := x.get(at + "?curves=2").text
	figure := func(page string) string {
		_, rest, _ := strings.Cut(page, "<figure>")
		f, _, _ := strings.Cut(rest, "</figure>")
		return f
	}
	if !strings.Contains(first, "one.log (shown)") || !strings.Contains(second, "two.log (shown)") || figure(first) == figure(second) || figure(second) == "" {
		t.Error("both pages have the same curves")
	}
	for _, odd := range []string{"0", "3", "-1", "x"} {
		if page := x.get(at + "?curves=" + odd).text; !strings.Contains(page, "one.log (shown)") {
			t.Errorf("curves=%s", odd)
		}
	}
	r := x.request(context.Background(), http.MethodPost, at+"/draft?curves=2", "application/x-www-form-urlencoded", strings.NewReader("say=out+brake"))
	if to := x.led(x.do(r)); !strings.HasSuffix(to, "&curves=2") {
		t.Errorf("led to %s", to)
	}
}

// Another engine speed dates the other signals anew, and the first one does when it is
// taken back.
func TestAnotherEngineSpeedDatesTheRestAnew(t *testing.T) {
	oneDraftIsEnough(t)
	x := drafting(t)
	// Another module tells the same engine speed.
	var twice strings.Builder
	for line := range strings.Lines(townLog(t)) {
		twice.WriteString(line)
		if strings.Contains(line, " 1A0#") {
			twice.WriteString(strings.Replace(line, " 1A0#", " 2A0#", 1))
		}
	}
	at := x.led(x.choose(x.dropped(part{"log", "town.log", twice.String()})))
	m := x.store.get(strings.TrimPrefix(at, "/drives/"))
	if engine := m.draft.Draft.Result.Signals[0]; len(engine.Rivals) != 1 {
		t.Fatalf("%d rivals", len(engine.Rivals))
	}
	plain := x.get(at + "/map.yaml").text
	to := x.led(x.choose(at, "say", "use engine_speed 1"))
	after := x.store.get(m.id)
	if after.draft.Proposed == m.draft.Proposed {
		t.Error("nothing was drafted anew")
	}
	chosen, err := sigmap.Parse("map.yaml", after.draft.Text)
	if err != nil {
		t.Fatal(err)
	}
	if s := chosen.RoleSignal(decode.EngineSpeed); chosen.Entries[s.Entry].ID != 0x2A0 || chosen.RoleSignal(decode.StopCommand) == nil {
		t.Errorf("by the other engine speed:\n%s", after.draft.Text)
	}
	// Another choice, which needs no draft anew, leaves it.
	x.led(x.choose(to, "say", "out brake"))
	if now := x.store.get(m.id); now.draft.Proposed != after.draft.Proposed {
		t.Error("drafted anew for nothing")
	}
	x.led(x.choose(to, "say", "in brake"))
	x.led(x.choose(to, "say", "use engine_speed 1"))
	if x.get(at+"/map.yaml").text != plain {
		t.Error("taken back, it is not what it was")
	}
}
