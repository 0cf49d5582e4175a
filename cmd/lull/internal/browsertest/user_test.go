package browsertest

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"lull/cmd/internal/browser"
	"lull/pkg/oracle"
)

// All tests share one lull, one browser and one folder with the demonstration.
var shared struct {
	once    sync.Once
	folder  string // for all that is made
	lull    string
	browser *browser.Browser
	err     error
}

func TestMain(m *testing.M) {
	status := m.Run()
	if shared.browser != nil {
		shared.browser.Close()
	}
	if shared.folder != "" {
		if err := os.RemoveAll(shared.folder); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
	}
	os.Exit(status)
}

// setup makes what all tests share. Where there is no browser it skips the test, and
// fails it where CI is set.
func setup(t testing.TB) {
	t.Helper()
	if oracle.RaceDetector {
		t.Skip("SKIPPED: the browser's tests run without the race detector")
	}
	shared.once.Do(func() { shared.err = prepare(t) })
	if errors.Is(shared.err, browser.ErrNone) {
		oracle.Missing(t, shared.err.Error())
	}
	if shared.err != nil {
		t.Fatal(shared.err)
	}
}

func prepare(t testing.TB) error {
	path, err := browser.Find()
	if err != nil {
		return err
	}
	if shared.folder, err = os.MkdirTemp("", "lull-browser-"); err != nil {
		return err
	}
	// The go command must know what the result depends on, or it takes a result of
	// before a change for that of after it; it watches what a test looks at.
	if err := filepath.WalkDir("../../../..", func(path string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && strings.HasPrefix(entry.Name(), ".") && len(entry.Name()) > 2:
			return fs.SkipDir
		case regexp.MustCompile(`(\.(go|mod|sum|css|js|tmpl|svg|yaml|json))$`).MatchString(path):
			_, err = os.Stat(path)
		}
		return err
	}); err != nil {
		return err
	}
	if shared.lull, err = browser.Build(shared.folder); err != nil {
		return err
	}
	if shared.browser, err = browser.Start(path); err != nil {
		return err
	}
	run(t, shared.folder, "demo", demoFolder)
	return nil
}

const demoFolder = "demo"

// demo is the path of a file of the demonstration, "" for its folder.
func demo(t testing.TB, name string) string {
	t.Helper()
	setup(t)
	return filepath.Join(shared.folder, demoFolder, name)
}

// run runs lull in a folder and gives what it prints.
func run(t testing.TB, folder string, args ...string) string {
	t.Helper()
	cmd := exec.Command(shared.lull, args...)
	cmd.Dir = folder
	cmd.Env = append(os.Environ(), "COLUMNS=80")
	var out, said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &said
	if err := cmd.Run(); err != nil {
		t.Fatalf("lull %s: %v\n%s", strings.Join(args, " "), err, said.String())
	}
	return out.String()
}

// serve starts lull serve for one test and gives the page's address. When the test
// ends it must end quietly, and leave none of its files.
func serve(t testing.TB, flags ...string) string {
	t.Helper()
	url, _ := serveWatched(t, flags...)
	return url
}

// serveWatched gives also the folder for its temporary files.
func serveWatched(t testing.TB, flags ...string) (url, temporary string) {
	t.Helper()
	setup(t)
	temporary = t.TempDir()
	s, err := browser.Serve(shared.lull, temporary, flags...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		said, err := s.Stop()
		if err != nil || said != "" {
			t.Errorf("lull serve ended with %v and said %q", err, said)
		}
		if left, err := os.ReadDir(temporary); err != nil || len(left) > 0 {
			t.Errorf("lull serve left %v, %v", left, err)
		}
	})
	return s.URL, temporary
}

// user is someone at a tab of the browser.
type user struct {
	t   testing.TB
	tab *browser.Tab
	url string // of the first page
	// expected are complaints of the browser that belong to the test.
	expected []string
}

