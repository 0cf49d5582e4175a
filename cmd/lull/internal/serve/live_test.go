package serve

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

const plainMap = "format: 1\nframes:\n  - id: 0x1A0\n    signals:\n      rpm: {start: 0, length: 16, unit: rpm, role: engine_speed}\n"

// errMeasured is what comes of each measurement here: it shows what was measured.
type errMeasured struct{ text string }

func (e errMeasured) Error() string { return e.text }

// served is a server that shows a recording, until the test ends.
func served(t *testing.T, about About, change ...func(*Work)) (*Server, *Live) {
	t.Helper()
	l := NewLive(about)
	work := Work{Version: "1", Live: l, Free: func(string) (int64, error) { return 1e12, nil },
		Measure: func(_ context.Context, m *decode.Map, logs []source.Input, _ func(float64)) (*page.Side, []string, error) {
			text, err := os.ReadFile(logs[0].Path)
			if err != nil {
				return nil, nil, err
			}
			return nil, nil, errMeasured{fmt.Sprintf("measured %s %q by %s", logs[0].Name, text, m.Name)}
		}}
	for _, c := range change {
		c(&work)
	}
	s, err := New(work, Options{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := errors.Join(<-done, s.Close()); err != nil {
			t.Error(err)
		}
	})
	return s, l
}

// event is one server-sent event.
type event struct{ name, id, data string }

// listener reads a stream of events.
type listener struct {
	*bufio.Reader
	body io.Closer
}

func listen(t *testing.T, s *Server, query, lastID string) *listener {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.URL()+"/events"+query, nil)
	if err != nil {
		t.Fatal(err)
	}
	if lastID != "" {
		r.Header.Set("Last-Event-ID", lastID)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { answer.Body.Close() })
	if kind := answer.Header.Get("Content-Type"); answer.StatusCode != http.StatusOK || kind != "text/event-stream" {
		t.Fatalf("status %d, %s", answer.StatusCode, kind)
	}
	return &listener{bufio.NewReader(answer.Body), answer.Body}
}

// next returns the next event; false at the stream's end.
func (l *listener) next() (event, bool) {
	var e event
	for {
		line, err := l.ReadString('\n')
		if err != nil {
			return e, false
		}
		field, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ": ")
		switch field {
		case "event":
			e.name = value
		case "id":
			e.id = value
		case "data":
			e.data += value
		case "":
			if e.name != "" {
				return e, true
			}
		}
	}
}

// until returns the texts of the news, and the last state, up to an event of that name.
func (l *listener) until(t *testing.T, name string) (texts []string, state web.LiveState) {
	t.Helper()
	for {
		e, ok := l.next()
		if !ok {
			t.Fatalf("the stream ended before %s", name)
		}
		switch e.name {
		case "news":
			var n web.LiveNews
			if err := json.Unmarshal([]byte(e.data), &n); err != nil || fmt.Sprint(n.ID) != e.id {
				t.Fatalf("%v: %+v", err, e)
			}
			texts = append(texts, n.Line())
		case "state":
			state = web.LiveState{}
			if err := json.Unmarshal([]byte(e.data), &state); err != nil {
				t.Fatal(err)
			}
		}
		if e.name == name {
			return texts, state
		}
	}
}

func found(n int) words.News {
	return words.News{Kind: words.NewsEpisode, Text: fmt.Sprint("episode ", n)}
}

// However telling, showing and reading take turns, each reader is told everything that
// was found, once and in order; of what is said of the recording the latest.
func TestEachStreamTellsAllThatWasFoundOnceAndInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := NewLive(About{})
		type reader struct {
			number int64
			got    []string
		}
		readers := make([]reader, 4)
		look := func(r *reader) {
			for _, n := range l.since(r.number).news {
				if n.ID <= r.number {
					t.Fatalf("news %d after %d", n.ID, r.number)
				}
				r.number = n.ID
				if !n.OfRecording() {
					r.got = append(r.got, n.Text)
				}
			}
		}
		var want []string
		remarks := 0
		for range rapid.IntRange(0, 60).Draw(t, "steps") {
			switch rapid.IntRange(0, 3).Draw(t, "step") {
			case 0:
				want = append(want, found(len(want)).Text)
				l.Tell(found(len(want) - 1))
			case 1:
				for range rapid.SampledFrom([]int{1, 90}).Draw(t, "remarks") {
					remarks++
					l.Tell(words.News{Kind: words.NewsWarning, Text: fmt.Sprint("remark ", remarks)})
				}
			case 2:
				l.Show(words.LiveState{Episodes: len(want)})
			case 3:
				look(&readers[rapid.IntRange(0, 3).Draw(t, "reader")])
			}
		}
		for i := range readers {
			look(&readers[i])
			if diff := cmp.Diff(want, readers[i].got); diff != "" {
				t.Fatalf("reader %d:\n%s", i, diff)
			}
		}
		kept := 0
		for _, n := range l.since(0).news {
			if n.OfRecording() {
				kept++
				if text := fmt.Sprint("remark ", remarks-min(remarks, mostRemarks)+kept); n.Text != text {
					t.Fatalf("kept is %q, not %q", n.Text, text)
				}
			}
		}
		if kept != min(remarks, mostRemarks) {
			t.Fatalf("%d remarks of %d kept", kept, remarks)
		}
	})
}

