package browsertest

import (
	"strings"
	"testing"
	"time"
)

// longest is what a busy machine may take from the drop to the table; the figure
// itself is measured by BenchmarkDropToTable.
const longest = 5 * time.Second

func TestADroppedLogAndMapShowTheAnswerFirstAndThenTheEpisodes(t *testing.T) {
	u := sitDown(t, serve(t))
	start := time.Now()
	u.drag("form.drop", demo("town.log"), demo("map.yaml"))
	u.until("document.querySelectorAll('section.episodes tbody[data-open]').length === 8")
	if took := time.Since(start); took > longest {
		t.Errorf("%v from the drop to the table, more than %v", took, longest)
	}
	u.shown()
	// The same words as on the terminal, first in the page.
	said, _, _ := strings.Cut(run(t, demo(""), "episodes", "town.log", "--quiet"), "\n\n")
	if got := u.text("main > section:first-of-type p.lead"); got != strings.ReplaceAll(said, "\n", " ") {
		t.Errorf("the page says first\n%s\nnot\n%s", got, said)
	}
}