// sitDown opens a page in a tab of a laptop. When the test ends the browser must have
// complained of nothing.
func sitDown(t testing.TB, url string) *user {
	t.Helper()
	tab, err := shared.browser.Open(1400, 900, false)
	if err != nil {
		t.Fatal(err)
	}
	u := &user{t: t, tab: tab, url: url}
	t.Cleanup(func() {
		defer tab.Close()
		var alive int
		if alive, err = browser.Value[int](tab, "1"); err != nil || alive != 1 {
			t.Errorf("the tab is gone: %v", err)
		}
	next:
		for _, c := range tab.Complaints() {
			for _, e := range u.expected {
				if strings.Contains(c, e) {
					continue next
				}
			}
			t.Errorf("the browser complains: %s", c)
		}
	})
	u.visit(url)
	return u
}

// must ends the test where something could not be done, and tells what is to be seen.
func (u *user) must(err error) {
	u.t.Helper()
	if err == nil {
		return
	}
	seen, _ := browser.Value[string](u.tab, "location.pathname.replace(/^.[^/]*/, '') + location.search + ': ' + document.body.innerText.slice(0, 600)")
	u.t.Fatalf("%v\nat %s\ncomplaints: %q", err, seen, u.tab.Complaints())
}

func (u *user) visit(url string) {
	u.t.Helper()
	u.must(u.tab.Do(chromedp.Navigate(url)))
}

func (u *user) until(expression string) {
	u.t.Helper()
	u.must(u.tab.Until(expression))
}

// loaded waits for a page in which an expression holds, with its style.
func (u *user) loaded(expression string) {
	u.t.Helper()
	u.until("document.readyState === 'complete' && " + expression)
}

// value is what an expression gives in the page that a user sees.
func value[T any](u *user, expression string) T {
	u.t.Helper()
	v, err := browser.Value[T](u.tab, expression)
	u.must(err)
	return v
}

// text is what is to be read of the first element that a selector finds.
func (u *user) text(selector string) string {
	u.t.Helper()
	return value[string](u, "document.querySelector("+strconv.Quote(selector)+").innerText")
}

// texts is what is to be read of all of them.
func (u *user) texts(selector string) []string {
	u.t.Helper()
	return value[[]string](u, "[...document.querySelectorAll("+strconv.Quote(selector)+")].map(e => e.innerText)")
}

// count is how many there are that can be seen.
func (u *user) count(selector string) int {
	u.t.Helper()
	return value[int](u, "[...document.querySelectorAll("+strconv.Quote(selector)+")].filter(e => e.checkVisibility()).length")
}

// click clicks with the mouse.
func (u *user) click(selector string) {
	u.t.Helper()
	u.must(u.tab.Do(chromedp.Click(chromedp.CSS(selector))))
}

// press presses keys, one after the other.
func (u *user) press(keys ...string) {
	u.t.Helper()
	for _, k := range keys {
		u.must(u.tab.Do(chromedp.KeyEvent(k)))
	}
}

// focused describes what has the focus.
func (u *user) focused() string {
	u.t.Helper()
	return value[string](u, "document.activeElement.tagName + ' ' + (document.activeElement.getAttribute('aria-label') || document.activeElement.innerText || document.activeElement.name || '').trim()")
}

// choose chooses files in a field as its dialog does.
func (u *user) choose(selector string, paths ...string) {
	u.t.Helper()
	u.must(u.tab.Do(chromedp.SetUploadFiles(chromedp.CSS(selector), paths)))
}

// drag drags files from the desktop over an element and lets them fall there.
func (u *user) drag(selector string, paths ...string) {
	u.t.Helper()
	u.must(u.tab.Do(chromedp.ScrollIntoView(chromedp.CSS(selector))))
	at := value[[]float64](u, "(b => [b.left + b.width / 2, b.top + b.height / 2])(document.querySelector("+strconv.Quote(selector)+").getBoundingClientRect())")
	for _, step := range []input.DispatchDragEventType{input.DispatchDragEventTypeDragEnter, input.DispatchDragEventTypeDragOver, input.DispatchDragEventTypeDrop} {
		u.must(browser.Send(u.tab, input.DispatchDragEvent, input.DispatchDragEventParams{Type: step, X: at[0], Y: at[1],
			Data: &input.DragData{Items: []*input.DragDataItem{}, Files: paths, DragOperationsMask: 1}}))
	}
}

// shown waits for the page of a measurement.
func (u *user) shown() {
	u.t.Helper()
	u.loaded("document.querySelector('#answer')")
}
