package serve

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"time"

	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
)

const (
	// mostRemarks is how many of what is said of a recording itself are kept, the
	// latest: a plug with a loose contact has no end of them. What was found in the
	// drive is all kept.
	mostRemarks = 200
	// stuckAfter ends the stream to a browser that takes nothing. It comes back by
	// itself, and is told what it missed.
	stuckAfter = 20 * time.Second
	// endPatience is how long the page waits for a recording that is to end.
	endPatience = 5 * time.Second
)

// About is what is known of a recording from its beginning.
type About struct {
	Path    string // of the log
	Sources []string
	Vehicle string
	Signals []string // the names of the map's signals, by index
	// End is called where the page is asked to end the recording. It does not wait.
	End func()
	// Recorded ends with the recording, by End or as Served does, which ends with the
	// command.
	Recorded, Served context.Context
}

// Live is a recording that goes on while the page is served. Who records tells it
// what there is to show, and never waits for a browser: each browser has a stream
// that takes the news it has not seen and the latest state. Its methods may be
// called by several goroutines.
type Live struct {
	about About
	now   func() time.Time

	mutex   sync.Mutex
	news    []web.LiveNews
	remarks int
	last    int64 // the latest news' number
	state   words.LiveState
	version int64         // of the state
	ended   bool          // nothing comes any more
	leaving bool          // and the server ends, too
	frames  bool          // something was recorded
	shown   time.Time     // when the state was, by Look
	changed chan struct{} // closed at the next change
}

// showEvery is how often the page is shown how a recording stands.
const showEvery = 250 * time.Millisecond

// NewLive begins to show a recording.
func NewLive(about About) *Live {
	return &Live{about: about, now: time.Now, changed: make(chan struct{})}
}

// Tell shows what there is to say once.
func (l *Live) Tell(n words.News) {
	n.Head, n.Text = words.VisibleBlock(n.Head), words.VisibleBlock(n.Text)
	l.mutex.Lock()
	defer l.mutex.Unlock()
	l.last++
	one := web.LiveNews{News: n, ID: l.last, At: l.now().Format("15:04:05")}
	if one.OfRecording() {
		if l.remarks++; l.remarks > mostRemarks {
			l.remarks--
			oldest := slices.IndexFunc(l.news, web.LiveNews.OfRecording)
			l.news = slices.Delete(l.news, oldest, oldest+1)
		}
	}
	l.news = append(l.news, one)
	l.wake()
}

// Show shows how the recording stands. The state is kept; it must not be changed.
func (l *Live) Show(s words.LiveState) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	l.state = s
	l.version++
	l.wake()
}

// Ended tells that the log is whole and nothing comes any more: whether anything is
// in it, and whether the server is about to end, so that there is no page to go to.
func (l *Live) Ended(frames, leaving bool) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	l.ended, l.frames, l.leaving = true, frames, leaving
	l.wake()
}

// Look shows how the recording stands where it is time to.
func (l *Live) Look(now time.Time, state func() words.LiveState) {
	if now.Sub(l.shown) >= showEvery {
		l.shown = now
		l.Show(state())
	}
}

// Close shows how it ended. A recording that came to nothing by itself ends the
// server, too: most likely its source was written wrong.
func (l *Live) Close(last words.LiveState, recorded bool) {
	l.Show(last)
	l.Ended(recorded, l.about.Served.Err() != nil || !recorded && l.about.Recorded.Err() == nil)
}

// End ends the recording.
func (l *Live) End() { l.about.End() }

// wake lets all streams look. The mutex is held.
func (l *Live) wake() {
	close(l.changed)
	l.changed = make(chan struct{})
}

// portion is what a stream has not sent yet.
type portion struct {
	news    []web.LiveNews
	state   words.LiveState
	version int64
	ended   bool
	leaving bool
	changed chan struct{}
}

// since gives the news after the one with that number, and how it stands now.
func (l *Live) since(number int64) portion {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	first, _ := slices.BinarySearchFunc(l.news, number+1, func(n web.LiveNews, id int64) int { return int(n.ID - id) })
	return portion{slices.Clone(l.news[first:]), l.state, l.version, l.ended, l.leaving, l.changed}
}

// log is the recorded log; it is told why there is none yet.
func (l *Live) log() (dropped, error) {
	l.mutex.Lock()
	ended, frames := l.ended, l.frames
	l.mutex.Unlock()
	if !ended {
		return dropped{}, &trouble{http.StatusConflict, "the recording goes on", "end it first"}
	}
	info, err := os.Stat(l.about.Path)
	if err != nil {
		return dropped{}, &trouble{http.StatusGone, "the recorded log cannot be found: " + cause(err), "drop it where it lies now"}
	}
	if !frames || !info.Mode().IsRegular() {
		return dropped{}, &trouble{http.StatusUnprocessableEntity, "nothing was recorded that could be measured", ""}
	}
	return dropped{name: filepath.Base(l.about.Path), path: l.about.Path}, nil
}

