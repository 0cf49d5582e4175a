package web_test

import (
	"fmt"
	"html"
	"io"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/draft"
	"lull/cmd/lull/internal/markup"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// tags are the elements of a page, without their text.
var tags = regexp.MustCompile(`<[^>]*>`)

// The card that opens on a page is that of the report, but for what tells which
// episode or standstill it is.
func TestTheCardsOfAPageAreThoseOfTheReport(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "kept-running"), Before: driven.Side(t, nil, "failed-start"), Extent: page.Extent{Full: true, All: true}}
	r.Comparison = driven.Compared(r.Before, &r.After)
	// Of several logs the headings and labels in a report name the log.
	label := regexp.MustCompile(` aria-label="[^"]*"`)
	text := label.ReplaceAllString(driven.Written(t, r.WriteHTML), "")
	for letter, s := range map[string]*page.Side{"a": &r.After, "b": r.Before} {
		var opens []string
		for _, e := range s.Logs[0].Result.Episodes {
			opens = append(opens, fmt.Sprintf("%s0.%d", letter, e.N))
		}
		for _, v := range s.Logs[0].Result.Standstills {
			if v.RanOn() { // a report has no cards of the others
				opens = append(opens, fmt.Sprintf("%ss0.%d", letter, v.N))
			}
		}
		for _, open := range opens {
			card, ok := web.Card(r, open)
			if !ok {
				t.Fatalf("no card %s", open)
			}
			got := strings.TrimSpace(driven.Written(t, card.Write))
			got = strings.Replace(got, ` data-open="`+open+`"`, "", 1)
			got = label.ReplaceAllString(got, "")
			from := strings.Index(got, "<ul>")
			if !strings.Contains(text, got[from:]) {
				t.Errorf("the card %s is not in the report:\n%.300s", open, got)
			}
		}
	}
}

func TestAnAddressNamesOneEpisodeOrStandstillOrNone(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "town", "failed-start")}
	for _, c := range []struct {
		open string
		ok   bool
	}{
		{"a0.1", true}, {"a1.2", true}, {"a2.1", false}, {"a0.99", false}, {"a0.0", false}, {"a-1.1", false}, {"b0.1", false},
		{"c0.1", false}, {"", false}, {"a", false}, {"a.", false}, {"a0", false}, {"a0.x", false}, {"a99999999999999999999.1", false}, {"é0.1", false},
		{"as0.1", true}, {"as1.2", true}, {"as0.99", false}, {"as0.0", false}, {"bs0.1", false}, {"as", false}, {"ass0.1", false}, {"s0.1", false}, {"as.1", false},
	} {
		o, ok := web.Find(r, c.open)
		if ok != c.ok {
			t.Errorf("%q: found %v", c.open, ok)
		}
		if !ok {
			continue
		}
		res := o.Side.Logs[o.Log].Result
		got := fmt.Sprintf("a%d.%d", o.Log, res.Episodes[min(o.Place, len(res.Episodes)-1)].N)
		if o.Standstill {
			got = fmt.Sprintf("as%d.%d", o.Log, res.Standstills[o.Place].N)
		}
		if got != c.open {
			t.Errorf("%q: found %s", c.open, got)
		}
	}
	if _, ok := web.Card(nil, "a0.1"); ok {
		t.Error("a card of no report")
	}
}

func drivePage(r *page.Report) web.Drive {
	return web.Drive{Frame: web.Frame{Base: "/secret", Version: "1.0"}, ID: "one", Title: "drive.log", Report: r, Largest: 5, MapName: "car.yaml", MapText: "format: 1\n"}
}

// Every episode has a row that tells what it can be filtered by, and only the one
// that is asked for has its card.
func TestEveryEpisodeHasARowAndTheOpenOneItsCard(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "failed-start")}
	d := drivePage(r)
	d.Open = "a0.2"
	text := driven.Written(t, d.Write)
	broken := 0
	for _, e := range r.After.Logs[0].Result.Episodes {
		if strings.Count(text, fmt.Sprintf(`<tbody data-open="a0.%d"`, e.N)) != 1 {
			t.Errorf("no row of episode %d", e.N)
		}
		for _, v := range e.Limits {
			if v.Verdict == analyze.Outside {
				broken++
				break
			}
		}
	}
	if n := strings.Count(text, `|verdict=out"`); n != broken || broken == 0 {
		t.Errorf("%d rows with a broken limit, want %d", n, broken)
	}
	if n := strings.Count(text, `class="card" data-open="a0.2"`); n != 1 || strings.Count(text, `class="card"`) != 1 {
		t.Errorf("%d cards of episode 2", n)
	}
	answer, table := strings.Index(text, `id="answer"`), strings.Index(text, "<table")
	if answer < 0 || answer > table {
		t.Error("the answer does not come first")
	}
}

