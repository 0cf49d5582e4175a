package browsertest

import (
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"lull/cmd/internal/browser"
)

func TestARecordingIsShownAsItGoesAndMeasuredAtItsEnd(t *testing.T) {
	setup(t)
	folder := t.TempDir()
	socket := "unix:" + filepath.Join(folder, "car.sock")
	url := serve(t, "--interface", socket, "--map", demo(t, "map.yaml"), "-o", filepath.Join(folder, "new.log"))
	u := sitDown(t, url)
	u.until("document.querySelector('h1#now')")
	script := axe(t)

	replay := exec.Command(shared.lull, "replay", demo(t, "slow-to-go-after.log"), "--to", socket, "--speed", "8", "--quiet")
	if err := replay.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = replay.Process.Kill() // it may have ended
		_ = replay.Wait()
	})
	const episodes = "document.querySelectorAll('[data-kind=episode]').length"
	u.until(episodes + " >= 2")
	u.until("document.querySelector('table.signals tbody tr:not(.unseen)')")

	// What is done in the car is marked by mouse and by keyboard; what is on says so.
	const brake = ".marks button[value=brake]"
	u.click(brake)
	u.until("document.querySelector('" + brake + "').getAttribute('aria-pressed') === 'true'")
	if said := value[string](u, "getComputedStyle(document.querySelector('"+brake+"'), '::after').content"); said != `" (on)"` {
		t.Errorf("a mark that is on says %s", said)
	}
	if on := u.focused(); !strings.Contains(on, "brake") {
		t.Errorf("%s has the focus", on)
	}
	u.press(" ")
	u.until("document.querySelectorAll('.taken li').length === 1")
	u.click(".reading input")
	u.press("5", "0", "\r")
	u.until("document.querySelectorAll('.taken li').length === 2")
	if taken := u.texts(".taken li"); !strings.HasPrefix(taken[0], "vehicle speed 50 km/h at ") || !strings.HasPrefix(taken[1], "brake from ") {
		t.Errorf("taken are %q", taken)
	}
	u.press("x", "\r")
	u.until("document.querySelector('.refused').checkVisibility()")

	// While it goes on, another user sees the same, and axe-core finds no fault.
	other := sitDown(t, url)
	other.until(episodes + " >= 2")
	other.must(browser.Send(other.tab, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true}))
	other.must(other.tab.Do(chromedp.Reload()))
	other.until(episodes + " >= 2")
	other.must(other.tab.Do(chromedp.Evaluate[chromedp.Void](script + "\n;void 0")))
	for _, dark := range []bool{false, true} {
		for _, width := range []int64{1400, 360} {
			other.must(other.tab.Look(width, 900, dark))
			if size := value[[]int](other, "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"); size[0] > size[1] {
				t.Errorf("%d px of %d", size[0], size[1])
			}
			if out := value[[]string](other, sticksOut); len(out) > 0 {
				t.Errorf("beyond the edge at %d px: %q", width, out)
			}
		}
		for _, f := range other.faults() {
			t.Errorf("dark %v: %s", dark, f)
		}
	}

	for _, u := range []*user{u, other} {
		u.until("document.querySelector('section.done [type=submit]')?.checkVisibility()")
		u.until(episodes + " === 10")
	}
	u.click("section.done [type=submit]")
	u.shown()
	if got, name := u.numbers(), u.text("header p"); len(got) != 10 || name != "new.log" {
		t.Errorf("the recording %s is measured with the episodes %q", name, got)
	}
}
