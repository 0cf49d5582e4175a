package capture

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"io"
	"strings"
	"syscall"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

func unhex(t testing.TB, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The layout is that of LINKTYPE_CAN_SOCKETCAN at tcpdump.org and the bits those
// of linux/can.h.
func TestPacketsBecomeFramesOrAreRejectedWithAReason(t *testing.T) {
	const sixteen = 0
	for _, c := range []struct {
		name string
		data string
		size int // on the interface, or 0 if the packet is complete
		want decode.Frame
		why  reason
	}{
		{"eleven bits", "00000123 02 00 0000 1122 000000000000", sixteen, decode.Frame{ID: 0x123, Len: 2, Data: [64]byte{0x11, 0x22}}, accepted},
		{"the payload alone, as text2pcap is given it", "00000123 02 00 0000 1122", 0, decode.Frame{ID: 0x123, Len: 2, Data: [64]byte{0x11, 0x22}}, accepted},
		{"29 bits", "98FEF100 01 00 0000 07", 0, decode.Frame{ID: 0x18FEF100, Flags: decode.Extended, Len: 1, Data: [64]byte{7}}, accepted},
		{"29 bits that would fit 11", "80000123 00 00 0000", 0, decode.Frame{ID: 0x123, Flags: decode.Extended}, accepted},
		{"remote", "40000123 04 00 0000", 0, decode.Frame{ID: 0x123, Flags: decode.Remote, Len: 4}, accepted},
		{"error", "20000004 08 00 0000 0004000000000000", 0, decode.Frame{ID: 4, Flags: decode.Error, Len: 8, Data: [64]byte{1: 4}}, accepted},
		{"raw length code", "00000123 08 00 000E 0102030405060708", 0, decode.Frame{ID: 0x123, Len: 8, RawDLC: 14, Data: [64]byte{1, 2, 3, 4, 5, 6, 7, 8}}, accepted},
		{"length code of a shorter frame means nothing", "00000123 01 00 000E 01", 0, decode.Frame{ID: 0x123, Len: 1, Data: [64]byte{1}}, accepted},
		{"CAN FD", "00000123 0C 05 0000 0102030405060708090A0B0C", 0, decode.Frame{ID: 0x123, Len: 12, Flags: decode.FD | decode.BitRateSwitch, Data: [64]byte{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}}, accepted},
		{"CAN FD by its size", "00000123 02 02 0000 0102" + strings.Repeat("00", 62), 72, decode.Frame{ID: 0x123, Len: 2, Flags: decode.FD | decode.ErrorStateIndicator, Data: [64]byte{1, 2}}, accepted},
		{"flags of CAN FD without CAN FD", "00000123 02 03 0000 0102", 0, decode.Frame{ID: 0x123, Len: 2, Data: [64]byte{1, 2}}, accepted},
		{"padding cut off", "00000123 02 00 0000 1122", 16, decode.Frame{ID: 0x123, Len: 2, Data: [64]byte{0x11, 0x22}}, accepted},
		{"payload cut off", "00000123 02 00 0000 11", 16, decode.Frame{}, snapped},
		{"header cut off", "00000123 02", 16, decode.Frame{}, snapped},
		{"nothing", "", 0, decode.Frame{}, headerShort},
		{"half a header", "000001230200", 0, decode.Frame{}, headerShort},
		{"longer than the packet", "00000123 08 00 0000 1122", 0, decode.Frame{}, lengthBeyond},
		{"too long", "00000123 09 00 0000 0011223344556677", 0, decode.Frame{}, classicTooLong},
		{"remote too long", "40000123 09 00 0000 0011223344556677", 0, decode.Frame{}, remoteLength},
		{"no length of CAN FD", "00000123 0D 04 0000" + strings.Repeat("00", 64), 0, decode.Frame{}, fdLength},
		{"longer than CAN FD", "00000123 41 04 0000" + strings.Repeat("00", 65), 0, decode.Frame{}, fdLength},
		{"above eleven bits", "00000800 00 00 0000", 0, decode.Frame{}, idAbove11},
		{"remote CAN FD", "40000123 00 04 0000", 0, decode.Frame{}, fdRemote},
		{"remote error", "60000004 08 00 0000 0000000000000000", 0, decode.Frame{}, errorFrameKind},
		{"error of CAN FD", "20000004 08 04 0000 0000000000000000", 0, decode.Frame{}, errorFrameKind},
		{"CAN XL", "00450123 81 00 0700 78563412 11223344556677", 0, decode.Frame{}, canXL},
	} {
		data := unhex(t, c.data)
		size := max(c.size, len(data))
		w := newPcap(binary.LittleEndian, 0xA1B2C3D4, 227).packet(1735270496, 5, data, size)
		got, info, err := readAll(t, w)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if c.why != accepted {
			want := []decode.Remark{{Code: decode.RemarkRejectedLines, Count: 1, Line: 1, Text: "1 packet was rejected: " + c.why.String() + ": 1",
				Places: []decode.Place{{Line: 1, Why: c.why.String()}}}}
			if diff := cmp.Diff(want, info.Remarks); diff != "" || len(got) > 0 {
				t.Errorf("%s: %d frames; remarks (-want +got):\n%s", c.name, len(got), diff)
			}
			continue
		}
		c.want.Time, c.want.Line, c.want.Bus = 1735270496000005000, 1, "can0"
		if diff := cmp.Diff([]decode.Frame{c.want}, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// one is a good record.
var one = []byte{0, 0, 1, 0x23, 1, 0, 0, 0, 0x55, 0, 0, 0, 0, 0, 0, 0}

// got is the part of a frame that the tests of blocks check.
type got struct {
	Line int64
	Time int64
	Bus  string
}

func outline(list []decode.Frame) []got {
	var short []got
	for i := range list {
		short = append(short, got{list[i].Line, list[i].Time, list[i].Bus})
	}
	return short
}

func TestInterfacesDetermineTheNameAndTheTimeResolution(t *testing.T) {
	for name, order := range orders {
		offset := make([]byte, 8)
		order.PutUint64(offset, 1_700_000_000)
		back := make([]byte, 8)
		order.PutUint64(back, ^uint64(0)) // one second back
		w := newNg(order).
			iface(227).
			iface(227, named("vehicle bus#1")).
			iface(227, named("can7"), unit(9)).
			iface(227, named("can7"), unit(3), option{14, offset}).
			iface(227, unit(0x80|20)). // 2^-20 s
			iface(227, unit(0x80|32)). // 2^-32 s
			iface(227, unit(12)).      // 10^-12 s
			iface(227, option{14, back}, option{1, []byte("a comment")}, unit(6)).
			iface(227, named(strings.Repeat("long", 50))).
			iface(227, unit(0)).iface(227, unit(20)).iface(227, unit(0x80|64)).
			iface(227, unit(0x80|63), named("\xFF\x00can")).
			iface(227, unit(19), named("fine")) // 10^-19 s, of which a second has more than an int64 holds
		const second = 1_700_000_000
		w.enhanced(0, second*1e6+1, one, 16).
			enhanced(1, second*1e6+2, one, 16, option{1, []byte("a comment")}).
			enhanced(2, second*1e9+3, one, 16).
			enhanced(3, 4, one, 16).
			enhanced(4, second<<20|1<<19, one, 16).
			enhanced(5, second<<32|(1<<32-1), one, 16).
			enhanced(6, 1_000_000_000_000_007_999, one, 16). // 10^6 s
			enhanced(7, second*1e6, one, 16).
			enhanced(8, second*1e6, one, 16).
			enhanced(9, second, one, 16).enhanced(10, second, one, 16).enhanced(11, second, one, 16).
			enhanced(12, 1<<63, one, 16).
			enhanced(0, 1<<63, one, 16).
			enhanced(13, 9_900_000_000_000_000_000, one, 16)
		list, info, err := readAll(t, w)
		if err != nil {
			t.Fatal(err)
		}
		want := []got{
			{1, second*1e9 + 1000, "can0"},
			{2, second*1e9 + 2000, "vehicle_bus_1"},
			{3, second*1e9 + 3, "can7"},
			{4, second*1e9 + 4e6, "can7"},
			{5, second*1e9 + 5e8, "can4"},
			{6, second*1e9 + 999_999_999, "can5"},
			{7, 1e15 + 7, "can6"},
			{8, (second - 1) * 1e9, "can7"},
			{9, second * 1e9, strings.Repeat("long", 16)},
			{10, second * 1e9, "can9"}, // a unit of whole seconds
			{13, 1e9, "__can"},
			{15, 990e6, "fine"},
		}
		if diff := cmp.Diff(want, outline(list)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
		wantInfo := decode.Info{Bytes: info.Bytes, Lines: 15, Accepted: 12, Rejected: 3, Stamps: decode.StampsAbsolute, StampDigits: 9,
			Interfaces: []string{"can0", "vehicle_bus_1", "can7", "can4", "can5", "can6", strings.Repeat("long", 16), "can9", "__can", "fine"},
			Remarks: []decode.Remark{{Code: decode.RemarkRejectedLines, Count: 3, Line: 11,
				Text:   "3 packets were rejected: " + timeUnit.String() + ": 2; " + timeRange.String() + ": 1",
				Places: []decode.Place{{Line: 11, Why: timeUnit.String()}, {Line: 12, Why: timeUnit.String()}, {Line: 14, Why: timeRange.String()}}}}}
		if diff := cmp.Diff(wantInfo, info); diff != "" {
			t.Errorf("%s: info (-want +got):\n%s", name, diff)
		}
	}
}

func TestBlocksOfOtherKindsAndInterfacesArePassedOver(t *testing.T) {
	w := newNg(binary.LittleEndian).
		block(0x0BAD, []byte("unknown")).
		iface(1, named("eth0")).
		iface(227, named("can0"), option{1, []byte("x")}, option{13, make([]byte, 3)}).
		block(4, unhexBytes("0000 0000")).             // names
		block(10, []byte("SLKT\x04\x00\x00\x00keys")). // keys
		block(0x80000001, make([]byte, 1<<20))         // something long
	w.enhanced(0, 1e15, make([]byte, 60), 60).
		enhanced(1, 1.7e15, one, 16).
		block(3, append([]byte{16, 0, 0, 0}, one...)). // simple, of interface 0
		enhanced(0, 1e15, make([]byte, 700<<10), 700<<10)
	obsolete := w.body().u16(1, 0).u32(uint32(uint64(1.7e15)>>32), uint32(uint64(1.7e15)&0xFFFFFFFF), 16, 16)
	obsolete.Write(one)
	w.block(2, obsolete.Bytes()).
		enhanced(7, 1e15, one, 16).
		enhanced(1, 1.7e15, make([]byte, 700<<10), 700<<10)
	drops := w.body().u32(1, 0, 0)
	count := make([]byte, 8)
	w.order.PutUint64(count, 12)
	w.block(5, drops.options([]option{{4, make([]byte, 8)}, {5, count}}).Bytes()).
		block(5, w.body().u32(0, 0, 0).options([]option{{5, count}}).Bytes()) // eth0's
	// The next section numbers its interfaces from 0 again, in the other byte order.
	w.order = binary.BigEndian
	w.section(option{2, []byte("hardware")}, option{4, []byte("application")}).
		block(3, append([]byte{0, 0, 0, 16}, one...)). // no interface yet
		iface(227, named("body")).
		enhanced(0, 1.7e15+1, one, 16).
		enhanced(1, 1.7e15+1, one, 16).
		block(3, append([]byte{0, 0, 0, 16}, one...))
	w.order.PutUint64(count, 30)
	w.block(5, w.body().u32(0, 0, 0).options([]option{{5, count}}).Bytes()).enhanced(0, 1.7e15+2, one, 16)

	list, info, err := readAll(t, bytes.NewReader(w.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]got{{2, 1.7e18, "can0"}, {5, 1.7e18, "can0"}, {9, 1.7e18 + 1000, "body"}, {12, 1.7e18 + 2000, "body"}}, outline(list)); diff != "" {
		t.Errorf("frames (-want +got):\n%s", diff)
	}
	place := func(line int64, why reason) decode.Place { return decode.Place{Line: line, Why: why.String()} }
	want := decode.Info{Bytes: int64(w.Len()), Lines: 12, Accepted: 4, Rejected: 5, Remarked: 3, Stamps: decode.StampsAbsolute, StampDigits: 6,
		Interfaces: []string{"can0", "body"}, Remarks: []decode.Remark{
			{Code: decode.RemarkRejectedLines, Count: 5, Line: 6,
				Text:   "5 packets were rejected: " + noInterface.String() + ": 3; " + packetTooLong.String() + ": 1; " + noTime.String() + ": 1",
				Places: []decode.Place{place(6, noInterface), place(7, packetTooLong), place(8, noInterface), place(10, noInterface), place(11, noTime)}},
			{Code: decode.RemarkFramesDropped, Count: 42, Text: "42 frames were lost while recording, according to the capture's own statistics"},
			{Code: decode.RemarkOtherPackets, Count: 3, Line: 1, Text: "3 packets of other interfaces than CAN were skipped"},
		}}
	if diff := cmp.Diff(want, info); diff != "" {
		t.Errorf("info (-want +got):\n%s", diff)
	}
	again, infoAgain, err := readAll(t, iotest.OneByteReader(bytes.NewReader(w.Bytes())))
	if diff := cmp.Diff(list, again) + cmp.Diff(info, infoAgain); diff != "" || err != nil {
		t.Errorf("byte by byte: %v\n%s", err, diff)
	}
}

func unhexBytes(text string) []byte {
	b, _ := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	return b
}

func TestCapturesOfOtherThingsAreRefusedWithAdvice(t *testing.T) {
	const hint = "; capture the CAN interface itself, for instance: dumpcap -i can0 -w drive.pcapng"
	const format = "; give a pcap or pcapng file, or a log written by candump -l"
	order := binary.LittleEndian
	pcap := func(link uint32) []byte { return newPcap(order, 0xA1B2C3D4, link).packet(1, 1, one, 16).Bytes() }
	ng := func(links ...uint16) []byte {
		w := newNg(order)
		for i, link := range links {
			w.iface(link).enhanced(uint32(i), 1e15, one, 16)
		}
		return w.Bytes()
	}
	version := newPcap(order, 0xA1B2C3D4, 227)
	order.PutUint16(version.Bytes()[6:], 3)
	ngVersion := newNg(order)
	order.PutUint16(ngVersion.Bytes()[12:], 2)
	short := newNg(order)
	order.PutUint32(short.Bytes()[4:], 24)
	for _, c := range []struct {
		name string
		data []byte
		want string
		is   error
	}{
		{"cooked", pcap(113), `a Linux cooked capture (link type 113), which is what capturing on "any" gives` + hint, ErrLinkType},
		{"cooked, second version", pcap(276), `a Linux cooked capture (link type 276), which is what capturing on "any" gives` + hint, ErrLinkType},
		{"cooked pcapng", ng(276, 113), `a Linux cooked capture (link type 276), which is what capturing on "any" gives` + hint, ErrLinkType},
		{"Ethernet", pcap(1), "a capture of link type 1 (Ethernet), which does not contain CAN frames of Linux (link type 227)" + hint, ErrLinkType},
		{"something", ng(147), "a capture of link type 147, which does not contain CAN frames of Linux (link type 227)" + hint, ErrLinkType},
		{"export", ng(252), "an export of Wireshark (link type 252), not the captured packets; give the log or capture that it was made from", ErrLinkType},
		{"text", []byte(log), "neither a pcap nor a pcapng capture" + format, ErrFormat},
		{"nothing", nil, "neither a pcap nor a pcapng capture" + format, ErrFormat},
		{"a head alone", pcap(227)[:23], "the capture ends within its header" + format, ErrFormat},
		{"a section's head alone", ng(227)[:24], "the capture ends within its header" + format, ErrFormat},
		{"old", version.Bytes(), "a pcap file in an old format; convert it: editcap -F pcapng OLD NEW", ErrFormat},
		{"modified", newPcap(order, 0xA1B2CD34, 227).Bytes(), "a pcap file in an old format; convert it: editcap -F pcapng OLD NEW", ErrFormat},
		{"new", ngVersion.Bytes(), "a capture of an unknown pcapng version" + format, ErrFormat},
		{"too short a section", short.Bytes(), "the capture's header is damaged: " + framing.String() + format, ErrFormat},
	} {
		list, info, err := readAll(t, bytes.NewReader(c.data))
		var typed *Error
		if len(list) > 0 || err == nil || err.Error() != c.want || !errors.Is(err, c.is) || !errors.As(err, &typed) {
			t.Errorf("%s: %d frames, error %v", c.name, len(list), err)
		}
		if info.Rejected > 0 {
			t.Errorf("%s: %+v", c.name, info)
		}
	}
	// An interface other than CAN without any packets: nothing was captured.
	if list, info, err := readAll(t, newNg(order).iface(227)); len(list) > 0 || err != nil || info.Lines != 0 || info.Remarks != nil {
		t.Errorf("empty capture: %d frames, %+v, error %v", len(list), info, err)
	}
}

func TestIsLooksAtTheContent(t *testing.T) {
	for text, want := range map[string]bool{
		"\xD4\xC3\xB2\xA1": true, "\xA1\xB2\xC3\xD4": true, "\x4D\x3C\xB2\xA1": true, "\xA1\xB2\x3C\x4D": true, "\xA1\xB2\xCD\x34": true,
		"\n\r\r\n\x1C\x00\x00\x00\x4D\x3C\x2B\x1A": true, "\n\r\r\n\x00\x00\x00\x1C\x1A\x2B\x3C\x4D": true,
		"\n\r\r\n\x00\x00\x00\x1C\x1A\x2B\x3C": false, "\n\r\r\n(1735270496.9": false, "\xD4\xC3\xB2": false, "": false, "(1735270496.916858) can0": false,
	} {
		if Is([]byte(text)) != want {
			t.Errorf("%q is a capture: %v", text, !want)
		}
	}
}

func TestDamagedCapturesAreReadUpToThere(t *testing.T) {
	order := binary.LittleEndian
	ng := func() *file { return newNg(order).iface(227).enhanced(0, 1.7e15, one, 16) }
	pcap := func() *file { return newPcap(order, 0xA1B2C3D4, 227).packet(1.7e9, 0, one, 16) }
	head := ng().Len()
	bad := func(w *file, at int, v uint32) []byte {
		order.PutUint32(w.Bytes()[at:], v)
		return w.Bytes()
	}
	version := ng().section()
	order.PutUint16(version.Bytes()[head+12:], 3)
	magic := bad(ng().section(), head+8, 7)
	for _, c := range []struct {
		name string
		data []byte
		why  reason
	}{
		{"cut packet", pcap().packet(1.7e9, 1, one, 16).Bytes()[:24+32+20], cutShort},
		{"cut record header", pcap().packet(1.7e9, 1, one, 16).Bytes()[:24+32+1], cutShort},
		{"a length of 4 GB", bad(pcap().packet(1.7e9, 1, one, 16), 24+32+8, 1<<32-1), framing},
		{"cut block", ng().enhanced(0, 1.7e15, one, 16).Bytes()[:head+47], cutShort},
		{"cut block header", ng().enhanced(0, 1.7e15, one, 16).Bytes()[:head+1], cutShort},
		{"a block of 4 GB", bad(ng().block(99, one), head+4, 1<<32-4), cutShort},
		{"a packet block of 4 GB", bad(ng().enhanced(0, 1.7e15, one, 16), head+4, 1<<32-4), cutShort},
		{"a section of 4 GB", bad(ng().section(), head+4, 1<<32-4), framing},
		{"an interface of 4 GB", bad(ng().iface(227), head+4, 1<<32-4), framing},
		{"statistics of 4 GB", bad(ng().block(5, make([]byte, 12)), head+4, 1<<32-4), cutShort},
		{"a length that is no multiple of four", bad(ng().block(99, one), head+4, 29), framing},
		{"a length below the least", bad(ng().block(99, one), head+4, 8), framing},
		{"two lengths", bad(ng().enhanced(0, 1.7e15, one, 16), head+44, 52), framing},
		{"two lengths of an unknown block", bad(ng().block(99, one), head+24, 32), framing},
		{"too short a packet block", ng().block(6, make([]byte, 8)).Bytes(), framing},
		{"too short an interface", ng().block(1, make([]byte, 4)).Bytes(), framing},
		{"too short a section", ng().block(0x0A0D0D0A, order.AppendUint32(nil, byteOrderMagic)).Bytes(), framing},
		{"a section without byte order", magic, framing},
		{"a section of another version", version.Bytes(), sectionVersion},
	} {
		list, info, err := readAll(t, bytes.NewReader(c.data))
		if err != nil || len(list) != 1 {
			t.Errorf("%s: %d frames, error %v", c.name, len(list), err)
			continue
		}
		text := "the capture ends within its last packet; everything before it was read"
		if c.why != cutShort {
			text = "the capture cannot be read from packet 2 on; everything before it was read"
		}
		want := decode.Info{Bytes: int64(len(c.data)), Lines: 2, Accepted: 1, Rejected: 1, Stamps: decode.StampsAbsolute, StampDigits: 6, Interfaces: []string{"can0"},
			Remarks: []decode.Remark{
				{Code: decode.RemarkRejectedLines, Count: 1, Line: 2, Text: "1 packet was rejected: " + c.why.String() + ": 1", Places: []decode.Place{{Line: 2, Why: c.why.String()}}},
				{Code: decode.RemarkCutShort, Count: 1, Line: 2, Text: text},
			}}
		if diff := cmp.Diff(want, info); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

func TestDamageWithinAPacketCostsOnlyThatPacket(t *testing.T) {
	order := binary.LittleEndian
	ng := newNg(order).iface(227).enhanced(0, 1.7e15, one, 16).enhanced(0, 1.7e15+1, one, 16).enhanced(0, 1.7e15+2, one, 16)
	second := ng.Len() - 2*48
	order.PutUint32(ng.Bytes()[second+20:], 17) // beyond the end of its block
	pcap := newPcap(order, 0xA1B2C3D4, 227).packet(1.7e9, 0, one, 16).packet(1.7e9, 1_000_000, one, 16).packet(1.7e9, 2, one, 15)
	for why, w := range map[reason]*file{beyondBlock: ng, timeFraction: pcap} {
		list, info, err := readAll(t, w)
		if diff := cmp.Diff([]got{{1, 1.7e18, "can0"}, {3, 1.7e18 + 2000, "can0"}}, outline(list)); diff != "" || err != nil {
			t.Errorf("%v: error %v; frames (-want +got):\n%s", why, err, diff)
		}
		if len(info.Remarks) != 1 || info.Remarks[0].Text != "1 packet was rejected: "+why.String()+": 1" {
			t.Errorf("%v: %+v", why, info.Remarks)
		}
	}
}

func TestOptionsThatAreBrokenAreLeftOut(t *testing.T) {
	w := newNg(binary.LittleEndian)
	options := append(w.body().options([]option{{1, []byte("four")}, {2, []byte("can5")}}).Bytes()[:16], 9, 0, 255, 255) // extends beyond the end of its block
	w.block(1, append(w.body().u16(227, 0).u32(0).Bytes(), options...)).
		iface(227, option{2, bytes.Repeat([]byte("x"), 300)}, unit(9)).
		iface(227, option{9, nil}).
		enhanced(0, 1.7e15, one, 16, option{2, make([]byte, 4)}).enhanced(1, 1.7e18, one, 16).enhanced(2, 1.7e15, one, 16).
		block(5, make([]byte, 8)).
		block(5, w.body().u32(9, 0, 0).Bytes()).
		block(5, w.body().u32(0, 0, 0).options([]option{{5, []byte("few")}}).Bytes()).
		enhanced(0, 1.7e15, one, 16)
	list, info, err := readAll(t, w)
	if diff := cmp.Diff([]got{{1, 1.7e18, "can5"}, {2, 1.7e18, "can1"}, {3, 1.7e18, "can2"}, {4, 1.7e18, "can5"}}, outline(list)); diff != "" || err != nil || info.Remarks != nil {
		t.Errorf("error %v, remarks %+v; frames (-want +got):\n%s", err, info.Remarks, diff)
	}
}

func TestSmallStampsAreZeroBased(t *testing.T) {
	w := newPcap(binary.LittleEndian, 0xA1B2C3D4, 227).packet(0, 0, one[:3], 3).packet(0, 10, one, 16).packet(1, 0, one, 16)
	list, info, err := readAll(t, w)
	if err != nil || len(list) != 2 || list[1].Time != 1e9 || info.Stamps != decode.StampsZero {
		t.Fatalf("%+v, %+v, error %v", list, info, err)
	}
	want := decode.Remark{Code: decode.RemarkStampsReadAs, Count: 1, Line: 2, Text: "the time stamps begin before the year 2001, so they are taken as seconds since the start of the log"}
	if diff := cmp.Diff(want, info.Remarks[1]); diff != "" {
		t.Errorf("remark (-want +got):\n%s", diff)
	}
}

func TestAFaultOfTheInputIsReported(t *testing.T) {
	order := binary.LittleEndian
	whole := newNg(order).iface(227).enhanced(0, 1.7e15, one, 16).enhanced(0, 1.7e15, one, 16).Bytes()
	for _, c := range []struct{ cut, accepted, rejected int }{{len(whole), 2, 0}, {len(whole) - 1, 1, 1}, {len(whole) - 47, 1, 1}, {len(whole) - 48, 1, 0}, {20, 0, 0}, {0, 0, 0}} {
		list, info, err := readAll(t, io.MultiReader(bytes.NewReader(whole[:c.cut]), iotest.ErrReader(syscall.EIO)))
		if !errors.Is(err, syscall.EIO) || len(list) != c.accepted || info.Rejected != int64(c.rejected) {
			t.Errorf("fault at %d of %d: %d frames, %+v, error %v", c.cut, len(whole), len(list), info, err)
		}
	}
	// After damage the rest is read and discarded, and a fault in it is reported, too.
	damaged := append(bytes.Clone(whole), make([]byte, 12)...)
	if list, info, err := readAll(t, io.MultiReader(bytes.NewReader(damaged), iotest.ErrReader(syscall.EIO))); !errors.Is(err, syscall.EIO) || len(list) != 2 || info.Rejected != 1 {
		t.Errorf("%d frames, %+v, error %v", len(list), info, err)
	}
}
