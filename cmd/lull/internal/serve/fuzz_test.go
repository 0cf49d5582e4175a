package serve

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/pkg/source"
)

// FuzzDrop has any bytes come as a drop: there is an answer that the client may have
// earned, a page that holds to its rules, no file by a name of the client's and none
// that is left over.
func FuzzDrop(f *testing.F) {
	const boundary = "b"
	set := func(parts ...string) []byte {
		return []byte("--b\r\n" + strings.Join(parts, "\r\n--b\r\n") + "\r\n--b--\r\n")
	}
	field := func(head, text string) string { return "Content-Disposition: form-data; " + head + "\r\n\r\n" + text }
	yaml := field(`name="map"; filename="car.yaml"`, driven.CarMap)
	f.Add(set(field(`name="log"; filename="drive.log"`, "(1.000000) can0 1A0#800C00\n"), yaml))
	f.Add(set(field(`name="log"; filename="../../etc/passwd"`, "x"), field(`name="log"; filename="/etc/passwd"`, "x"), yaml))
	f.Add(set(field(`name="log"; filename*=utf-8''%00%0a%2f..%2f`, "x"), field(`name="map"; filename=<script>`, "format: 1\n<script>")))
	f.Add(set(field(`name="again"`, "x"), field(`name="maptext"`, driven.CarMap), field(`name="with"`, "y"), field(`name="side"`, "after")))
	f.Add([]byte("--b\r\nContent-Disposition: form-data; name=log; filename=a\r\nContent-Transfer-Encoding: quoted-printable\r\n\r\n=41=\r\n--b--"))
	f.Add([]byte("--b"))
	f.Add([]byte{})
	var wrong string // with what was to be measured
	x := serving(f, Options{Largest: 1 << 20}, func(s *Server) {
		s.work.Measure = func(_ context.Context, m *decode.Map, logs []source.Input, _ func(float64)) (*page.Side, []string, error) {
			for _, in := range logs {
				if own, _ := filepath.Match(filepath.Join(s.store.root, "drop-*", "*.log"), in.Path); !own {
					wrong = "a file " + in.Path
				}
				if info, err := os.Lstat(in.Path); err != nil || !info.Mode().IsRegular() {
					wrong = "no file " + in.Path
				}
			}
			return nil, nil, &trouble{what: "measured as " + logs[0].Name + " by " + m.Name + m.Vehicle}
		}
	})
	answers := map[int]bool{http.StatusSeeOther: true, http.StatusBadRequest: true, http.StatusGone: true, http.StatusRequestEntityTooLarge: true, http.StatusUnprocessableEntity: true}
	f.Fuzz(func(t *testing.T, body []byte) {
		x := &site{Server: x.Server, t: t}
		r := httptest.NewRequest(http.MethodPost, x.base()+"/drives", bytes.NewReader(body))
		r.Host, r.RemoteAddr = x.listener.Addr().String(), "127.0.0.1:9"
		r.Header.Set("Origin", "http://"+r.Host)
		r.Header.Set("Content-Type", "multipart/form-data; boundary="+boundary)
		w := &deadlines{ResponseRecorder: httptest.NewRecorder()}
		x.http.Handler.ServeHTTP(w, r)
		if !answers[w.Code] {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
		text := w.Body.String()
		if at, ok := strings.CutPrefix(w.Header().Get("Location"), x.base()); ok { // a map with mistakes
			g := httptest.NewRequest(http.MethodGet, x.base()+at, nil)
			g.Host, g.RemoteAddr = r.Host, r.RemoteAddr
			shown := httptest.NewRecorder()
			x.http.Handler.ServeHTTP(shown, g)
			text = shown.Body.String()
			x.store.mu.Lock()
			x.store.forget(x.store.order[0])
			x.store.mu.Unlock()
		}
		if wrong != "" {
			t.Fatal(wrong)
		}
		checkPage(t, x, text)
		if left := x.drops(); len(left) > 0 {
			t.Fatalf("left over: %v", left)
		}
	})
}
