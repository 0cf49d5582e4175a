package browsertest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

func TestAMapsMistakesAreMendedOnThePage(t *testing.T) {
	u := sitDown(t, serve(t))
	text, err := os.ReadFile(demo(t, "map.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	wrong := strings.Replace(string(text), "role: engine_speed", "role: engine_sped", 1)
	if wrong == string(text) {
		t.Fatal("the map of the demonstration has changed")
	}
	path := filepath.Join(t.TempDir(), "car.yaml")
	if err := os.WriteFile(path, []byte(wrong), 0o644); err != nil {
		t.Fatal(err)
	}
	u.expected = []string{"422"} // the page's status
	u.choose("form.drop [name=map]", path)
	u.choose("form.drop [name=log]", demo(t, "town.log"))
	u.click("form.drop [type=submit]")
	u.shown()
	if n := u.count("section.episodes"); n != 0 {
		t.Errorf("%d tables of episodes with a wrong map", n)
	}
	// The mistake stands below its line.
	line := u.text(".listing li.wrong")
	if !strings.Contains(line, "role: engine_sped") || !strings.Contains(line, `there is no role "engine_sped"`) {
		t.Errorf("the page says\n%s", line)
	}
	// A click leads to its place in the text, where it is mended by keys.
	u.click(".listing li.wrong a[data-line]")
	if got := u.focused(); !strings.HasPrefix(got, "TEXTAREA") {
		t.Errorf("the click led to %s", got)
	}
	if got := value[string](u, "(e => e.value.slice(e.selectionStart, e.selectionStart + 11))(document.activeElement)"); got != "engine_sped" && !strings.HasPrefix(got, "engine_sped") {
		t.Fatalf("the click led to %q in the text", got)
	}
	if !value[bool](u, "(e => { const l = e.value.slice(0, e.selectionStart).split('\\n').length - 1; const h = e.scrollHeight / e.value.split('\\n').length; return l * h >= e.scrollTop && (l + 1) * h <= e.scrollTop + e.clientHeight })(document.activeElement)") {
		t.Error("the place is not to be seen in the text")
	}
	u.must(u.tab.Do(chromedp.KeyEvent("e"), chromedp.Evaluate[chromedp.Void]("document.activeElement.setSelectionRange(document.activeElement.value.indexOf('engine_sped') + 9, document.activeElement.value.indexOf('engine_sped') + 9)"), chromedp.KeyEvent("e")))
	u.click("form.again [type=submit]")
	u.loaded("document.querySelectorAll('section.episodes tbody[data-open]').length === 8")
	if got := u.text("header p"); got != "town.log" {
		t.Errorf("the page is about %q", got)
	}
	// The other map is not forgotten: back leads to its mistakes.
	u.must(u.tab.Do(chromedp.NavigateBack()))
	u.until("document.querySelector('.listing li.wrong')")
}
