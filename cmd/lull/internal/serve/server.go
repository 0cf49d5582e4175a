package serve

import (
	"context"
	"errors"
	"net"
	"net/http"
	"strconv"
	"time"

	"lull/cmd/lull/internal/page"
)

// Server is the page's server.
type Server struct {
	work     Work
	largest  int64
	token    string
	listener net.Listener
	http     *http.Server
	store    *store
	queue    queue
	now      func() time.Time
}

// Options are what a user may choose.
type Options struct {
	Port    int   // 0: a free one
	Largest int64 // bytes of one drop; 0: 64 GB
}

// defaultLargest bounds a drop. The disk bounds it too.
const defaultLargest = 64e9

// New opens the port, on 127.0.0.1 and nowhere else, and the folder for what is
// dropped. Close ends both.
func New(work Work, o Options) (*Server, error) {
	s := &Server{work: work, largest: o.Largest, token: newToken(), now: time.Now}
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
	s.http = &http.Server{
		Handler: s.guard(s.routes()),
		// Bodies may take as long as they move: see slow.
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
	}
	return s, nil
}

// URL is the address of the first page, with its secret part: that of the recording
// where there is one.
func (s *Server) URL() string {
	first := "/"
	if s.work.Live != nil {
		first = "/live"
	}
	return "http://" + s.listener.Addr().String() + s.base() + first
}

// base is what every path begins with.
func (s *Server) base() string { return "/" + s.token }

// Run serves until the context ends.
func (s *Server) Run(ctx context.Context) error {
	s.http.BaseContext = func(net.Listener) context.Context { return ctx }
	done := make(chan error, 1)
	go func() { done <- s.http.Serve(s.listener) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	// What runs has ended with the context; its last words may take a moment.
	late, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	if err := s.http.Shutdown(late); err != nil {
		_ = s.http.Close()
	}
	if err := <-done; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
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
	mux.HandleFunc("GET /page.css", s.asset("text/css; charset=utf-8", styleSheet))
	mux.HandleFunc("GET /page.js", s.asset("text/javascript; charset=utf-8", script))
	mux.HandleFunc("GET /icon.svg", s.asset("image/svg+xml", page.Icon()))
	mux.HandleFunc("POST /drives", s.drop)
	mux.HandleFunc("POST /demo", s.demo)
	mux.HandleFunc("GET /drives/{id}", s.show)
	mux.HandleFunc("GET /drives/{id}/card", s.card)
	mux.HandleFunc("GET /drives/{id}/readings", s.readings)
	mux.HandleFunc("GET /drives/{id}/file/{name}", s.file)
	mux.HandleFunc("POST /drives/{id}/report", s.report)
	s.liveRoutes(mux)
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, r, http.StatusNotFound, "there is nothing at this address", "")
	})
	return mux
}
