package live

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/decode"
	"lull/decode/candump"
)

// frames draws any frame that a log can contain.
var frames = rapid.Custom(func(t *rapid.T) decode.Frame {
	f := decode.Frame{Time: rapid.Int64Range(0, 1<<62).Draw(t, "time"), Bus: rapid.StringMatching(`[a-z]{1,12}[0-9]`).Draw(t, "bus")}
	kind := rapid.SampledFrom([]decode.Flags{0, decode.Remote, decode.FD, decode.Error}).Draw(t, "kind")
	f.Flags = kind
	f.ID = rapid.Uint32Range(0, 0x7FF).Draw(t, "id")
	if kind == decode.Error || rapid.Bool().Draw(t, "long") {
		f.ID = rapid.Uint32Range(0, 0x1FFFFFFF).Draw(t, "id")
		if kind != decode.Error {
			f.Flags |= decode.Extended
		}
	}
	f.Len = rapid.Uint8Range(0, 8).Draw(t, "length")
	if kind == decode.FD {
		f.Len = rapid.SampledFrom([]uint8{0, 1, 7, 8, 12, 16, 20, 24, 32, 48, 64}).Draw(t, "length")
		if rapid.Bool().Draw(t, "fast") {
			f.Flags |= decode.BitRateSwitch
		}
		if rapid.Bool().Draw(t, "passive") {
			f.Flags |= decode.ErrorStateIndicator
		}
	} else if f.Len == 8 && kind != decode.Error {
		f.RawDLC = rapid.SampledFrom([]uint8{0, 9, 15}).Draw(t, "code")
	}
	f.Flags |= rapid.SampledFrom([]decode.Flags{0, decode.Received, decode.Transmitted}).Draw(t, "direction")
	if kind != decode.Remote {
		for i := range f.Data[:f.Len] {
			f.Data[i] = rapid.Byte().Draw(t, "byte")
		}
	}
	return f
})

func readAll(r io.Reader) (got []decode.Frame, err error) {
	s := newStream(io.NopCloser(r))
	batch := make([]decode.Frame, 7)
	for {
		n, _, err := s.read(batch)
		got = append(got, batch[:n]...)
		if err != nil {
			return got, err
		}
	}
}

// All frames of a log come out of the stream unchanged, whatever the pieces in which it
// arrives, and equal those that a reader of the log returns.
func TestNothingOfALogIsLostInTheStream(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(frames, 0, 30).Draw(t, "frames")
		var out bytes.Buffer
		w := NewWriter(&out)
		var log []byte
		for i := range list {
			if err := w.Frame(&list[i]); err != nil {
				t.Fatal(err)
			}
			log = candump.AppendFrame(log, &list[i])
		}
		if err := w.End(); err != nil {
			t.Fatal(err)
		}
		var r io.Reader = &out
		if rapid.Bool().Draw(t, "one byte at a time") {
			r = iotest.OneByteReader(r)
		}
		got, err := readAll(r)
		if !errors.Is(err, errEnded) {
			t.Fatalf("the stream ends with %v", err)
		}
		if diff := cmp.Diff(list, got, cmp.Transformer("none", func(l []decode.Frame) []decode.Frame { return append([]decode.Frame{}, l...) })); diff != "" && len(list) > 0 {
			t.Fatal(diff)
		}
		reader := candump.NewReader(bytes.NewReader(log), candump.Options{})
		for i := 0; reader.Scan(); i++ {
			f := *reader.Frame()
			f.Line = 0
			if diff := cmp.Diff(got[i], f); diff != "" {
				t.Fatalf("frame %d of the stream and of the log:\n%s", i, diff)
			}
		}
	})
}

