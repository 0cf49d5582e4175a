package browsertest

import (
	"bytes"
	"compress/gzip"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"

	"lull/cmd/internal/browser"
)

// large writes a log that is soon sent and takes a while to measure: the town drive again
// and again, packed.
func large(t *testing.T, copies int) string {
	t.Helper()
	text, err := os.ReadFile(demo(t, "town.log"))
	if err != nil {
		t.Fatal(err)
	}
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	if _, err := w.Write(text); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "large.log.gz")
	if err := os.WriteFile(path, bytes.Repeat(packed.Bytes(), copies), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// emptied waits until a server has removed every drop from its folder.
func emptied(t *testing.T, temporary string) {
	t.Helper()
	var left []string
	for end := time.Now().Add(browser.Patience); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		var err error
		if left, err = filepath.Glob(filepath.Join(temporary, "*", "drop-*")); err == nil && len(left) == 0 {
			return
		}
	}
	t.Errorf("what was stopped still lies in %v", left)
}

const (
	told     = "document.querySelector('form.drop .told [role=status]').innerText"
	stopped  = "document.querySelector('form.drop .trouble').innerText === 'stopped' && document.querySelector('form.drop .told').hidden && !document.querySelector('form.drop [type=submit]').disabled"
	stopIcon = "form.drop .stop"
)

func TestAStoppedDropIsForgottenAndMakesWay(t *testing.T) {
	url, temporary := serveWatched(t)
	path := large(t, 100)

	// While it is sent, over a slow wire.
	u := sitDown(t, url)
	slow := func(bytesEachSecond float64) {
		u.must(browser.Send(u.tab, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
			MatchedNetworkConditions: []*network.Conditions{{DownloadThroughput: -1, UploadThroughput: bytesEachSecond}}}))
	}
	slow(2e6)
	u.drag("form.drop", path, demo(t, "map.yaml"))
	u.until(told + " === 'sending' && document.querySelector('form.drop progress').value > 0")
	u.click(stopIcon)
	u.until(stopped)
	emptied(t, temporary)
	slow(-1)

	// While it is measured, with another user's drop behind it.
	u.visit(url)
	other := sitDown(t, url)
	u.drag("form.drop", path, demo(t, "map.yaml"))
	u.until(told + " === 'measuring'")
	other.drag("form.drop", demo(t, "town.log"), demo(t, "map.yaml"))
	other.until(told + " === 'one drop is measured first'")
	u.click(stopIcon)
	u.until(stopped)
	other.until(theTable)
	if got := other.text("header p"); got != "town.log" {
		t.Errorf("the other page is about %q", got)
	}
	// The one that was stopped is nowhere, and can be dropped again.
	u.visit(url)
	if got := u.texts("section ul:not(.choices) li a"); len(got) != 1 || got[0] != "town.log" {
		t.Errorf("the first page lists %q", got)
	}
}

func TestTwoTabsDoNotDisturbEachOther(t *testing.T) {
	url := serve(t)
	a, b := sitDown(t, url), sitDown(t, url)
	a.drag("form.drop", demo(t, "kept-running.log"), demo(t, "map.yaml"))
	b.drag("form.drop", demo(t, "slow-to-go-after.log"), demo(t, "map.yaml"))
	for _, c := range []struct {
		u   *user
		log string
		n   int
	}{{a, "kept-running.log", 3}, {b, "slow-to-go-after.log", 10}} {
		c.u.shown()
		if got, n := c.u.text("header p"), len(c.u.numbers()); got != c.log || n != c.n {
			t.Errorf("the page of %s is about %q with %d episodes, not %d", c.log, got, n, c.n)
		}
	}
}
