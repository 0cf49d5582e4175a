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
	u.click("#signals details.rivals[open] button[value$=' 0']")
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
