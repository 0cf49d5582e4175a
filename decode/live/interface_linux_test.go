package live

import (
	"encoding/binary"
	"errors"
	"net"
	"os"
	"testing"
	"time"
	"unsafe"

	"github.com/google/go-cmp/cmp"
	"go.einride.tech/can"
	"go.einride.tech/can/pkg/socketcan"
	"golang.org/x/sys/unix"

	"lull/decode"
)

// pair returns a socket like that of an interface, and the end that feeds it.
func pair(t *testing.T) (*socket, *os.File) {
	t.Helper()
	fds, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_DGRAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	s := newSocket(fds[0], "can0")
	if err := s.stamp(); err != nil {
		t.Fatal(err)
	}
	feed := os.NewFile(uintptr(fds[1]), "feed")
	t.Cleanup(func() { s.close(); feed.Close() })
	return s, feed
}

// kernel returns a frame in the kernel's layout (struct can_frame and canfd_frame of
// linux/can.h).
func kernel(size int, id uint32, length, flags, code byte, data ...byte) []byte {
	b := make([]byte, size)
	binary.NativeEndian.PutUint32(b, id)
	b[4], b[5], b[7] = length, flags, code
	copy(b[8:], data)
	return b
}

func TestFramesAreReadAsTheKernelLaysThemOut(t *testing.T) {
	s, feed := pair(t)
	before := time.Now().UnixNano()
	for _, record := range [][]byte{
		kernel(16, 0x1A0, 2, 0, 0, 0xAB, 0xCD),
		kernel(16, 0x98FEF100, 8, 0, 14, 1, 2, 3, 4, 5, 6, 7, 8),
		kernel(16, 0x40000123, 4, 0, 0),
		kernel(16, 0x20000004, 8, 0, 0, 0, 4),
		kernel(72, 0x123, 12, 5, 0, 9, 8, 7),
		kernel(72, 0x456, 1, 0, 0, 3), // kernels before 6.1 do not set the FD bit
		kernel(12, 0x123, 0, 0, 0),    // not a complete frame
		kernel(16, 0x7FF, 0, 0, 0),
	} {
		if _, err := feed.Write(record); err != nil {
			t.Fatal(err)
		}
	}
	got := make([]decode.Frame, 20)
	n, dropped, err := s.read(got)
	if err != nil || dropped != 0 {
		t.Fatal(dropped, err)
	}
	after := time.Now().UnixNano()
	for i := range got[:n] {
		if at := got[i].Time; at < before-1000 || at > after || at%1000 != 0 || i > 0 && at < got[i-1].Time {
			t.Errorf("frame %d came at %d, between %d and %d", i, at, before, after)
		}
		got[i].Time = 0
	}
	want := []decode.Frame{
		{Bus: "can0", ID: 0x1A0, Len: 2, Data: [64]byte{0xAB, 0xCD}},
		{Bus: "can0", ID: 0x18FEF100, Flags: decode.Extended, Len: 8, RawDLC: 14, Data: [64]byte{1, 2, 3, 4, 5, 6, 7, 8}},
		{Bus: "can0", ID: 0x123, Flags: decode.Remote, Len: 4},
		{Bus: "can0", ID: 4, Flags: decode.Error, Len: 8, Data: [64]byte{0, 4}},
		{Bus: "can0", ID: 0x123, Flags: decode.FD | decode.BitRateSwitch, Len: 12, Data: [64]byte{9, 8, 7}},
		{Bus: "can0", ID: 0x456, Flags: decode.FD, Len: 1, Data: [64]byte{3}},
		{Bus: "can0", ID: 0x7FF},
	}
	if diff := cmp.Diff(want, got[:n]); diff != "" {
		t.Error(diff)
	}
}

// The CAN library is an independent judge of classic frames: what its types lay out is read
// as the same frame.
func TestClassicFramesOfTheCANLibraryAreReadAsTheSameFrames(t *testing.T) {
	s, feed := pair(t)
	for _, want := range []can.Frame{
		{ID: 0x123, Length: 3, Data: can.Data{1, 2, 3}},
		{ID: 0x1ABCDEF0, IsExtended: true, Length: 8, Data: can.Data{8, 7, 6, 5, 4, 3, 2, 1}},
		{ID: 0x7FF, IsRemote: true, Length: 2},
	} {
		var packed socketcan.Frame
		packed.EncodeFrame(want)
		record := make([]byte, 16)
		packed.MarshalBinary(record)
		if _, err := feed.Write(record); err != nil {
			t.Fatal(err)
		}
		got := make([]decode.Frame, 1)
		if n, _, err := s.read(got); n != 1 || err != nil {
			t.Fatal(n, err)
		}
		f := &got[0]
		back := can.Frame{ID: f.ID, Length: f.Len, IsExtended: f.Flags.Has(decode.Extended), IsRemote: f.Flags.Has(decode.Remote)}
		copy(back.Data[:], f.Data[:8])
		if diff := cmp.Diff(want, back); diff != "" {
			t.Error(diff)
		}
	}
}

func TestAReadThatWaitsEndsWithItsSocket(t *testing.T) {
	s, feed := pair(t)
	batch := make([]decode.Frame, 4)
	if n, _, err := s.read(batch); n != 0 || err != nil {
		t.Fatalf("nothing was there: %d, %v", n, err)
	}
	feed.Close()
	s.close()
	if _, _, err := s.read(batch); !errors.Is(err, net.ErrClosed) {
		t.Fatal(err)
	}
	if err := s.close(); err != nil {
		t.Error("closed twice:", err)
	}
}

