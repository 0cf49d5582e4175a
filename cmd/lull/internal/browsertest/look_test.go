package browsertest

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha512"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"lull/cmd/internal/browser"
	"lull/pkg/oracle"
)

// scenes shows every page to a function, in a tab of its own.
func scenes(t *testing.T, url string, look func(t *testing.T, u *user)) {
	for _, s := range browser.Scenes {
		t.Run(s.Name, func(t *testing.T) {
			u := sitDown(t, url)
			switch s.Name { // the page's own status
			case "mistakes":
				u.expected = []string{"422"}
			case "notice":
				u.expected = []string{"410"}
			}
			u.must(s.Show(u.tab, url, demo(t, "")))
			look(t, u)
		})
	}
}

// sticksOut finds what lies beyond the page's right edge, apart from what scrolls by
// itself and what is hidden from the eye.
const sticksOut = `[...document.body.querySelectorAll('*')].filter(e => {
	if (!e.checkVisibility() || e.closest('svg') && e.tagName !== 'svg') return false;
	for (let p = e.parentElement; p && p !== document.body; p = p.parentElement) {
		if (getComputedStyle(p).overflowX !== 'visible') return false;
	}
	const box = e.getBoundingClientRect();
	return box.width > 0 && (box.right > document.documentElement.clientWidth + 0.5 || box.left < -0.5);
}).map(e => e.tagName + '.' + (e.className.baseVal ?? e.className) + ' ' + Math.round(e.getBoundingClientRect().right))`

func TestNoPageIsWiderThanItsWindow(t *testing.T) {
	scenes(t, serve(t), func(t *testing.T, u *user) {
		u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void]("void document.querySelectorAll('details').forEach(d => { d.open = true; })")))
		for _, width := range []int64{1400, 360} {
			for _, dark := range []bool{false, true} {
				u.must(u.tab.Look(width, 900, dark))
				size := value[[]int](u, "[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
				if size[0] > size[1] || size[1] > int(width) {
					t.Errorf("%d px of %d, dark %v", size[0], size[1], dark)
				}
				if out := value[[]string](u, sticksOut); len(out) > 0 {
					t.Errorf("beyond the edge at %d px: %q", width, out)
				}
				// Colours follow the system's.
				back := value[string](u, "getComputedStyle(document.body).backgroundColor")
				if light := back == "rgb(255, 255, 255)"; light == dark {
					t.Errorf("dark %v, and the background is %s", dark, back)
				}
			}
		}
	})
}

// Axe-core checks pages against the WCAG. It comes from the npm registry, as npm is
// set up, and is exactly this one.
const (
	axeVersion   = "4.14.1"
	axeIntegrity = "FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ==" // SHA-512
)

var errNoAxe = errors.New("axe-core is not here and npm cannot bring it (Debian: npm)")

// axe returns the script of axe-core, of the user's cache or by npm.
func axe(t *testing.T) string {
	t.Helper()
	folder, err := os.UserCacheDir()
	if err != nil {
		folder = os.TempDir()
	}
	folder = filepath.Join(folder, "lull-tests")
	name := "axe-core-" + axeVersion + ".tgz"
	packed, err := os.ReadFile(filepath.Join(folder, name))
	if err != nil {
		npm, err := exec.LookPath("npm")
		if err != nil {
			oracle.Missing(t, errNoAxe.Error())
		}
		brought := t.TempDir()
		cmd := exec.Command(npm, "pack", "axe-core@"+axeVersion, "--silent")
		cmd.Dir = brought
		if out, err := cmd.CombinedOutput(); err != nil {
			oracle.Missing(t, fmt.Sprintf("%v: %v: %.300s", errNoAxe, err, out))
		}
		if packed, err = os.ReadFile(filepath.Join(brought, name)); err != nil {
			t.Fatal(err)
		}
	}
	sum := sha512.Sum512(packed)
	if got := base64.StdEncoding.EncodeToString(sum[:]); got != axeIntegrity {
		t.Fatalf("%s has the SHA-512 %s, not %s", name, got, axeIntegrity)
	}
	if err := os.MkdirAll(folder, 0o755); err == nil {
		_ = os.WriteFile(filepath.Join(folder, name), packed, 0o644) // next time it need not be brought
	}
	unpacked, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	for files := tar.NewReader(unpacked); ; {
		f, err := files.Next()
		if err != nil {
			t.Fatalf("axe.min.js: %v", err)
		}
		if f.Name == "package/axe.min.js" {
			script, err := io.ReadAll(files)
			if err != nil {
				t.Fatal(err)
			}
			return string(script)
		}
	}
}

