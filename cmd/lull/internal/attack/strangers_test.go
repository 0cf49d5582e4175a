//go:build attack && linux

package attack

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/live"
)

// policyHeaders are what every answer must carry, as the owner's first page does.
var policyHeaders = []string{"Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy",
	"Cross-Origin-Opener-Policy", "Cross-Origin-Resource-Policy", "Cache-Control"}

// stranger is a request of somebody who was not given the address, to the byte. In it
// HOST is the server's, OTHER a secret part of the right form, ID that of a
// measurement. Those that say SECRET have learned the secret part by chance, and come
// from another page or by another name.
type stranger struct{ name, request string }

// plain is a request with the headers that a browser sends at least.
func plain(name, line string, headers ...string) stranger {
	return stranger{name, line + " HTTP/1.1\r\nHost: HOST\r\n" + strings.Join(append(headers, "\r\n"), "\r\n")}
}

// with is the request with a body.
func (s stranger) with(body string) stranger { return stranger{s.name, s.request + body} }

// under is a request by another name of the server.
func under(name, host string) stranger {
	return stranger{name, "GET /SECRET/ HTTP/1.1\r\nHost: " + host + "\r\n\r\n"}
}

var strangers = []stranger{
	// Paths.
	plain("the root", "GET /"),
	plain("another secret", "GET /OTHER/"),
	plain("another secret, of a drive", "GET /OTHER/drives/ID"),
	plain("a drive without the secret", "GET /drives/ID"),
	plain("a file without the secret", "GET /drives/ID/file/episodes.json"),
	plain("the recording", "GET /live"),
	plain("the recording's events", "GET /OTHER/live/events"),
	plain("the style sheet", "GET /page.css"),
	plain("the script", "GET /OTHER/page.js"),
	plain("the icon that browsers ask for", "GET /favicon.ico"),
	plain("what robots ask for", "GET /robots.txt"),
	plain("an empty secret", "GET //"),
	plain("an empty secret, of a drive", "GET //drives/ID"),
	plain("dots", "GET /../../etc/passwd"),
	plain("packed dots", "GET /%2e%2e/%2e%2e/etc/passwd"),
	plain("packed slashes", "GET /..%2f..%2fetc%2fpasswd"),
	plain("backslashes", "GET /..\\..\\etc\\passwd"),
	plain("packed zero", "GET /%00/drives/ID"),
	plain("a broken escape", "GET /%zz/"),
	plain("dots behind another secret", "GET /OTHER/../drives/ID"),
	plain("a query for a path", "GET ?path=/drives/ID"),
	plain("a fragment", "GET /#/drives/ID"),
	plain("a star", "GET *"),
	plain("a path of 16 KiB", "GET /"+strings.Repeat("a/", 8<<10)),
	plain("a path of 1 MiB", "GET /"+strings.Repeat("a", 1<<20)),
	// Methods.
	plain("head", "HEAD /"),
	plain("options of all", "OPTIONS *"),
	plain("options of all, with a body", "OPTIONS *", "Content-Length: 5").with("abcde"),
	plain("options before a request of another page", "OPTIONS /OTHER/drives", "Origin: http://evil.example", "Access-Control-Request-Method: POST"),
	plain("trace", "TRACE /"),
	plain("connect", "CONNECT HOST"),
	plain("connect to somebody else", "CONNECT evil.example:443"),
	plain("put", "PUT /drives/ID", "Content-Length: 3").with("abc"),
	plain("delete", "DELETE /drives/ID"),
	plain("a method that no page uses", "PROPFIND /"),
	plain("a method of bad bytes", "G\x00T /"),
	plain("a drop without the secret", "POST /drives", "Origin: http://HOST", "Content-Type: multipart/form-data; boundary=b", "Content-Length: 7").with("--b--\r\n"),
	plain("the end of the recording", "POST /live/end", "Origin: http://HOST", "Content-Length: 0"),
	plain("a body in pieces", "POST /OTHER/drives", "Origin: http://HOST", "Transfer-Encoding: chunked").with("5\r\nabcde\r\n0\r\n"),
	plain("a body that is waited for", "POST /OTHER/drives", "Origin: http://HOST", "Expect: 100-continue", "Content-Length: 1000000"),
	plain("a body that never comes", "POST /OTHER/drives", "Origin: http://HOST", "Content-Length: 1000"),
	plain("a body as long as it gets", "POST /OTHER/drives", "Origin: http://HOST", "Content-Length: 9223372036854775807"),
	plain("a body of a negative length", "POST /OTHER/drives", "Origin: http://HOST", "Content-Length: -1"),
	// Names that were made to lead here.
	under("a rebinding name", "evil.example"),
	under("a rebinding name with the port", "evil.example:PORT"),
	under("a name that begins like this machine's", "127.0.0.1.evil.example:PORT"),
	under("a name that ends like this machine's", "evil.localhost:PORT"),
	under("all addresses", "0.0.0.0:PORT"),
	under("the other family", "[::1]:PORT"),
	under("another form of the address", "2130706433:PORT"),
	under("a name and a password", "127.0.0.1:PORT@evil.example"),
	under("an empty name", ""),
	{"no name", "GET /SECRET/ HTTP/1.1\r\n\r\n"},
	{"two names", "GET /SECRET/ HTTP/1.1\r\nHost: HOST\r\nHost: evil.example\r\n\r\n"},
	{"another name in the first line", "GET http://evil.example/SECRET/ HTTP/1.1\r\nHost: HOST\r\n\r\n"},
	// Other pages.
	plain("a form of another page", "POST /SECRET/demo", "Origin: http://evil.example", "Content-Type: application/x-www-form-urlencoded", "Content-Length: 9").with("name=town"),
	plain("a form of a page without origin", "POST /SECRET/live/end", "Origin: null", "Content-Length: 0"),
	plain("a form that says no origin", "POST /SECRET/live/end", "Content-Length: 0"),
	plain("a picture of another page", "GET /SECRET/icon.svg", "Sec-Fetch-Site: cross-site", "Sec-Fetch-Mode: no-cors"),
	plain("a page on another port", "GET /SECRET/", "Sec-Fetch-Site: same-site"),
	plain("a web socket", "GET /SECRET/live/events", "Origin: http://evil.example", "Connection: Upgrade", "Upgrade: websocket", "Sec-WebSocket-Version: 13", "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ=="),
	// What is hidden behind a request.
	{"a request behind a length", "POST /OTHER/ HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /drives/ID HTTP/1.1\r\nHost: HOST\r\n\r\n"},
	{"two lengths", "POST /OTHER/ HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nContent-Length: 0\r\nContent-Length: 40\r\n\r\nGET /drives/ID HTTP/1.1\r\nHost: HOST\r\n\r\n"},
	// Other protocols.
	{"of 1996", "GET / HTTP/1.0\r\n\r\n"},
	{"HTTP/2 at once", "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\x00\x00\x00\x04\x00\x00\x00\x00\x00"},
	{"TLS, bytes that are no text, and a header of 64 KiB", "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\nA: " + strings.Repeat("a", 64<<10) + "\r\n\r\n"},
}

