package serve

import (
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// read reads an answer to its end.
func read(t *testing.T, answer *http.Response) (int, string) {
	t.Helper()
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, string(text)
}

// get loads a page.
func get(t *testing.T, address string) (int, string) {
	t.Helper()
	answer, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	return read(t, answer)
}

// post sends a form as the page does.
func post(t *testing.T, s *Server, path string, fields map[string]string) (int, string) {
	t.Helper()
	var b strings.Builder
	form := multipart.NewWriter(&b)
	for name, value := range fields {
		w, err := form.CreateFormField(name)
		if name == "map" || name == "log" {
			w, err = form.CreateFormFile(name, name+".yaml")
		}
		if err == nil {
			_, err = io.WriteString(w, value)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	form.Close()
	base := strings.TrimSuffix(s.URL(), "/live")
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, base+path, strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", form.FormDataContentType())
	u, _ := url.Parse(base)
	r.Header.Set("Origin", "http://"+u.Host)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	return read(t, answer)
}

// The recorded log is measured where it lies, by the recording's map or by one that
// is dropped, once it is whole; the client names no path.
func TestARecordingIsMeasuredWhereItLies(t *testing.T) {
	path := filepath.Join(t.TempDir(), "drive.log")
	if err := os.WriteFile(path, []byte("frames"), 0o600); err != nil {
		t.Fatal(err)
	}
	s, l := served(t, About{Path: path}, func(w *Work) { w.Map, w.MapName = []byte(plainMap), "car.yaml" })
	if status, text := post(t, s, "/drives", map[string]string{"recorded": "yes"}); status != http.StatusConflict || !strings.Contains(text, "the recording goes on; end it first") {
		t.Errorf("while it goes on: %d %s", status, text)
	}
	if _, text := get(t, s.URL()); strings.Contains(text, "Measure this recording") || !strings.Contains(text, "End it now") {
		t.Error("while it goes on it can be measured, or not ended")
	}
	l.Ended(true, false)
	if _, text := get(t, s.URL()); !strings.Contains(text, "Measure this recording") || strings.Contains(text, "End it now") || strings.Contains(text, `type="file"`) {
		t.Errorf("after its end:\n%s", text)
	}
	for _, value := range []string{"yes", "/etc/passwd"} {
		if _, text := post(t, s, "/drives", map[string]string{"recorded": value}); !strings.Contains(text, "measured drive.log &#34;frames&#34; by car.yaml") {
			t.Errorf("%s: %s", value, text)
		}
	}
	if _, text := post(t, s, "/drives", map[string]string{"recorded": "yes", "map": plainMap}); !strings.Contains(text, "by map.yaml") {
		t.Errorf("by another map: %s", text)
	}
	if _, err := os.Stat(path); err != nil {
		t.Errorf("the log is gone: %v", err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if status, text := post(t, s, "/drives", map[string]string{"recorded": "yes"}); status != http.StatusGone || strings.Contains(text, filepath.Dir(path)) {
		t.Errorf("a log that was moved: %d %s", status, text)
	}
	if _, text := get(t, s.URL()); strings.Contains(text, "Measure this recording") {
		t.Error("a log that was moved can be measured")
	}
}

func TestARecordingOfNothingIsNotMeasured(t *testing.T) {
	path := filepath.Join(t.TempDir(), "drive.log")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	s, l := served(t, About{Path: path})
	l.Ended(false, false)
	if status, text := post(t, s, "/drives", map[string]string{"recorded": "yes"}); status != http.StatusUnprocessableEntity || !strings.Contains(text, "nothing was recorded") {
		t.Errorf("%d %s", status, text)
	}
	l.Ended(true, false)
	if _, text := post(t, s, "/drives", map[string]string{"recorded": "yes"}); !strings.Contains(text, "Draft a map from this log") {
		t.Errorf("without a map: %s", text)
	}
	if _, text := get(t, s.URL()); !strings.Contains(text, `<input type="file" name="map"`) {
		t.Error("a map cannot be dropped")
	}
}

// What was marked in a recording waits beside it for a draft, without being dropped.
func TestTheMarksOfARecordingAreBesideIt(t *testing.T) {
	folder := t.TempDir()
	path, marked := filepath.Join(folder, "drive.log"), filepath.Join(folder, "drive.marks")
	if err := os.WriteFile(path, []byte("frames"), 0o600); err != nil {
		t.Fatal(err)
	}
	s, l := served(t, About{Path: path, Marks: marked})
	l.Ended(true, false)
	if _, text := post(t, s, "/drives", map[string]string{"recorded": "yes"}); !strings.Contains(text, "Draft a map from this log") || strings.Contains(text, "Waiting beside the log") {
		t.Errorf("nothing was marked: %s", text)
	}
	if err := os.WriteFile(marked, []byte("brake 1 2\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, text := post(t, s, "/drives", map[string]string{"recorded": "yes"}); !strings.Contains(text, "drive.marks: 1 marked time") {
		t.Errorf("the marks are not there: %s", text)
	}
	if err := os.WriteFile(marked, []byte("brake 1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, text := post(t, s, "/drives", map[string]string{"recorded": "yes"}); !strings.Contains(text, "drive.marks:1: 2 words") || strings.Contains(text, folder) {
		t.Errorf("damaged marks: %s", text)
	}
}
