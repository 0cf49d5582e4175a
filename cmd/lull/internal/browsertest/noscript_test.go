package browsertest

import (
	"bytes"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"lull/cmd/internal/browser"
)

func TestThePagesWorkWithoutTheirScript(t *testing.T) {
	url := serve(t)
	u := sitDown(t, url)
	u.must(browser.Send(u.tab, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}))
	folder := t.TempDir()
	u.must(u.tab.SaveInto(folder))
	u.visit(url)

	// No map: one is drafted, a signal left out, and the log measured; and there is a way back.
	u.choose("form.drop [name=log]", demo(t, "slow-to-go-after.log"))
	u.click("form.drop [type=submit]")
	u.loaded("document.querySelector('p.lead')?.innerText.startsWith('No map was dropped')")
	u.click("form.choose [type=submit]")
	u.loaded("document.querySelector('#signals')")
	u.click(`button[value="out battery_voltage"]`)
	u.loaded("document.querySelector('#out')")
	if n := u.count("body.drafted .told"); n != 0 {
		t.Errorf("%d things are shown that do nothing without the script", n)
	}
	u.click("#take button")
	u.loaded("!document.querySelector('body.drafted') && document.querySelector('#episodes')")
	u.click("nav a")
	u.loaded("document.querySelector('form.drop')")

	u.choose("form.drop [name=log]", demo(t, "slow-to-go-after.log"))
	u.choose("form.drop [name=map]", demo(t, "map.yaml"))
	u.click("form.drop [type=submit]")
	u.shown()
	if got := u.numbers(); len(got) != 10 {
		t.Errorf("%d episodes", len(got))
	}
	if n := u.count(".filter, .keys, th button, .told"); n != 0 {
		t.Errorf("%d things are shown that do nothing without the script", n)
	}
	u.click(`tbody[data-open="a0.8"] a`)
	u.loaded("document.querySelector('tr.story h3')?.innerText === 'Episode 8: restarted'")
	if n := u.count("tr.story figure svg"); n != 1 {
		t.Errorf("the card shows %d pictures", n)
	}

	// Compared, with a card of the other side.
	u.choose("#against [name=log]", demo(t, "slow-to-go-before.log"))
	u.click("#against [value=before]")
	u.click("#against [type=submit]")
	u.loaded("location.search.includes('before=') && document.querySelector('#answer')")
	u.click(`tbody[data-open="b0.4"] a`)
	u.loaded("document.querySelector('tbody[data-open=\"b0.4\"] tr.story')")
	if got := u.text("header p"); !strings.Contains(got, "before: slow-to-go-before.log") {
		t.Errorf("with a card open the page is about %q", got)
	}
	u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("[name=complaint]"), complaint)))
	u.click(`.job button[value="sheet.pdf"]`)
	if pdf := u.saved(folder, "slow-to-go-after-sheet.pdf"); !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		t.Errorf("the report begins with %.20q", pdf)
	}

	// A demonstration, and its map changed into a wrong one and back.
	u.expected = []string{"422"} // the status of a page of mistakes
	u.visit(url)
	u.pick("town")
	u.click("details summary")
	text := value[string](u, "document.querySelector('#maptext').value")
	u.must(u.tab.Do(chromedp.SetValue(chromedp.CSS("#maptext"), strings.Replace(text, "role: engine_speed", "role: engine_sped", 1))))
	u.click("form.again [type=submit]")
	u.loaded("document.querySelector('.listing li.wrong')")
	u.must(u.tab.Do(chromedp.SetValue(chromedp.CSS("#maptext"), text)))
	u.click("form.again [type=submit]")
	u.loaded(theTable)
}