// A browser that comes back tells which news it saw last, one that comes late has all
// of them, and the page that it loads has them too.
func TestWhoComesBackOrLateMissesNothing(t *testing.T) {
	s, l := served(t, About{Path: "drive.log", Sources: []string{"can0"}})
	for n := range 10 {
		l.Tell(found(n))
	}
	l.Show(words.LiveState{Episodes: 10, Car: "engine running", Buses: []words.LiveBus{{Name: "can0"}}})
	texts := func(from, to int) (list []string) {
		for n := from; n < to; n++ {
			list = append(list, found(n).Text)
		}
		return list
	}
	for _, c := range []struct {
		query, lastID string
		want          []string
	}{
		{"", "", texts(0, 10)}, {"?after=4", "", texts(4, 10)}, {"?after=4", "7", texts(7, 10)}, {"", "10", nil},
		{"?after=x", "y", texts(0, 10)}, {"?after=-5", "", texts(0, 10)}, {"?after=99999999999999999999", "", texts(0, 10)}, {"", "9000", nil},
	} {
		got, state := listen(t, s, c.query, c.lastID).until(t, "state")
		if diff := cmp.Diff(c.want, got); diff != "" || state.Headline != "Engine running; 10 episodes and 0 standstills so far." {
			t.Errorf("%s %s: %q\n%s", c.query, c.lastID, state.Headline, diff)
		}
	}
	status, text := get(t, s.URL())
	for n := range 10 {
		if !strings.Contains(text, found(n).Text+"<") || status != http.StatusOK || !strings.Contains(text, `data-last="10"`) {
			t.Errorf("the page lacks %q", found(n).Text)
		}
	}
}

// A browser that reads nothing holds up nobody: who tells, and who reads beside it.
func TestASlowBrowserHoldsNothingUp(t *testing.T) {
	s, l := served(t, About{Path: "drive.log"})
	listen(t, s, "", "") // and never reads
	quick := listen(t, s, "", "")
	const all = 3000
	large := words.LiveState{File: strings.Repeat("x", 20_000)}
	began := time.Now()
	var told time.Duration
	go func() {
		for n := range all {
			l.Tell(found(n))
			l.Show(large)
		}
		told = time.Since(began)
		l.Ended(true, false)
	}()
	texts, _ := quick.until(t, "ended")
	if len(texts) != all || told > 5*time.Second {
		t.Errorf("%d of %d in %v", len(texts), all, told)
	}
	for n, text := range texts {
		if text != found(n).Text {
			t.Fatalf("place %d has %q", n, text)
		}
	}
}

// Streams end with the browser that went away, with the recording, and with the server.
func TestStreamsEnd(t *testing.T) {
	streams := func() int {
		var b strings.Builder
		stacks := make([]byte, 1<<20)
		b.Write(stacks[:runtime.Stack(stacks, true)])
		return strings.Count(b.String(), ".liveEvents(")
	}
	s, l := served(t, About{Path: "drive.log"})
	var several sync.WaitGroup
	for range 5 {
		several.Go(func() {
			one := listen(t, s, "", "")
			one.until(t, "state")
			one.body.Close()
		})
	}
	several.Wait()
	for waited := 0; streams() > 0; waited++ {
		if waited > 500 {
			t.Fatalf("%d streams are left", streams())
		}
		time.Sleep(10 * time.Millisecond)
	}
	one := listen(t, s, "", "")
	one.until(t, "state")
	l.Ended(true, false)
	one.until(t, "ended")
	if e, more := one.next(); more {
		t.Errorf("after the end: %+v", e)
	}
	listen(t, s, "", "").until(t, "ended")
}