func TestNoPageShutsOutThoseWhoHearOrTypeIt(t *testing.T) {
	url := serve(t)
	script := axe(t)
	scenes(t, url, func(t *testing.T, u *user) {
		// The checks set styles to measure contrast; what comes from the devtools is
		// not the page's doing.
		u.must(browser.Send(u.tab, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true}))
		u.must(u.tab.Do(chromedp.Reload()))
		u.until("document.readyState === 'complete'")
		if value[bool](u, "location.search.includes('open=')") {
			u.until(anOpenCard)
		}
		u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void]("void document.querySelectorAll('details').forEach(d => { d.open = true; })"),
			chromedp.Evaluate[chromedp.Void](script+"\n;void 0")))
		for _, f := range u.faults() {
			t.Error(f)
		}
		// In the dark only colours are others.
		u.must(u.tab.Look(1400, 900, true))
		for _, f := range u.faults("color-contrast") {
			t.Errorf("dark: %s", f)
		}
		// One main part, headings in order, a label on every field.
		outline := value[[]int](u, "[...document.querySelectorAll('h1, h2, h3, h4')].filter(e => e.checkVisibility()).map(e => Number(e.tagName[1]))")
		ones := 0
		for i, level := range outline {
			if level == 1 {
				ones++
			}
			if i > 0 && level > outline[i-1]+1 {
				t.Errorf("a heading of level %d after one of level %d: %v", level, outline[i-1], outline)
			}
		}
		if ones != 1 || u.count("main") != 1 || len(outline) == 0 || outline[0] != 1 {
			t.Errorf("%d headings of level 1 in %v, %d main", ones, outline, u.count("main"))
		}
		if got := value[[]string](u, "[...document.querySelectorAll('input:not([type=hidden]), select, textarea')].filter(e => e.checkVisibility() && !e.labels.length).map(e => e.name || e.className)"); len(got) > 0 {
			t.Errorf("fields without a label: %q", got)
		}
		if title := value[string](u, "document.title"); strings.TrimSpace(title) == "" {
			t.Error("the page has no title")
		}
		// Faults that are made are found.
		u.must(u.tab.Do(chromedp.Evaluate[chromedp.Void]("void document.querySelector('main').insertAdjacentHTML('beforeend', '<p style=\"color:#777;background:#666\">grey</p><input>')")))
		if got := strings.Join(u.faults("color-contrast", "label"), "\n"); !strings.Contains(got, "color-contrast: ") || !strings.Contains(got, "label: ") {
			t.Errorf("grey text on grey and a field without a label are no faults: %q", got)
		}
	})
}

// faults are what axe-core finds, serious or not, by all of its rules or by some.
func (u *user) faults(rules ...string) []string {
	u.t.Helper()
	only := ""
	if len(rules) > 0 {
		only = ", runOnly: ['" + strings.Join(rules, "', '") + "']"
	}
	found, err := browser.Value[[]string](u.tab, `axe.run(document, {resultTypes: ['violations']`+only+`}).then(r =>
		r.violations.flatMap(v => v.nodes.map(n => v.id + ': ' + v.impact + ': ' + n.target + ' ' + n.html.slice(0, 200) + ' ' + n.failureSummary)))`)
	u.must(err)
	return found
}
