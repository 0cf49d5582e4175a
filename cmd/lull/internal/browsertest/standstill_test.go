package browsertest

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	diff "github.com/google/go-cmp/cmp"

	"lull/cmd/internal/browser"
)

// standing are the times of the standstills that are shown, in the order of the table.
func (u *user) standing() []string {
	u.t.Helper()
	return value[[]string](u, "[...document.querySelectorAll('section.standstills tbody[data-open]')].filter(e => !e.hidden).map(e => e.querySelector('a').textContent)")
}

// standstill is what tests here look at of a standstill in lull's JSON.
type standstill struct {
	Start       struct{ T float64 }
	Opportunity bool
	Stopped     bool
	Unexplained bool
	Covered     float64
}

func measureStandstills(t testing.TB, log string) []standstill {
	t.Helper()
	var m struct {
		Logs []struct{ Standstills []standstill }
	}
	if err := json.Unmarshal([]byte(run(t, demo(t, ""), "standstills", log, "--format", "json", "--quiet")), &m); err != nil {
		t.Fatal(err)
	}
	return m.Logs[0].Standstills
}

const openStandstill = "document.querySelector('section.standstills tr.story .reading')"

func TestAStandstillOpensItsStoryInPlace(t *testing.T) {
	u := sitDown(t, serve(t))
	u.pick("kept-running")
	u.click(`nav a[href="#standstills"]`)
	u.until("document.querySelector('#standstills').getBoundingClientRect().top < innerHeight")
	if got := value[string](u, "location.hash"); got != "#standstills" {
		t.Errorf("the jump leads to %q", got)
	}
	u.click(`tbody[data-open="as0.8"] a`)
	u.until(openStandstill)
	if got := u.text("tr.story h3"); got != "Standstill at 114.31 s: no reason found" {
		t.Errorf("a click opened %q", got)
	}
	if got := u.parameters(); got != "open=as0.8" {
		t.Errorf("the address keeps %q", got)
	}
	said := strings.Join(u.texts("tr.story li"), "\n")
	for _, want := range []string{"the vehicle stops; the engine runs", "no reason found", "coolant 61 degC (counts when: below 40)", "the vehicle leaves"} {
		if !strings.Contains(said, want) {
			t.Errorf("the story lacks %q:\n%s", want, said)
		}
	}
	if n := u.count("tr.story figure .wide svg"); n != 1 {
		t.Errorf("%d pictures", n)
	}
	u.must(u.tab.Do(chromedp.Focus(chromedp.CSS("tr.story figure"))))
	u.press(kb.ArrowRight)
	if got := u.text(".reading"); !strings.HasPrefix(got, "At 114.3") || !strings.Contains(got, "vehicle speed") || !strings.Contains(got, "engine speed") {
		t.Errorf("the cursor reads %q", got)
	}

	// An episode closes it: one card is open on the page.
	u.click(`tbody[data-open="a0.1"] a`)
	u.until("document.querySelector('tr.story h3')?.innerText.startsWith('Episode 1')")
	if n := u.count("tr.story"); n != 1 {
		t.Errorf("%d cards are open at once", n)
	}
	// One that was too short for a picture has its story all the same.
	u.click(`tbody[data-open="as0.11"] a`)
	u.until("document.querySelector('tr.story h3')?.innerText.startsWith('Standstill at 164.36 s')")
	if n := u.count("tr.story svg"); n != 0 {
		t.Errorf("%d pictures of a standstill that is not drawn", n)
	}
}

func TestTheStandstillTableIsWalkedByKeyboardAlone(t *testing.T) {
	u := sitDown(t, serve(t))
	u.pick("kept-running")
	u.tabTo("A standstill at 0.00 s, not counted: the engine was off")
	if n := value[int](u, "[...document.querySelectorAll('section.standstills tbody a')].filter(a => a.tabIndex === 0).length"); n != 1 {
		t.Errorf("the Tab key stops at %d rows of the table", n)
	}
	for _, step := range []struct{ key, want string }{
		{kb.ArrowDown, "A standstill at 15.01 s, not stopped: coolant cold"},
		{kb.End, "A standstill at 164.36 s, not counted: the recording ended in it"},
		{kb.ArrowUp, "A standstill at 149.31 s, engine stopped, episode 3"},
		{kb.Home, "A standstill at 0.00 s, not counted: the engine was off"},
	} {
		u.press(step.key)
		u.hasFocus(step.want)
	}
	u.press(kb.ArrowDown, kb.Enter)
	u.until(openStandstill)
	u.press(kb.Tab)
	u.hasFocus("FIGURE picture with a cursor for the arrow keys")
	u.press(kb.Escape)
	u.until(noOpenCard)
	u.hasFocus("A standstill at 15.01 s, not stopped: coolant cold")

	u.must(u.tab.Do(chromedp.Focus(chromedp.CSS("section.standstills th:nth-child(2) button"))))
	u.press(kb.Enter)
	u.press(kb.Enter)
	if got := u.standing(); got[0] != "130.89" {
		t.Errorf("sorted downwards by length the table begins with the standstill at %s", got[0])
	}
	if got := u.parameters(); got != "standstill-sort=-length s" {
		t.Errorf("the address keeps %q", got)
	}
	if got := u.numbers(); !diff.Equal(got, []string{"1", "2", "3"}) {
		t.Errorf("the episodes were sorted, too: %q", got)
	}
	u.tabTo("A standstill at 15.01 s, not stopped: coolant cold") // where one was last
}

