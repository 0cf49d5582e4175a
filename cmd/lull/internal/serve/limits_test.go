package serve

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/sample/driven"
)

// A body without a length is cut where it becomes too large, and its file goes.
func TestAnEndlessBodyIsCut(t *testing.T) {
	x := serving(t, Options{Largest: 1e6}, nil)
	kind, body := form(part{"log", "drive.log", strings.Repeat("x", 100)})
	head, _, _ := bytes.Cut(body, []byte("xxxx"))
	var sent atomic.Int64
	endless := readerFunc(func(p []byte) (int, error) {
		n := copy(p, head)
		head = head[n:]
		for i := n; i < len(p); i++ {
			p[i] = 'x'
		}
		sent.Add(int64(len(p)))
		return len(p), nil
	})
	a := x.do(x.request(context.Background(), http.MethodPost, "/drives", kind, endless))
	if a.StatusCode != http.StatusRequestEntityTooLarge || !strings.Contains(a.text, "more than 0.001 GB at once") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	if sent.Load() > 20e6 {
		t.Errorf("%d bytes were taken", sent.Load())
	}
	if left := x.drops(); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// The length that is told is judged before anything is read.
func TestALargeBodyIsRefusedAtOnce(t *testing.T) {
	x := serving(t, Options{Largest: 1000}, nil)
	conn, err := net.Dial("tcp", x.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "POST %s/drives HTTP/1.1\r\nHost: %[2]s\r\nOrigin: http://%[2]s\r\nContent-Type: multipart/form-data; boundary=b\r\nContent-Length: 1001\r\n\r\n", x.base(), x.listener.Addr())
	_ = conn.SetReadDeadline(time.Now().Add(20 * time.Second))
	answer, err := io.ReadAll(conn) // nothing was sent, and the connection is closed
	if err != nil || !bytes.HasPrefix(answer, []byte("HTTP/1.1 413 ")) {
		t.Errorf("%v: %.200s", err, answer)
	}
}

// A body that is no form, or is cut or damaged, is told so.
func TestDamagedBodiesAreTold(t *testing.T) {
	x := serving(t, Options{}, nil)
	kind, body := form(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	header := "--b\r\nContent-Disposition: form-data; name=\"log\"; filename=\"a\"\r\n"
	rows := []struct {
		name, kind, body string
		want             int
	}{
		{"no form", "text/plain", "x", 400},
		{"no type", "", "x", 400},
		{"no boundary", "multipart/form-data", "x", 400},
		{"another boundary", "multipart/form-data; boundary=other", string(body), 400},
		{"cut in a log", kind, string(body[:len(body)/2]), 400},
		{"cut before the end", kind, string(body[:len(body)-8]), 400},
		{"cut in a header", kind, string(body[:80]), 400},
		{"mixed", "multipart/mixed; boundary=b", "--b\r\n\r\nx\r\n--b--", 400},
		{"field without a name", "multipart/form-data; boundary=b", "--b\r\n\r\nx\r\n--b--", 400},
		{"endless header", "multipart/form-data; boundary=b", header + "X: " + strings.Repeat("x", 11<<20), 413},
		{"countless headers", "multipart/form-data; boundary=b", header + strings.Repeat("X: y\r\n", 20000) + "\r\nx\r\n--b--", 413},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a := x.do(x.request(context.Background(), http.MethodPost, "/drives", row.kind, strings.NewReader(row.body)))
			if a.StatusCode != row.want || !strings.Contains(a.text, "<h1>This cannot be shown</h1>") {
				t.Errorf("status %d, want %d: %s", a.StatusCode, row.want, a.text)
			}
			checkHeaders(t, a)
			if left := x.drops(); len(left) > 0 {
				t.Errorf("left over: %v", left)
			}
		})
	}
}

// A body may take as long as it moves, and not stand still.
func TestABodyThatStandsStillIsGivenUp(t *testing.T) {
	x := serving(t, Options{}, func(s *Server) { s.slowest = 2 * time.Second })
	kind, body := form(part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap})
	slowly := func(pieces int, pause time.Duration, whole bool) *answer {
		from, to := io.Pipe()
		go func() {
			for i := range pieces {
				_, _ = to.Write(body[i*len(body)/pieces : (i+1)*len(body)/pieces])
				time.Sleep(pause)
				if !whole && i == pieces/2 {
					return
				}
			}
			_ = to.Close()
		}()
		defer from.Close()
		return x.do(x.request(context.Background(), http.MethodPost, "/drives", kind, from))
	}
	if a := slowly(25, 100*time.Millisecond, true); a.StatusCode != http.StatusSeeOther {
		t.Errorf("slow, but moving: status %d: %s", a.StatusCode, a.text)
	}
	before := len(x.drops())
	if a := slowly(2, 0, false); a.StatusCode != http.StatusRequestTimeout || !strings.Contains(a.text, "stood still for too long") {
		t.Errorf("standing still: status %d: %s", a.StatusCode, a.text)
	}
	if left := len(x.drops()); left != before {
		t.Errorf("%d folders more", left-before)
	}
}

