package serve

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/pkg/source"
)

// gated lets measurements begin when the test says so, and counts those that run.
type gated struct {
	gate  chan struct{}
	runs  atomic.Int32
	most  atomic.Int32
	ended atomic.Int32 // by their contexts
}

func (g *gated) measure(ctx context.Context, m *decode.Map, logs []source.Input, told func(float64)) (*page.Side, []string, error) {
	if n := g.runs.Add(1); n > g.most.Load() {
		g.most.Store(n)
	}
	defer g.runs.Add(-1)
	select {
	case <-g.gate:
		return measured(ctx, m, logs, told)
	case <-ctx.Done():
		g.ended.Add(1)
		return nil, nil, ctx.Err()
	}
}

func gatedSite(t *testing.T) (*site, *gated) {
	g := &gated{gate: make(chan struct{}, 1000)}
	return serving(t, Options{}, func(s *Server) { s.work.Measure = g.measure }), g
}

// sending is a drop on its way.
type sending struct {
	cancel context.CancelFunc
	told   chan line // closed at the end
	err    error     // then
}

// send drops a log as the script does.
func (x *site) send(rest int) *sending {
	x.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	kind, body := form(part{"log", fmt.Sprintf("drive-%d.log", rest), stops(rest)}, part{"map", "car.yaml", driven.CarMap})
	r := x.request(ctx, http.MethodPost, "/drives", kind, bytes.NewReader(body))
	r.Header.Set("Accept", ndjson)
	d := &sending{cancel: cancel, told: make(chan line, 1000)}
	go func() {
		defer close(d.told)
		transport := &http.Transport{DisableKeepAlives: true}
		response, err := transport.RoundTrip(r)
		if err != nil {
			d.err = err
			return
		}
		defer response.Body.Close()
		for lines := bufio.NewScanner(response.Body); lines.Scan(); {
			var l line
			if err := json.Unmarshal(lines.Bytes(), &l); err != nil {
				d.err = err
				return
			}
			d.told <- l
		}
	}()
	return d
}

// waiting is how many have a place in the queue, the one whose turn it is among them.
func (s *Server) waiting() int {
	s.queue.mu.Lock()
	defer s.queue.mu.Unlock()
	return len(s.queue.waiting)
}

// Fifty drops at once are measured one after the other. Each is told its place, which
// falls, and how far it is, which rises, and each has the result of its own log.
func TestFiftyDropsAtOnceDoNotDisturbEachOther(t *testing.T) {
	x, g := gatedSite(t)
	const drops = 50
	sent := make([]*sending, drops)
	for i := range sent {
		sent[i] = x.send(20 + i)
	}
	until(t, "all wait", func() bool { return x.waiting() == drops })
	for range drops {
		g.gate <- struct{}{}
	}
	places := map[int]bool{}
	for i, d := range sent {
		place, part, at := drops, 0.0, ""
		for l := range d.told {
			switch {
			case l.At != "":
				at = l.At
			case l.Error != "":
				t.Fatalf("drop %d: %s", i, l.Error)
			case l.Before > 0:
				if l.Before >= place || part > 0 {
					t.Errorf("drop %d: place %d after %d", i, l.Before, place)
				}
				if place == drops {
					places[l.Before] = true
				}
				place = l.Before
			case l.Part < part || l.Part > 1:
				t.Errorf("drop %d: part %v after %v", i, l.Part, part)
			default:
				part = l.Part
			}
		}
		if d.err != nil || at == "" {
			t.Fatalf("drop %d: %v, at %q", i, d.err, at)
		}
		r := x.results(strings.TrimPrefix(at, x.base()))
		rest := 20 + i
		off := r.Logs[0].Episodes[0].Metrics["engine_off"].Value
		if name := fmt.Sprintf("drive-%d.log", rest); r.Logs[0].Name != name || math.Abs(off-offFor(rest)) > 0.02 {
			t.Errorf("%s: %s with the engine off for %v s", name, r.Logs[0].Name, off)
		}
	}
	if g.most.Load() != 1 {
		t.Errorf("%d were measured at once", g.most.Load())
	}
	if len(places) != drops-1 {
		t.Errorf("%d first places were told", len(places))
	}
}

// Who goes away makes room at once: what was measured stops, what waited is passed
// over, what was sent goes, and all others have their turns.
func TestWhoGoesAwayHoldsNobodyUp(t *testing.T) {
	x, g := gatedSite(t)
	first := x.send(20)
	until(t, "it is measured", func() bool { return g.runs.Load() == 1 })
	second := x.send(21)
	until(t, "the second waits", func() bool { return x.waiting() == 2 })
	third := x.send(22)
	until(t, "the third waits", func() bool { return x.waiting() == 3 })
	if l := <-third.told; l.Before != 2 {
		t.Errorf("the third is told %+v", l)
	}

	second.cancel() // in the queue
	until(t, "the second is gone", func() bool { return x.waiting() == 2 && len(x.drops()) == 2 })
	if l := <-third.told; l.Before != 1 {
		t.Errorf("the third is told %+v", l)
	}
	first.cancel() // while it is measured
	until(t, "the first ended", func() bool { return g.ended.Load() == 1 })
	until(t, "the third is measured", func() bool { return g.runs.Load() == 1 && x.waiting() == 1 && len(x.drops()) == 1 })

	// While it sends.
	ctx, cancel := context.WithCancel(context.Background())
	kind, body := form(part{"log", "drive.log", stops(100)}, part{"map", "car.yaml", driven.CarMap})
	half := make(chan bool)
	from := io.MultiReader(bytes.NewReader(body[:len(body)/2]), readerFunc(func([]byte) (int, error) { close(half); <-ctx.Done(); return 0, ctx.Err() }))
	gone := make(chan error, 1)
	go func() {
		_, err := try(x.request(ctx, http.MethodPost, "/drives", kind, from))
		gone <- err
	}()
	<-half
	until(t, "it has files", func() bool { return len(x.drops()) == 2 })
	cancel()
	if err := <-gone; !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	until(t, "its files are gone", func() bool { return len(x.drops()) == 1 })

	g.gate <- struct{}{}
	var last line
	for l := range third.told {
		last = l
	}
	if last.At == "" {
		t.Errorf("the third is told %+v", last)
	}
}

