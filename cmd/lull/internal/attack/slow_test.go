//go:build attack && linux

package attack

import (
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// slowPatience is how long a stranger may take who does not say what he wants.
const slowPatience = 15 * time.Second

// 1,500 strangers who announce a body and send none, never end their headers, or say nothing
// at all hold up nobody and are sent away.
func TestStrangersWhoSendSlowlyHoldUpNobody(t *testing.T) {
	t.Parallel()
	const each = 500
	s := serve(t, t.TempDir())
	var gone sync.WaitGroup
	kept := make([]atomic.Int64, 3)
	says := []string{
		"POST /x/drives HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nContent-Length: 1000\r\n\r\n", // and no body
		"GET / HTTP/1.1\r\nHost: HOST\r\nX-Slow: ",                                                     // and not the rest
		"", // nothing at all
	}
	for n := range 3 * each {
		kind := n % len(says)
		c, err := net.Dial("tcp", s.host)
		if err != nil {
			t.Fatalf("the stranger %d does not come in: %v", n, err)
		}
		defer c.Close()
		if _, err := io.WriteString(c, strings.ReplaceAll(says[kind], "HOST", s.host)); err != nil {
			t.Fatal(err)
		}
		_ = c.SetReadDeadline(time.Now().Add(slowPatience))
		gone.Go(func() {
			if _, err := io.Copy(io.Discard, c); err != nil && isTimeout(err) {
				kept[kind].Add(1)
			}
		})
	}
	for range 10 {
		began := time.Now()
		status, _, _ := s.get("/")
		if took := time.Since(began); status != http.StatusOK || took > time.Second {
			t.Errorf("meanwhile the owner gets status %d after %v", status, took)
		}
		time.Sleep(100 * time.Millisecond)
	}
	gone.Wait()
	for kind := range kept {
		if n := kept[kind].Load(); n > 0 {
			t.Errorf("%d of %d who sent %.50q are still there after %v", n, each, says[kind], slowPatience)
		}
	}
	s.end()
	s.tookLess(256)
}

func isTimeout(err error) bool {
	network, is := err.(net.Error)
	return is && network.Timeout()
}