// Of 66 requests of strangers none is told anything of what the owner dropped and
// records, nor does any of them do anything; all refusals have the same headers, and none
// keeps its connection.
func TestStrangersGetNothingAndAreSentAway(t *testing.T) {
	t.Parallel()
	if len(strangers) != 66 {
		t.Fatalf("%d strangers", len(strangers))
	}
	folder := t.TempDir()
	address := car(t, plays(func(w *live.Writer) error {
		for n := int64(0); ; n++ {
			f := decode.Frame{Bus: "owned0", ID: 0x123, Len: 8, Time: time.Now().UnixMicro() * 1000}
			if err := errors.Join(w.Frame(&f), w.Flush()); err != nil {
				return err
			}
			time.Sleep(20 * time.Millisecond)
		}
	}))
	s := serve(t, folder, "--interface", address, "-o", "owned-recording.log")
	id, said := s.drop(mapPart("owned-map.yaml", driven.CarMap), logPart("owned-drive.log", drive(3)))
	if id == "" {
		t.Fatal(said)
	}
	status, policy, _ := s.get("/")
	if status != http.StatusOK {
		t.Fatalf("the owner gets status %d", status)
	}
	for _, key := range policyHeaders {
		if policy.Get(key) == "" {
			t.Errorf("the owner's page has no %s", key)
		}
	}
	other := strings.Map(func(r rune) rune { // of the same form, and wrong
		if r == 'A' {
			return 'B'
		}
		return 'A'
	}, s.token)
	_, port, _ := net.SplitHostPort(s.host)
	fill := strings.NewReplacer("HOST", s.host, "PORT", port, "OTHER", other, "SECRET", s.token, "/drives/ID", id)
	owned := []string{s.token, strings.TrimPrefix(id, "/drives/"), "owned-drive", "owned-map", "owned-recording", "owned0", "Tallowmere", "root:"}

	before := files(t, folder)
	var visits sync.WaitGroup
	for _, one := range strangers {
		visits.Go(func() {
			request := fill.Replace(one.request)
			answer, ended := visit(s.host, request)
			if !ended {
				t.Errorf("%s: the connection is still open after %v", one.name, patience)
			}
			for _, word := range owned {
				echoed := strings.Contains(request, word) && word != s.token // what it said itself it may hear
				if bytes.Contains(answer, []byte(word)) && !echoed {
					t.Errorf("%s: is told %q:\n%.1000s", one.name, word, answer)
				}
			}
			for _, fault := range refused(answer, strings.HasPrefix(one.request, "HEAD"), policy) {
				t.Errorf("%s: %s", one.name, fault)
			}
		})
	}
	visits.Wait()
	if status, _, text := s.get("/live"); status != http.StatusOK || strings.Contains(text, "the recording has ended") {
		t.Errorf("afterwards the owner gets status %d", status)
	}
	if after := files(t, folder); !slices.Equal(before, after) {
		t.Errorf("afterwards there are %q, before %q", after, before)
	}
	s.end()
}

