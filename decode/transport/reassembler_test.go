package transport

import (
	"bytes"
	"encoding/hex"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// step is a frame written as "address:payload" in hexadecimal. The address and its colon
// are present only with extended addressing.
type step struct {
	frame string
	ms    int64 // since the previous frame
}

func fromText(t *testing.T, text string) (Sender, []byte) {
	t.Helper()
	from := Sender{Bus: "can0", ID: 0x7E8, Address: -1}
	if address, rest, ok := strings.Cut(text, ":"); ok {
		from.Address, text = int(fromHex(t, address)[0]), rest
	}
	return from, fromHex(t, text)
}

func fromHex(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// outcome is the result of a sequence of frames.
type outcome struct {
	Messages []string // in hexadecimal
	Count    int64
	Lost     []Loss
}

func run(t *testing.T, steps []step) outcome {
	t.Helper()
	var r Reassembler
	var got outcome
	now := int64(0)
	for i, s := range steps {
		now += s.ms * 1e6
		from, payload := fromText(t, s.frame)
		if message, whole := r.Push(from, payload, Stamp{now, int64(i + 1)}); whole {
			got.Messages = append(got.Messages, hex.EncodeToString(message))
		} else if message != nil {
			t.Errorf("frame %d: bytes of a message that is not whole", i+1)
		}
	}
	got.Count, got.Lost = r.Losses()
	if len(got.Lost) == 0 {
		got.Lost = nil
	}
	return got
}

func frames(list ...string) []step {
	var steps []step
	for _, f := range list {
		steps = append(steps, step{f, 1})
	}
	return steps
}

const (
	answer      = "4105 6e018333 ff6315a0780c0a 6b0302 00"
	answerFirst = "10 11 41 05 6E 01 83 33"
	answerThen  = "21 FF 63 15 A0 78 0C 0A"
	answerLast  = "22 6B 03 02 00"
	nine        = "10 09 01 02 03 04 05 06"
	nineLast    = "21 07 08 09"
	whole       = "010203040506070809"
)

func TestMessagesOfPublishedFrames(t *testing.T) {
	plain := strings.ReplaceAll(answer, " ", "")
	for _, tt := range []struct {
		source string
		frames []string
		want   []string
	}{
		{"scapy obd.uts, segmented by ISO 15765-2", []string{answerFirst, answerThen, answerLast}, []string{plain}},
		{"the same with flow control and padding", []string{answerFirst, "30 00 0A 55 55 55 55 55", answerThen, "30 00 00", "22 6B 03 02 00 CC CC CC"}, []string{plain}},
		{"derived: identification number, SAE J1979 service 09", []string{"1014490201314D38", "2147444D3941584B", "2250303432373838"},
			[]string{hex.EncodeToString([]byte("\x49\x02\x011M8GDM9AXKP042788"))}},
		{"CSDN Touxon 116644169: request of two PIDs and its answer", []string{"03 01 31 51 55 55 55 55", "06 41 31 1D E6 51 01 55"}, []string{"013151", "41311de65101"}},
		{"common example, no source", []string{"04 41 0C 1A F8"}, []string{"410c1af8"}},
	} {
		t.Run(tt.source, func(t *testing.T) {
			if diff := cmp.Diff(outcome{Messages: tt.want}, run(t, frames(tt.frames...))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestLengthsOfSingleFrames(t *testing.T) {
	for _, tt := range []struct {
		name   string
		frames []string
		want   []string
	}{
		{"seven bytes", []string{"07 01 02 03 04 05 06 07"}, []string{"01020304050607"}},
		{"six with an address", []string{"F1:06 01 02 03 04 05 06"}, []string{"010203040506"}},
		{"CAN FD, length in a byte of its own", []string{"00 08 01 02 03 04 05 06 07 08 AA AA"}, []string{"0102030405060708"}},
		{"the same with an address", []string{"F1:00 07 01 02 03 04 05 06 07 AA AA"}, []string{"01020304050607"}},
		{"62 bytes", []string{"00 3E" + strings.Repeat("5A", 62)}, []string{strings.Repeat("5a", 62)}},
		{"a short length in a CAN FD frame", []string{"03 01 02 03 AA AA AA AA AA AA AA AA"}, []string{"010203"}},
		{"eight bytes in two frames", []string{"10 08 01 02 03 04 05 06", "21 07 08"}, []string{"0102030405060708"}},
		{"seven in two with an address", []string{"F1:10 07 01 02 03 04 05", "F1:21 06 07"}, []string{"01020304050607"}},
		{"CAN FD of 12 bytes", []string{"10 0C 01 02 03 04 05 06 07 08 09 0A", "21 0B 0C"}, []string{"0102030405060708090a0b0c"}},
		{"CAN FD, last frame padded", []string{"10 0C 01 02 03 04 05 06 07 08 09 0A", "21 0B 0C 55 55 55 55 55 55 55 55 55"}, []string{"0102030405060708090a0b0c"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(outcome{Messages: tt.want}, run(t, frames(tt.frames...))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// None of these frames changes anything: they come within an unfinished message, which is
// then completed.
func TestFramesToIgnoreChangeNothing(t *testing.T) {
	for name, frame := range map[string]string{
		"empty":                                  "",
		"single frame of no length":              "00 01 02 03 04 05 06 07",
		"single frame of length 8":               "08 01 02 03 04 05 06 07",
		"single frame longer than its payload":   "05 01 02 03 04",
		"single frame of a lone byte":            "01",
		"CAN FD single frame of no length":       "00 00 01 02 03 04 05 06 07 08 09 0A",
		"CAN FD single frame, longer than it is": "00 0B 01 02 03 04 05 06 07 08 09 0A",
		"first frame that fits in a single one":  "10 07 01 02 03 04 05 06",
		"the same with CAN FD":                   "10 0A 01 02 03 04 05 06 07 08 09 0A",
		"first frame of less than eight bytes":   "10 09 01 02 03 04 05",
		"long length that is short":              "10 00 00 00 0F FF 01 02",
		"flow control, go on":                    "30 00 00",
		"flow control, wait":                     "31 00 00 00 00 00 00 00",
		"flow control, overflow":                 "32 00 00",
		"flow control that is reserved":          "3F 00 00",
		"type 4":                                 "40 01 02 03 04 05 06 07",
		"type F":                                 "FF FF FF FF FF FF FF FF",
		"another address":                        "F1:06 41 0C 1A F8 55 55",
	} {
		t.Run(name, func(t *testing.T) {
			want := outcome{Messages: []string{whole}}
			if name == "another address" {
				want.Messages = []string{"410c1af85555", whole}
			}
			if diff := cmp.Diff(want, run(t, frames(nine, frame, nineLast))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestSequenceNumbersBeginAtOneAndWrapToZero(t *testing.T) {
	message := make([]byte, 6+7*33)
	for i := range message {
		message[i] = byte(i)
	}
	list := []string{hex.EncodeToString(append([]byte{0x10, byte(len(message))}, message[:6]...))}
	for i := range 33 {
		list = append(list, hex.EncodeToString(append([]byte{0x20 | byte(i+1)&0xF}, message[6+7*i:][:7]...)))
	}
	if diff := cmp.Diff(outcome{Messages: []string{hex.EncodeToString(message)}}, run(t, frames(list...))); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

const (
	outOfOrder  = "a consecutive frame is missing, doubled or out of order"
	otherLength = "the length of a consecutive frame differs from that of its first frame"
	noFirst     = "its first frame is missing"
	unfinished  = "the log ends before it is complete"
	tooLate     = "a second passed without another frame of it"
)

func TestDisturbedMessagesAreDroppedAloneAndCounted(t *testing.T) {
	lost := func(line int64, why string) Loss { return Loss{Stamp{line * 1e6, line}, why} }
	first16 := "10 11 01 02 03 04 05 06" // 17 bytes: two more frames
	second, third := "21 07 08 09 0A 0B 0C 0D", "22 0E 0F 10 11"
	long := "0102030405060708090a0b0c0d0e0f1011"
	for _, tt := range []struct {
		name   string
		frames []string
		want   outcome
	}{
		{"lost frame", []string{first16, third, nine, nineLast}, outcome{[]string{whole}, 1, []Loss{lost(1, outOfOrder)}}},
		{"doubled frame", []string{first16, second, second, third, nine, nineLast}, outcome{[]string{whole}, 1, []Loss{lost(1, outOfOrder)}}},
		{"frames swapped", []string{first16, third, second, nine, nineLast}, outcome{[]string{whole}, 1, []Loss{lost(1, outOfOrder)}}},
		{"sequence number 0", []string{first16, "20 07 08 09 0A 0B 0C 0D", second, third}, outcome{nil, 1, []Loss{lost(1, outOfOrder)}}},
		{"lost first frame", []string{second, third, nine, nineLast}, outcome{[]string{whole}, 1, []Loss{lost(1, noFirst)}}},
		{"lost first frame after a whole message", []string{nine, nineLast, "21 0A 0B 0C"}, outcome{[]string{whole}, 1, []Loss{lost(3, noFirst)}}},
		{"lost first frame after a single one", []string{nine, nineLast, "01 55", nineLast}, outcome{[]string{whole, "55"}, 1, []Loss{lost(4, noFirst)}}},
		{"last frame doubled", []string{nine, nineLast, nineLast, nine, nineLast}, outcome{[]string{whole, whole}, 0, nil}},
		{"first frame doubled", []string{first16, first16, second, third}, outcome{[]string{long}, 1, []Loss{lost(1, "a new first frame came before its end")}}},
		{"single frame between", []string{first16, second, "02 41 0C", third}, outcome{[]string{"410c"}, 1, []Loss{lost(1, "a single frame came before its end")}}},
		{"two single frames between", []string{first16, "02 41 0C", "02 41 0D", second}, outcome{[]string{"410c", "410d"}, 2, []Loss{lost(1, "a single frame came before its end"), lost(4, noFirst)}}},
		{"end of the log", []string{first16, second}, outcome{nil, 1, []Loss{lost(1, unfinished)}}},
		{"frame cut short", []string{first16, "21 07 08 09 0A 0B 0C", third, nine, nineLast}, outcome{[]string{whole}, 1, []Loss{lost(1, otherLength)}}},
		{"frame too long", []string{first16, "21 07 08 09 0A 0B 0C 0D 0E 0F 10 11", third}, outcome{nil, 1, []Loss{lost(1, otherLength)}}},
		{"last frame cut short", []string{nine, "21 07 08", nine, nineLast}, outcome{[]string{whole}, 1, []Loss{lost(1, otherLength)}}},
		{"another sender goes on", []string{first16, "F1:" + nine[:17+3], third, "F1:21 06 07 08 09"}, outcome{[]string{whole}, 1, []Loss{lost(1, outOfOrder)}}},
		{"too long to keep", []string{"10 00 00 01 00 01 01 02", "21 01 02 03 04 05 06 07", "22 01 02 03 04 05 06 07", nine, nineLast},
			outcome{[]string{whole}, 1, []Loss{lost(1, "it would be longer than 64 KiB")}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, run(t, frames(tt.frames...))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestASecondWithoutAFrameEndsAMessage(t *testing.T) {
	at := func(ms, line int64) Stamp { return Stamp{ms * 1e6, line} }
	for _, tt := range []struct {
		name  string
		steps []step
		want  outcome
	}{
		{"just below", []step{{answerFirst, 0}, {answerThen, 999}, {answerLast, 999}}, outcome{Messages: []string{strings.ReplaceAll(answer, " ", "")}}},
		{"a second", []step{{answerFirst, 0}, {answerThen, 1000}, {answerLast, 1}}, outcome{nil, 1, []Loss{{at(0, 1), tooLate}}}},
		{"flow control is no frame of it", []step{{answerFirst, 0}, {"30 00 00", 600}, {answerThen, 600}}, outcome{nil, 1, []Loss{{at(0, 1), tooLate}}}},
		{"stamps that run back a little", []step{{answerFirst, 100}, {answerThen, -50}, {answerLast, 20}}, outcome{Messages: []string{strings.ReplaceAll(answer, " ", "")}}},
		{"stamps that run back a second", []step{{answerFirst, 2000}, {answerThen, -1000}}, outcome{nil, 1, []Loss{{at(2000, 1), tooLate}}}},
		{"the rest of a second message", []step{{answerFirst, 0}, {answerThen, 1000}, {answerLast, 1000}},
			outcome{nil, 2, []Loss{{at(0, 1), tooLate}, {at(2000, 3), noFirst}}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, run(t, tt.steps)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// In ISO 15765-2 lengths above 4095 take four bytes.
func TestLongMessagesAreReassembledUpToTheLimit(t *testing.T) {
	for _, length := range []int{4095, 4096, MaxMessage} {
		message := bytes.Repeat([]byte("long"), length/4+1)[:length]
		var r Reassembler
		var got []byte
		for i, f := range segment(message, -1, 64, 0xCC) {
			if m, ok := r.Push(Sender{Address: -1}, f, Stamp{int64(i), int64(i)}); ok {
				got = bytes.Clone(m)
			}
		}
		if count, _ := r.Losses(); !bytes.Equal(got, message) || count != 0 {
			t.Errorf("%d bytes: got %d, %d lost", length, len(got), count)
		}
	}
}

func TestManySendersDoNotGrowMemory(t *testing.T) {
	var r Reassembler
	first := fromHex(t, nine)
	for i := range 10 * MaxSenders {
		r.Push(Sender{ID: uint32(i), Address: -1}, first, Stamp{int64(i), int64(i + 1)})
	}
	if len(r.senders) != MaxSenders {
		t.Errorf("%d senders are followed, want %d", len(r.senders), MaxSenders)
	}
	count, places := r.Losses()
	if count != 10*MaxSenders || len(places) != MaxLosses || places[0].Why != "too many messages at the same time" || places[9].Line != 10 {
		t.Errorf("%d lost, first %+v", count, places)
	}
	// The newest sender completes its message. Without an open message, it is the first
	// to be replaced.
	newest := Sender{ID: 10*MaxSenders - 1, Address: -1}
	if m, ok := r.Push(newest, fromHex(t, nineLast), Stamp{1000, 1000}); !ok || hex.EncodeToString(m) != whole {
		t.Errorf("message % X of the newest sender, want %s", m, whole)
	}
	r.Push(Sender{ID: 1 << 20, Address: -1}, first, Stamp{1001, 1001})
	if r.find(newest) != nil {
		t.Error("the sender without an open message is still followed")
	}
}

func TestLossesAreKeptByLine(t *testing.T) {
	var l losses
	for _, line := range []int64{20, 5, 9, 30, 31, 32, 33, 34, 35, 36, 37, 1, 40, 7} {
		l.add(Stamp{Line: line}, "")
	}
	var lines []int64
	for _, k := range l.kept {
		lines = append(lines, k.Line)
	}
	if diff := cmp.Diff([]int64{1, 5, 7, 9, 20, 30, 31, 32, 33, 34}, lines); diff != "" || l.count != 14 {
		t.Errorf("count %d, lines (-want +got):\n%s", l.count, diff)
	}
}

func TestPushAllocatesNothingOnceItKnowsTheSenders(t *testing.T) {
	var r Reassembler
	message := bytes.Repeat([]byte{1, 2, 3}, 100)
	plain, extended := segment(message, -1, 8, 0xAA), segment(message, 0xF1, 64, 0xAA)
	got := 0
	allocations := testing.AllocsPerRun(50, func() {
		for i := range plain {
			if _, ok := r.Push(Sender{Bus: "can0", ID: 0x7E8, Address: -1}, plain[i], Stamp{}); ok {
				got++
			}
			if i < len(extended) {
				if _, ok := r.Push(Sender{Bus: "can1", ID: 0x18DAF110, Extended: true, Address: 0xF1}, extended[i], Stamp{}); ok {
					got++
				}
			}
		}
	})
	if allocations != 0 || got != 2*51 {
		t.Errorf("%v allocations for %d messages, want 0 for %d", allocations, got, 2*51)
	}
}

func BenchmarkPush(b *testing.B) {
	list := segment(bytes.Repeat([]byte{1, 2, 3}, 100), -1, 8, 0xAA)
	var r Reassembler
	from := Sender{Bus: "can0", ID: 0x7E8, Address: -1}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r.Push(from, list[i%len(list)], Stamp{})
	}
}
