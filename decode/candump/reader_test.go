package candump

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

const good = "(1735270588.936508) can0 123#11\n"

func TestEveryLineIsCountedOnce(t *testing.T) {
	log := strings.Join([]string{
		"# a comment",
		"   # an indented one",
		"",
		" \t \r",
		"\x1b[0m",
		"(0000000001.000000) can0 123#11",
		"DROPCOUNT: dropped 5 CAN frames on 'can0' socket (total drops 5)",
		"(0000000002.000000) can1 123#R2",
		"DROPCOUNT: dropped 1 CAN frame on 'can0' socket (total drops 6)\r",
		"(0000000003.000000123) can0 20000004#0004000000000000",
		"\tcontroller-problem{rx-error-warning}",
		"        error-counter-tx-rx{{96}{0}}",
		"(0000000004.000000) can2 123#1122\r",
		"\tcontroller-problem{rx-error-warning}",
		"nonsense",
		"\r",
		"\x1b[33m# a coloured comment",
	}, "\n")
	frames, info, err := readAll(t, strings.NewReader(log), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var lines []int64
	for _, f := range frames {
		lines = append(lines, f.Line)
	}
	if diff := cmp.Diff([]int64{6, 8, 10, 13}, lines); diff != "" {
		t.Errorf("lines of the frames (-want +got):\n%s", diff)
	}
	want := decode.Info{
		Bytes: int64(len(log)), Lines: 17, Accepted: 4, Rejected: 2, Blank: 4, Comments: 5, Remarked: 2,
		ErrorFrames: 1, RemoteFrames: 1, Stamps: decode.StampsAbsolute, StampDigits: 9,
		Interfaces: []string{"can0", "can1", "can2"},
		Remarks: []decode.Remark{
			{Code: decode.RemarkRejectedLines, Count: 2, Line: 14,
				Text: "2 lines were rejected: not a line of a candump log: 2",
				Places: []decode.Place{
					{Line: 14, Column: 2, Why: notALine.String()},
					{Line: 15, Column: 1, Why: notALine.String()},
				}},
			{Code: decode.RemarkFramesDropped, Count: 6, Line: 7,
				Text: "6 frames were lost while recording, according to 2 lines of the log"},
		},
	}
	if diff := cmp.Diff(want, info); diff != "" {
		t.Errorf("info (-want +got):\n%s", diff)
	}
}

func TestReasonsAreListedMostCommonFirst(t *testing.T) {
	log := good + strings.Repeat("(1735270588.936508) can0 800#11\n", 3) + "(1735270588.936508) can0 123#1\n" +
		strings.Repeat("x\n", 12)
	_, info, _ := readAll(t, strings.NewReader(log), Options{})
	m, _ := remark(info, decode.RemarkRejectedLines)
	want := "16 lines were rejected: not a line of a candump log: 12; an identifier of three digits above 7FF: 3; an odd number of hexadecimal digits: 1"
	if m.Text != want {
		t.Errorf("text %q\nwant %q", m.Text, want)
	}
	if len(m.Places) != decode.MaxPlaces || m.Places[9].Line != 11 || m.Count != 16 || m.Line != 2 {
		t.Errorf("remark %+v", m)
	}
}

// Frames held back are judged after later lines were rejected, but the ten places are still the
// first ten of the file.
func TestPlacesAreInOrderOfLines(t *testing.T) {
	log := bare + strings.Repeat("x\n", 4) + strings.Repeat(bare, 3) + strings.Repeat("x\n", 8) + good
	_, info, _ := readAll(t, strings.NewReader(log), Options{})
	m, _ := remark(info, decode.RemarkRejectedLines)
	var lines []int64
	for _, p := range m.Places {
		lines = append(lines, p.Line)
	}
	if diff := cmp.Diff([]int64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, lines); diff != "" || m.Count != 16 {
		t.Errorf("count %d, lines (-want +got):\n%s", m.Count, diff)
	}
}

func TestALogThatEndsWithinALineIsCutShort(t *testing.T) {
	tests := []struct {
		name, last string
		cut        bool
		frames     int
		rejected   int64
	}{
		{"whole without newline", "(1735270588.936508) can0 123#1122", false, 2, 0},
		{"within the stamp", "(1735270588.93", true, 1, 1},
		{"within the payload", "(1735270588.936508) can0 123#112", true, 1, 1},
		{"within a drop count", "DROPCOUNT: dropped", true, 1, 1},
		{"a comment", "# the end", false, 1, 0},
		{"blanks", "   ", false, 1, 0},
		{"a bad line with its newline", "(1735270588.93\n", false, 1, 1},
		{"a long line", strings.Repeat("x", mostLine+1), true, 1, 1},
		{"a longer line", strings.Repeat("x", 3*bufferSize), true, 1, 1},
		{"a long line with its newline", strings.Repeat("x", mostLine+1) + "\n", false, 1, 1},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			frames, info, err := readAll(t, strings.NewReader(good+c.last), Options{})
			if err != nil || len(frames) != c.frames || info.Rejected != c.rejected {
				t.Errorf("error %v, %d frames, %d rejected", err, len(frames), info.Rejected)
			}
			m, cut := remark(info, decode.RemarkCutShort)
			if cut != c.cut || cut && (m.Line != 2 || m.Count != 1) {
				t.Errorf("cut short: %v %+v", cut, m)
			}
		})
	}
}