// The server ends within two seconds whatever is under way, tells it to those who
// wait, and leaves nothing behind, though a browser keeps connections open.
func TestTheEndIsToldAndSoon(t *testing.T) {
	x, g := gatedSite(t)
	measuring := x.send(20)
	until(t, "it is measured", func() bool { return g.runs.Load() == 1 })
	queued := x.send(21)
	until(t, "the second waits", func() bool { return x.waiting() == 2 })

	// One that never sent anything, one between two requests, one in the middle of a drop.
	address := x.listener.Addr().String()
	dial := func(text string) net.Conn {
		conn, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprint(conn, text)
		return conn
	}
	defer dial("").Close()
	idle := dial(fmt.Sprintf("GET %s/icon.svg HTTP/1.1\r\nHost: %s\r\n\r\n", x.base(), address))
	defer idle.Close()
	if _, err := http.ReadResponse(bufio.NewReader(idle), nil); err != nil {
		t.Fatal(err)
	}
	kind, body := form(part{"log", "drive.log", stops(100)}, part{"map", "car.yaml", driven.CarMap})
	half := dial(fmt.Sprintf("POST %s/drives HTTP/1.1\r\nHost: %[2]s\r\nOrigin: http://%[2]s\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n%s", x.base(), address, kind, len(body), body[:len(body)/2]))
	defer half.Close()
	until(t, "it has files", func() bool { return len(x.drops()) == 3 })

	late := stalls()
	began := time.Now()
	x.end()
	if err := <-x.ran; err != nil {
		t.Error(err)
	}
	x.ran <- nil // for the end of the test
	if err := x.Close(); err != nil {
		t.Error(err)
	}
	if took, lost := time.Since(began), late(); took > 2*time.Second+lost {
		t.Errorf("it took %v", took)
	}
	if _, err := os.Stat(x.store.root); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the folder is there: %v", err)
	}
	for name, d := range map[string]*sending{"measured": measuring, "queued": queued} {
		var last line
		for l := range d.told {
			last = l
		}
		if !strings.HasPrefix(last.Error, "lull serve was ended") {
			t.Errorf("%s: told %+v, %v", name, last, d.err)
		}
	}
	response, err := http.ReadResponse(bufio.NewReader(half), nil)
	if err != nil || response.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("sending: %v, %v", response, err)
	}
	if _, _, err := x.store.begin(); !errors.Is(err, errClosed) {
		t.Errorf("a drop begins after the end: %v", err)
	}
}

// stalls begins to count for how long this process is not let run; the function given
// back tells.
func stalls() func() time.Duration {
	const tick = 10 * time.Millisecond
	stop, lost := make(chan bool), make(chan time.Duration)
	go func() {
		total, last := time.Duration(0), time.Now()
		for {
			select {
			case <-stop:
				lost <- total
				return
			case <-time.After(tick):
			}
			now := time.Now()
			total += max(now.Sub(last)-2*tick, 0)
			last = now
		}
	}()
	return func() time.Duration { stop <- true; return <-lost }
}

// A drop that comes while the server ends is told so.
func TestADropAfterTheEndIsRefused(t *testing.T) {
	x := serving(t, Options{}, nil)
	x.store.mu.Lock()
	x.store.closed = true
	x.store.mu.Unlock()
	a := x.drop(part{"log", "drive.log", stops(20)}, part{"map", "m.yaml", driven.CarMap})
	if a.StatusCode != http.StatusServiceUnavailable || !strings.Contains(a.text, "lull serve was ended; start it again") {
		t.Errorf("status %d: %s", a.StatusCode, a.text)
	}
}

// Whoever leaves, in whatever order: turns come one at a time, in order, to all who
// stay.
func TestTurnsComeInOrder(t *testing.T) {
	var q queue
	first, err := q.enter(context.Background(), func(int) { t.Error("a place before its turn") })
	if err != nil {
		t.Fatal(err)
	}
	const most = 60
	var mu sync.Mutex
	var turns []int
	var wait sync.WaitGroup
	cancels := make([]context.CancelFunc, most)
	for i := range most {
		ctx, cancel := context.WithCancel(context.Background())
		cancels[i] = cancel
		wait.Go(func() {
			leave, err := q.enter(ctx, func(int) {})
			if err != nil {
				return
			}
			mu.Lock()
			turns = append(turns, i)
			mu.Unlock()
			leave()
			leave() // a second time does nothing
		})
		until(t, "it waits", func() bool { q.mu.Lock(); defer q.mu.Unlock(); return len(q.waiting) == i+2 })
	}
	for i := range most {
		if i%3 != 0 {
			cancels[i]()
		}
	}
	until(t, "they left", func() bool { q.mu.Lock(); defer q.mu.Unlock(); return len(q.waiting) == 1+most/3 })
	first()
	wait.Wait()
	for i, turn := range turns {
		if turn != 3*i {
			t.Fatalf("turns %v", turns)
		}
	}
	if len(turns) != most/3 || len(q.waiting) != 0 {
		t.Errorf("%d turns, %d wait", len(turns), len(q.waiting))
	}
}
