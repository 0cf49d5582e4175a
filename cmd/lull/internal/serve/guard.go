package serve

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"net"
	"net/http"
	"strings"
)

// policy is what the page may load: what this server gives and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// newToken makes the secret part of the address: 128 random bits.
func newToken() string {
	var b [16]byte
	rand.Read(b[:]) // never fails
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// guard lets pass what comes from a browser on this machine that was given the
// address, and nothing else: other users of the machine do not know the token;
// pages of other sites have another origin; and a name that was made to lead to
// this machine is no name of this server.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin") // no-referrer would hide the origin of forms too
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if ip := net.ParseIP(hostOf(r.RemoteAddr)); ip == nil || !ip.IsLoopback() {
			s.refuse(w, r, http.StatusForbidden, "this page is for this machine only", "")
			return
		}
		if !s.ownHost(r.Host) {
			s.refuse(w, r, http.StatusForbidden, "this page is not served under that name", "use the address that lull serve printed")
			return
		}
		token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		if subtle.ConstantTimeCompare([]byte(token), []byte(s.token)) != 1 {
			s.refuse(w, r, http.StatusForbidden, "the address lacks its secret part or has another one", "use the address that lull serve printed last")
			return
		}
		if origin := r.Header.Get("Origin"); origin != "" && !s.ownOrigin(origin) ||
			origin == "" && r.Method != http.MethodGet && r.Method != http.MethodHead {
			s.refuse(w, r, http.StatusForbidden, "that did not come from this page", "open the page at the address that lull serve printed")
			return
		}
		if site := r.Header.Get("Sec-Fetch-Site"); site == "cross-site" || site == "same-site" {
			s.refuse(w, r, http.StatusForbidden, "another page asked for this", "open the address that lull serve printed, by itself")
			return
		}
		r.URL.Path = "/" + rest
		r.URL.RawPath = ""
		next.ServeHTTP(w, r)
	})
}

func hostOf(address string) string {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return ""
	}
	return host
}

// ownHost tells whether a name and port are this server's.
func (s *Server) ownHost(host string) bool {
	_, port, _ := net.SplitHostPort(s.listener.Addr().String())
	return host == "127.0.0.1:"+port || host == "localhost:"+port
}

func (s *Server) ownOrigin(origin string) bool {
	host, ok := strings.CutPrefix(origin, "http://")
	return ok && s.ownHost(host)
}
