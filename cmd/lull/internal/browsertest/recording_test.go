package browsertest

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"lull/cmd/internal/browser"
)

// recording is lull serve at work on a drive that is played to it.
type recording struct {
	*browser.Served
	t              testing.TB
	folder, socket string
}

// record starts it, with a source that is not there yet.
func record(t testing.TB, signalMap string, flags ...string) *recording {
	t.Helper()
	setup(t)
	r := &recording{t: t, folder: t.TempDir()}
	r.socket = "unix:" + filepath.Join(r.folder, "car.sock")
	var err error
	r.Served, err = browser.Serve(shared.lull, t.TempDir(), append(flags, "--interface", r.socket, "-o", filepath.Join(r.folder, "drive.log"), "--map", signalMap)...)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// ends stops it when the test ends; it must have had nothing to complain of.
func (r *recording) ends() {
	r.t.Cleanup(func() {
		if said, err := r.Stop(); err != nil || said != "" {
			r.t.Errorf("lull serve ended with %v and said %q", err, said)
		}
	})
}

// play plays a log, so many times as fast as it was. When the test ends it is stopped.
func (r *recording) play(log string, speed int) {
	r.t.Helper()
	cmd := exec.Command(shared.lull, "replay", log, "--to", r.socket, "--quiet", "--speed", fmt.Sprint(speed))
	if err := cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() {
		_ = cmd.Process.Kill() // it may have ended
		_ = cmd.Wait()
	})
}

const (
	episodes = "#found li[data-kind=episode]"
	atLeast  = "document.querySelectorAll('" + episodes + "').length >= "
	headline = "document.querySelector('h1').innerText"
)

// heads are the episodes on a page, those that are folded away too, the newest first.
func (u *user) heads() []string {
	u.t.Helper()
	return value[[]string](u, "[...document.querySelectorAll('"+episodes+" b')].map(e => e.textContent)")
}

// A drive is watched in two tabs, one of them opened late and one not looked at for a
// while: both know all of it in the end.
func TestTabsThatAreLateOrHiddenMissNothingOfADrive(t *testing.T) {
	r := record(t, demo(t, "map.yaml"))
	r.ends()
	u := sitDown(t, r.URL)
	u.until(headline + " === 'No frame yet; 0 episodes and 0 standstills so far.'")
	u.until("document.querySelector('.lacks').innerText.includes('is waited for')")
	if n := u.count("#found .none, #attention .none"); n != 2 {
		t.Errorf("%d of 2 lists say that nothing is in them", n)
	}
	if got := u.text(".signals .unseen td"); got != "not seen yet" {
		t.Errorf("a signal that did not come is %q", got)
	}
	r.play(demo(t, "slow-to-go-before.log"), 12)
	u.until(headline + ".startsWith('Engine stopped for ')")
	u.until(atLeast + "2")
	if got := u.text(".lacks"); got != "" || u.count("#found .none") != 0 {
		t.Errorf("while frames come it says %q", got)
	}
	if got := u.text(".buses"); !strings.HasPrefix(got, "can0") || !strings.Contains(got, "frames/s") {
		t.Errorf("of the bus it says %q", got)
	}
	// A tab in the background has no stream; looked at again it catches up.
	hide := func(hidden bool) {
		u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(
			"Object.defineProperty(document, 'hidden', {value: %v, configurable: true}), void document.dispatchEvent(new Event('visibilitychange'))", hidden))))
	}
	hide(true)
	before := u.heads()
	late := sitDown(t, r.URL)
	late.until(atLeast + fmt.Sprint(len(before)+2))
	if got := u.heads(); len(got) > len(before)+1 { // one may have been on its way
		t.Errorf("a tab in the background goes on: %d episodes, then %d", len(before), len(got))
	}
	hide(false)
	for _, one := range []*user{u, late} {
		one.until("document.title === 'drive.log - recorded' && document.readyState === 'complete'")
		if got := one.text("h1"); got != "The recording has ended: 10 episodes, 12 standstills." {
			t.Errorf("the end is %q", got)
		}
	}
	heads := u.heads()
	if len(heads) != 10 || !slices.Equal(heads, late.heads()) || !strings.HasPrefix(heads[0], "episode 10 at 151.89 s: ") {
		t.Errorf("the tabs show %q and %q", heads, late.heads())
	}
	u.visit(strings.TrimSuffix(r.URL, "live"))
	u.click("p.lead a")
	u.until("document.title === 'drive.log - recorded'")
}

