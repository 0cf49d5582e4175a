package serve

import (
	"net/http"
	"net/netip"
	"os"
	"strings"
	"testing"
)

// The system tells the user of a connection that there is.
func TestTheUserOfAConnectionIsTold(t *testing.T) {
	type user struct {
		uid   int
		known bool
	}
	asked := make(chan user, 1)
	x := serving(t, Options{}, func(s *Server) {
		s.peer = func(r *http.Request) (int, bool) {
			uid, known := peerUser(r)
			asked <- user{uid, known}
			return uid, known
		}
	})
	r, err := http.NewRequest(http.MethodGet, x.Invitation(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if a := x.do(r); a.StatusCode != http.StatusSeeOther {
		t.Errorf("status %d", a.StatusCode)
	}
	if got := <-asked; got != (user{os.Geteuid(), true}) {
		t.Errorf("%+v, want user %d", got, os.Geteuid())
	}
}

// Lines of the table are as proc(5) has them, addresses as machines with the least byte
// first write them. Neither end of another connection is taken for this one.
func TestTheTableOfConnectionsIsRead(t *testing.T) {
	const table = `  sl  local_address rem_address   st tx_queue rx_queue tr tm->when retrnsmt   uid  timeout inode
   0: 0100007F:1F90 00000000:0000 0A 00000000:00000000 00:00000000 00000000  1000        0 1 1
   1: 0100007F:1F90 0100007F:D431 01 00000000:00000000 00:00000000 00000000  1001        0 2 1
   2: 0100007F:D431 0100007F:1F90 01 00000000:00000000 00:00000000 00000000  1002        0 3 1
   3: 0000000000000000FFFF00000100007F:D432 0000000000000000FFFF00000100007F:1F90 01 00000000:00000000 00:00000000 00000000  1003        0 4 1
   4: 0100007F:D433 0100007F:1F90
   5: 0100007F:D434 0100007F:1F90 01 00000000:00000000 00:00000000 00000000  none        0 4 1
`
	own := netip.MustParseAddrPort("127.0.0.1:8080")
	for from, want := range map[string]int{
		"127.0.0.1:54321": 1002, "127.0.0.1:54322": 1003, "127.0.0.1:54323": -1, "127.0.0.1:54324": -1, "127.0.0.2:54321": -1, "127.0.0.1:1": -1,
	} {
		uid, known := userOf(strings.NewReader(table), netip.MustParseAddrPort(from), own)
		if known != (want >= 0) || known && uid != want {
			t.Errorf("from %s: user %d, known: %v; want %d", from, uid, known, want)
		}
	}
}
