package serve

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
)

// headers are what every answer has, whatever it is.
var headers = map[string]string{
	"Content-Security-Policy":      policy,
	"X-Content-Type-Options":       "nosniff",
	"Referrer-Policy":              "same-origin",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Cache-Control":                "no-store",
}

func checkHeaders(t *testing.T, a *answer) {
	t.Helper()
	for name, want := range headers {
		if got := a.Header.Values(name); len(got) != 1 || got[0] != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if a.Header.Get("Content-Type") == "" && a.ContentLength != 0 {
		t.Error("no Content-Type")
	}
	for name := range a.Header {
		if strings.HasPrefix(name, "Access-Control-") {
			t.Errorf("%s lets other pages in", name)
		}
	}
}

// Only a browser that was given the address gets anything, and who did not is not told
// the secret part. Host is checked against names that were made to lead here (DNS
// rebinding), Origin and Sec-Fetch-Site against other pages (Fetch standard; Fetch
// Metadata Request Headers, W3C).
func TestOnlyThePageItselfIsAnswered(t *testing.T) {
	x := serving(t, Options{}, nil)
	_, port, err := net.SplitHostPort(x.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	own := "http://127.0.0.1:" + port
	none := []string{}
	rows := []struct {
		name, method, path, host string
		origin                   []string // nil: own
		header                   [2]string
		want                     int
	}{
		{name: "page", want: 200},
		{name: "page, no origin", origin: none, want: 200},
		{name: "page as localhost", host: "localhost:" + port, origin: []string{"http://localhost:" + port}, want: 200},
		{name: "head", method: "HEAD", origin: none, want: 200},
		{name: "style sheet", path: "/TOKEN/page.css", want: 200},
		{name: "from the address bar", header: [2]string{"Sec-Fetch-Site", "none"}, want: 200},
		{name: "from the page", header: [2]string{"Sec-Fetch-Site", "same-origin"}, want: 200},

		{name: "rebound name", host: "tallowmere.example:" + port, want: 403},
		{name: "rebound name without port", host: "tallowmere.example", want: 403},
		{name: "other port", host: "127.0.0.1:1", want: 403},
		{name: "no port", host: "127.0.0.1", want: 403},
		{name: "other loopback", host: "127.0.0.2:" + port, want: 403},
		{name: "name that begins alike", host: "127.0.0.1:" + port + ".example:" + port, want: 403},
		{name: "name with a user", host: "127.0.0.1:" + port + "@example", want: 403},
		{name: "other network's name", host: "[::1]:" + port, want: 403},

		{name: "foreign origin reads", origin: []string{"http://tallowmere.example"}, want: 403},
		{name: "foreign origin drops", method: "POST", path: "/TOKEN/drives", origin: []string{"http://tallowmere.example"}, want: 403},
		{name: "origin of another port", method: "POST", path: "/TOKEN/drives", origin: []string{"http://127.0.0.1:1"}, want: 403},
		{name: "origin with TLS", method: "POST", path: "/TOKEN/drives", origin: []string{"https://127.0.0.1:" + port}, want: 403},
		{name: "origin that begins alike", method: "POST", path: "/TOKEN/drives", origin: []string{own + ".example"}, want: 403},
		{name: "null origin", method: "POST", path: "/TOKEN/drives", origin: []string{"null"}, want: 403},
		{name: "no origin drops", method: "POST", path: "/TOKEN/drives", origin: none, want: 403},
		{name: "no origin deletes", method: "DELETE", path: "/TOKEN/", origin: none, want: 403},
		{name: "two origins", method: "POST", path: "/TOKEN/drives", origin: []string{"http://tallowmere.example", own}, want: 403},
		{name: "asks before it drops", method: "OPTIONS", path: "/TOKEN/drives", origin: []string{"http://tallowmere.example"}, want: 403},
		{name: "other site", header: [2]string{"Sec-Fetch-Site", "cross-site"}, want: 403},
		{name: "other port's page", header: [2]string{"Sec-Fetch-Site", "same-site"}, want: 403},

		{name: "no token", path: "/", want: 403},
		{name: "nothing", path: "/drives", want: 403},
		{name: "wrong token", path: "/" + newToken() + "/", want: 403},
		{name: "half a token", path: "/HALF/", want: 403},
		{name: "longer token", path: "/TOKENx/", want: 403},
		{name: "token in capitals", path: "/" + strings.ToUpper(x.token) + "_/", want: 403},
		{name: "token behind a slash", path: "//TOKEN/", want: 403},
		{name: "token as a query", path: "/?TOKEN", want: 403},
		{name: "wrong token drops", method: "POST", path: "/x/drives", want: 403},
		{name: "wrong token, style sheet", path: "/x/page.css", want: 403},

		{name: "unknown address", path: "/TOKEN/nothing", want: 404},
		{name: "other method", method: "DELETE", path: "/TOKEN/", want: 404},
		{name: "put", method: "PUT", path: "/TOKEN/drives", want: 404},
		{name: "options", method: "OPTIONS", path: "/TOKEN/", want: 404},
		{name: "drop by get", path: "/TOKEN/drives", want: 404},
		{name: "up", path: "/TOKEN/../../etc/passwd", want: 404},
		{name: "up, in code", path: "/TOKEN/%2e%2e/%2e%2e/etc/passwd", want: 404},
		{name: "up as an id", path: "/TOKEN/drives/..%2f..%2fetc%2fpasswd", want: 404},
		{name: "up to no token", path: "/TOKEN/..", want: 404},
		{name: "double slash", path: "/TOKEN//page.css", want: 404},
		{name: "absolute file", path: "/TOKEN//etc/passwd", want: 404},
		{name: "id of no drive", path: "/TOKEN/drives/%00", want: 410},
		{name: "long id", path: "/TOKEN/drives/" + strings.Repeat("x", 10000), want: 410},
		{name: "script as an id", path: "/TOKEN/drives/%3Cscript%3E", want: 410},
		{name: "file of nothing", path: "/TOKEN/drives/x/file/..%2f..%2fmap.yaml", want: 404},
		{name: "card of nothing", path: "/TOKEN/drives/x/card?open=a0.1", want: 410},
		{name: "readings of nothing", path: "/TOKEN/drives/x/readings?open=a0.1", want: 410},
		{name: "report of nothing", method: "POST", path: "/TOKEN/drives/x/report", want: 410},
		{name: "demonstration of nothing", method: "POST", path: "/TOKEN/demo", want: 404},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			path := row.path
			if path == "" {
				path = "/TOKEN/"
			}
			path = strings.ReplaceAll(path, "TOKEN", x.token)
			path = strings.ReplaceAll(path, "HALF", x.token[:len(x.token)/2])
			r, err := http.NewRequest(row.method, own+path, nil)
			if err != nil {
				t.Fatal(err)
			}
			if row.host != "" {
				r.Host = row.host
			}
			if row.origin == nil {
				row.origin = []string{own}
			}
			r.Header["Origin"] = row.origin
			if row.header[0] != "" {
				r.Header.Set(row.header[0], row.header[1])
			}
			a := x.do(r)
			if a.StatusCode != row.want {
				t.Errorf("status %d, want %d: %s", a.StatusCode, row.want, a.text)
			}
			checkHeaders(t, a)
			if row.want == http.StatusForbidden && strings.Contains(a.text+fmt.Sprint(a.Header), x.token) {
				t.Errorf("the token is told: %s", a.text)
			}
			if strings.Contains(a.text, "root:") {
				t.Error("a file of the machine")
			}
		})
	}
	if left := x.drops(); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
}

