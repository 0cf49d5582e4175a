package serve

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
)

// call opens a connection and sends a text, in which TOKEN and HOST stand for the
// server's.
func (x *site) call(text string) net.Conn {
	x.t.Helper()
	conn, err := net.Dial("tcp", x.listener.Addr().String())
	if err != nil {
		x.t.Fatal(err)
	}
	x.t.Cleanup(func() { conn.Close() })
	x.say(conn, text)
	return conn
}

func (x *site) say(conn net.Conn, text string) {
	x.t.Helper()
	text = strings.NewReplacer("TOKEN", x.token, "HOST", x.listener.Addr().String()).Replace(text)
	if _, err := io.WriteString(conn, text); err != nil {
		x.t.Fatal(err)
	}
}

// heard is what comes on a connection until it ends; ended is false where it does not.
func heard(conn net.Conn, patience time.Duration) (text string, ended bool) {
	_ = conn.SetReadDeadline(time.Now().Add(patience))
	all, err := io.ReadAll(conn)
	return string(all), !errors.Is(err, os.ErrDeadlineExceeded)
}

const (
	ownPage = "GET /TOKEN/ HTTP/1.1\r\nHost: HOST\r\n\r\n"
	foreign = "POST /x/drives HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\n"
)

// Who has no secret is answered and gone, whatever body was announced and never comes.
func TestWhoIsRefusedIsAnsweredAndClosedAtOnce(t *testing.T) {
	x := serving(t, Options{}, func(s *Server) { s.door.patience = time.Hour })
	for name, text := range map[string]string{
		"no body":            "GET /x/ HTTP/1.1\r\nHost: HOST\r\n\r\n",
		"small body":         foreign + "Content-Length: 1000\r\n\r\n",
		"large body":         foreign + "Content-Length: 1000000000\r\n\r\n",
		"no length":          foreign + "Transfer-Encoding: chunked\r\n\r\n",
		"waits for a word":   foreign + "Content-Length: 1000\r\nExpect: 100-continue\r\n\r\n",
		"no origin":          "POST /TOKEN/drives HTTP/1.1\r\nHost: HOST\r\nContent-Length: 1000\r\n\r\n",
		"another name":       "POST /TOKEN/drives HTTP/1.1\r\nHost: tallowmere.example\r\nContent-Length: 1000\r\n\r\n",
		"asks of the server": "OPTIONS * HTTP/1.1\r\nHost: HOST\r\nContent-Length: 1000\r\n\r\n",
	} {
		text, ended := heard(x.call(text), 20*time.Second)
		if !ended || !strings.HasPrefix(text, "HTTP/1.1 403 ") || !strings.Contains(text, "\r\nConnection: close\r\n") {
			t.Errorf("%s: ended: %v: %.300s", name, ended, text)
		}
	}
}

