package browsertest

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// What would run if any text from outside reached a page as markup.
const (
	anImage = `<img src=x onerror=window.pwned=1>`
	aScript = `<script>window.pwned=1;alert(1)</script>`
	aBreak  = `"'><svg onload=window.pwned=1>`
)

// hostile writes a log and its map with script in every name that there is.
func hostile(t *testing.T) (log, signalMap string) {
	t.Helper()
	read := func(name string) string {
		text, err := os.ReadFile(demo(t, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	m := read("map.yaml")
	for _, change := range []struct{ pattern, with string }{
		{`vehicle: .*`, `vehicle: '` + aScript + `"><svg onload=window.pwned=1>'`},
		{`notes: .*`, `notes: '` + aScript + anImage + `'`},
		{`    bus: can0\n`, ``},
		{`module: (.*)`, `module: '` + anImage + `$1'`},
		{`engine_speed:  \{`, `'` + aScript + `engine_speed': {`},
		{`brake:         \{`, `'` + anImage + `brake': {`},
		{`signal: brake, is: released`, `signal: '` + anImage + `brake', is: '` + aScript + `released'`},
		{`0: released, 1: pressed`, `0: '` + aScript + `released', 1: pressed`},
		{`\{name: ([^,]*),`, `{name: '` + strings.ReplaceAll(aBreak, `'`, `''`) + aScript + `$1',`},
		{`why_not:`, `'` + anImage + `why_not':`},
		{`6: brake vacuum weak`, `6: '` + anImage + `vacuum'`},
	} {
		changed := regexp.MustCompile(change.pattern).ReplaceAllString(m, change.with)
		if changed == m {
			t.Fatalf("the map of the demonstration has nothing like %s", change.pattern)
		}
		m = changed
	}
	l := strings.ReplaceAll(read("kept-running.log"), " can0 ", " <img/src=x/onerror=window.pwned=1> ")
	l = strings.Replace(l, "\n", "\n(1.0) <script>window.pwned=1</script> <script>alert(1)</script>\n", 3)
	folder := t.TempDir()
	log, signalMap = filepath.Join(folder, anImage+".log"), filepath.Join(folder, anImage+".yaml")
	for path, text := range map[string]string{log: l, signalMap: m} {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return log, signalMap
}

// calm fails if script from outside has run or has become part of the page.
func (u *user) calm(where string) {
	u.t.Helper()
	if value[bool](u, "'pwned' in window") {
		u.t.Errorf("%s: script from outside has run", where)
	}
	if n := value[int](u, "document.querySelectorAll('img, script:not([src]), [onerror], [onload], svg[onload]').length"); n != 0 {
		u.t.Errorf("%s: %d elements from outside are in the page", where, n)
	}
}

func TestScriptInEveryNameStaysText(t *testing.T) {
	url := serve(t)
	log, signalMap := hostile(t)
	u := sitDown(t, url)
	folder := t.TempDir()
	u.must(u.tab.SaveInto(folder))
	u.drag("form.drop", log, signalMap)
	u.shown()
	u.calm("the page of the drive")
	for _, name := range []string{aScript, anImage + ".log", "<img/src=x/onerror=window.pwned=1>"} {
		if !strings.Contains(u.text("body"), name) {
			t.Errorf("%s is not to be read on the page as it is", name)
		}
	}
	u.click(`tbody[data-open="a0.1"] a`)
	u.until(anOpenCard)
	u.must(u.tab.Do(chromedp.Focus(chromedp.CSS("tr.story figure")), chromedp.KeyEvent(kb.PageDown), chromedp.Evaluate[chromedp.Void]("void document.querySelectorAll('details').forEach(d => { d.open = true; })")))
	u.calm("the page with a card")
	at := value[string](u, "location.href")
	u.visit(at)
	u.until(anOpenCard)
	u.calm("the page loaded with a card")

	// Addresses that others made up.
	for _, odd := range []string{"?open=" + aBreak, "?sort=" + aScript + "&outcome=" + anImage, "#" + aScript, "?before=" + aScript} {
		base, _, _ := strings.Cut(at, "?")
		u.visit(base + strings.NewReplacer("<", "%3C", ">", "%3E", `"`, "%22", " ", "%20").Replace(odd))
		u.shown()
		u.calm("the page at " + odd)
	}
	u.visit(at)
	u.until(anOpenCard)

	// The report is opened from the disk, where no server's policy protects it.
	for _, field := range []string{"complaint", "vehicle", "order", "technician", "note"} {
		u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("[name="+field+"]"), aBreak+aScript)))
	}
	u.click(`.job button[value="report.html"]`)
	name := strings.NewReplacer("<", "_", ">", "_").Replace(anImage) + "-report.html"
	report := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(report, u.saved(folder, name), 0o644); err != nil {
		t.Fatal(err)
	}
	r := sitDown(t, "file://"+report)
	r.calm("the report")
	if text := r.text("body"); strings.Count(text, aBreak+aScript) < 5 {
		t.Error("the report does not hold what was typed as it was typed")
	}

	// Compared with itself, and listed on the first page.
	u.drag("#against form.drop", log)
	u.loaded("location.search.includes('before=') && document.querySelector('#answer')")
	u.calm("the comparison")
	u.visit(u.url)
	u.calm("the first page")
	if !strings.Contains(u.text("main"), anImage+".log") {
		t.Error("the first page does not list the log by its name")
	}
	// A map with mistakes in hostile lines.
	wrong := filepath.Join(t.TempDir(), anImage+".yaml")
	text, err := os.ReadFile(signalMap)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(wrong, []byte(strings.Replace(string(text), "role: engine_speed", "role: '"+aScript+"', '"+anImage+"': 1", 1)+"\n</textarea>"+aScript+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	u.expected = []string{"422"} // the page's status
	u.drag("form.drop", log, wrong)
	u.shown()
	u.calm("the page of the mistakes")
	if got := value[string](u, "document.querySelector('#maptext').value"); !strings.HasSuffix(strings.TrimSpace(got), "</textarea>"+aScript) {
		t.Errorf("the text of the map ends with %.80q", got[max(0, len(got)-80):])
	}
	// What a server says of a drop comes as text too.
	u.visit(u.url)
	u.drag("form.drop", signalMap, hostileNoise(t))
	u.until("document.querySelector('form.drop .trouble').innerText.includes('onerror')")
	u.calm("an error")
}

// hostileNoise is a file that is no log.
func hostileNoise(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), anImage+"noise.log")
	if err := os.WriteFile(path, []byte(aScript+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}
