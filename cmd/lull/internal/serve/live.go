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
	// mostRemarks bounds the remarks on the recording itself that are kept, the latest
	// ones: a loose plug makes no end of them. News of the drive is all kept.
	mostRemarks = 200
	// stuckAfter is when the stream to a browser that reads nothing is ended. The browser
	// reconnects by itself, and is sent what it missed.
	stuckAfter = 20 * time.Second
	// endPatience is how long the page waits for a recording that is to end.
	endPatience = 5 * time.Second
)

// About is what is known of a recording from the start.
type About struct {
	Path    string // of the log
	Sources []string
	Vehicle string
	Signals []string // the names of the map's signals, by index
	// Marker takes what is marked on the page; nil: nothing is.
	Marker Marker
	// Marks is the file of what is marked, which is there once something was; "": nothing is.
	Marks string
	// End ends the recording without waiting for that.
	End func()
	// Recorded ends with the recording, Served with the command. Recorded ends no later
	// than Served.
	Recorded, Served context.Context
}

// Live is a recording in progress. The recorder never waits for a browser: each browser has
// a stream that takes the news it has not seen and the latest state. The methods may be
// called by several goroutines.
type Live struct {
	about About
	now   func() time.Time

	mutex   sync.Mutex
	news    []web.LiveNews
	remarks int
	last    int64 // number of the latest news
	state   words.LiveState
	version int64         // of the state
	ended   bool          // the recording has ended
	leaving bool          // and the server ends, too
	frames  bool          // something was recorded
	shown   time.Time     // when Look showed the state
	changed chan struct{} // closed at the next change
}

// showEvery is how often the page is shown the state of the recording.
const showEvery = 250 * time.Millisecond

// NewLive returns a Live for a recording that begins.
func NewLive(about About) *Live {
	return &Live{about: about, now: time.Now, changed: make(chan struct{})}
}

// Tell shows a piece of news, once.
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

// Show shows the state of the recording, which is kept and must not be changed.
func (l *Live) Show(s words.LiveState) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	l.state = s
	l.version++
	l.wake()
}

// Ended says that the log is complete: whether it has any frames, and whether the server is
// about to end too, so that there is no page to go to.
func (l *Live) Ended(frames, leaving bool) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	l.ended, l.frames, l.leaving = true, frames, leaving
	l.wake()
}

// Look shows the state of the recording, if an update is due.
func (l *Live) Look(now time.Time, state func() words.LiveState) {
	if now.Sub(l.shown) >= showEvery {
		l.shown = now
		l.Show(state())
	}
}

// Close shows the final state. A recording that ended by itself without a frame ends the
// server, too: most likely its source was misspelt.
func (l *Live) Close(last words.LiveState, recorded bool) {
	l.Show(last)
	l.Ended(recorded, l.about.Served.Err() != nil || !recorded && l.about.Recorded.Err() == nil)
}

// End ends the recording.
func (l *Live) End() { l.about.End() }

// wake lets all streams look. The mutex must be held.
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

// since returns the news after that number, and the present state.
func (l *Live) since(number int64) portion {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	first, _ := slices.BinarySearchFunc(l.news, number+1, func(n web.LiveNews, id int64) int { return int(n.ID - id) })
	return portion{slices.Clone(l.news[first:]), l.state, l.version, l.ended, l.leaving, l.changed}
}

// log returns the recorded log, or why there is none yet.
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

// recording returns the name of the recorded log, and whether it is complete; "" if nothing
// is recorded.
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
	if s.work.Live.about.Marker != nil {
		mux.HandleFunc("POST /live/mark", s.liveMark)
	}
}

// live is the page of the recording.
func (s *Server) live(w http.ResponseWriter, _ *http.Request) {
	l := s.work.Live
	p := web.Live{Frame: s.frame(), Vehicle: words.Visible(l.about.Vehicle), MapName: words.Visible(s.work.MapName)}
	p.File, _ = s.recording()
	for _, name := range l.about.Sources {
		p.Sources = append(p.Sources, words.Visible(name))
	}
	now := l.since(0)
	p.State, p.News, p.Ended = now.state, now.news, now.ended
	p.Marked = l.about.Marker != nil
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

// liveEvents is a stream of server-sent events (WHATWG, HTML, section 9.2): news, each with
// its number, so that a browser that reconnects says which it saw last; state, some of
// which may be skipped; and ended, or gone if the server ends.
func (s *Server) liveEvents(w http.ResponseWriter, r *http.Request) {
	number, err := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64)
	if err != nil {
		if number, err = strconv.ParseInt(r.URL.Query().Get("after"), 10, 64); err != nil {
			number = 0
		}
	}
	w.Header().Set("Content-Type", "text/event-stream")
	out := &stream{w: w, control: http.NewResponseController(w)}
	defer out.control.SetWriteDeadline(time.Time{}) // the connection may be reused
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
			leaving = true // tell the browser if the server ends
		}
	}
}

// stream writes events until a write fails.
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
