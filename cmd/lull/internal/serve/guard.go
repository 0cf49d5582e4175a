package serve

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"maps"
	"net"
	"net/http"
	"os"
	"path"
	"strconv"
	"strings"
)

// policy is what the page may load: what this server gives and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// policies are the headers of every answer.
var policies = http.Header{
	"Content-Security-Policy":      {policy},
	"X-Content-Type-Options":       {"nosniff"},
	"Referrer-Policy":              {"same-origin"}, // no-referrer would hide the origin of forms too
	"Cross-Origin-Opener-Policy":   {"same-origin"},
	"Cross-Origin-Resource-Policy": {"same-origin"},
	"Cache-Control":                {"no-store"},
}

// newToken makes the secret part of the address: 128 random bits.
func newToken() string {
	var b [16]byte
	rand.Read(b[:]) // never fails
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// guard admits only requests from a browser on this machine that was given the address:
// other users of the machine do not know the token, pages of other sites have another
// origin, and a name made to resolve to this machine is not a name of this server.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		maps.Copy(w.Header(), policies)
		c := callerOf(r)
		c.served = true
		refuse := func(what, hint string) {
			w.Header().Set("Connection", "close") // do not wait for the rest of the request
			s.refuse(w, http.StatusForbidden, what, hint)
			_ = http.NewResponseController(w).Flush()
			_ = c.Close()
		}
		if ip := net.ParseIP(hostOf(r.RemoteAddr)); ip == nil || !ip.IsLoopback() {
			refuse("this page is for this machine only", "")
			return
		}
		if !s.ownHost(r.Host) {
			refuse("this page is not served under that name", "use the address that lull serve printed")
			return
		}
		if origin := r.Header.Get("Origin"); origin != "" && !s.ownOrigin(origin) ||
			origin == "" && r.Method != http.MethodGet && r.Method != http.MethodHead {
			refuse("that did not come from this page", "open the page at the address that lull serve printed")
			return
		}
		if site := r.Header.Get("Sec-Fetch-Site"); site == "cross-site" || site == "same-site" {
			refuse("another page asked for this", "open the address that lull serve printed, by itself")
			return
		}
		token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		if once := s.once.Load(); once != nil && same(token, *once) && r.Method == http.MethodGet && s.invited(r) && s.once.CompareAndSwap(once, nil) {
			c.admit()
			http.Redirect(w, r, s.first(), http.StatusSeeOther)
			return
		}
		if !same(token, s.token) {
			refuse("the address lacks its secret part or has another one", "use the address that lull serve printed last")
			return
		}
		c.admit()
		// The multiplexer would answer with another address, without the token.
		if path.Clean("/"+rest) != "/"+rest {
			s.refuse(w, http.StatusNotFound, "there is nothing at this address", "")
			return
		}
		r.URL.Path = "/" + rest
		r.URL.RawPath = ""
		next.ServeHTTP(w, r)
	})
}

// invited reports whether a request may come from the browser that was started. Another
// user who watches the list of processes could come first, so where the system tells whose
// a request is, it must be this user's, or root's, who does not need the address.
func (s *Server) invited(r *http.Request) bool {
	uid, known := s.peer(r)
	return !known || uid == 0 || uid == os.Geteuid() || strconv.Itoa(uid) == os.Getenv("SUDO_UID")
}

// same compares in constant time.
func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

func hostOf(address string) string {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return ""
	}
	return host
}

// ownHost reports whether a host and port are this server's.
func (s *Server) ownHost(host string) bool {
	_, port, _ := net.SplitHostPort(s.listener.Addr().String())
	if port == "80" { // browsers leave it out
		host = strings.TrimSuffix(host, ":80") + ":80"
	}
	return host == "127.0.0.1:"+port || host == "localhost:"+port
}

func (s *Server) ownOrigin(origin string) bool {
	host, ok := strings.CutPrefix(origin, "http://")
	return ok && s.ownHost(host)
}