// While the drive is played, its page is never wider than its window, and is fit for
// those who hear it. Every name in map and log stays text.
func TestAPageOfARecordingIsFitForAll(t *testing.T) {
	log, signalMap := hostile(t)
	r := record(t, signalMap)
	r.ends()
	u := sitDown(t, r.URL)
	script := axe(t)
	u.must(browser.Send(u.tab, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true}))
	u.must(u.tab.Do(chromedp.Reload()))
	r.play(log, 20)
	u.until(atLeast + "1")
	u.until("document.querySelector('#attention li')")
	u.calm("a recording")
	u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void]("void document.querySelectorAll('details').forEach(d => { d.open = true; })")))
	for _, dark := range []bool{false, true} {
		for _, width := range []int64{1400, 360} {
			u.must(u.tab.Look(width, 900, dark))
			if out := value[[]string](u, sticksOut); len(out) > 0 {
				t.Errorf("beyond the edge at %d px: %q", width, out)
			}
		}
		u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void](script + "\n;void 0")))
		for _, f := range u.faults() {
			t.Errorf("dark %v: %s", dark, f)
		}
		if small := value[[]string](u, "[...document.querySelectorAll('main button, main summary')].filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => e.innerText)"); len(small) > 0 {
			t.Errorf("too small for a hand in a glove: %q", small)
		}
	}
	if said := value[string](u, "[...document.querySelectorAll('[aria-live]')].map(e => e.className).join()"); strings.Contains(said, "signals") || value[bool](u, "!!document.querySelector('h1[aria-live], table[aria-live]')") {
		t.Errorf("what changes all the time is read aloud: %s", said)
	}
	// The recording is ended from the page, and nothing of it runs any more.
	u.click(".end [type=submit]")
	u.until("document.title.endsWith(' - recorded') && document.readyState === 'complete'")
	u.calm("its end")
}

// Where lull serve is ended the page keeps what it showed, and says that it is over.
func TestAPageOutlivesItsServer(t *testing.T) {
	r := record(t, demo(t, "map.yaml"))
	u := sitDown(t, r.URL)
	r.play(demo(t, "slow-to-go-before.log"), 12)
	u.until(atLeast + "2")
	if said, err := r.Stop(); err != nil || said != "" {
		t.Errorf("%v %s", err, said)
	}
	u.until("document.querySelector('.broken').checkVisibility()")
	// A machine with much else to do may not bring the last word.
	u.expected = []string{"net::ERR_"}
	got := u.text(".broken")
	whole := strings.HasPrefix(got, "lull serve was ended.")
	if !whole && !strings.HasPrefix(got, "The connection to lull broke.") {
		t.Errorf("it says %q", got)
	}
	if len(u.heads()) < 2 || whole && (u.count(".end") != 0 || u.text(".on") != "Recorded") {
		t.Errorf("it shows %q", u.text("main"))
	}
	time.Sleep(100 * time.Millisecond)
	if then := u.text(".broken"); then != got && !strings.HasPrefix(then, "The connection to lull broke.") {
		t.Errorf("then it says %q", then)
	}
}

func TestARecordingIsWatchedWithoutTheScript(t *testing.T) {
	r := record(t, demo(t, "map.yaml"))
	r.ends()
	u := sitDown(t, r.URL)
	u.must(browser.Send(u.tab, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}))
	u.visit(r.URL)
	r.play(demo(t, "slow-to-go-before.log"), 12)
	u.until(atLeast + "2") // it loads itself again and again
	u.click(".end summary")
	u.click(".end [type=submit]")
	u.until("document.title.endsWith(' - recorded') && document.readyState === 'complete'")
	u.click("form.again [type=submit]")
	u.shown()
}
