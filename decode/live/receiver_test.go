package live

import (
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// gather receives everything until the receiver ends.
func gather(t *testing.T, r *Receiver) (frames []decode.Frame, events []EventKind) {
	t.Helper()
	deadline := time.Now().Add(20 * time.Second)
	for more := true; more; {
		var lot Lot
		lot, more = r.Next(50 * time.Millisecond)
		frames = append(frames, lot.Frames...)
		for _, e := range lot.Events {
			events = append(events, e.Kind)
		}
		if time.Now().After(deadline) {
			t.Fatal("the receiver does not end")
		}
	}
	return frames, events
}

// script is a source that returns prepared frames and errors.
type script struct {
	steps []step
	ready chan struct{}
}

type step struct {
	times   []int64
	dropped uint32
	err     error
}

func (s *script) read(frames []decode.Frame) (int, uint32, error) {
	if len(s.steps) == 0 {
		<-s.ready
		return 0, 0, net.ErrClosed
	}
	next := s.steps[0]
	s.steps = s.steps[1:]
	for i, at := range next.times {
		frames[i] = decode.Frame{Time: at, Bus: "can0"}
	}
	return len(next.times), next.dropped, next.err
}

func (s *script) close() error { return nil }

func TestASourceThatGoesAwayIsWaitedFor(t *testing.T) {
	gone := errors.New("the interface went down")
	tries := 0
	open := func(context.Context) (conn, error) {
		tries++
		switch tries {
		case 1:
			return nil, &Error{Source: "can0", Why: "the interface is down"}
		case 2:
			return &script{steps: []step{{times: []int64{1, 2}}, {times: []int64{3}, err: gone}}}, nil
		case 3:
			return nil, &Error{Source: "can0", Why: "no such interface", Lasting: true} // unplugged
		case 4:
			return nil, &Error{Source: "can0", Why: "the interface is down"}
		}
		return &script{steps: []step{{times: []int64{4}, dropped: 7}, {err: errEnded}}}, nil
	}
	r := listen(t.Context(), map[string]dial{"can0": open}, time.Millisecond)
	defer r.Close()
	got, events := gather(t, r)
	var times []int64
	for _, f := range got {
		times = append(times, f.Time)
	}
	if diff := cmp.Diff([]int64{1, 2, 3, 4}, times); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]EventKind{Waiting, Connected, Lost, Connected, Dropped, Ended}, events); diff != "" {
		t.Error(diff)
	}
}

func TestAWrongNameFailsAtOnce(t *testing.T) {
	r := listen(t.Context(), map[string]dial{"can7": func(context.Context) (conn, error) {
		return nil, &Error{Source: "can7", Why: "no such interface", Hint: "CAN interfaces here: can0", Lasting: true}
	}}, time.Hour)
	defer r.Close()
	lot, _ := r.Next(10 * time.Second)
	if len(lot.Events) != 1 || lot.Events[0].Kind != Failed || lot.Events[0].Err.Error() != "can7: no such interface; CAN interfaces here: can0" {
		t.Fatalf("%+v", lot.Events)
	}
	if _, more := r.Next(10 * time.Second); more {
		t.Error("there is more")
	}
}

// Frames of several sources that arrived together are sorted by time.
func TestSeveralSourcesComeInOrderOfTime(t *testing.T) {
	dials := map[string]dial{}
	for name, times := range map[string][]int64{"can0": {1, 3, 5}, "can1": {2, 4, 6}} {
		dials[name] = func(context.Context) (conn, error) {
			return &script{steps: []step{{times: times}, {err: errEnded}}}, nil
		}
	}
	r := listen(t.Context(), dials, time.Millisecond)
	defer r.Close()
	r.readers.Wait() // both sources have handed over everything
	lot, _ := r.Next(time.Second)
	sorted := slices.IsSortedFunc(lot.Frames, func(a, b decode.Frame) int { return int(a.Time - b.Time) })
	if len(lot.Frames) != 6 || !sorted {
		t.Errorf("%+v", lot.Frames)
	}
}

// A slow consumer holds up the source; nothing is lost, and Close ends the waiting.
func TestASlowConsumerLosesNothing(t *testing.T) {
	const steps = mostPending/readAtOnce + 40
	s := &script{ready: make(chan struct{})}
	for i := range steps {
		var next step
		for k := range readAtOnce {
			next.times = append(next.times, int64(i*readAtOnce+k))
		}
		s.steps = append(s.steps, next)
	}
	s.steps = append(s.steps, step{err: errEnded})
	r := listen(t.Context(), map[string]dial{"x": func(context.Context) (conn, error) { return s, nil }}, time.Millisecond)
	time.Sleep(100 * time.Millisecond)
	got, _ := gather(t, r)
	if len(got) != steps*readAtOnce {
		t.Fatalf("%d frames of %d", len(got), steps*readAtOnce)
	}
	for i := range got {
		if got[i].Time != int64(i) {
			t.Fatalf("frame %d is %d", i, got[i].Time)
		}
	}
	r.Close()
}

