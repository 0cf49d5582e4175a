package browser

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"lull/pkg/oracle"
)

// start starts a browser for one test.
func start(t *testing.T) *Browser {
	t.Helper()
	if oracle.RaceDetector {
		t.Skip("SKIPPED: the browser's tests run without the race detector")
	}
	path, err := Find()
	if errors.Is(err, ErrNone) {
		oracle.Missing(t, err.Error())
	}
	if err != nil {
		t.Fatal(err)
	}
	b, err := Start(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.Close)
	return b
}

func open(t *testing.T, b *Browser) *Tab {
	t.Helper()
	tab, err := b.Open(400, 300, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(tab.Close)
	return tab
}

// A test for complaints proves nothing unless they are heard.
func TestATabHearsEveryComplaint(t *testing.T) {
	pages := map[string]string{
		"/logs":   `<script>console.log("a word")</script>`,
		"/fails":  `<script>null.part</script>`,
		"/policy": `<script>window.ran = 1</script><p style="color:red">`,
		"/asks":   `<script>alert("a question")</script>`,
		"/lacks":  `<script src="/nothing"></script>`,
		"/quiet":  `<p>nothing`,
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, ok := pages[r.URL.Path]
		if !ok {
			w.WriteHeader(http.StatusNotFound)
			return
		}
		if r.URL.Path == "/policy" {
			w.Header().Set("Content-Security-Policy", "default-src 'none'")
		}
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprint(w, `<link rel="icon" href="data:,"><body>`+body)
	}))
	defer server.Close()
	b := start(t)
	for path, want := range map[string][]string{
		"/logs": {"a word"}, "/fails": {"TypeError"}, "/policy": {"script-src-elem", "style-src-attr"}, "/asks": {"dialog: a question"}, "/lacks": {"404"}, "/quiet": nil,
	} {
		tab := open(t, b)
		if err := tab.Do(chromedp.Navigate(server.URL + path)); err != nil {
			t.Errorf("%s: %v", path, err)
		}
		heard := func() string { return strings.Join(tab.Complaints(), "\n") }
		for _, w := range want {
			for end := time.Now().Add(Patience); !strings.Contains(heard(), w) && time.Now().Before(end); {
				time.Sleep(10 * time.Millisecond)
			}
			if !strings.Contains(heard(), w) {
				t.Errorf("%s: nothing of %s in %q", path, w, heard())
			}
		}
		if want == nil && heard() != "" && path != "/policy" {
			t.Errorf("%s: %q", path, heard())
		}
	}
}

func TestATabLooksAsWideAndDarkAsItIsTold(t *testing.T) {
	tab := open(t, start(t))
	for _, c := range []struct {
		width int64
		dark  bool
	}{{400, true}, {1400, false}, {360, true}} {
		if err := tab.Look(c.width, 300, c.dark); err != nil {
			t.Fatal(err)
		}
		width, err := Value[int64](tab, "innerWidth")
		if err != nil || width != c.width {
			t.Errorf("%d px wide, not %d: %v", width, c.width, err)
		}
		dark, err := Value[bool](tab, "matchMedia('(prefers-color-scheme: dark)').matches")
		if err != nil || dark != c.dark {
			t.Errorf("dark %v, not %v: %v", dark, c.dark, err)
		}
	}
	tab.patience = 50 * time.Millisecond
	if err := tab.Until("false"); err == nil || !strings.Contains(err.Error(), "in vain for false") {
		t.Errorf("waiting for what never holds ends with %v", err)
	}
	if err := tab.Until("no.such"); err == nil || !strings.Contains(err.Error(), "no is not defined") {
		t.Errorf("waiting for what cannot be asked ends with %v", err)
	}
}

func TestWhatCannotStartSaysSo(t *testing.T) {
	folder := t.TempDir()
	t.Setenv("PATH", folder)
	if _, err := Find(); !errors.Is(err, ErrNone) {
		t.Errorf("in an empty folder the browser is %v", err)
	}
	if _, err := Build(folder); err == nil {
		t.Error("lull is built without go")
	}
	quits := filepath.Join(folder, "quits")
	if err := os.WriteFile(quits, []byte("#!/bin/sh\necho no such port >&2\nexit 1\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := Serve(quits, folder); err == nil || !strings.Contains(err.Error(), "no such port") {
		t.Errorf("a server that ends at once: %v", err)
	}
	if _, err := Serve(filepath.Join(folder, "none"), folder); err == nil {
		t.Error("a server that is not there")
	}
	if _, err := Start(quits); err == nil || !strings.Contains(err.Error(), "does not start") {
		t.Errorf("a browser that ends at once: %v", err)
	}
}

func TestASceneThatCannotBeShownIsNamed(t *testing.T) {
	tab := open(t, start(t))
	tab.patience = 100 * time.Millisecond
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "<p>another page") }))
	defer server.Close()
	for _, s := range Scenes {
		if s.Name == "start" || s.Name == "notice" {
			continue // which any server has
		}
		if err := s.Show(tab, server.URL+"/", t.TempDir()); err == nil || !strings.HasPrefix(err.Error(), s.Name+": ") {
			t.Errorf("%s on a page that is none of lull's: %v", s.Name, err)
		}
	}
}