// Whoever plays a log waits between its frames: those that have come are given meanwhile.
func TestAFrameIsGivenBeforeTheNextOneComes(t *testing.T) {
	in, out := io.Pipe()
	defer out.Close()
	w := NewWriter(out)
	s := newStream(in)
	type given struct {
		n   int
		err error
	}
	for id := range uint32(3) {
		got := make(chan given, 1)
		batch := make([]decode.Frame, 7)
		go func() {
			n, _, err := s.read(batch)
			got <- given{n, err}
		}()
		if err := errors.Join(w.Frame(&decode.Frame{Bus: "can0", ID: id, Len: 8}), w.Flush()); err != nil {
			t.Fatal(err)
		}
		select {
		case g := <-got:
			if g.n != 1 || g.err != nil || batch[0].ID != id {
				t.Fatalf("frame %d: %d frames, %v, the first %X", id, g.n, g.err, batch[0].ID)
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("frame %d is held back", id)
		}
	}
}

func TestAStreamThatBreaksOffHasNotEnded(t *testing.T) {
	var out bytes.Buffer
	w := NewWriter(&out)
	if err := w.Frame(&decode.Frame{Bus: "can0", ID: 1, Len: 2}); err != nil {
		t.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	whole := out.Bytes()
	for cut := range len(whole) + 1 {
		got, err := readAll(bytes.NewReader(whole[:cut]))
		if !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Fatalf("cut after %d bytes: %v", cut, err)
		}
		if want := cut / len(whole); len(got) != want {
			t.Fatalf("cut after %d bytes: %d frames", cut, len(got))
		}
	}
}

func TestOtherDataIsReportedAsNoStream(t *testing.T) {
	frame := func(change func(b []byte)) []byte {
		var out bytes.Buffer
		w := NewWriter(&out)
		if err := errors.Join(w.Frame(&decode.Frame{Bus: "can0", ID: 1, Len: 2}), w.Flush()); err != nil {
			t.Fatal(err)
		}
		change(out.Bytes()[len(streamMagic):])
		return out.Bytes()
	}
	for name, input := range map[string][]byte{
		"another protocol":  []byte("HTTP/1.1 400 Bad Request\r\n"),
		"an unknown item":   frame(func(b []byte) { b[0] = 'X' }),
		"an id of 12 bits":  frame(func(b []byte) { b[headSize+4+1] = 0x08 }),
		"nine bytes":        frame(func(b []byte) { b[headSize+4+4] = 9 }),
		"a remote FD frame": frame(func(b []byte) { b[headSize+4+5] = fdFlag; b[headSize+4+3] = 0x40 }),
	} {
		if got, err := readAll(bytes.NewReader(input)); !errors.Is(err, errNoStream) || len(got) != 0 {
			t.Errorf("%s: %d frames, %v", name, len(got), err)
		}
	}
}

func TestNamesAreThoseThatALogCanContain(t *testing.T) {
	for name, want := range map[string]string{"": "_", "can 0": "can_0", "a#b\x00\x7f": "a_b__", "vcan0": "vcan0"} {
		if got := busName(name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// Any bytes give frames that a log can contain, or an error.
func FuzzStream(f *testing.F) {
	var out bytes.Buffer
	w := NewWriter(&out)
	w.Frame(&decode.Frame{Bus: "can0", ID: 0x1A0, Len: 8, Time: 5})
	w.Frame(&decode.Frame{Bus: "can1", ID: 0x18FEF100, Flags: decode.Extended | decode.FD, Len: 12})
	w.End()
	f.Add(out.Bytes())
	f.Add([]byte(streamMagic))
	f.Fuzz(func(t *testing.T, input []byte) {
		got, err := readAll(bytes.NewReader(input))
		if err == nil {
			t.Fatal("the stream has no end")
		}
		for i := range got {
			line := candump.AppendFrame(nil, &got[i])
			r := candump.NewReader(bytes.NewReader(line), candump.Options{})
			if !r.Scan() {
				t.Fatalf("not a line of a log: %q, %+v", line, r.Info().Remarks)
			}
			back := *r.Frame()
			back.Line = 0
			if diff := cmp.Diff(got[i], back); diff != "" {
				t.Fatalf("%q:\n%s", line, diff)
			}
		}
	})
}