// Who takes nothing of an answer is given up.
func TestAnAnswerThatNobodyTakesIsGivenUp(t *testing.T) {
	big := make([]byte, 20<<20) // more than the system holds for a connection
	ended := make(chan bool, 1)
	x := serving(t, Options{}, func(s *Server) {
		s.slowest = 2 * time.Second
		s.http.Handler = s.guard(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			s.answer(w, http.StatusOK, "text/plain", big)
			ended <- true
		}))
	})
	conn, err := net.Dial("tcp", x.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "GET %s/ HTTP/1.1\r\nHost: %s\r\n\r\n", x.base(), x.listener.Addr())
	select {
	case <-ended:
	case <-time.After(time.Minute):
		t.Fatal("the answer still waits")
	}
	if a := x.get("/"); len(a.text) != len(big) {
		t.Errorf("who takes it is given %d bytes", len(a.text))
	}
}

// What the script is told must be taken in time, too, or the next drop would wait.
func TestLinesMustBeTakenInTime(t *testing.T) {
	s := &Server{slowest: time.Minute}
	w := &deadlines{ResponseRecorder: httptest.NewRecorder()}
	r := httptest.NewRequest(http.MethodPost, "/", nil)
	r.Header.Set("Accept", ndjson)
	l := s.newTeller(w, r)
	for before := 3; before > 0; before-- {
		l.place(before)
		if d := time.Until(w.write); d < 50*time.Second || d > time.Minute {
			t.Errorf("a deadline in %v", d)
		}
		w.write = time.Time{}
	}
	l.part(0) // nothing to tell
	l.part(0.25)
	l.part(0.5) // too soon after
	l.last = time.Time{}
	l.part(0.75)
	want := []line{{Before: 3}, {Before: 2}, {Before: 1}, {Part: 0.25}, {Part: 0.75}}
	if diff := cmp.Diff(want, lines(t, w.Body.String())); diff != "" {
		t.Error(diff)
	}
}

// deadlines is a recorder of answers to which deadlines can be set.
type deadlines struct {
	*httptest.ResponseRecorder
	write time.Time
}

func (*deadlines) SetReadDeadline(time.Time) error { return nil }

func (d *deadlines) SetWriteDeadline(t time.Time) error {
	d.write = t
	return nil
}

// Room is asked for before a drop and while it grows; what was measured before goes to
// make it, but only where that helps.
func TestADropThatTheDiskHasNoRoomFor(t *testing.T) {
	var free atomic.Int64
	free.Store(1 << 40)
	x := serving(t, Options{}, func(s *Server) {
		s.reserve = 1000
		s.work.Free = func(folder string) (int64, error) {
			if folder != s.store.root {
				return 0, fmt.Errorf("asked about %s", folder)
			}
			return free.Load(), nil
		}
	})
	log, yaml := part{"log", "drive.log", stops(30)}, part{"map", "m.yaml", driven.CarMap}
	first := x.dropped(log, yaml)
	second := x.dropped(log, yaml)
	size := int64(len(log.text))

	free.Store(1000) // the reserve alone
	if a := x.drop(part{"log", "big.log", strings.Repeat("x", int(3*size))}, yaml); a.StatusCode != http.StatusInsufficientStorage || !strings.Contains(a.text, "the disk has 0 MB left") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	if x.get(first).StatusCode != 200 || x.get(second).StatusCode != 200 {
		t.Error("measurements were forgotten for a drop that has no room without them either")
	}

	free.Store(1000 + lookEvery - size/2)
	if a := x.drop(log, yaml); a.StatusCode != http.StatusSeeOther {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	if x.get(first).StatusCode != http.StatusGone || x.get(second).StatusCode != 200 {
		t.Errorf("the one not used for the longest was to be forgotten and no other: %d, %d", x.get(first).StatusCode, x.get(second).StatusCode)
	}

	// A body without a length is asked about as it comes.
	kind, body := form(part{"log", "drive.log", strings.Repeat("x", 3*lookEvery)}, yaml)
	before := len(x.drops())
	free.Store(1000 + lookEvery)
	came := 0
	growing := readerFunc(func(p []byte) (int, error) {
		if came > lookEvery {
			free.Store(1000)
		}
		n := copy(p, body[came:])
		if came += n; n == 0 {
			return 0, io.EOF
		}
		return n, nil
	})
	if a := x.do(x.request(context.Background(), http.MethodPost, "/drives", kind, growing)); a.StatusCode != http.StatusInsufficientStorage {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
	if left := len(x.drops()); left != before {
		t.Errorf("%d folders more", left-before)
	}

	// Where the disk does not tell, it is tried.
	x.work.Free = func(string) (int64, error) { return 0, os.ErrInvalid }
	if a := x.drop(log, yaml); a.StatusCode != http.StatusSeeOther {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
}