// recording names what is recorded, and tells whether it is whole; "" where lull serve
// records nothing.
func (s *Server) recording() (name string, ended bool) {
	l := s.work.Live
	if l == nil {
		return "", false
	}
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return words.Visible(filepath.Base(l.about.Path)), l.ended
}

func (s *Server) liveRoutes(mux *http.ServeMux) {
	if s.work.Live == nil {
		return
	}
	mux.HandleFunc("GET /live", s.live)
	mux.HandleFunc("GET /live.js", s.asset("text/javascript; charset=utf-8", web.LiveScript()))
	mux.HandleFunc("GET /live/events", s.liveEvents)
	mux.HandleFunc("POST /live/end", s.liveEnd)
}

// live is the page of the recording as it stands.
func (s *Server) live(w http.ResponseWriter, _ *http.Request) {
	l := s.work.Live
	p := web.Live{Frame: s.frame(), Vehicle: words.Visible(l.about.Vehicle), MapName: words.Visible(s.work.MapName)}
	p.File, _ = s.recording()
	for _, name := range l.about.Sources {
		p.Sources = append(p.Sources, words.Visible(name))
	}
	now := l.since(0)
	p.State, p.News, p.Ended = now.state, now.news, now.ended
	if len(now.news) > 0 {
		p.Last = now.news[len(now.news)-1].ID
	}
	if p.State.Signals == nil { // nothing was shown yet
		for range l.about.Signals {
			p.State.Signals = append(p.State.Signals, words.LiveSignal{Value: words.NotSeen})
		}
	}
	for _, name := range l.about.Signals {
		p.Signals = append(p.Signals, words.Visible(name))
	}
	_, err := l.log()
	p.Measurable = err == nil
	s.write(w, http.StatusOK, p.Write)
}

// liveEvents is a stream of what there is to show, as server-sent events (WHATWG,
// HTML, section 9.2): news, each with its number, so that a browser that comes back
// says which it saw last; state, of which those in between may be left out; and
// ended, or gone where the server ends.
func (s *Server) liveEvents(w http.ResponseWriter, r *http.Request) {
	number, err := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64)
	if err != nil {
		if number, err = strconv.ParseInt(r.URL.Query().Get("after"), 10, 64); err != nil {
			number = 0
		}
	}
	w.Header().Set("Content-Type", "text/event-stream")
	out := &stream{w: w, control: http.NewResponseController(w)}
	defer out.control.SetWriteDeadline(time.Time{}) // the connection may be used on
	out.text("retry: 1000\n\n")
	shown := int64(-1) // the state's version
	for leaving := false; ; {
		now := s.work.Live.since(max(number, 0))
		for i := range now.news {
			number = now.news[i].ID
			out.event("news", strconv.FormatInt(number, 10), &now.news[i])
		}
		if now.version != shown {
			shown = now.version
			out.event("state", "", web.LiveStateOf(&now.state))
		}
		switch {
		case leaving, now.leaving:
			out.event("gone", "", struct{}{})
		case now.ended:
			out.event("ended", "", struct{}{})
		}
		if out.flush(); out.err != nil || now.ended || leaving {
			return
		}
		select {
		case <-now.changed:
		case <-r.Context().Done():
			leaving = true // where the server is, the browser is told
		}
	}
}

// stream writes events until one cannot be written.
type stream struct {
	w       http.ResponseWriter
	control *http.ResponseController
	err     error
}

func (o *stream) event(name, id string, data any) {
	text, err := json.Marshal(data)
	if err != nil {
		o.err = err
		return
	}
	if id != "" {
		id = "id: " + id + "\n"
	}
	o.text(fmt.Sprintf("%sevent: %s\ndata: %s\n\n", id, name, text))
}

func (o *stream) text(text string) {
	if o.err != nil {
		return
	}
	if o.err = o.control.SetWriteDeadline(time.Now().Add(stuckAfter)); o.err == nil {
		_, o.err = o.w.Write([]byte(text))
	}
}

func (o *stream) flush() {
	if o.err == nil {
		o.err = o.control.Flush()
	}
}

// liveEnd ends the recording.
func (s *Server) liveEnd(w http.ResponseWriter, r *http.Request) {
	l := s.work.Live
	l.about.End()
	patience := time.After(endPatience)
	for waiting := true; waiting; {
		now := l.since(0)
		if now.ended {
			break
		}
		select {
		case <-now.changed:
		case <-patience:
			waiting = false
		case <-r.Context().Done():
			waiting = false
		}
	}
	http.Redirect(w, r, s.base()+"/live", http.StatusSeeOther)
}
