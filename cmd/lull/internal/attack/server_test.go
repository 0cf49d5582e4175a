//go:build attack && linux

package attack

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"net/url"
	"strings"
	"testing"
	"time"
)

// server is a lull serve that runs, as its owner sees it.
type server struct {
	*process
	url    string // of the first page
	origin string // http://HOST:PORT
	host   string
	token  string
}

// serve starts a server.
func serve(t testing.TB, folder string, flags ...string) *server {
	t.Helper()
	return addressed(command(t, folder, append([]string{"serve", "--quiet"}, flags...)...).begin())
}

// addressed waits for the address of a server that starts.
func addressed(p *process) *server {
	p.t.Helper()
	s := &server{process: p}
	soon(p.t, 10*time.Second, "the server's address", func() bool {
		line, _, whole := strings.Cut(s.out.String(), "\n") // a recording says more
		s.url = line
		return whole
	})
	at, err := url.Parse(s.url)
	if err != nil || at.Host == "" {
		p.t.Fatalf("no address %q: %s", s.url, p.err.String())
	}
	s.origin, s.host = "http://"+at.Host, at.Host
	s.token = strings.Split(at.Path, "/")[1]
	return s
}

// end ends the server by Ctrl-C, which must be soon.
func (s *server) end() {
	s.t.Helper()
	s.interrupt()
	if status := s.status(5 * time.Second); status != 0 {
		s.t.Errorf("status %d: %s", status, s.err.String())
	}
}

// get returns what the owner's browser gets at a path below the secret part.
func (s *server) get(path string) (status int, header http.Header, text string) {
	s.t.Helper()
	client := http.Client{Timeout: 20 * time.Second}
	answer, err := client.Get(s.origin + "/" + s.token + path)
	if err != nil {
		s.t.Error(err)
		return 0, http.Header{}, ""
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Error(err)
	}
	return answer.StatusCode, answer.Header, string(body)
}

// part is one part of a drop; name is the file's, as it is sent.
type part struct {
	field, name string
	text        io.Reader
}

func logPart(name, text string) part { return part{"log", name, strings.NewReader(text)} }
func mapPart(name, text string) part { return part{"map", name, strings.NewReader(text)} }

// drop drops parts as the owner's page does, and gives where the result is below the
// secret part, or what is said instead.
func (s *server) drop(parts ...part) (at, said string) {
	s.t.Helper()
	from, to := io.Pipe()
	defer from.Close()
	form := multipart.NewWriter(to)
	go func() {
		var err error
		for _, p := range parts {
			var w io.Writer
			h := textproto.MIMEHeader{}
			h.Set("Content-Disposition", fmt.Sprintf(`form-data; name="%s"; filename="%s"`, p.field, p.name))
			if w, err = form.CreatePart(h); err == nil {
				_, err = io.Copy(w, p.text)
			}
			if err != nil {
				break
			}
		}
		if err == nil {
			err = form.Close()
		}
		to.CloseWithError(err)
	}()
	r, err := http.NewRequest(http.MethodPost, s.origin+"/"+s.token+"/drives", from)
	if err != nil {
		s.t.Error(err)
		return "", ""
	}
	r.Header.Set("Origin", s.origin)
	r.Header.Set("Accept", "application/x-ndjson")
	r.Header.Set("Content-Type", form.FormDataContentType())
	client := http.Client{Timeout: time.Minute}
	answer, err := client.Do(r)
	if err != nil {
		return "", err.Error()
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		return "", err.Error()
	}
	lines := bytes.Split(bytes.TrimSpace(body), []byte("\n"))
	var last struct{ At, Error string }
	if err := json.Unmarshal(lines[len(lines)-1], &last); err != nil {
		return "", fmt.Sprintf("%v: %.200q", err, body)
	}
	return strings.TrimPrefix(last.At, "/"+s.token), last.Error
}

// episodes counts the episodes of a result.
func (s *server) episodes(at string) int {
	s.t.Helper()
	_, _, text := s.get(at + "/file/episodes.json")
	var r struct {
		Logs []struct{ Episodes []struct{} }
	}
	if err := json.Unmarshal([]byte(text), &r); err != nil || len(r.Logs) != 1 {
		s.t.Errorf("%s: %v, %d logs", at, err, len(r.Logs))
		return -1
	}
	return len(r.Logs[0].Episodes)
}