// The listener itself is on the loopback interface; a request that came another way
// is refused all the same.
func TestOtherMachinesAreRefused(t *testing.T) {
	x := serving(t, Options{}, nil)
	for remote, want := range map[string]int{"127.0.0.1:999": 200, "[::1]:999": 200, "192.0.2.1:999": 403, "[2001:db8::1]:999": 403, "tallowmere": 403, "": 403} {
		r := httptest.NewRequest(http.MethodGet, x.base()+"/", nil)
		r.Host, r.RemoteAddr = x.listener.Addr().String(), remote
		w := httptest.NewRecorder()
		x.http.Handler.ServeHTTP(w, r)
		if w.Code != want || want == 403 && strings.Contains(w.Body.String(), x.token) {
			t.Errorf("%q: status %d, want %d", remote, w.Code, want)
		}
	}
	host, _, err := net.SplitHostPort(x.listener.Addr().String())
	if err != nil || host != "127.0.0.1" {
		t.Errorf("listens on %s, %v", host, err)
	}
}

// Browsers leave the usual port out of Host and Origin.
func TestTheUsualPortIsLeftOutByBrowsers(t *testing.T) {
	at := func(port string) *Server {
		address, err := net.ResolveTCPAddr("tcp4", "127.0.0.1:"+port)
		if err != nil {
			t.Fatal(err)
		}
		return &Server{listener: listenerAt{address}}
	}
	for _, row := range []struct {
		port, host string
		want       bool
	}{
		{"80", "127.0.0.1", true}, {"80", "localhost", true}, {"80", "127.0.0.1:80", true},
		{"80", "tallowmere.example", false}, {"80", "127.0.0.1:8080", false}, {"80", "", false},
		{"8080", "127.0.0.1", false}, {"8080", "127.0.0.1:80", false}, {"8080", "127.0.0.1:8080", true},
	} {
		if got := at(row.port).ownHost(row.host); got != row.want {
			t.Errorf("port %s, host %q: %v", row.port, row.host, got)
		}
		if got := at(row.port).ownOrigin("http://" + row.host); got != row.want {
			t.Errorf("port %s, origin of %q: %v", row.port, row.host, got)
		}
	}
}