func TestLongLinesAreSkippedAndTheLineNumberStaysRight(t *testing.T) {
	pad := func(n int) string { return good[:len(good)-1] + strings.Repeat(" ", n-len(good)+1) + "\n" }
	for _, n := range []int{mostLine - 1, mostLine, mostLine + 1, bufferSize - 1, bufferSize, bufferSize + 1, 2 * bufferSize, 5*bufferSize + 7} {
		frames, info, err := readAll(t, strings.NewReader(pad(n)+good), Options{})
		if err != nil || info.Lines != 2 || info.Bytes != int64(n+1+len(good)) || frames[len(frames)-1].Line != 2 {
			t.Fatalf("%d bytes: error %v, info %+v", n, err, info)
		}
		if long := n > mostLine; (info.Rejected == 1) != long {
			t.Errorf("%d bytes: %d rejected", n, info.Rejected)
		} else if long {
			m, _ := remark(info, decode.RemarkRejectedLines)
			if diff := cmp.Diff([]decode.Place{{Line: 1, Column: mostLine + 1, Why: tooLong.String()}}, m.Places); diff != "" {
				t.Errorf("%d bytes (-want +got):\n%s", n, diff)
			}
		}
	}
}

func TestBinaryInputIsRejectedNotRead(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	b := make([]byte, 1<<20)
	for i := range b {
		b[i] = byte(random.Uint32())
	}
	frames, info, err := readAll(t, bytes.NewReader(b), Options{})
	if err != nil || len(frames) != 0 || info.Rejected == 0 {
		t.Errorf("error %v, %d frames, info %+v", err, len(frames), info)
	}
	frames, info, err = readAll(t, bytes.NewReader(make([]byte, 1<<20)), Options{})
	if err != nil || len(frames) != 0 || info.Rejected != 1 || info.Lines != 1 {
		t.Errorf("NULs: error %v, %d frames, info %+v", err, len(frames), info)
	}
}

func TestAFaultOfTheInputIsAnErrorAfterTheFramesBeforeIt(t *testing.T) {
	fault := errors.New("the disk is on fire")
	for _, c := range []struct {
		log      string
		frames   int
		rejected int64
	}{
		{good + good, 2, 0},
		{good + good[:len(good)-1], 1, 1}, // looks complete: what is missing cannot be known
		{good + good[:10], 1, 1},
		{stamped("1.000000", "2.000000"), 2, 0}, // held back until then
		{"", 0, 0},
	} {
		r := io.MultiReader(strings.NewReader(c.log), iotest.ErrReader(fault))
		frames, info, err := readAll(t, r, Options{})
		if !errors.Is(err, fault) || len(frames) != c.frames || info.Rejected != c.rejected {
			t.Errorf("%q: error %v, %d frames, %d rejected", c.log, err, len(frames), info.Rejected)
		}
		if _, cut := remark(info, decode.RemarkCutShort); cut != (c.rejected > 0) {
			t.Errorf("%q: cut short %v", c.log, cut)
		}
	}
	r := NewReader(iotest.ErrReader(fault), Options{})
	first, second := r.Scan(), r.Scan()
	if first || second || r.Frame() != nil || !errors.Is(r.Err(), fault) {
		t.Error("the reader goes on after a fault")
	}
}

// A live source must not wait for later lines.
func TestAStreamGivesItsFramesAtOnce(t *testing.T) {
	for name, c := range map[string]struct {
		log string
		o   Options
	}{
		"absolute":    {good + good, Options{}},
		"dates":       {stamped("2016-07-25 09:24:34.299654", "2016-07-25 09:24:35.299654"), Options{}},
		"forced":      {stamped("1.000000", "2.000000"), Options{Stamps: decode.StampsZero}},
		"after a bad": {"x\n" + good + good, Options{}},
	} {
		t.Run(name, func(t *testing.T) {
			read, write := io.Pipe()
			defer write.Close()
			r := NewReader(read, c.o)
			lines := strings.SplitAfter(c.log, "\n")
			for _, line := range lines[:len(lines)-1] {
				go io.WriteString(write, line)
				if line != "x\n" && !r.Scan() {
					t.Fatal("no frame")
				}
			}
		})
	}
}