func TestTheKernelsControlMessagesAreRead(t *testing.T) {
	word := func(kind int32, data []byte) []byte {
		b := make([]byte, unix.CmsgSpace(len(data)))
		h := (*unix.Cmsghdr)(unsafe.Pointer(&b[0]))
		h.SetLen(unix.CmsgLen(len(data)))
		h.Level, h.Type = unix.SOL_SOCKET, kind
		copy(b[unix.CmsgLen(0):], data)
		return b
	}
	stamp := make([]byte, 16)
	binary.NativeEndian.PutUint64(stamp, 1_700_000_000)
	binary.NativeEndian.PutUint64(stamp[8:], 123_456_789)
	s := newSocket(-1, "can0")
	control := append(word(unix.SCM_TIMESTAMPNS, stamp), word(unix.SO_RXQ_OVFL, []byte{5, 0, 0, 0})...)
	if at := s.arrival(control); at != 1_700_000_000_123_456_000 {
		t.Errorf("came at %d", at)
	}
	if want := binary.NativeEndian.Uint32([]byte{5, 0, 0, 0}); s.drops != want {
		t.Errorf("%d drops", s.drops)
	}
	before := time.Now().UnixNano()
	if at := s.arrival([]byte{1}); at < before-1000 {
		t.Errorf("without a stamp it came at %d, before %d", at, before)
	}
}

func TestAMissingInterfaceIsReported(t *testing.T) {
	var e *Error
	_, err := dialOf(Address{CAN, "nocan9"})(t.Context())
	if !errors.As(err, &e) || !e.Lasting || e.Why != "no such interface" {
		t.Errorf("%v", err)
	}
	// The loopback interface is not a CAN interface, whether or not this system supports
	// CAN.
	_, err = openInterface("lo")
	if !errors.As(err, &e) || !e.Lasting || e.Hint == "" {
		t.Errorf("%v", err)
	}
}

// attribute returns a netlink attribute (linux/netlink.h), padded to four bytes.
func attribute(kind uint16, value ...byte) []byte {
	b := binary.NativeEndian.AppendUint16(nil, uint16(4+len(value)))
	b = binary.NativeEndian.AppendUint16(b, kind)
	b = append(b, value...)
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}

func words(values ...uint32) []byte {
	var b []byte
	for _, v := range values {
		b = binary.NativeEndian.AppendUint32(b, v)
	}
	return b
}

func linkMessage(hardware uint16, flags uint32, attributes ...[]byte) []byte {
	body := make([]byte, unix.SizeofIfInfomsg)
	binary.NativeEndian.PutUint16(body[2:], hardware)
	binary.NativeEndian.PutUint32(body[8:], flags)
	for _, a := range attributes {
		body = append(body, a...)
	}
	head := binary.NativeEndian.AppendUint32(nil, uint32(16+len(body)))
	head = binary.NativeEndian.AppendUint16(head, unix.RTM_NEWLINK)
	head = append(head, make([]byte, 10)...)
	return append(head, body...)
}

func TestInterfacesTellWhetherTheyListenOnly(t *testing.T) {
	info := func(kind string, data ...byte) []byte {
		return attribute(unix.IFLA_LINKINFO, append(attribute(unix.IFLA_INFO_KIND, append([]byte(kind), 0)...), attribute(unix.IFLA_INFO_DATA|0x8000, data...)...)...)
	}
	name := func(s string) []byte { return attribute(unix.IFLA_IFNAME, append([]byte(s), 0)...) }
	mode := func(flags uint32) []byte { return attribute(unix.IFLA_CAN_CTRLMODE, words(0, flags)...) }
	timing := attribute(unix.IFLA_CAN_BITTIMING, words(500000, 0, 0, 0, 0, 0, 0, 0)...)
	var answer []byte
	answer = append(answer, linkMessage(1, unix.IFF_UP, name("eth0"))...)
	answer = append(answer, linkMessage(unix.ARPHRD_CAN, unix.IFF_UP, name("can0"), info("can", append(timing, mode(unix.CAN_CTRLMODE_LISTENONLY)...)...))...)
	answer = append(answer, linkMessage(unix.ARPHRD_CAN, 0, name("can1"), info("can", mode(unix.CAN_CTRLMODE_FD)...))...)
	answer = append(answer, linkMessage(unix.ARPHRD_CAN, unix.IFF_UP, name("vcan0"), info("vcan"))...)
	answer = append(answer, linkMessage(unix.ARPHRD_CAN, unix.IFF_UP, name("can2"), []byte{200, 0, 1, 0})...) // damaged
	answer = append(answer, linkMessage(unix.ARPHRD_CAN, unix.IFF_UP, name("can3"), []byte{3, 0, 1, 0})...)   // shorter than its own head
	got, err := parseLinks(answer)
	if err != nil {
		t.Fatal(err)
	}
	want := []Link{
		{Name: "can0", Kind: "can", Up: true, ListenOnly: true, Known: true, Bitrate: 500000},
		{Name: "can1", Kind: "can", Known: true},
		{Name: "vcan0", Kind: "vcan", Up: true},
		{Name: "can2", Up: true},
		{Name: "can3", Up: true},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	var loud []string
	for i := range got {
		if got[i].Acknowledges() {
			loud = append(loud, got[i].Name)
		}
	}
	if diff := cmp.Diff([]string{"can1"}, loud); diff != "" {
		t.Error(diff)
	}
	if _, err := parseLinks([]byte("no netlink message at all")); err == nil {
		t.Error("garbage was accepted")
	}
	if _, err := Links(); err != nil {
		t.Errorf("this system's own: %v", err)
	}
}