func TestAPlayedLogIsReadFromBothKindsOfSocket(t *testing.T) {
	for _, network := range []string{"unix", "tcp"} {
		at := "127.0.0.1:0"
		if network == "unix" {
			if runtime.GOOS == "windows" {
				continue
			}
			at = filepath.Join(t.TempDir(), "car.sock")
		}
		listener, err := net.Listen(network, at)
		if err != nil {
			t.Fatal(err)
		}
		defer listener.Close()
		go func() {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			defer c.Close()
			w := NewWriter(c)
			w.Frame(&decode.Frame{Time: 1000, Bus: "can0", ID: 0x123, Len: 1, Data: [64]byte{7}})
			w.End()
		}()
		a, err := ParseAddress(network + ":" + listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		r := Listen(t.Context(), []Address{a})
		got, events := gather(t, r)
		r.Close()
		if diff := cmp.Diff([]decode.Frame{{Time: 1000, Bus: "can0", ID: 0x123, Len: 1, Data: [64]byte{7}}}, got); diff != "" {
			t.Errorf("%s: %s", network, diff)
		}
		if diff := cmp.Diff([]EventKind{Connected, Ended}, events); diff != "" {
			t.Errorf("%s: %s", network, diff)
		}
	}
}

// A server that answers but plays no log is an error; one that breaks off is waited for.
func TestOtherServersAreReported(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	go func() {
		for n := 0; ; n++ {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			if n > 0 {
				c.Write([]byte("220 mail.example ready\r\n"))
			}
			c.Close()
		}
	}()
	a, _ := ParseAddress("tcp:" + listener.Addr().String())
	r := listen(t.Context(), map[string]dial{a.String(): dialOf(a)}, time.Millisecond)
	defer r.Close()
	_, events := gather(t, r)
	if diff := cmp.Diff([]EventKind{Connected, Lost, Connected, Failed}, events); diff != "" {
		t.Error(diff)
	}
}

func TestAddressesAreParsedAndMistakesReported(t *testing.T) {
	for text, want := range map[string]Address{
		"can0": {CAN, "can0"}, "unix:a b/c:d": {Unix, "a b/c:d"}, "tcp:5555": {TCP, "127.0.0.1:5555"},
		"tcp::5555": {TCP, "127.0.0.1:5555"}, "tcp:host:1": {TCP, "host:1"}, "tcp:[::1]:1": {TCP, "[::1]:1"},
	} {
		got, err := ParseAddress(text)
		if err != nil || got != want {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
		if again, err := ParseAddress(got.String()); err != nil || again != got {
			t.Errorf("%s: written as %s, read as %+v, %v", text, got, again, err)
		}
	}
	for _, text := range []string{"", "unix:", "tcp:", "tcp:host:", "udp:1", "can0:1"} {
		var e *Error
		if got, err := ParseAddress(text); !errors.As(err, &e) || e.Hint == "" {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
}

func TestSocketsThatCannotBeReadAreReported(t *testing.T) {
	file := filepath.Join(t.TempDir(), "drive.log")
	if err := os.WriteFile(file, []byte("no socket\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	// A port on which nobody listens, since it was free a moment ago.
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	free := listener.Addr().String()
	listener.Close()
	// A socket whose player was killed.
	left := filepath.Join(t.TempDir(), "left.sock")
	socket, err := net.ListenUnix("unix", &net.UnixAddr{Name: left})
	if err != nil {
		t.Fatal(err)
	}
	socket.SetUnlinkOnClose(false)
	socket.Close()
	for _, c := range []struct {
		address string
		lasting bool
		why     string
	}{
		{"unix:" + filepath.Join(t.TempDir(), "none.sock"), false, "no such socket, so nobody serves it yet"},
		{"unix:" + left, false, "a socket that nobody serves any more"},
		{"unix:" + file, true, "a file, not a socket"},
		{"tcp:" + free, false, "nobody serves this port"},
		{"tcp:no-such-host.invalid:1", true, "no such host"},
	} {
		a, err := ParseAddress(c.address)
		if err != nil {
			t.Fatal(err)
		}
		var e *Error
		if _, err = openStream(t.Context(), a); !errors.As(err, &e) || e.Lasting != c.lasting || e.Why != c.why || errors.Unwrap(e) == nil || !c.lasting && !strings.HasSuffix(e.Hint, "lull replay LOG --to "+c.address) {
			t.Errorf("%s: %+v", c.address, err)
		}
	}
}
