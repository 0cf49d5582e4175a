package browsertest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

const aDraft = "document.querySelector('body.drafted #signals')"

func TestALogWithoutAMapIsDraftedAndMeasured(t *testing.T) {
	u := sitDown(t, serve(t))
	folder := t.TempDir()
	u.must(u.tab.SaveInto(folder))
	u.drag("form.drop", demo(t, "town.log"))
	u.loaded("document.querySelector('form.choose button.first')")
	u.tabTo("BUTTON Draft a map from this log")
	u.press(kb.Enter)
	u.loaded(aDraft)

	// The answer first, in the words of the command.
	said := run(t, demo(t, ""), "draft", "town.log", "-o", filepath.Join(t.TempDir(), "map.yaml"))
	_, measures, _ := strings.Cut(said, "With this map: ")
	measures, _, _ = strings.Cut(measures, "\n\n")
	if got := u.text("main > section:first-of-type dl dd:last-of-type"); got != strings.Join(strings.Fields(measures), " ") {
		t.Errorf("the page says %q, not %q", got, measures)
	}
	if n := u.count("#signals .signal figure svg"); n < 6 {
		t.Errorf("%d curves are seen", n)
	}
	rows := u.count("#as-measured tbody tr")

	// What is left out goes and comes back; the page stays where it was.
	u.click(`button[value="out battery_voltage"]`)
	u.loaded("document.querySelector('#out') && location.hash === '#signal-battery_voltage'")
	u.click(`button[value="in battery_voltage"]`)
	u.loaded(aDraft + " && !document.querySelector('#out')")
	u.click("#signals details.rivals[open] button")
	u.loaded("document.querySelector('#signals details.rivals[open]')?.innerText.includes('proposed first')")
	u.click("#signals details.rivals[open] button")
	u.loaded(aDraft + " && !document.querySelector('#signals details.rivals[open]')?.innerText.includes('proposed first')")

	// A value of the dashboard.
	u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("[name=value]"), "0")))
	u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("[name=at]"), "12"+kb.Enter)))
	u.expected = []string{"422"}
	u.until("document.querySelector('form.dash .trouble').innerText.includes('a number above 0')")

	u.click("#take a.button")
	text := string(u.saved(folder, "map.yaml"))
	if !strings.Contains(text, "role: engine_speed") {
		t.Errorf("the map saved is %q", text)
	}
	u.click("#take button")
	u.loaded("document.querySelector('section.episodes tbody[data-open]')")
	if got := len(u.numbers()); got != rows {
		t.Errorf("%d episodes measured, %d foreseen", got, rows)
	}
	if err := os.WriteFile(filepath.Join(folder, "again.yaml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	u.visit(u.url)
	u.drag("form.drop", demo(t, "town.log"), filepath.Join(folder, "again.yaml"))
	u.loaded("document.querySelector('section.episodes tbody[data-open]')")
	if got := len(u.numbers()); got != rows {
		t.Errorf("%d episodes by the map saved, %d foreseen", got, rows)
	}
}

// given writes a file to be dropped.
func given(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Marks and a database are dropped before the log, with it or on the draft, anywhere on the
// page; what is damaged is told and nothing is lost.
func TestMarksAndADatabaseAreDroppedInAnyOrder(t *testing.T) {
	u := sitDown(t, serve(t))
	good := given(t, "my.marks", "brake 20 21\n")
	bad := given(t, "bad.marks", "brake 20 21\nbrake soon\n")
	database := given(t, "car.dbc", "BO_ 416 Engine: 8 ECU\n SG_ EngineSpeed : 16|16@1+ (0.25,0) [0|16383] \"rpm\" X\n")
	u.drag("form.drop", good)
	u.until("document.querySelector('form.drop details').open && document.querySelector('[name=marks]').files.length === 1")
	if u.count(".told") > 0 {
		t.Error("marks without a log were sent")
	}
	u.drag("form.drop", demo(t, "town.log"))
	u.loaded("document.querySelector('form.gives')")
	if got := u.text("form.gives"); !strings.Contains(got, "my.marks: 1 marked time") {
		t.Errorf("the marks are not there: %s", got)
	}
	u.drag("footer", database) // a near miss
	u.loaded(aDraft + " && document.querySelector('#beside').innerText.includes('car.dbc: a database of 1 message')")
	if got := u.text("#beside"); !strings.Contains(got, "my.marks: 1 marked time") {
		t.Errorf("the marks are not there any more: %s", got)
	}
	u.expected = []string{"422"}
	u.drag("#signals", bad)
	u.until("document.querySelector('#beside .trouble').innerText.includes('bad.marks:2: 2 words instead of 3')")
	u.drag("#signals", demo(t, "town.log"))
	u.until("document.querySelector('#beside .trouble').innerText.includes('town.log: this page has no use for it; drop it on the first page')")
	u.tabTo("BUTTON Draft without the database")
	u.press(kb.Enter)
	u.loaded(aDraft + " && !document.querySelector('#beside').innerText.includes('car.dbc')")
	u.choose("#beside [name=dbc]", database)
	u.click("#beside form.gives [type=submit]")
	u.loaded(aDraft + " && document.querySelector('#beside').innerText.includes('car.dbc: a database')")
}
