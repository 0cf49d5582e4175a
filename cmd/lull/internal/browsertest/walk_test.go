package browsertest

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	diff "github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
)

// pick picks a drive of the demonstration and waits for its page.
func (u *user) pick(name string) {
	u.t.Helper()
	u.click(`form.demo button[value="` + name + `"]`)
	u.shown()
}

// tabTo presses Tab until something has the focus, and fails where what has it on
// the way cannot be seen to have it.
func (u *user) tabTo(want string) {
	u.t.Helper()
	var passed []string
	for range 60 {
		u.press(kb.Tab)
		got := u.focused()
		if passed = append(passed, got); strings.HasPrefix(got, "BODY") {
			continue // between the last and the first
		}
		if !value[bool](u, "(s => s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2)(getComputedStyle(document.activeElement))") {
			u.t.Errorf("%s has the focus and does not show it", got)
		}
		if got == want {
			return
		}
	}
	u.t.Fatalf("Tab does not lead to %s but to %q", want, passed)
}

func (u *user) hasFocus(want string) {
	u.t.Helper()
	if got := u.focused(); got != want {
		u.t.Errorf("the focus is on %s, not on %s", got, want)
	}
}

// numbers are those of the episodes that are shown, in the order of the table.
func (u *user) numbers() []string {
	u.t.Helper()
	return value[[]string](u, "[...document.querySelectorAll('section.episodes tbody[data-open]')].filter(e => !e.hidden).map(e => e.querySelector('a').textContent)")
}

func (u *user) parameters() string {
	u.t.Helper()
	return value[string](u, "[...new URL(location.href).searchParams].map(p => p.join('=')).sort().join('&')")
}

const (
	anOpenCard = "document.querySelector('tr.story .reading')"
	noOpenCard = "!document.querySelector('tr.story')"
)

func TestTheTableIsWalkedByKeyboardAlone(t *testing.T) {
	u := sitDown(t, serve(t))
	u.tabTo("BUTTON town")
	u.press(kb.Enter)
	u.shown()
	u.tabTo("A episode 1, restarted")
	if n := value[int](u, "[...document.querySelectorAll('section.episodes tbody a')].filter(a => a.tabIndex === 0).length"); n != 1 {
		t.Errorf("the Tab key stops at %d rows of the table", n)
	}
	for _, step := range []struct{ key, want string }{
		{kb.ArrowUp, "A episode 1, restarted"},
		{kb.ArrowDown, "A episode 2, restarted"},
		{kb.End, "A episode 8, change of mind"},
		{kb.ArrowDown, "A episode 8, change of mind"},
		{kb.ArrowUp, "A episode 7, restarted"},
		{kb.Home, "A episode 1, restarted"},
	} {
		u.press(step.key)
		u.hasFocus(step.want)
	}

	u.press(kb.ArrowDown, kb.Enter)
	u.until(anOpenCard)
	if got := u.text("tr.story h3"); got != "Episode 2: restarted" {
		t.Errorf("Enter opened %q", got)
	}
	u.hasFocus("A episode 2, restarted")
	u.press(kb.Tab)
	u.hasFocus("FIGURE picture with a cursor for the arrow keys")
	before := u.text(".reading")
	u.press(kb.ArrowRight)
	if after := u.text(".reading"); after == before || !strings.HasPrefix(after, "At ") {
		t.Errorf("the arrow key did not move the cursor: %s", after)
	}
	u.press(kb.Escape)
	u.until(noOpenCard)
	u.hasFocus("A episode 2, restarted")
	u.press(kb.Enter)
	u.until(anOpenCard)
	u.press(kb.ArrowDown, kb.Enter)
	u.until("document.querySelector('tr.story h3')?.innerText === 'Episode 3: restarted'")
	if n := u.count("tr.story"); n != 1 {
		t.Errorf("%d cards are open at once", n)
	}
	u.press(kb.Enter)
	u.until(noOpenCard)

	// The heads of the columns sort.
	u.must(u.tab.Do(chromedp.Focus(chromedp.CSS("section.episodes th:nth-child(2) button"))))
	u.press(kb.Enter)
	u.press(kb.Enter)
	if got := u.numbers(); got[0] != "8" {
		t.Errorf("sorted downwards by the time of the stop the table begins with episode %s", got[0])
	}
	u.tabTo("A episode 3, restarted") // where one was last
	u.press(kb.Home)
	u.hasFocus("A episode 8, change of mind")

	// Nothing holds the Tab key fast, in the picture of an open card neither.
	u.press(kb.Enter)
	u.until(anOpenCard)
	for _, stop := range []string{"FIGURE picture with a cursor for the arrow keys", "TEXTAREA complaint", "INPUT vehicle", "TEXTAREA note", "INPUT remember", "BUTTON Save the sheet (PDF)", "INPUT side", "BUTTON Compare", "SUMMARY How it was measured"} {
		u.tabTo(stop)
	}
}