type listenerAt struct{ address net.Addr }

func (l listenerAt) Addr() net.Addr          { return l.address }
func (listenerAt) Accept() (net.Conn, error) { return nil, os.ErrClosed }
func (listenerAt) Close() error              { return nil }

// The address that a browser is started with leads to the page once: who reads it in
// the list of processes comes too late.
func TestAnInvitationWorksOnce(t *testing.T) {
	x := serving(t, Options{}, nil)
	invitation := x.Invitation()
	if strings.Contains(invitation, x.token) {
		t.Fatal("it shows the token")
	}
	ask := func(method, host string) *answer {
		r, err := http.NewRequestWithContext(context.Background(), method, invitation, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = host
		return x.do(r)
	}
	for _, a := range []*answer{ask(http.MethodGet, "tallowmere.example"), ask(http.MethodHead, "")} {
		if a.StatusCode != http.StatusForbidden || a.Header.Get("Location") != "" {
			t.Errorf("status %d, to %s", a.StatusCode, a.Header.Get("Location"))
		}
	}
	a := ask(http.MethodGet, "")
	if a.StatusCode != http.StatusSeeOther || a.Header.Get("Location") != x.base()+"/" {
		t.Errorf("status %d, to %q", a.StatusCode, a.Header.Get("Location"))
	}
	checkHeaders(t, a)
	if a := ask(http.MethodGet, ""); a.StatusCode != http.StatusForbidden || strings.Contains(a.text, x.token) {
		t.Errorf("the second time: status %d", a.StatusCode)
	}
	if x.Invitation() != x.URL() {
		t.Errorf("a used invitation is given out: %s", x.Invitation())
	}
}

// Who reads the invitation in the list of processes and is there before the browser gets
// nothing, and the browser still does; where users cannot be told apart it must do.
func TestAnInvitationIsForThisUserAlone(t *testing.T) {
	t.Setenv("SUDO_UID", "4711")
	for _, row := range []struct {
		uid    int
		known  bool
		status int
	}{
		{os.Geteuid(), true, 303}, {0, true, 303}, {4711, true, 303}, {0, false, 303}, {65534, true, 403}, {os.Geteuid() + 1, true, 403},
	} {
		x := serving(t, Options{}, func(s *Server) {
			s.peer = func(*http.Request) (int, bool) { return row.uid, row.known }
		})
		invitation := x.Invitation()
		r, err := http.NewRequestWithContext(context.Background(), http.MethodGet, invitation, nil)
		if err != nil {
			t.Fatal(err)
		}
		a := x.do(r)
		if a.StatusCode != row.status || a.StatusCode == 403 && strings.Contains(a.text+fmt.Sprint(a.Header), x.token) {
			t.Errorf("user %d, known: %v: status %d, want %d", row.uid, row.known, a.StatusCode, row.status)
		}
		if left := x.Invitation() == invitation; left != (row.status == 403) {
			t.Errorf("user %d, known: %v: the invitation is left: %v", row.uid, row.known, left)
		}
	}
}

// Tokens are not made from anything that could be guessed.
func TestTokensDiffer(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		token := newToken()
		if len(token) != 22 || seen[token] { // 128 bits in base 64 (RFC 4648, section 5)
			t.Fatalf("%q", token)
		}
		seen[token] = true
	}
}
