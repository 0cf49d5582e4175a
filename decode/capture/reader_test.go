package capture

import (
	"bytes"
	"encoding/binary"
	"io"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
	"lull/decode/candump"
)

// readAll reads a capture to its end and checks that every packet is counted once.
func readAll(t testing.TB, in io.Reader) ([]decode.Frame, decode.Info, error) {
	t.Helper()
	r, err := NewReader(in)
	if err != nil {
		return nil, decode.Info{}, err
	}
	var frames []decode.Frame
	for r.Scan() {
		frames = append(frames, *r.Frame())
		if info := r.Info(); info.Accepted != int64(len(frames)) || info.Accepted+info.Rejected+info.Remarked != info.Lines {
			t.Fatalf("after %d frames the counts are %+v", len(frames), info)
		}
	}
	if r.Scan() || r.Frame() != nil {
		t.Error("a frame behind the end")
	}
	info := r.Info()
	if info.Accepted != int64(len(frames)) || info.Accepted+info.Rejected+info.Remarked != info.Lines || info.Blank+info.Comments != 0 {
		t.Errorf("%d frames; counts %+v", len(frames), info)
	}
	return frames, info, r.Err()
}

// log contains every kind of frame that a capture can contain, in log form.
const log = `(1735270496.916858) can0 110#00112233
(1735270496.917000) can1 12345678#1122334455667788
(1735270497.000001) can0 104#R4
(1735270497.000002) can0 12345678#R
(1735270497.100001) can0 120##500112233445566778899AABB
(1735270497.100002) can0 120##7
(1735270497.100003) can1 1FFFFFFF##6000102030405060708090A0B0C0D0E0F101112131415161718191A1B1C1D1E1F202122232425262728292A2B2C2D2E2F303132333435363738393A3B3C3D3E3F
(1735270497.200001) can0 20000004#0004000000000000
(1735270497.300001) can0 123#
(1735270497.300002) can0 123#1122334455667788_E
(1735270497.300003) can0 7FF#R8_9
`

// frames reads a text log.
func frames(t testing.TB, text string) []decode.Frame {
	t.Helper()
	r := candump.NewReader(bytes.NewReader([]byte(text)), candump.Options{})
	var list []decode.Frame
	for r.Scan() {
		list = append(list, *r.Frame())
	}
	if info := r.Info(); r.Err() != nil || info.Rejected > 0 {
		t.Fatalf("%v, %+v", r.Err(), info)
	}
	return list
}

var orders = map[string]binary.ByteOrder{"little-endian": binary.LittleEndian, "big-endian": binary.BigEndian}

func TestALogWrittenAsACaptureGivesTheSameFrames(t *testing.T) {
	want := frames(t, log)
	one := frames(t, log)
	for i := range one {
		one[i].Bus = "can0"
	}
	for name, order := range orders {
		micro, nano, ng := newPcap(order, 0xA1B2C3D4, 227), newPcap(order, 0xA1B23C4D, 227|0x14000000), newNg(order)
		ng.iface(227, named("can0")).iface(227)
		for i := range want {
			f := &want[i]
			data := record(f)
			micro.packet(uint32(f.Time/1e9), uint32(f.Time%1e9/1e3), data, len(data))
			nano.packet(uint32(f.Time/1e9), uint32(f.Time%1e9), data, len(data))
			ng.enhanced(uint32(f.Bus[3]-'0'), uint64(f.Time/1e3), data, len(data))
		}
		for _, c := range []struct {
			form   string
			file   *file
			want   []decode.Frame
			digits int
			buses  []string
		}{
			{"pcap", micro, one, 6, []string{"can0"}},
			{"pcap of nanoseconds", nano, one, 9, []string{"can0"}},
			{"pcapng", ng, want, 6, []string{"can0", "can1"}},
		} {
			got, info, err := readAll(t, bytes.NewReader(c.file.Bytes()))
			if err != nil {
				t.Errorf("%s %s: %v", name, c.form, err)
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("%s %s (-want +got):\n%s", name, c.form, diff)
			}
			wantInfo := decode.Info{Bytes: int64(c.file.Len()), Lines: 11, Accepted: 11, ErrorFrames: 1, RemoteFrames: 3,
				Stamps: decode.StampsAbsolute, StampDigits: c.digits, Interfaces: c.buses}
			if diff := cmp.Diff(wantInfo, info); diff != "" {
				t.Errorf("%s %s: info (-want +got):\n%s", name, c.form, diff)
			}
			if !Is(c.file.Bytes()[:HeadSize]) {
				t.Errorf("%s %s is not recognised", name, c.form)
			}
		}
	}
}