// patience is how long a stranger may keep a connection.
const patience = 5 * time.Second

// visit sends bytes and takes all that comes, until the server ends the connection.
func visit(host, request string) (answer []byte, ended bool) {
	c, err := net.Dial("tcp", host)
	if err != nil {
		return nil, true
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(patience))
	go io.WriteString(c, request) // the server may end it before all is said
	answer, err = io.ReadAll(c)
	return answer, !errors.Is(err, os.ErrDeadlineExceeded)
}

// refused tells what is wrong with the answers that came on a connection.
func refused(answer []byte, head bool, policy http.Header) (faults []string) {
	asked := &http.Request{Method: http.MethodGet}
	if head {
		asked.Method = http.MethodHead
	}
	for in := bufio.NewReader(bytes.NewReader(answer)); ; {
		if _, err := in.Peek(1); err != nil {
			return faults // no answer is a refusal, too
		}
		a, err := http.ReadResponse(in, asked)
		if err != nil {
			return append(faults, err.Error())
		}
		_, _ = io.Copy(io.Discard, a.Body)
		if a.StatusCode < 400 {
			faults = append(faults, "is answered "+a.Status)
		}
		without := slices.DeleteFunc(slices.Clone(policyHeaders), func(key string) bool { return a.Header.Get(key) == policy.Get(key) })
		if len(without) > 0 {
			faults = append(faults, fmt.Sprintf("is answered %s without the right %q", a.Status, without))
		}
	}
}