func TestStandstillsAreFilteredByWhatBecameOfThem(t *testing.T) {
	u := sitDown(t, serve(t))
	for _, c := range []struct {
		drive, choice string
		is            func(standstill) bool
	}{
		{"kept-running", "stopped", func(s standstill) bool { return s.Stopped }},
		{"kept-running", "not stopped", func(s standstill) bool { return s.Opportunity && !s.Stopped }},
		{"kept-running", "no reason found", func(s standstill) bool { return s.Unexplained }},
		{"town", "not counted", func(s standstill) bool { return !s.Opportunity }},
		{"town", "stopped", func(s standstill) bool { return s.Stopped }}, // some of which are not counted
	} {
		u.visit(u.url)
		u.pick(c.drive)
		var want []string
		all := measureStandstills(t, c.drive+".log")
		for _, s := range all {
			if c.is(s) {
				want = append(want, fmt.Sprintf("%.2f", s.Start.T))
			}
		}
		if len(want) == 0 || len(want) == len(all) {
			t.Fatalf("%s shows nothing of a filter by %s", c.drive, c.choice)
		}
		u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("section.standstills select"), c.choice)))
		u.until("document.querySelector('section.standstills .count').innerText !== ''")
		if d := diff.Diff(want, u.standing()); d != "" {
			t.Errorf("%s, %s (-values +page):\n%s", c.drive, c.choice, d)
		}
		if got, want := u.text("section.standstills .count"), fmt.Sprintf("%d of %d shown", len(want), len(all)); got != want {
			t.Errorf("it says %q, not %q", got, want)
		}
		if got, want := u.parameters(), "standstill-engine="+c.choice; got != want {
			t.Errorf("the address keeps %q, not %q", got, want)
		}
		if n := len(u.numbers()); n != len(measure(t, c.drive+".log")) {
			t.Errorf("%d episodes are shown", n)
		}
	}
	// The address keeps it, with the card that is open.
	u.click(`tbody[data-open="as0.2"] a`)
	u.until(openStandstill)
	shown := u.standing()
	u.must(u.tab.Do(chromedp.Reload()))
	u.until(openStandstill)
	if d := diff.Diff(shown, u.standing()); d != "" {
		t.Errorf("loaded again (-before +after)\n%s", d)
	}
}

func TestStandstillsOpenWithoutTheScript(t *testing.T) {
	u := sitDown(t, serve(t))
	u.must(browser.Send(u.tab, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}))
	u.visit(u.url)
	u.pick("kept-running")
	u.click(`tbody[data-open="as0.4"] a`)
	u.loaded("document.querySelector('tr.story h3')?.innerText === 'Standstill at 53.58 s: not stopped: cabin demand'")
	if n := u.count("tr.story figure svg"); n != 1 {
		t.Errorf("the card shows %d pictures", n)
	}

	// Compared, those of the other side open, too.
	u.choose("#against [name=log]", demo(t, "creeps-late-before.log"))
	u.click("#against [value=before]")
	u.click("#against [type=submit]")
	u.loaded("location.search.includes('before=') && document.querySelector('#answer')")
	u.click(`tbody[data-open="bs0.9"] a`)
	u.loaded("document.querySelector('tbody[data-open=\"bs0.9\"] tr.story h3')?.innerText === 'Standstill at 127.74 s: no reason found'")
	if got := u.text("header p"); !strings.Contains(got, "before: creeps-late-before.log") {
		t.Errorf("with a card open the page is about %q", got)
	}
}