// column finds a column of the episode table by its title.
func (u *user) column(title string) string {
	u.t.Helper()
	i := slices.Index(u.texts("section.episodes thead th"), title)
	if i < 0 {
		u.t.Fatalf("there is no column %q in %q", title, u.texts("section.episodes thead th"))
	}
	return fmt.Sprintf("section.episodes thead th:nth-child(%d)", i+1)
}

// measured is the part of lull's JSON that tests here look at.
type measured struct {
	Logs []struct{ Episodes []episode }
}

type episode struct {
	N       int
	Outcome string
	Metrics map[string]struct{ Value *float64 }
	Limits  []struct{ Verdict string }
}

func measure(t testing.TB, log string) []episode {
	t.Helper()
	var m measured
	if err := json.Unmarshal([]byte(run(t, demo(t, ""), "episodes", log, "--format", "json", "--quiet")), &m); err != nil {
		t.Fatal(err)
	}
	return m.Logs[0].Episodes
}

// inOrder are the numbers of episodes by a metric that is shown to some places after
// the point: what looks alike goes by number, and those without it are at the end.
func inOrder(episodes []episode, metric string, places int, down bool) []string {
	seen := func(e episode) (float64, bool) {
		v := e.Metrics[metric].Value
		if v == nil {
			return 0, false
		}
		shown, err := strconv.ParseFloat(strconv.FormatFloat(*v, 'f', places, 64), 64)
		return shown, err == nil
	}
	sorted := slices.Clone(episodes)
	slices.SortStableFunc(sorted, func(a, b episode) int {
		x, ok := seen(a)
		y, also := seen(b)
		switch {
		case !ok || !also:
			return trueFirst(ok, also)
		case down:
			return cmp.Compare(y, x)
		}
		return cmp.Compare(x, y)
	})
	var list []string
	for _, e := range sorted {
		list = append(list, strconv.Itoa(e.N))
	}
	return list
}

func trueFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

func TestColumnsSortByTheValuesThatWereMeasured(t *testing.T) {
	u := sitDown(t, serve(t))
	u.pick("town")
	m := measure(t, "town.log")
	for _, c := range []struct {
		title, metric string
		places        int
	}{{"restart s", "restart_latency", 3}, {"engine off s", "engine_off", 3}, {"wait before crank s", "request_to_crank", 3}, {"rpm at crank", "speed_at_crank", 0}} {
		head := u.column(c.title)
		for _, way := range []string{"ascending", "descending"} {
			u.click(head + " button")
			if got := value[[]string](u, "[...document.querySelectorAll('th[aria-sort]')].map(e => e.innerText + ' ' + e.getAttribute('aria-sort'))"); !diff.Equal(got, []string{c.title + " " + way}) {
				t.Errorf("sorted: %q, not %s %s", got, c.title, way)
			}
			if d := diff.Diff(inOrder(m, c.metric, c.places, way == "descending"), u.numbers()); d != "" {
				t.Errorf("%s %s (-values +page):\n%s", c.title, way, d)
			}
		}
	}
}

