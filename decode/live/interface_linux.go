package live

import (
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync"
	"time"

	"golang.org/x/sys/unix"

	"lull/decode"
	"lull/decode/capture"
)

// socket is an open CAN interface. It cannot send: it uses its descriptor only for recvmsg,
// and gives it to nobody else.
type socket struct {
	bus     string
	mutex   sync.Mutex // guards fd
	fd      int        // -1 when closed
	record  [capture.FDRecord]byte
	control [128]byte
	drops   uint32 // the kernel's latest count of dropped frames
}

const (
	// pollWait is how long a read waits before it checks whether the socket is closed.
	pollWait = 100 * time.Millisecond
	// socketBuffer is the buffer size requested from the kernel, about a second of a
	// full bus. The kernel may grant less.
	socketBuffer = 4 << 20
)

// openInterface opens an interface for reading all frames, including CAN FD and error
// frames, with the kernel's time of their arrival.
func openInterface(name string) (conn, error) {
	device, err := net.InterfaceByName(name)
	if err != nil {
		links, _ := Links() // after an error the hint has no names
		return nil, noInterface(name, links)
	}
	fd, err := unix.Socket(unix.AF_CAN, unix.SOCK_RAW|unix.SOCK_CLOEXEC|unix.SOCK_NONBLOCK, unix.CAN_RAW)
	if err != nil {
		e := &Error{Source: name, Why: "this system does not support CAN: " + err.Error(), Hint: "load its module: modprobe can_raw", Err: err, Lasting: true}
		if errors.Is(err, unix.EPERM) || errors.Is(err, unix.EACCES) {
			e.Why, e.Hint = "permission denied", "run lull with permission to read network interfaces"
		}
		return nil, e
	}
	s := newSocket(fd, name)
	if err := s.prepare(device.Index); err != nil {
		s.close()
		return nil, &Error{Source: name, Why: err.Error(), Hint: "check that it is a CAN interface: ip -details link show " + name, Err: err, Lasting: true}
	}
	if device.Flags&net.FlagUp == 0 {
		s.close()
		return nil, &Error{Source: name, Why: "the interface is down",
			Hint: "bring it up with the bit rate of the bus: ip link set " + name + " up type can bitrate 500000 listen-only on", Err: unix.ENETDOWN}
	}
	return s, nil
}

func newSocket(fd int, name string) *socket { return &socket{fd: fd, bus: busName(name)} }

// noInterface returns the error for a name that no interface has. Its hint names the CAN
// interfaces that exist. It is Lasting, but a Receiver still waits for an interface that
// has been there before.
func noInterface(name string, links []Link) error {
	e := &Error{Source: name, Why: "no such interface", Hint: "plug it in, or list the interfaces: ip -brief link", Lasting: true}
	if len(links) == 0 {
		return e
	}
	names := make([]string, len(links))
	for i := range links {
		names[i] = links[i].Name
	}
	e.Hint = "CAN interfaces here: " + strings.Join(names, ", ")
	return e
}

// prepare sets the socket up and binds it.
func (s *socket) prepare(index int) error {
	for _, o := range []struct {
		level, name, value int
		what               string
	}{
		{unix.SOL_CAN_RAW, unix.CAN_RAW_FD_FRAMES, 1, "CAN FD frames"},
		{unix.SOL_CAN_RAW, unix.CAN_RAW_ERR_FILTER, unix.CAN_ERR_MASK, "error frames"},
	} {
		if err := unix.SetsockoptInt(s.fd, o.level, o.name, o.value); err != nil {
			return fmt.Errorf("%s cannot be requested: %w", o.what, err)
		}
	}
	if err := s.stamp(); err != nil {
		return err
	}
	return unix.Bind(s.fd, &unix.SockaddrCAN{Ifindex: index})
}

// stamp requests the kernel's time stamps and its count of dropped frames.
func (s *socket) stamp() error {
	if err := unix.SetsockoptInt(s.fd, unix.SOL_SOCKET, unix.SO_TIMESTAMPNS, 1); err != nil {
		return fmt.Errorf("time stamps cannot be requested: %w", err)
	}
	// Frames can be read even if these two fail.
	_ = unix.SetsockoptInt(s.fd, unix.SOL_SOCKET, unix.SO_RXQ_OVFL, 1)
	_ = unix.SetsockoptInt(s.fd, unix.SOL_SOCKET, unix.SO_RCVBUF, socketBuffer)
	return nil
}

func (s *socket) close() error {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if s.fd < 0 {
		return nil
	}
	err := unix.Close(s.fd)
	s.fd = -1
	return err
}

func (s *socket) read(frames []decode.Frame) (n int, dropped uint32, err error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if s.fd < 0 {
		return 0, 0, net.ErrClosed
	}
	ready := []unix.PollFd{{Fd: int32(s.fd), Events: unix.POLLIN}}
	if _, err := unix.Poll(ready, int(pollWait/time.Millisecond)); err != nil && !errors.Is(err, unix.EINTR) {
		return 0, 0, err
	}
	before := s.drops
	for n < len(frames) {
		size, controlSize, _, _, err := unix.Recvmsg(s.fd, s.record[:], s.control[:], unix.MSG_DONTWAIT)
		switch {
		case errors.Is(err, unix.EAGAIN):
			return n, s.drops - before, nil
		case errors.Is(err, unix.EINTR):
			continue
		case errors.Is(err, unix.ENETDOWN):
			return n, s.drops - before, fmt.Errorf("the interface went down: %w", err)
		case errors.Is(err, unix.ENODEV):
			return n, s.drops - before, fmt.Errorf("the interface was removed: %w", err)
		case err != nil:
			return n, s.drops - before, err
		case size == 0:
			return n, s.drops - before, errors.New("the interface was closed")
		case size < capture.ClassicRecord:
			continue // not a CAN frame
		}
		f := &frames[n]
		record := s.record[:size]
		turn(record, binary.NativeEndian)
		if capture.ParseRecord(record, f) != nil {
			continue // CAN XL, which was not requested
		}
		f.Bus, f.Time = s.bus, s.arrival(s.control[:controlSize])
		n++
	}
	return n, s.drops - before, nil
}

// arrival returns the kernel's time of a frame, truncated to the microseconds that a log
// stores, and notes how many frames were dropped before it.
func (s *socket) arrival(control []byte) int64 {
	now := time.Now().UnixNano()
	messages, err := unix.ParseSocketControlMessage(control)
	if err != nil {
		messages = nil
	}
	for _, m := range messages {
		switch {
		case m.Header.Level != unix.SOL_SOCKET:
		case m.Header.Type == unix.SCM_TIMESTAMPNS && len(m.Data) >= 16:
			now = int64(binary.NativeEndian.Uint64(m.Data))*1e9 + int64(binary.NativeEndian.Uint64(m.Data[8:]))
		case m.Header.Type == unix.SO_RXQ_OVFL && len(m.Data) >= 4:
			s.drops = binary.NativeEndian.Uint32(m.Data)
		}
	}
	return now - now%1000
}