// Every standstill has a row that tells what it can be filtered by and a link that opens
// its card without a script; the page leads to the table.
func TestEveryStandstillHasARowAndTheOpenOneItsCard(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "kept-running"), Before: driven.Side(t, nil, "town")}
	r.Comparison = driven.Compared(r.Before, &r.After)
	d := drivePage(r)
	d.BeforeID, d.Open = "two", "bs0.7"
	text := driven.Written(t, d.Write)
	for letter, s := range map[string]*page.Side{"a": &r.After, "b": r.Before} {
		for _, v := range s.Logs[0].Result.Standstills {
			open := fmt.Sprintf("%ss0.%d", letter, v.N)
			for _, want := range []string{`<tbody data-open="` + open + `" id="standstill-` + open + `"`, `href="?open=` + open + `&amp;before=two#standstill-` + open + `"`} {
				if strings.Count(text, want) != 1 {
					t.Errorf("not one %s", want)
				}
			}
		}
	}
	for is, want := range map[string]int{"engine=stopped|engine=not counted": 2, "engine=not stopped": 5, "engine=not stopped|engine=no reason found": 1, "engine=stopped": 8, "engine=not counted": 5} {
		if n := strings.Count(text, `data-is="`+is+`"`); n != want {
			t.Errorf("%d rows are %s, want %d", n, is, want)
		}
	}
	if n := strings.Count(text, `class="card" data-open="bs0.7"`); n != 1 || strings.Count(text, `class="card"`) != 1 {
		t.Errorf("%d cards of standstill 7", n)
	}
	for _, want := range []string{`<a href="#episodes">`, `<a href="#standstills">`, ` id="episodes"`, ` id="standstills"`} {
		if strings.Count(text, want) != 1 {
			t.Errorf("not one %s", want)
		}
	}
}