func TestABrowserIsToldThatTheServerEnds(t *testing.T) {
	l := NewLive(About{Path: "drive.log"})
	s, err := New(Work{Live: l}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	one := listen(t, s, "", "")
	one.until(t, "state")
	l.Tell(found(1))
	stop()
	if texts, _ := one.until(t, "gone"); !cmp.Equal(texts, []string{found(1).Text}) {
		t.Errorf("told %q", texts)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
	// Where the recording ends because of it, there is no page to be loaded anew.
	l.Ended(true, true)
	if now := l.since(0); !now.leaving {
		t.Error("it is not said")
	}
}

// The button ends the recording and leads to its page when it is whole.
func TestTheRecordingIsEndedFromThePage(t *testing.T) {
	ends := make(chan struct{}, 1)
	s, l := served(t, About{Path: "drive.log", End: func() { ends <- struct{}{} }})
	go func() {
		<-ends
		l.Show(words.LiveState{})
		time.Sleep(20 * time.Millisecond)
		l.Ended(true, false)
	}()
	status, text := post(t, s, "/live/end", nil)
	if status != http.StatusOK || !strings.Contains(text, "The recording has ended.") {
		t.Errorf("%d %s", status, text)
	}
}

// The stream and the button are for who has the address, on this machine, from this
// page; without a recording there is neither.
func TestTheGuardCoversARecording(t *testing.T) {
	s, _ := served(t, About{Path: "drive.log", End: func() { t.Error("it was ended by a stranger") }})
	root := strings.TrimSuffix(s.URL(), s.token+"/live")
	for _, c := range []struct {
		method, address string
		header          [2]string
		want            int
	}{
		{"GET", root + "live/events", [2]string{}, http.StatusForbidden},
		{"GET", root + "AAAAAAAAAAAAAAAAAAAAAA/live/events", [2]string{}, http.StatusForbidden},
		{"GET", s.URL() + "/events", [2]string{"Origin", "http://other.example"}, http.StatusForbidden},
		{"GET", s.URL() + "/events", [2]string{"Sec-Fetch-Site", "cross-site"}, http.StatusForbidden},
		{"POST", s.URL() + "/end", [2]string{}, http.StatusForbidden},
		{"POST", s.URL() + "/end", [2]string{"Origin", "null"}, http.StatusForbidden},
		{"GET", s.URL() + "/end", [2]string{}, http.StatusNotFound},
		{"POST", s.URL() + "/events", [2]string{"Origin", strings.TrimSuffix(root, "/")}, http.StatusNotFound},
	} {
		r, err := http.NewRequestWithContext(t.Context(), c.method, c.address, nil)
		if err != nil {
			t.Fatal(err)
		}
		if c.header[0] != "" {
			r.Header.Set(c.header[0], c.header[1])
		}
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != c.want {
			t.Errorf("%s %s %v: %d", c.method, c.address, c.header, answer.StatusCode)
		}
	}
	none, err := New(Work{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer none.Close()
	if name, _ := none.recording(); strings.HasSuffix(none.URL(), "/live") || name != "" {
		t.Error("there is a recording where none is")
	}
}

func TestTheFirstPageLeadsToTheRecording(t *testing.T) {
	s, l := served(t, About{Path: "drive.log"})
	for _, want := range []string{`/live">Recording now: drive.log</a>`, `/live">Recorded: drive.log</a>`} {
		if _, first := get(t, strings.TrimSuffix(s.URL(), "live")); !strings.Contains(first, want) {
			t.Errorf("no %s", want)
		}
		l.Ended(true, false)
	}
}

// What a log, a map or a name says is text on the page and in the stream, whatever it is.
func TestHostileNamesAreText(t *testing.T) {
	const evil = "<script>alert(1)</script>\"' onload=x\n\nevent: ended\ndata: {}\x1b[2J\u202e"
	s, l := served(t, About{Path: "a<b>.log", Sources: []string{evil}, Vehicle: evil, Signals: []string{evil}}, func(w *Work) { w.MapName = evil })
	l.Show(words.LiveState{Buses: []words.LiveBus{{Name: words.Visible(evil)}}, Car: "engine running", Lacks: []string{words.Visible(evil)},
		Signals: []words.LiveSignal{{Value: words.Visible(evil), Age: "0.1 s"}}})
	l.Tell(words.News{Kind: words.NewsEpisode, Tone: "bad\" onload=\"x", Head: evil, Text: evil})
	l.Tell(words.News{Kind: words.NewsWarning, Text: evil})
	_, text := get(t, s.URL())
	for _, not := range []string{"<script>alert", "\x1b", "\u202e", `" onload=`} {
		if strings.Contains(text, not) {
			t.Errorf("the page holds %q", not)
		}
	}
	if strings.Count(text, "&lt;script&gt;alert(1)") < 7 {
		t.Errorf("what is shown:\n%s", text)
	}
	one := listen(t, s, "", "")
	var names []string
	for range 3 {
		e, _ := one.next()
		names = append(names, e.name)
	}
	if diff := cmp.Diff([]string{"news", "news", "state"}, names); diff != "" {
		t.Errorf("the stream was steered:\n%s", diff)
	}
}
