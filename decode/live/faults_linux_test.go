package live

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"lull/decode"
)

func TestOtherSocketsAreNotCANInterfaces(t *testing.T) {
	s, _ := pair(t)
	if err := s.prepare(1); err == nil || !strings.Contains(err.Error(), "CAN FD frames cannot be requested") {
		t.Errorf("%v", err)
	}
	var ends [2]int
	if err := unix.Pipe(ends[:]); err != nil {
		t.Fatal(err)
	}
	defer unix.Close(ends[1])
	pipe := newSocket(ends[0], "can0")
	defer pipe.close()
	if err := pipe.stamp(); err == nil || !strings.Contains(err.Error(), "time stamps cannot be requested") {
		t.Errorf("%v", err)
	}
	if _, err := unix.Write(ends[1], make([]byte, 16)); err != nil {
		t.Fatal(err)
	}
	if n, _, err := pipe.read(make([]decode.Frame, 1)); n != 0 || !errors.Is(err, unix.ENOTSOCK) {
		t.Errorf("%d, %v", n, err)
	}
}

// A connection whose other end has closed is a fault, not silence.
func TestAnInterfaceThatClosesIsAFault(t *testing.T) {
	fds, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_SEQPACKET|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	s := newSocket(fds[0], "can0")
	defer s.close()
	if _, err := unix.Write(fds[1], kernel(16, 5, 1, 0, 0, 9)); err != nil {
		t.Fatal(err)
	}
	if _, err := unix.Write(fds[1], kernel(16, 0x800, 1, 0, 0, 9)); err != nil { // not a CAN identifier
		t.Fatal(err)
	}
	unix.Close(fds[1])
	got := make([]decode.Frame, 4)
	if n, _, err := s.read(got); n != 1 || got[0].ID != 5 || err == nil {
		t.Errorf("%d, %v", n, err)
	}
}

func TestTheExistingInterfacesAreNamed(t *testing.T) {
	err := noInterface("can7", []Link{{Name: "can0"}, {Name: "vcan0"}})
	if want := "can7: no such interface; CAN interfaces here: can0, vcan0"; err.Error() != want {
		t.Errorf("%v", err)
	}
	if err := noInterface("can7", nil); !strings.Contains(err.Error(), "ip -brief link") {
		t.Errorf("%v", err)
	}
}

// Closing a Receiver releases a source that is being read, one that is waited for, and one
// that answers only now.
func TestCloseEndsWhatWaits(t *testing.T) {
	s, _ := pair(t)
	late := make(chan struct{})
	r := listen(t.Context(), map[string]dial{
		"quiet": func(context.Context) (conn, error) { return s, nil },
		"absent": func(context.Context) (conn, error) {
			return nil, &Error{Source: "absent", Why: "the interface is down"}
		},
		"late": func(ctx context.Context) (conn, error) {
			close(late)
			<-ctx.Done()
			return &script{}, nil
		},
	}, time.Hour)
	<-late
	time.Sleep(10 * time.Millisecond)
	done := make(chan struct{})
	go func() { r.Close(); close(done) }()
	select {
	case <-done:
	case <-time.After(10 * time.Second):
		t.Fatal("Close does not end")
	}
	for more := true; more; {
		_, more = r.Next(time.Millisecond)
	}
}

func TestSocketsOutOfReachAreReported(t *testing.T) {
	long := Address{Unix, "/" + strings.Repeat("x", 200)}
	var e *Error
	if _, err := openStream(t.Context(), long); !errors.As(err, &e) || !e.Lasting || !strings.Contains(e.Why, "too long") {
		t.Errorf("%v", err)
	}
	e = &Error{Source: "can0", Why: "the interface is down", Err: fs.ErrPermission}
	if e.Error() != "can0: the interface is down" || !errors.Is(e, os.ErrPermission) {
		t.Errorf("%v", e)
	}
}
