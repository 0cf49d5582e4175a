package candump

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/decode"
)

// anyFrame draws a frame of any kind that a log can contain.
func anyFrame(t *rapid.T) decode.Frame {
	f := decode.Frame{
		Time: rapid.Int64Range(0, mostSeconds*1_000_000_000).Draw(t, "time"),
		Bus:  rapid.SampledFrom([]string{"can0", "can1", "vcan12", "slcan0", "a-b.c", "ünter"}).Draw(t, "bus"),
	}
	if rapid.Bool().Draw(t, "microseconds") {
		f.Time -= f.Time % 1000
	}
	kind := rapid.SampledFrom([]decode.Flags{0, extended, decode.Error, remote, remote | extended, fd, fd | extended, fd | brs, fd | esi | extended}).Draw(t, "kind")
	f.Flags = kind | rapid.SampledFrom([]decode.Flags{0, decode.Received, decode.Transmitted}).Draw(t, "direction")
	f.ID = rapid.Uint32Range(0, 0x7FF).Draw(t, "id")
	if kind&(extended|decode.Error) != 0 {
		f.ID = rapid.Uint32Range(0, idMask).Draw(t, "long id")
	}
	f.Len = rapid.Uint8Range(0, 8).Draw(t, "length")
	if kind.Has(fd) {
		f.Len = rapid.SampledFrom([]uint8{0, 1, 5, 8, 12, 16, 20, 24, 32, 48, 64}).Draw(t, "FD length")
	} else if f.Len == 8 {
		f.RawDLC = rapid.SampledFrom([]uint8{0, 9, 12, 15}).Draw(t, "code")
	}
	if !kind.Has(remote) {
		for i := range f.Len {
			f.Data[i] = rapid.Byte().Draw(t, "byte")
		}
	}
	return f
}

func TestAnyFrameReadsBackAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		want := rapid.SliceOfN(rapid.Custom(anyFrame), 1, 20).Draw(rt, "frames")
		var log []byte
		for i := range want {
			want[i].Line = int64(i + 1)
			log = AppendFrame(log, &want[i])
		}
		frames, info, err := readAll(t, bytes.NewReader(log), Options{})
		if err != nil || info.Rejected != 0 {
			rt.Fatalf("error %v, remarks %+v in\n%s", err, info.Remarks, log)
		}
		if diff := cmp.Diff(want, frames); diff != "" {
			rt.Fatalf("(-want +got):\n%s\nin\n%s", diff, log)
		}
	})
}

// consoleLine returns a frame as `candump -ta -x -8` prints it, with -a if quoted. It follows
// the print patterns of lib.c and candump.c and does not use the package.
func consoleLine(f *decode.Frame, quoted bool) string {
	var b strings.Builder
	fmt.Fprintf(&b, " (%010d.%09d)  %6s", f.Time/1_000_000_000, f.Time%1_000_000_000, f.Bus)
	if f.Flags&(decode.Received|decode.Transmitted) != 0 {
		direction, first, second := "RX", "-", "-"
		if f.Flags.Has(decode.Transmitted) {
			direction = "TX"
		}
		if f.Flags.Has(brs) {
			first = "B"
		}
		if f.Flags.Has(esi) {
			second = "E"
		}
		fmt.Fprintf(&b, "  %s %s %s", direction, first, second)
	}
	switch {
	case f.Flags.Has(decode.Error):
		fmt.Fprintf(&b, "  %08X", f.ID|0x20000000)
	case f.Flags.Has(extended):
		fmt.Fprintf(&b, "  %08X", f.ID)
	default:
		fmt.Fprintf(&b, "       %03X", f.ID)
	}
	switch {
	case f.Flags.Has(fd):
		fmt.Fprintf(&b, "  [%02d] ", f.Len)
	case f.RawDLC != 0:
		fmt.Fprintf(&b, "   {%X} ", f.RawDLC)
	default:
		fmt.Fprintf(&b, "   [%d] ", f.Len)
	}
	if f.Flags.Has(remote) {
		return b.String() + " remote request\n"
	}
	text := ""
	for _, c := range f.Data[:f.Len] {
		fmt.Fprintf(&b, " %02X", c)
		if c < ' ' || c > '~' {
			c = '.'
		}
		text += string(rune(c))
	}
	switch {
	case f.Flags.Has(decode.Error):
		b.WriteString("   ERRORFRAME")
	case quoted:
		b.WriteString(strings.Repeat("   ", max(0, 8-int(f.Len))) + "   '" + text + "'")
	}
	return b.String() + "\n"
}