func TestFiltersShowWhatHasTheOutcomeAndTheVerdict(t *testing.T) {
	u := sitDown(t, serve(t))
	for _, c := range []struct{ drive, field, choice string }{
		{"town", "outcome", "change of mind"},
		{"failed-start", "verdict", "out"},
		{"failed-start", "outcome", "! did not start"},
		{"slow-to-go-after", "verdict", "borderline"},
		{"slow-to-go-after", "verdict", "within"},
	} {
		u.visit(u.url)
		u.pick(c.drive)
		var want []string
		all := measure(t, c.drive+".log")
		for _, e := range all {
			verdict := "none"
			for _, l := range e.Limits {
				switch {
				case l.Verdict == "outside":
					verdict = "out"
				case l.Verdict == "borderline" && verdict != "out":
					verdict = "borderline"
				case verdict == "none":
					verdict = "within"
				}
			}
			if c.field == "outcome" && words.OutcomeText(analyze.Outcome(e.Outcome)) == strings.TrimPrefix(c.choice, "! ") || c.field == "verdict" && verdict == c.choice {
				want = append(want, fmt.Sprint(e.N))
			}
		}
		if len(want) == 0 || len(want) == len(all) {
			t.Fatalf("%s shows nothing of a filter by %s", c.drive, c.choice)
		}
		u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("section.episodes select."+c.field), c.choice)))
		u.until("document.querySelector('.count').innerText !== ''")
		if d := diff.Diff(want, u.numbers()); d != "" {
			t.Errorf("%s, %s (-values +page):\n%s", c.drive, c.choice, d)
		}
		if got, want := u.text(".count"), fmt.Sprintf("%d of %d shown", len(want), len(all)); got != want {
			t.Errorf("it says %q, not %q", got, want)
		}
		if got, want := u.parameters(), c.field+"="+c.choice; got != want {
			t.Errorf("the address keeps %q, not %q", got, want)
		}
	}
}

// state is all that a user has made of the page of a drive.
type state struct {
	Rows, Sorted   []string
	Outcome, Limit string
	Open           string
}

func (u *user) state() state {
	u.t.Helper()
	u.until(anOpenCard)
	return state{
		Rows:    u.numbers(),
		Sorted:  value[[]string](u, "[...document.querySelectorAll('th[aria-sort]')].map(e => e.innerText + ' ' + e.getAttribute('aria-sort'))"),
		Outcome: value[string](u, "document.querySelector('select.outcome').value"),
		Limit:   value[string](u, "document.querySelector('select.verdict').value"),
		Open:    u.text("tr.story h3"),
	}
}

func TestTheAddressKeepsWhatIsShown(t *testing.T) {
	u := sitDown(t, serve(t))
	u.pick("town")
	head := u.column("restart s")
	u.click(head + " button")
	u.click(head + " button")
	u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("select.outcome"), "restarted"), chromedp.SendKeys(chromedp.CSS("select.verdict"), "within")))
	u.click(`tbody[data-open="a0.3"] a`)
	want := state{Rows: []string{"1", "2", "7", "3", "5"}, Sorted: []string{"restart s descending"}, Outcome: "restarted", Limit: "within", Open: "Episode 3: restarted"}
	if d := diff.Diff(want, u.state()); d != "" {
		t.Fatalf("(-wanted +shown)\n%s", d)
	}
	at := value[string](u, "location.href")
	u.must(u.tab.Do(chromedp.Reload()))
	if d := diff.Diff(want, u.state()); d != "" {
		t.Errorf("loaded again (-wanted +shown)\n%s", d)
	}
	if d := diff.Diff(want, sitDown(t, at).state()); d != "" {
		t.Errorf("in another tab (-wanted +shown)\n%s", d)
	}

	// Back and forward go from card to card.
	u.click(`tbody[data-open="a0.5"] a`)
	u.until("document.querySelector('tr.story h3')?.innerText === 'Episode 5: restarted'")
	u.press(kb.Escape)
	u.until(noOpenCard)
	for _, step := range []struct{ way, shown string }{
		{"back", "Episode 5: restarted"}, {"back", "Episode 3: restarted"}, {"forward", "Episode 5: restarted"}, {"forward", ""},
	} {
		u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void]("void history." + step.way + "()")))
		u.until(fmt.Sprintf("(document.querySelector('tr.story h3')?.innerText ?? '') === %q", step.shown))
	}
	if got := u.numbers(); !diff.Equal(got, want.Rows) {
		t.Errorf("after going back and forward the table shows %q", got)
	}
}