func TestAcceptedLinesCostNoAllocation(t *testing.T) {
	for name, log := range map[string]string{
		"log form": "(1735270588.936508) can0 123#1122334455667788\n(1735270588.936508) can1 12345678#11 R\n" +
			"(1735270588.936508) vcan2 123##5112233445566778899AABBCC\n(1735270588.936508) can3 123#R4\n(1735270588.936508) can4 20000004#0004000000000000\n",
		"console form": " (1735270588.936508)  can0  123   [8]  11 22 33 44 55 66 77 88   '.\"3DUfw.'\n (2016-07-25 09:24:34.299654)  can0  123   [1]  11\n",
		"held back":    "(000.000000) can0 123#11\n",
	} {
		r := NewReader(strings.NewReader(strings.Repeat(log, 20_000)), Options{})
		for range 2000 {
			r.Scan()
		}
		if n := testing.AllocsPerRun(5000, func() {
			if !r.Scan() {
				t.Fatal("too few lines")
			}
		}); n != 0 {
			t.Errorf("%s: %v allocations a line", name, n)
		}
	}
	f := frame(1735270588936508000, "can0", 0x123, fd|brs, "11223344")
	buffer := make([]byte, 0, 256)
	if n := testing.AllocsPerRun(1000, func() { buffer = AppendFrame(buffer[:0], &f) }); n != 0 {
		t.Errorf("AppendFrame: %v allocations", n)
	}
}

func TestManyInterfaceNamesStayRight(t *testing.T) {
	var b strings.Builder
	for round := range 2 {
		for i := range 3000 {
			fmt.Fprintf(&b, "(%010d.000000) bus%d %03X#\n", round, i, i%0x800)
		}
	}
	frames, info, _ := readAll(t, strings.NewReader(b.String()), Options{})
	for i, f := range frames {
		if want := fmt.Sprintf("bus%d", i%3000); f.Bus != want {
			t.Fatalf("line %d: %s, want %s", f.Line, f.Bus, want)
		}
	}
	if len(frames) != 6000 || len(info.Interfaces) != mostNames || info.Interfaces[5] != "bus5" {
		t.Errorf("%d frames, %d interfaces named", len(frames), len(info.Interfaces))
	}
}

func TestRejectedLinesNameNoInterface(t *testing.T) {
	_, info, _ := readAll(t, strings.NewReader(good+"(1735270588.936508) can7 123#1\n(5.000000) can8 123#11\n"), Options{})
	if diff := cmp.Diff([]string{"can0"}, info.Interfaces); diff != "" {
		t.Errorf("interfaces (-want +got):\n%s", diff)
	}
}

func TestInfoBelongsToTheCaller(t *testing.T) {
	r := NewReader(strings.NewReader("x\n"+good+"y\n"), Options{})
	r.Scan()
	info := r.Info()
	info.Interfaces[0], info.Remarks[0].Places[0].Why = "changed", "changed"
	again := r.Info()
	if again.Interfaces[0] != "can0" || again.Remarks[0].Places[0].Why != notALine.String() {
		t.Errorf("the reader's own counts were changed: %+v", again)
	}
}

func TestDropCountsAddUpWithoutOverflow(t *testing.T) {
	r := NewReader(strings.NewReader("DROPCOUNT: dropped 4294967295 CAN frames on 'can0' socket\n"+good), Options{})
	r.dropped, r.dropLine = 1<<63-5, 1
	r.Scan()
	if m, _ := remark(r.Info(), decode.RemarkFramesDropped); m.Count != 1<<63-1 {
		t.Errorf("count %d", m.Count)
	}
}

func TestAppendFrameWritesWhatTheFormCanHold(t *testing.T) {
	for _, c := range []struct {
		frame decode.Frame
		want  string
	}{
		{frame(-5, "", 0x123, 0, "AB"), "(0000000000.000000) _ 123#AB\n"},
		{frame(1, "a b#c\x7F\n", 0x123, decode.Received|decode.Transmitted, "AB"), "(0000000000.000000001) a_b_c__ 123#AB T\n"},
		{frame(1735270588936508000, "can0", 0x1ABCDEF0, extended|remote, ""), "(1735270588.936508) can0 1ABCDEF0#R\n"},
		{frame(9223372036854775807, "can0", 5, decode.Error, ""), "(9223372036.854775807) can0 20000005#\n"},
	} {
		if got := string(AppendFrame([]byte("before\n"), &c.frame)); got != "before\n"+c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
