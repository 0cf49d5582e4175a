package serve

import (
	"context"
	"errors"
	"net"
	"net/http"
	"strconv"
	"sync/atomic"
	"time"

	"lull/cmd/lull/internal/serve/web"
)

// Server is the page's server.
type Server struct {
	work     Work
	largest  int64
	token    string
	once     atomic.Pointer[string] // secret part of Invitation; nil once used
	peer     func(*http.Request) (uid int, known bool)
	listener net.Listener
	door     *door // in front of it
	http     *http.Server
	store    *store
	queue    queue
	now      func() time.Time
	slowest  time.Duration // how long a body or an answer may make no progress
	reserve  int64         // bytes that drops must leave free on the disk
}

// Options are what a user may choose.
type Options struct {
	Port    int   // 0: a free one
	Largest int64 // bytes of one drop; 0: 64 GB
}

const (
	defaultLargest = 64e9 // the disk bounds a drop too
	defaultSlowest = time.Minute
	defaultReserve = 64 << 20
	grace          = time.Second // for last words, when the server ends
)

// New opens the port, on 127.0.0.1 only, and makes the folder for what is dropped. Close
// ends both.
func New(work Work, o Options) (*Server, error) {
	s := &Server{work: work, largest: o.Largest, token: newToken(), peer: peerUser, now: time.Now, slowest: defaultSlowest, reserve: defaultReserve}
	once := newToken()
	s.once.Store(&once)
	if s.largest <= 0 {
		s.largest = defaultLargest
	}
	var err error
	if s.listener, err = net.Listen("tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(o.Port))); err != nil {
		return nil, err
	}
	if s.store, err = newStore(); err != nil {
		_ = s.listener.Close()
		return nil, err
	}
	s.door = &door{Listener: s.listener, most: mostStrangers, patience: patience}
	s.http = &http.Server{
		Handler: s.guard(s.routes()),
		// Bodies may take as long as they make progress: see patient.
		ReadHeaderTimeout: patience,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ConnContext:       withCaller,
		ConnState:         stateChanged,
		// It would answer OPTIONS * past the guard.
		DisableGeneralOptionsHandler: true,
	}
	return s, nil
}

// URL returns the address of the first page, with its secret part. If there is a recording,
// that is its page.
func (s *Server) URL() string { return "http://" + s.listener.Addr().String() + s.first() }

// first returns the path of the first page.
func (s *Server) first() string {
	if s.work.Live != nil {
		return s.base() + "/live"
	}
	return s.base() + "/"
}

// Invitation returns an address that leads to the page once, and only this user where the
// system tells users apart (Linux). A browser that is started with an address shows it to
// all users of the machine, in the list of processes.
func (s *Server) Invitation() string {
	if once := s.once.Load(); once != nil {
		return "http://" + s.listener.Addr().String() + "/" + *once
	}
	return s.URL()
}

// base returns the prefix of every path.
func (s *Server) base() string { return "/" + s.token }

// late returns the deadline for progress from now.
func (s *Server) late() time.Time { return time.Now().Add(s.slowest) }

// Run serves until the context ends.
func (s *Server) Run(ctx context.Context) error {
	requests, end := context.WithCancelCause(context.WithoutCancel(ctx))
	defer end(nil)
	s.http.BaseContext = func(net.Listener) context.Context { return requests }
	done := make(chan error, 1)
	go func() { done <- s.http.Serve(s.door) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	end(errClosed)
	late, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	if err := s.http.Shutdown(late); err != nil {
		_ = s.http.Close() // of connections that are open and have nothing to say
	}
	if err := <-done; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Beside serves while record records, and goes on after the recording until the command
// ends, calling servedOn in between. A server that fails does not end the recording.
func (s *Server) Beside(record func(context.Context) error, servedOn func()) error {
	l := s.work.Live
	// The server outlives the recording, so that its last words are shown.
	serving, stop := context.WithCancel(context.WithoutCancel(l.about.Served))
	defer stop()
	served := make(chan error, 1)
	go func() { served <- s.Run(serving) }()
	recorded := record(l.about.Recorded)
	l.End()
	if !l.since(0).leaving {
		servedOn()
		select {
		case <-l.about.Served.Done():
		case err := <-served:
			served <- err
		}
	}
	stop()
	if err := <-served; err != nil && recorded == nil {
		return err
	}
	return recorded
}

// Close frees the port and removes all that was dropped.
func (s *Server) Close() error {
	_ = s.http.Close() // it may be closed already
	_ = s.listener.Close()
	return s.store.close()
}

func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.start)
	mux.HandleFunc("GET /page.css", s.asset("text/css; charset=utf-8", web.StyleSheet()))
	mux.HandleFunc("GET /page.js", s.asset("text/javascript; charset=utf-8", web.Script()))
	mux.HandleFunc("GET /icon.svg", s.asset("image/svg+xml", web.Icon()))
	mux.HandleFunc("POST /drives", s.drop)
	mux.HandleFunc("POST /demo", s.demo)
	mux.HandleFunc("GET /drives/{id}", s.show)
	mux.HandleFunc("GET /drives/{id}/card", s.card)
	mux.HandleFunc("GET /drives/{id}/readings", s.readings)
	mux.HandleFunc("GET /drives/{id}/file/{name}", s.file)
	mux.HandleFunc("POST /drives/{id}/report", s.report)
	mux.HandleFunc("POST /drives/{id}/draft", s.draft)
	mux.HandleFunc("GET /drives/{id}/map.yaml", s.mapFile)
	s.liveRoutes(mux)
	mux.HandleFunc("/", func(w http.ResponseWriter, _ *http.Request) {
		s.refuse(w, http.StatusNotFound, "there is nothing at this address", "")
	})
	return mux
}
