package browsertest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// longest is what a busy machine may take from the drop to the table; the figure
// itself is measured by BenchmarkDropToTable.
const longest = 5 * time.Second

const theTable = "document.querySelectorAll('section.episodes tbody[data-open]').length === 8"

func TestADroppedLogAndMapShowTheAnswerFirstAndThenTheEpisodes(t *testing.T) {
	u := sitDown(t, serve(t))
	// The same words as on the terminal, first in the page.
	said, _, _ := strings.Cut(run(t, demo(t, ""), "episodes", "town.log", "--quiet"), "\n\n")
	check := func(how string) {
		t.Helper()
		u.shown()
		if got := u.text("main > section:first-of-type p.lead"); got != strings.ReplaceAll(said, "\n", " ") {
			t.Errorf("%s: the page says first\n%s\nnot\n%s", how, got, said)
		}
	}
	start := time.Now()
	u.drag("form.drop", demo(t, "town.log"), demo(t, "map.yaml"))
	u.until(theTable)
	if took := time.Since(start); took > longest {
		t.Errorf("%v from the drop to the table, more than %v", took, longest)
	}
	check("dropped")

	// Back on the first page its form is as it was before.
	u.must(u.tab.Do(chromedp.NavigateBack()))
	u.until("document.querySelector('form.drop')")
	if n := u.count("form.drop .told"); n != 0 || value[bool](u, "document.querySelector('form.drop [type=submit]').disabled") {
		t.Error("the form is still at work")
	}
	u.choose("form.drop [name=map]", demo(t, "map.yaml"))
	u.choose("form.drop [name=log]", demo(t, "town.log"))
	u.click("form.drop [type=submit]")
	u.until(theTable)
	check("chosen")

	// A near miss is a drop too: the browser must not show the log as text.
	u.visit(u.url)
	u.drag("footer", demo(t, "town.log"), demo(t, "map.yaml"))
	u.until(theTable)
	check("dropped beside the form")
}

func TestSeveralLogsAreSeveralDrives(t *testing.T) {
	u := sitDown(t, serve(t, "--map", demo(t, "map.yaml")))
	u.drag("form.drop", demo(t, "slow-to-go-before.log"), demo(t, "older-car.log"))
	u.shown()
	got := u.texts("section.episodes h2")
	if len(got) != 2 || !strings.Contains(got[0], "older-car.log") || !strings.Contains(got[1], "slow-to-go-before.log") {
		t.Errorf("the page has the tables %q, not one for each log in the order of their start", got)
	}
}

func TestWhatIsMissingIsSaidBesideTheForm(t *testing.T) {
	folder := t.TempDir()
	noise := filepath.Join(folder, "noise.log")
	if err := os.WriteFile(noise, []byte("no log\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	u := sitDown(t, serve(t))
	u.click("form.drop [type=submit]")
	u.until("document.querySelector('form.drop .trouble').innerText === 'no log is chosen'")
	u.expected = []string{"422"} // the answer's status
	u.drag("form.drop", demo(t, "map.yaml"), noise)
	u.until("document.querySelector('form.drop .trouble').innerText.includes('noise.log')")
	if n := u.count("form.drop .told"); n != 0 {
		t.Error("it still says that it is at work")
	}
	// It can be mended at once.
	u.drag("form.drop", demo(t, "map.yaml"), demo(t, "town.log"))
	u.until(theTable)
}

func BenchmarkDropToTable(b *testing.B) {
	u := sitDown(b, serve(b))
	var all time.Duration
	for b.Loop() {
		u.visit(u.url)
		start := time.Now()
		u.drag("form.drop", demo(b, "town.log"), demo(b, "map.yaml"))
		u.until(theTable)
		all += time.Since(start)
	}
	b.ReportMetric(float64(all.Milliseconds())/float64(b.N), "ms/drop")
	info, err := os.Stat(demo(b, "town.log"))
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("a log of %d MB", info.Size()/1e6)
}
