package browsertest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/google/go-cmp/cmp"
)

// paragraphs are those of text that was wrapped to a width: lines that continue one
// begin with two spaces.
func paragraphs(text string) []string {
	var list []string
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		if rest, ok := strings.CutPrefix(line, "  "); ok && len(list) > 0 {
			list[len(list)-1] += " " + rest
			continue
		}
		list = append(list, line)
	}
	return list
}

func TestASecondLogOnEitherSideIsComparedAsOnTheCommandLine(t *testing.T) {
	said := strings.Split(run(t, demo(t, ""), "compare", "--before", "slow-to-go-before.log", "--after", "slow-to-go-after.log", "--quiet"), "\n\n")
	want := paragraphs(said[1])
	u := sitDown(t, serve(t))
	for _, side := range []struct{ first, second, is string }{
		{"slow-to-go-after", "slow-to-go-before", "before"},
		{"slow-to-go-before", "slow-to-go-after", "after"},
	} {
		u.visit(u.url)
		u.pick(side.first)
		u.click("#against [value=" + side.is + "]")
		u.drag("#against form.drop", demo(t, side.second+".log"))
		u.loaded("location.search.includes('before=') && document.querySelector('#answer')")
		if got := u.text("header p"); !strings.Contains(got, "After: slow-to-go-after.log; before: slow-to-go-before.log") {
			t.Errorf("%s dropped as %s: the page is about %q", side.second, side.is, got)
		}
		got := u.texts("#answer .lead, #answer ul li")
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s dropped as %s (-lull compare +page)\n%s", side.second, side.is, d)
		}
		// An episode of either side opens in place.
		for _, letter := range []string{"a", "b"} {
			u.click(fmt.Sprintf(`tbody[data-open="%s0.4"] a`, letter))
			u.until(fmt.Sprintf(`document.querySelector('tbody[data-open="%s0.4"] .reading') && document.querySelectorAll('tr.story').length === 1`, letter))
		}
	}
	// Each table keeps its own order.
	const order = `[...document.querySelectorAll('section.episodes')].map(s => [...s.querySelectorAll('th[aria-sort]')].map(e => e.innerText + ' ' + e.getAttribute('aria-sort')).join())`
	u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void]("void [...document.querySelectorAll('section.episodes')].at(-1).querySelector('th:nth-child(5) button').click()")))
	want = []string{"", "restart s ascending"}
	if got := value[[]string](u, order); !cmp.Equal(got, want) {
		t.Errorf("the tables are sorted by %q, not %q", got, want)
	}
	u.must(u.tab.Do(chromedp.Reload()))
	u.shown()
	if got := value[[]string](u, order); !cmp.Equal(got, want) {
		t.Errorf("loaded again the tables are sorted by %q, not %q", got, want)
	}
	// What is measured already can be held against each other by a click.
	u.visit(u.url)
	u.pick("slow-to-go-after")
	links := u.texts("#against ul a")
	i := slices.Index(links, "use as \u201cbefore\u201d")
	if i < 0 {
		t.Fatalf("no link to what was measured before: %q", links)
	}
	u.click("#against ul a")
	u.loaded("location.search.includes('before=') && document.querySelector('#answer')")
}
