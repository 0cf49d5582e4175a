//go:build attack && linux

package attack

import (
	"net"
	"path/filepath"
	"testing"

	"lull/decode/live"
)

// car listens where a recorder can connect, and does to each connection what feed
// says, until it comes back or the recorder leaves.
func car(t testing.TB, feed func(net.Conn)) (address string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "car.sock")
	listener, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	t.Cleanup(func() {
		listener.Close()
		<-done
	})
	go func() {
		defer close(done)
		for {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				feed(c)
			}()
		}
	}()
	return "unix:" + path
}

// plays is a car that plays a log as it is meant to be.
func plays(feed func(*live.Writer) error) func(net.Conn) {
	return func(c net.Conn) { _ = feed(live.NewWriter(c)) } // it fails when the recorder leaves
}
