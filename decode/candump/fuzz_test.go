package candump

import (
	"bytes"
	"encoding/binary"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// FuzzReader checks that no input makes the reader panic or miscount, that the result does not
// depend on the pieces in which the input arrives, and that every frame returned is one that a
// bus can carry.
func FuzzReader(f *testing.F) {
	for _, c := range goodLines {
		f.Add([]byte(c.line+"\n"+c.line), uint8(0))
	}
	for _, c := range badLines {
		f.Add([]byte(c.line), uint8(4))
	}
	f.Add([]byte("(1.000000) can0 123#11\n(0.500000) can0 123#1\n(0.400000) can0 123#11\n"), uint8(0))
	f.Add([]byte("  can0  123   [1]  11\n(1.000000) can0 123#11\n"), uint8(3))
	f.Fuzz(func(t *testing.T, log []byte, stamps uint8) {
		o := Options{Stamps: decode.Stamps(stamps % 6)}
		frames, info, err := readAll(t, bytes.NewReader(log), o)
		if err != nil {
			t.Fatal(err)
		}
		if info.Bytes != int64(len(log)) {
			t.Errorf("%d bytes counted of %d", info.Bytes, len(log))
		}
		for i := range frames {
			checkFrame(t, &frames[i])
		}
		for _, m := range info.Remarks {
			for k, p := range m.Places {
				if p.Line < 1 || p.Line > info.Lines || p.Column < 1 || p.Column > int64(len(log))+1 || k > 0 && p.Line <= m.Places[k-1].Line {
					t.Errorf("place %+v of %d lines", p, info.Lines)
				}
			}
		}
		again, infoAgain, _ := readAll(t, iotest.OneByteReader(bytes.NewReader(log)), o)
		if diff := cmp.Diff(frames, again) + cmp.Diff(info, infoAgain); diff != "" {
			t.Errorf("byte by byte the result is another:\n%s", diff)
		}
	})
}

func checkFrame(t *testing.T, f *decode.Frame) {
	most := uint32(0x7FF)
	if f.Flags&(decode.Extended|decode.Error) != 0 {
		most = idMask
	}
	lengthFits := f.Len <= 8 && !f.Flags.Has(decode.FD) || f.Flags.Has(decode.FD) && fdLengths[f.Len]
	if f.ID > most || !lengthFits || f.Time < 0 || f.Bus == "" || f.RawDLC != 0 && f.Len != 8 {
		t.Errorf("no frame of a bus: %+v", *f)
	}
	for _, b := range f.Data[len(f.Payload()):] {
		if b != 0 {
			t.Errorf("bytes behind the payload: %+v", *f)
			break
		}
	}
}

// FuzzRoundTrip checks that every frame that the reader accepts in log form is read back as the
// same frame after AppendFrame has written it.
func FuzzRoundTrip(f *testing.F) {
	for _, c := range goodLines {
		f.Add([]byte(c.line))
	}
	f.Add(binary.BigEndian.AppendUint64(nil, 5))
	f.Fuzz(func(t *testing.T, line []byte) {
		frames, _, _ := readAll(t, bytes.NewReader(line), Options{Stamps: decode.StampsAbsolute})
		var log []byte
		for i := range frames {
			frames[i].Line = int64(i + 1)
			log = AppendFrame(log, &frames[i])
		}
		again, info, err := readAll(t, bytes.NewReader(log), Options{})
		if diff := cmp.Diff(frames, again); diff != "" || err != nil {
			t.Errorf("error %v, remarks %+v (-first +again):\n%s", err, info.Remarks, diff)
		}
	})
}