func TestConsoleFormIsReadAsTheFrameThatWasPrinted(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		want := anyFrame(rt)
		want.Line = 1
		if want.Flags&(decode.Received|decode.Transmitted) == 0 {
			want.Flags &^= brs | esi // only the columns of -x show them
		}
		line := consoleLine(&want, rapid.Bool().Draw(rt, "quoted"))
		frames, info, err := readAll(t, strings.NewReader(line), Options{})
		if err != nil || info.Rejected != 0 {
			rt.Fatalf("error %v, remarks %+v in %q", err, info.Remarks, line)
		}
		if diff := cmp.Diff([]decode.Frame{want}, frames); diff != "" {
			rt.Fatalf("%q (-want +got):\n%s", line, diff)
		}
	})
}

// damagedLog draws good and bad lines of every kind.
func damagedLog(t *rapid.T) string {
	line := rapid.Custom(func(t *rapid.T) string {
		f := anyFrame(t)
		switch rapid.IntRange(0, 9).Draw(t, "what") {
		case 0:
			return rapid.SampledFrom([]string{"\n", "# x\n", "\tbus-off\n", "DROPCOUNT: dropped 2 CAN frames\n", "  \r\n"}).Draw(t, "other")
		case 1:
			return rapid.StringN(0, 30, 60).Draw(t, "garbage") + "\n"
		case 2:
			text := AppendFrame(nil, &f)
			return string(text[:rapid.IntRange(0, len(text)).Draw(t, "cut")])
		case 3:
			return consoleLine(&f, true)
		case 4:
			text := AppendFrame(nil, &f)
			text[rapid.IntRange(0, len(text)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "damage")
			return string(text)
		case 5:
			return strings.Repeat("x", rapid.SampledFrom([]int{mostLine, mostLine + 1, bufferSize, bufferSize + 1}).Draw(t, "long")) + "\n"
		case 6, 7:
			return fmt.Sprintf("(%d.%06d) can0 123#11\n", rapid.IntRange(0, 50).Draw(t, "s"), rapid.IntRange(0, 999999).Draw(t, "us"))
		}
		return string(AppendFrame(nil, &f))
	})
	return strings.Join(rapid.SliceOfN(line, 0, 30).Draw(t, "log"), "")
}

func TestResultsDoNotDependOnThePiecesOfTheInput(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		log := damagedLog(rt)
		o := Options{Stamps: rapid.SampledFrom([]decode.Stamps{decode.StampsUnknown, decode.StampsZero, decode.StampsDelta, decode.StampsAbsolute}).Draw(rt, "stamps")}
		frames, info, err := readAll(t, strings.NewReader(log), o)
		if err != nil {
			rt.Fatal(err)
		}
		size := rapid.SampledFrom([]int{2, 7, 100, 4096, bufferSize - 1}).Draw(rt, "size")
		for _, in := range []io.Reader{&pieces{text: log, size: size}, iotest.DataErrReader(strings.NewReader(log))} {
			again, infoAgain, err := readAll(t, in, o)
			if diff := cmp.Diff(frames, again); diff != "" || err != nil {
				rt.Fatalf("frames differ, error %v:\n%s", err, diff)
			}
			if diff := cmp.Diff(info, infoAgain); diff != "" {
				rt.Fatalf("info differs:\n%s", diff)
			}
		}
	})
}

// pieces is a reader that returns a text in pieces of one size.
type pieces struct {
	text string
	size int
}

func (p *pieces) Read(b []byte) (int, error) {
	if len(p.text) == 0 {
		return 0, io.EOF
	}
	n := copy(b[:min(p.size, len(b))], p.text)
	p.text = p.text[n:]
	return n, nil
}