// However many connections others hold, a few of them are kept, the latest, and whoever
// has the secret is served: on a new connection, on one that passed before, and with a
// drop that is under way.
func TestStrangersLeaveRoomForTheOwner(t *testing.T) {
	x := serving(t, Options{}, func(s *Server) { s.door.patience, s.door.most = time.Hour, 8 })
	kind, body := form(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	from, to := io.Pipe()
	dropped := make(chan string, 1)
	go func() {
		a, err := try(x.request(context.Background(), http.MethodPost, "/drives", kind, from))
		if err != nil {
			dropped <- err.Error()
			return
		}
		dropped <- a.Status
	}()
	_, _ = to.Write(body[:len(body)/2])
	until(t, "the drop is under way", func() bool { return len(x.drops()) > 0 })
	kept := x.call(ownPage)
	answers := bufio.NewReader(kept)
	ask := func() {
		t.Helper()
		_ = kept.SetReadDeadline(time.Now().Add(time.Minute))
		a, err := http.ReadResponse(answers, nil)
		if err != nil || a.StatusCode != http.StatusOK {
			t.Fatalf("a connection that passed: %v, %v", a, err)
		}
		if _, err := io.Copy(io.Discard, a.Body); err != nil {
			t.Fatal(err)
		}
	}
	ask()

	var strangers []net.Conn
	for i := range 60 {
		strangers = append(strangers, x.call([]string{"", "GET /x", "GET /x HTTP/1.1\r\nHost: HOST\r\n"}[i%3]))
	}
	for i, conn := range strangers[:len(strangers)-8] {
		if text, ended := heard(conn, 20*time.Second); !ended || text != "" {
			t.Errorf("stranger %d is kept; told %q", i, text)
		}
	}
	if a := x.get("/"); a.StatusCode != http.StatusOK {
		t.Errorf("a new connection: %s", a.Status)
	}
	x.say(kept, ownPage)
	ask()
	_, _ = to.Write(body[len(body)/2:])
	_ = to.Close()
	if got := <-dropped; got != "303 See Other" {
		t.Errorf("the drop: %s", got)
	}
}

// Until it has shown the secret a connection has little time, whatever it sends; then a
// drop may be as slow as it likes.
func TestAConnectionHasLittleTimeToShowTheSecret(t *testing.T) {
	const patience = 300 * time.Millisecond
	x := serving(t, Options{}, func(s *Server) { s.door.patience = patience })
	for name, text := range map[string]string{
		"nothing":                  "",
		"half a line":              "GET /TOKEN",
		"no end of the header":     "GET /TOKEN/ HTTP/1.1\r\nHost: HOST\r\n",
		"expects what nobody does": foreign + "Content-Length: 1000\r\nExpect: tea\r\n\r\n",
	} {
		if text, ended := heard(x.call(text), 20*time.Second); !ended || strings.Contains(text, "200 OK") {
			t.Errorf("%s: ended: %v: %.200s", name, ended, text)
		}
	}
	kind, body := form(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	conn := x.call(fmt.Sprintf("POST /TOKEN/drives HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nContent-Type: %s\r\nContent-Length: %d\r\nConnection: close\r\n\r\n", kind, len(body)))
	for _, half := range [][]byte{body[:len(body)/2], body[len(body)/2:]} {
		time.Sleep(2 * patience)
		if _, err := conn.Write(half); err != nil {
			t.Fatal(err)
		}
	}
	if text, ended := heard(conn, time.Minute); !ended || !strings.HasPrefix(text, "HTTP/1.1 303 ") {
		t.Errorf("a slow drop: ended: %v: %.200s", ended, text)
	}
}

// What Go's server answers by itself has the headers of every answer, on a new
// connection and on one that passed the guard.
func TestWhatGoAnswersByItselfHasTheHeaders(t *testing.T) {
	x := serving(t, Options{}, nil)
	for _, row := range []struct {
		name, text string
		want       int
	}{
		{"of the server", "OPTIONS * HTTP/1.1\r\nHost: HOST\r\n\r\n", 403},
		{"tunnel", "CONNECT tallowmere.example:80 HTTP/1.1\r\nHost: HOST\r\n\r\n", 403},
		{"old", "GET /TOKEN/ HTTP/1.0\r\n\r\n", 403},
		{"nonsense", "nonsense\r\n\r\n", 400},
		{"no name", "GET /TOKEN/ HTTP/1.1\r\n\r\n", 400},
		{"two names", "GET /TOKEN/ HTTP/1.1\r\nHost: HOST\r\nHost: HOST\r\n\r\n", 400},
		{"no header", "GET /TOKEN/ HTTP/1.1\r\nHost: HOST\r\nx y\r\n\r\n", 400},
		{"expectation", "GET /TOKEN/ HTTP/1.1\r\nHost: HOST\r\nExpect: tea\r\n\r\n", 417},
		{"large header", "GET /TOKEN/ HTTP/1.1\r\nHost: HOST\r\nX: " + strings.Repeat("x", 64<<10) + "\r\n\r\n", 431},
		{"encoding", "POST /TOKEN/ HTTP/1.1\r\nHost: HOST\r\nTransfer-Encoding: tea\r\n\r\n", 501},
		{"version", "GET /TOKEN/ HTTP/3.0\r\nHost: HOST\r\n\r\n", 505},
	} {
		for _, before := range []string{"", ownPage} {
			conn := x.call(before)
			_ = conn.SetReadDeadline(time.Now().Add(20 * time.Second))
			answers := bufio.NewReader(conn)
			read := func() *answer {
				response, err := http.ReadResponse(answers, nil)
				if err != nil {
					t.Fatalf("%s: %v", row.name, err)
				}
				text, err := io.ReadAll(response.Body)
				if err != nil {
					t.Fatalf("%s: %v", row.name, err)
				}
				return &answer{response, string(text)}
			}
			if before != "" {
				read()
			}
			x.say(conn, row.text)
			a := read()
			if a.StatusCode != row.want {
				t.Errorf("%s: status %d, want %d: %s", row.name, a.StatusCode, row.want, a.text)
			}
			t.Run(row.name, func(t *testing.T) { checkHeaders(t, a) })
		}
	}
}

// A page is sent as it is, though parts of it look like an answer.
func TestAnAnswerIsSentAsItIs(t *testing.T) {
	text := bytes.Repeat([]byte("HTTP/1.1 400 Bad Request\r\n\r\n"), 10000)
	x := serving(t, Options{}, func(s *Server) {
		s.http.Handler = s.guard(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			w.WriteHeader(http.StatusOK)
			for part := range bytes.Lines(text) {
				_, _ = w.Write(part)
				_ = http.NewResponseController(w).Flush()
			}
		}))
	})
	if a := x.get("/"); a.text != string(text) {
		t.Errorf("%d bytes, want %d", len(a.text), len(text))
	}
}
