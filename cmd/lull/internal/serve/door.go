package serve

import (
	"bytes"
	"context"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"
)

const (
	mostStrangers = 128             // a browser has six connections to a server
	patience      = 5 * time.Second // how long a stranger, or a header, may take
)

// door accepts connections. Any user of the machine can open some, so a connection is a
// stranger's until it has shown the secret: it has little time, and if there are many
// strangers the oldest makes room.
type door struct {
	net.Listener
	most      int           // strangers
	patience  time.Duration // with each
	mu        sync.Mutex
	strangers []*caller // the oldest first
}

// caller is a connection.
type caller struct {
	*net.TCPConn
	door   *door
	late   *time.Timer // ends it
	served bool        // what is written is an answer of this server
}

func (d *door) Accept() (net.Conn, error) {
	conn, err := d.Listener.Accept()
	if err != nil {
		return nil, err
	}
	c := &caller{TCPConn: conn.(*net.TCPConn), door: d}
	d.mu.Lock()
	c.late = time.AfterFunc(d.patience, func() { _ = c.Close() })
	d.strangers = append(d.strangers, c)
	oldest := d.strangers[0]
	many := len(d.strangers) > d.most
	d.mu.Unlock()
	if many {
		_ = oldest.Close()
	}
	return c, nil
}

// admit lets a connection stay as long as it likes.
func (c *caller) admit() {
	c.door.mu.Lock()
	defer c.door.mu.Unlock()
	c.late.Stop()
	c.door.strangers = slices.DeleteFunc(c.door.strangers, func(other *caller) bool { return other == c })
}

func (c *caller) Close() error {
	c.admit()
	return c.TCPConn.Close()
}

// Write adds the headers that every answer has to those that net/http writes by itself, for
// a request that it cannot read.
func (c *caller) Write(b []byte) (int, error) {
	if c.served {
		return c.TCPConn.Write(b)
	}
	c.served = true
	status, rest, _ := bytes.Cut(b, []byte("\r\n"))
	var whole bytes.Buffer
	whole.Write(status)
	whole.WriteString("\r\n")
	_ = policies.Write(&whole) // a buffer takes all
	whole.Write(rest)
	if _, err := c.TCPConn.Write(whole.Bytes()); err != nil {
		return 0, err
	}
	return len(b), nil
}

// callerKey is the key of a request's connection in its context.
type callerKey struct{}

func withCaller(ctx context.Context, conn net.Conn) context.Context {
	return context.WithValue(ctx, callerKey{}, conn)
}

// callerOf returns the connection of a request. A request without one, as in tests, gets
// one that is closed.
func callerOf(r *http.Request) *caller {
	if c, ok := r.Context().Value(callerKey{}).(*caller); ok {
		return c
	}
	return &caller{TCPConn: new(net.TCPConn), door: new(door), late: time.NewTimer(0)}
}

// stateChanged notes the end of each answer.
func stateChanged(conn net.Conn, state http.ConnState) {
	if state == http.StateIdle {
		conn.(*caller).served = false
	}
}