// A map's mistakes stand below their lines, the lines around them are there, and
// what is far from any mistake is left out and counted.
func TestMistakesStandInTheTextOfTheMap(t *testing.T) {
	var lines []string
	for i := 1; i <= 40; i++ {
		lines = append(lines, fmt.Sprintf("line%02d <b>", i))
	}
	d := drivePage(nil)
	d.MapText = strings.Join(lines, "\r\n") + "\r\n"
	d.Mistakes = []web.Mistake{
		{Line: 10, Column: 3, Why: "first", Hint: "mend"}, {Line: 10, Column: 5, Why: "second"}, {Line: 400, Column: 1, Why: "behind the end"},
	}
	text := driven.Written(t, d.Write)
	from, to := strings.Index(text, "<ol>"), strings.Index(text, "</ol>")
	var got []string
	for item := range strings.SplitSeq(text[from:to], "<li ") {
		words := strings.Fields(html.UnescapeString(tags.ReplaceAllString("<li "+item, " ")))
		if len(words) > 0 {
			got = append(got, strings.Join(words, " "))
		}
	}
	want := []string{"5 lines without a mistake"}
	for i := 6; i <= 14; i++ {
		text := fmt.Sprintf("line%02d <b>", i)
		if i == 10 {
			text += " line 10 , character 3: first; mend line 10 , character 5: second"
		}
		want = append(want, text)
	}
	want = append(want, "21 lines without a mistake", "line36 <b>", "line37 <b>", "line38 <b>", "line39 <b>", "line40 <b> line 400 , character 1: behind the end")
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

// Nothing that a log, a map, a file's name or the server's folder brings acts on
// any of the pages: every element and attribute is one of lull's own.
func TestHostileTextActsOnNoPage(t *testing.T) {
	const hostile = "\"'><script>alert(1)</script><img src=x onerror=alert(2)>&{{.}}\u202e\x00\x1b[2J</textarea>"
	s := driven.Hostile(t, hostile)
	r := &page.Report{After: *s, Before: s, Comparison: driven.Compared(s, s)}
	kept := []web.Kept{{ID: "two", Title: hostile, At: "12:00:00", Measured: true}, {ID: "three", Title: hostile, At: "12:00:00"}}
	beside := web.Beside{Marks: hostile, Database: hostile, Unsound: []string{hostile}}
	frame := web.Frame{Base: "/secret", Version: "1.0"}
	whole := web.Drive{Frame: frame, ID: "one", Title: hostile, Report: r, BeforeID: "two", BeforeTitle: hostile, NoComparison: hostile,
		MapName: hostile, MapText: hostile, Remarks: []string{hostile}, Kept: kept, Open: "a0.1", Beside: beside}
	wrong := whole
	wrong.Report, wrong.Mistakes = nil, []web.Mistake{{Line: 1, Column: 1, Why: hostile, Hint: hostile}}
	none := whole
	none.Report, none.NoMap = nil, true
	guess := draft.Signal{What: draft.Marked, Name: hostile, Entry: decode.Entry{Bus: hostile}, Evidence: []draft.Evidence{draft.Database{Message: hostile, Signal: hostile}},
		Rivals: []draft.Rival{{Entry: decode.Entry{Bus: hostile}}}, Alike: 1}
	speed := draft.Signal{What: draft.VehicleSpeed, Name: hostile, Field: decode.Signal{Unit: hostile}, Evidence: []draft.Evidence{draft.DashValue{Unit: hostile}}}
	drafted := web.Draft{Frame: frame, ID: "one", Title: hostile, MapText: hostile, Remarks: []string{hostile}, Shown: []web.Shown{{Name: hostile, Text: hostile}}, Curved: 2, Beside: beside,
		Choices: map[string]draft.Choice{hostile: guess.Instead(1)}, Curves: []web.Curve{{Span: 1}, {Span: 1, Points: []analyze.TracePoint{{T: 1, Value: 2}}}},
		Draft: &words.Draft{Logs: []string{hostile, hostile}, Measured: s.Report, Result: &draft.Draft{Signals: []draft.Signal{guess, speed}, Out: []draft.Signal{guess}}}}
	odd, standstill := whole, whole
	odd.Open, standstill.Open = hostile, "as0.2"
	card, _ := web.Card(r, "b0.1")
	another, ok := web.Card(r, "bs0.2")
	if !ok {
		t.Fatal("there is no standstill")
	}
	for name, write := range map[string]func(io.Writer) error{
		"start":  web.Start{Frame: frame, MapName: hostile, Demo: []web.Choice{{Value: hostile, Text: hostile}}, Kept: kept}.Write,
		"no map": none.Write, "draft": drafted.Write,
		"drive": whole.Write, "mistakes": wrong.Write, "an odd address": odd.Write, "card": card.Write,
		"standstill": standstill.Write, "card of a standstill": another.Write,
		"notice": web.Notice{Frame: frame, Text: hostile, Hint: hostile}.Write,
	} {
		text := driven.Written(t, write)
		// The map's text is the user's own and is given back as it came.
		shown := text
		if from := strings.Index(text, `<textarea id="maptext"`); from >= 0 {
			_, given, _ := strings.Cut(text[from:], ">")
			given, rest, _ := strings.Cut(given, "</textarea>")
			if strings.Contains(given, "<") {
				t.Errorf("%s: the map's text is not escaped: %s", name, given)
			}
			shown = text[:from] + rest
		}
		elements, err := markup.Elements(shown)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, start := range elements {
			tag := start.Name.Local
			if strings.Contains(" img iframe object embed base foreignObject image use style ", " "+tag+" ") {
				t.Fatalf("%s: an element %s", name, tag)
			}
			for _, a := range start.Attr {
				own := strings.HasPrefix(a.Value, "/secret/") || strings.HasPrefix(a.Value, "#") || strings.HasPrefix(a.Value, "?open=")
				switch a.Name.Local {
				case "href", "src", "action":
					if !own || strings.ContainsAny(a.Value, "<>\"' ") {
						t.Errorf("%s: %s %s=%q", name, tag, a.Name.Local, a.Value)
					}
				case "style", "srcdoc", "formaction", "srcset":
					t.Errorf("%s: an attribute %s", name, a.Name.Local)
				}
				if strings.HasPrefix(a.Name.Local, "on") {
					t.Errorf("%s: an attribute %s", name, a.Name.Local)
				}
			}
			if tag == "script" && len(start.Attr) == 0 {
				t.Errorf("%s: a script of its own", name)
			}
		}
		if !strings.HasPrefix(name, "card") && !strings.Contains(text, "&lt;script&gt;") {
			t.Errorf("%s: the hostile text is not shown", name)
		}
		if strings.ContainsAny(shown, "\x1b\u202e") {
			t.Errorf("%s: a character that steers stands in the page", name)
		}
	}
}

// A page for someone who has no right to be here tells nothing of the address.
func TestANoticeWithoutBaseLeadsNowhere(t *testing.T) {
	text := driven.Written(t, web.Notice{Text: "no"}.Write)
	for _, part := range []string{"href", "src", "secret"} {
		if strings.Contains(text, part) {
			t.Errorf("it has %q:\n%s", part, text)
		}
	}
}
