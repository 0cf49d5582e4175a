package capture

import (
	"bytes"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"

	"lull/decode"
)

// What the general library of packet captures wrote, pcap with either resolution and pcapng of
// several interfaces, is read as it was meant: every frame with its time, interface and bytes.
func TestWhatTheLibraryWritesIsReadFrameByFrame(t *testing.T) {
	dice := rand.New(rand.NewPCG(1, 2))
	const link = layers.LinkType(linkSocketCAN)
	frame := func(i int, unit time.Duration, bus string) decode.Frame {
		f := decode.Frame{ID: dice.Uint32N(0x800), Len: uint8(dice.IntN(9)), Bus: bus, Line: int64(i + 1)}
		if dice.IntN(2) == 0 {
			f.ID, f.Flags = dice.Uint32N(1<<29), decode.Extended
		}
		for k := range f.Len {
			f.Data[k] = byte(dice.Uint32())
		}
		f.Time = (1_700_000_000*time.Second + time.Duration(i)*7*time.Millisecond + time.Duration(dice.IntN(1000))*unit).Nanoseconds()
		return f
	}
	read := func(t *testing.T, file []byte, want []decode.Frame) {
		t.Helper()
		r, err := NewReader(bytes.NewReader(file))
		if err != nil {
			t.Fatal(err)
		}
		var got []decode.Frame
		for r.Scan() {
			got = append(got, *r.Frame())
		}
		if diff := cmp.Diff(want, got); diff != "" || r.Err() != nil {
			t.Errorf("%v (-want +got):\n%s", r.Err(), diff)
		}
	}
	about := func(f *decode.Frame, data []byte, number int) gopacket.CaptureInfo {
		return gopacket.CaptureInfo{Timestamp: time.Unix(0, f.Time), CaptureLength: len(data), Length: len(data), InterfaceIndex: number}
	}
	for _, unit := range []time.Duration{time.Microsecond, time.Nanosecond} {
		t.Run("pcap in "+unit.String(), func(t *testing.T) {
			var b bytes.Buffer
			w := pcapgo.NewWriter(&b)
			if unit == time.Nanosecond {
				w = pcapgo.NewWriterNanos(&b)
			}
			if err := w.WriteFileHeader(mostPacket, link); err != nil {
				t.Fatal(err)
			}
			var want []decode.Frame
			for i := range 500 {
				f := frame(i, unit, "can0")
				data := AppendRecord(nil, &f)[:ClassicRecord]
				if err := w.WritePacket(about(&f, data, 0), data); err != nil {
					t.Fatal(err)
				}
				want = append(want, f)
			}
			read(t, b.Bytes(), want)
		})
	}
	t.Run("pcapng", func(t *testing.T) {
		var b bytes.Buffer
		names := []string{"can0", "can1", "vehicle"}
		var w *pcapgo.NgWriter
		for i, name := range names {
			face := pcapgo.NgInterface{Name: name, Comment: "a comment", LinkType: link, SnapLength: mostPacket, TimestampResolution: 9}
			var err error
			if i == 0 {
				w, err = pcapgo.NewNgWriterInterface(&b, face, pcapgo.DefaultNgWriterOptions)
			} else {
				_, err = w.AddInterface(face)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		var want []decode.Frame
		for i := range 500 {
			number := dice.IntN(len(names))
			f := frame(i, time.Nanosecond, names[number])
			data := AppendRecord(nil, &f)[:ClassicRecord]
			if err := w.WritePacket(about(&f, data, number), data); err != nil {
				t.Fatal(err)
			}
			want = append(want, f)
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		read(t, b.Bytes(), want)
	})
}
