package serve

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/words"
)

// scriptedMarker keeps what it is told.
type scriptedMarker struct {
	mutex sync.Mutex
	told  []string
	fault error
}

func (m *scriptedMarker) take(text string) error {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if m.fault == nil {
		m.told = append(m.told, text)
	}
	return m.fault
}

func (m *scriptedMarker) Toggle(name string, ago time.Duration) error {
	return m.take(fmt.Sprint(name, " ", ago))
}

func (m *scriptedMarker) Read(text string, ago time.Duration) error {
	return m.take(fmt.Sprint(text, " ", ago))
}

// marked posts a mark and returns the status and what is shown for it.
func marked(t *testing.T, s *Server, form url.Values, header ...string) (int, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL()+"/mark", strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://"+s.listener.Addr().String())
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, string(text)
}

// Buttons and the field of the page reach the recording, with how long ago it was; without
// the script the page comes again.
func TestMarksAreTakenOnThePage(t *testing.T) {
	m := &scriptedMarker{}
	s, l := served(t, About{Path: "drive.log", Marker: m, Served: t.Context(), Recorded: t.Context()})
	if status, text := marked(t, s, url.Values{"mark": {"brake"}}); status != http.StatusOK || !strings.Contains(text, `value="brake" aria-pressed="false">brake</button>`) {
		t.Errorf("%d\n%s", status, text)
	}
	l.Show(words.LiveState{Marks: &words.LiveMarks{File: "drive.marks", Count: 1, On: []words.OpenMark{words.NewOpenMark("brake", 12)}, Taken: []string{"steering from 1.0 to 2.0 s"}}})
	if status, text := marked(t, s, url.Values{"value": {"50"}, "unit": {"km/h"}, "ago": {"1500"}}); status != http.StatusOK ||
		!strings.Contains(text, `value="brake" aria-pressed="true">brake</button>`) || !strings.Contains(text, "<li>steering from 1.0 to 2.0 s</li>") || !strings.Contains(text, "Taken: 1, in drive.marks.") {
		t.Errorf("%d\n%s", status, text)
	}
	for _, ago := range []string{"-5", "x", "999999999999999999", "99999999999999999999"} {
		marked(t, s, url.Values{"mark": {"c"}, "ago": {ago}})
	}
	if diff := cmp.Diff([]string{"brake 0s", "50 km/h 1.5s", "cancel_switch 0s", "cancel_switch 0s", "cancel_switch 2m0s", "cancel_switch 0s"}, m.told); diff != "" {
		t.Error(diff)
	}
	script := []string{"Accept", "application/json"}
	if status, text := marked(t, s, url.Values{"mark": {"brake"}}, script...); status != http.StatusOK || text != `{"error":""}` {
		t.Errorf("%d %s", status, text)
	}
	if _, state := listen(t, s, "", "").until(t, "state"); state.Marks == nil || !state.Marks.IsOn("brake") {
		t.Errorf("the script is told %+v", state.Marks)
	}
}

// What is not taken is told; a mark from another page is refused.
func TestMarksThatAreNotTakenAreToldOnThePage(t *testing.T) {
	m := &scriptedMarker{fault: errors.New("not marked: <b>no</b> frame")}
	s, _ := served(t, About{Path: "drive.log", Marker: m, Served: t.Context(), Recorded: t.Context()})
	if status, text := marked(t, s, url.Values{"mark": {"brake"}}); status != http.StatusConflict || !strings.Contains(text, "not marked: &lt;b&gt;no") {
		t.Errorf("%d\n%s", status, text)
	}
	status, text := marked(t, s, url.Values{"mark": {"brake"}}, "Accept", "application/json")
	var answer struct{ Error string }
	if err := json.Unmarshal([]byte(text), &answer); err != nil || status != http.StatusOK || answer.Error != "not marked: <b>no</b> frame" {
		t.Errorf("%d %s, %v", status, text, err)
	}
	m.fault = nil
	if status, _ := marked(t, s, url.Values{"mark": {"x y\n1 2"}}); status != http.StatusConflict {
		t.Error(status)
	}
	if status, _ := marked(t, s, url.Values{"value": {strings.Repeat("5", 2*mostMark)}}); status != http.StatusBadRequest {
		t.Error(status)
	}
	for _, header := range [][]string{{"Origin", "http://example.org"}, {"Origin", ""}, {"Sec-Fetch-Site", "cross-site"}} {
		if status, _ := marked(t, s, url.Values{"mark": {"brake"}}, header...); status != http.StatusForbidden {
			t.Errorf("%q: %d", header, status)
		}
	}
	if len(m.told) > 0 {
		t.Errorf("taken: %q", m.told)
	}

	none, _ := served(t, About{Path: "drive.log", Served: t.Context(), Recorded: t.Context()})
	if status, _ := marked(t, none, url.Values{"mark": {"brake"}}); !slices.Contains([]int{http.StatusNotFound, http.StatusMethodNotAllowed}, status) {
		t.Errorf("where nothing can be marked: %d", status)
	}
}
