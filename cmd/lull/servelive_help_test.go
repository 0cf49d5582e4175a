//go:build unix

package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/recording"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/serving"
	"lull/cmd/lull/internal/words"
	"lull/decode/live"
)

// textBuffer is written and read by several goroutines.
type textBuffer struct {
	mutex sync.Mutex
	b     strings.Builder
}

func (t *textBuffer) Write(p []byte) (int, error) {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	return t.b.Write(p)
}

func (t *textBuffer) String() string {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	return t.b.String()
}

// recordingPage is lull serve --interface at work.
type recordingPage struct {
	address   string
	out, warn *textBuffer
	stop      func() error // ends it as Ctrl-C does
}

// recordOnPage starts it in this process.
func recordOnPage(t *testing.T, o recording.Options) *recordingPage {
	t.Helper()
	p := &recordingPage{out: &textBuffer{}, warn: &textBuffer{}}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	o.Screen = (&console{out: p.out, err: p.warn, width: defaultWidth}).screen()
	go func() { done <- serving.Run(ctx, serving.Options{Options: o, Largest: 64}) }()
	var once sync.Once
	var ended error
	p.stop = func() error {
		once.Do(func() { cancel(); ended = <-done })
		return ended
	}
	t.Cleanup(func() { p.stop() })
	p.address = addressIn(t, p.out.String)
	return p
}

// addressIn waits for the page's address to be printed.
func addressIn(t *testing.T, printed func() string) string {
	t.Helper()
	for range 3000 {
		if line, _, ok := strings.Cut(printed(), "\n"); ok {
			return line
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("no address was printed")
	return ""
}

// told is what a stream of the page told.
type told struct {
	news   []web.LiveNews
	states []web.LiveState
	end    string // the event that ended it
}

func (s *told) lines(kinds ...words.NewsKind) (list []string) {
	for _, n := range s.news {
		if slices.Contains(kinds, n.Kind) {
			list = append(list, n.Line())
		}
	}
	return list
}

// stream reads the page's events until the recording or the server ends; what it was
// told is given then.
func (p *recordingPage) stream(t *testing.T) <-chan *told {
	t.Helper()
	answer, err := http.Get(p.address + "/events")
	if err != nil {
		t.Fatal(err)
	}
	result := make(chan *told, 1)
	go func() {
		defer answer.Body.Close()
		s := &told{}
		defer func() { result <- s }()
		name := ""
		r := bufio.NewReader(answer.Body)
		for {
			line, err := r.ReadString('\n')
			if err != nil {
				return
			}
			field, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ": ")
			switch {
			case field == "event":
				name = value
			case field == "data" && name == "news":
				s.news = append(s.news, web.LiveNews{})
				err = json.Unmarshal([]byte(value), &s.news[len(s.news)-1])
			case field == "data" && name == "state":
				s.states = append(s.states, web.LiveState{})
				err = json.Unmarshal([]byte(value), &s.states[len(s.states)-1])
			case field == "data":
				s.end = name
			}
			if err != nil {
				s.end = err.Error()
				return
			}
		}
	}()
	return result
}

// stuckStream is a browser that reads nothing.
func (p *recordingPage) stuckStream(t *testing.T) {
	t.Helper()
	answer, err := http.Get(p.address + "/events")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { answer.Body.Close() })
}

func (p *recordingPage) post(t *testing.T, path string, fields map[string]string) string {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for name, value := range fields {
		if err := form.WriteField(name, value); err != nil {
			t.Fatal(err)
		}
	}
	form.Close()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, strings.TrimSuffix(p.address, "/live")+path, &b)
	if err != nil {
		t.Fatal(err)
	}
	u, err := url.Parse(p.address)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", "http://"+u.Host)
	r.Header.Set("Content-Type", form.FormDataContentType())
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// writeDrive writes a drive of the demonstration and its map, beside each other.
func writeDrive(t *testing.T, name string) (folder string, log []byte) {
	t.Helper()
	_, d := driven.Drive(t, name)
	folder = t.TempDir()
	var b bytes.Buffer
	if err := d.WriteLog(&b); err != nil {
		t.Fatal(err)
	}
	for file, text := range map[string][]byte{"played.log": b.Bytes(), "map.yaml": scenario.Map(d.Map)} {
		if err := os.WriteFile(filepath.Join(folder, file), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return folder, b.Bytes()
}

// measuredEpisodes are the heads of the episodes that lull episodes finds in a log,
// and how many standstills and findings that need attention it finds.
func measuredEpisodes(t *testing.T, log string) (heads []string, standstills, attention int) {
	t.Helper()
	var out, warn bytes.Buffer
	if status := run([]string{"episodes", log, "--format", "json"}, &console{out: &out, err: &warn, width: defaultWidth}); status != statusDone {
		t.Fatalf("status %d: %s", status, &warn)
	}
	var doc struct {
		Logs []struct {
			Episodes []struct {
				N       int
				Outcome string
				Stop    struct{ T float64 }
			}
			Standstills []struct{}
			Findings    []struct{ Severity string }
		}
	}
	if err := json.Unmarshal(out.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	l := doc.Logs[0]
	for _, e := range l.Episodes {
		heads = append(heads, fmt.Sprintf("episode %d at %.2f s: %s", e.N, e.Stop.T, strings.ReplaceAll(e.Outcome, "_", " ")))
	}
	for _, f := range l.Findings {
		if f.Severity == "attention" {
			attention++
		}
	}
	return heads, len(l.Standstills), attention
}

// playWithoutEnd plays a drive to whoever connects, and then nothing, as a car does.
func playWithoutEnd(t *testing.T, d scenario.Drive) string {
	t.Helper()
	over := make(chan struct{})
	t.Cleanup(func() { close(over) })
	return driven.PlayTo(t, func(w *live.Writer) error {
		for f := range d.Frames {
			if err := w.Frame(f); err != nil {
				return err
			}
		}
		w.Flush()
		<-over
		return nil
	})
}

// waitForLog waits until a log, by its name or a pattern, has that many bytes.
func waitForLog(t *testing.T, pattern string, size int) {
	t.Helper()
	for range 6000 {
		if names, err := filepath.Glob(pattern); err == nil && len(names) == 1 {
			if info, err := os.Stat(names[0]); err == nil && info.Size() == int64(size) {
				return
			}
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("%s never had %d bytes", pattern, size)
}
