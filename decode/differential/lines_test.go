package differential

import (
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
	"lull/decode/candump"
	"lull/pkg/oracle"
)

// message is a frame in the terms of python-can.
type message struct {
	Time       float64 `json:"time"`
	Bus        string  `json:"bus"`
	ID         uint32  `json:"id"`
	Extended   bool    `json:"extended"`
	Remote     bool    `json:"remote"`
	Error      bool    `json:"error"`
	FD         bool    `json:"fd"`
	Switch     bool    `json:"switch"`
	ErrorState bool    `json:"state"`
	Received   bool    `json:"received"`
	Length     int     `json:"length"`
	Data       string  `json:"data"`
}

// readScript reads each log of a list with python-can.
const readScript = `
import can, io, json, sys
answer = []
for text in json.load(sys.stdin):
    answer.append([dict(
        time=m.timestamp, bus=m.channel or "", id=m.arbitration_id, extended=m.is_extended_id,
        remote=m.is_remote_frame, error=m.is_error_frame, fd=m.is_fd, switch=m.bitrate_switch,
        state=m.error_state_indicator, received=m.is_rx, length=m.dlc, data=bytes(m.data).hex())
        for m in can.CanutilsLogReader(io.StringIO(text))])
json.dump(answer, sys.stdout)
`

// writeScript writes a log of each list of messages with python-can.
const writeScript = `
import can, io, json, sys
answer = []
for log in json.load(sys.stdin):
    text = io.StringIO()
    writer = can.CanutilsLogWriter(text)
    for m in log:
        writer.on_message_received(can.Message(
            timestamp=m["time"], channel=m["bus"], arbitration_id=m["id"], is_extended_id=m["extended"],
            is_remote_frame=m["remote"], is_error_frame=m["error"], is_fd=m["fd"], bitrate_switch=m["switch"],
            error_state_indicator=m["state"], is_rx=m["received"], data=bytes.fromhex(m["data"]), check=True))
    answer.append(text.getvalue())
json.dump(answer, sys.stdout)
`

// busError is the class of the only error frames that python-can knows
// (CAN_ERR_BUSERROR of linux/can/error.h).
const busError = 0x80

// messageOf returns a frame in the terms of python-can, which takes a line without a direction
// for a received one, and keeps nothing of an error frame but the time.
func messageOf(t *testing.T, f *decode.Frame) message {
	t.Helper()
	seconds, err := strconv.ParseFloat(fmt.Sprintf("%d.%09d", f.Time/1e9, f.Time%1e9), 64)
	if err != nil {
		t.Fatal(err)
	}
	if f.Flags.Has(decode.Error) {
		return message{Time: seconds, Extended: true, Error: true, Received: true}
	}
	return message{
		Time: seconds, Bus: f.Bus, ID: f.ID, Extended: f.Flags.Has(decode.Extended), Remote: f.Flags.Has(decode.Remote),
		FD: f.Flags.Has(decode.FD), Switch: f.Flags.Has(decode.BitRateSwitch), ErrorState: f.Flags.Has(decode.ErrorStateIndicator),
		Received: !f.Flags.Has(decode.Transmitted), Length: int(f.Len), Data: hex.EncodeToString(f.Payload()),
	}
}

var (
	buses     = []string{"can0", "can1", "vcan12", "slcan0", "body", "a-b.c"}
	fdLengths = []uint8{0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64}
)

// anyFrame returns a random frame of a kind that both know. The caller sets its time.
func anyFrame(rng *rand.Rand) decode.Frame {
	f := decode.Frame{Bus: buses[rng.IntN(len(buses))], ID: rng.Uint32N(0x800), Len: uint8(rng.IntN(9))}
	kind := rng.IntN(20)
	switch {
	case kind < 3:
		f.Flags = decode.Remote
	case kind < 8:
		f.Flags, f.Len = decode.FD, fdLengths[rng.IntN(len(fdLengths))]
		if rng.IntN(2) == 0 {
			f.Flags |= decode.BitRateSwitch
		}
		if rng.IntN(2) == 0 {
			f.Flags |= decode.ErrorStateIndicator
		}
	case kind == 8:
		f.Flags, f.ID, f.Len = decode.Error, busError, 8
	}
	if !f.Flags.Has(decode.Error) && rng.IntN(2) == 0 {
		f.Flags |= decode.Extended
		f.ID = rng.Uint32N(1 << 29)
	}
	switch rng.IntN(3) {
	case 0:
		f.Flags |= decode.Received
	case 1:
		f.Flags |= decode.Transmitted
	}
	for i := range f.Payload() {
		f.Data[i] = byte(rng.Uint32())
	}
	return f
}

// The number of logs in a test, and the number of lines in each.
const logs, lines = 40, 100

func TestPythonReadsWhatAppendFrameWrites(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var texts []string
	var want, got [][]message
	for range logs {
		var text []byte
		var list []message
		for range lines {
			f := anyFrame(rng)
			// Times up to the greatest 64-bit number of nanoseconds, in whole microseconds
			// or not.
			f.Time = rng.Int64()
			if rng.IntN(2) == 0 {
				f.Time -= f.Time % 1000
			}
			text = candump.AppendFrame(text, &f)
			list = append(list, messageOf(t, &f))
		}
		texts, want = append(texts, string(text)), append(want, list)
	}
	oracle.Python(t, "can", "python3-can", readScript, texts, &got)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("written by lull, read by python-can (-want +got):\n%s", diff)
	}
}

// spell returns one of the lines that stand for a frame.
func spell(rng *rand.Rand, f *decode.Frame, stamp string) string {
	either := func(a, b string) string { return []string{a, b}[rng.IntN(2)] }
	digits := 3
	id := f.ID
	switch {
	case f.Flags.Has(decode.Error):
		digits, id = 8, id|0x20000000
	case f.Flags.Has(decode.Extended):
		digits = 8
	}
	frame := fmt.Sprintf("%0*X#", digits, id)
	switch {
	case f.Flags.Has(decode.Remote):
		frame += either("R", "r")
		if f.Len > 0 || rng.IntN(2) == 0 {
			frame += strconv.Itoa(int(f.Len))
		}
	case f.Flags.Has(decode.FD):
		flags := rng.IntN(2) * 4
		if f.Flags.Has(decode.BitRateSwitch) {
			flags |= 1
		}
		if f.Flags.Has(decode.ErrorStateIndicator) {
			flags |= 2
		}
		frame += fmt.Sprintf("#%d", flags)
	}
	frame += strings.ToUpper(hex.EncodeToString(f.Payload()))
	if rng.IntN(3) == 0 {
		frame = strings.ToLower(frame)
	}
	line := either("", "  ") + "(" + stamp + ")" + either(" ", "   ") + f.Bus + either(" ", "\t ") + frame
	switch {
	case f.Flags.Has(decode.Transmitted):
		line += either(" T", " t")
	case f.Flags.Has(decode.Received):
		line += either(" R", " r")
	}
	return line + either("", " ") + either("\n", "\r\n")
}

// A frame may be written in several ways. Those that both programs can read mean the same to
// both, whichever of lull's readers reads them.
func TestPythonAndLullReadLinesAsTheSameFrames(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	var texts []string
	var want [][]decode.Frame
	for number := range logs {
		var text strings.Builder
		var list []decode.Frame
		now, digits := int64(1_700_000_000e9), 10
		if number%4 == 0 { // zero-based
			now, digits = 0, rng.IntN(4)
		}
		for line := range int64(lines) {
			f := anyFrame(rng)
			now += rng.Int64N(3e9) / 1000 * 1000
			f.Time, f.Line = now, line+1
			list = append(list, f)
			text.WriteString(spell(rng, &f, fmt.Sprintf("%0*d.%06d", digits, now/1e9, now%1e9/1e3)))
		}
		texts, want = append(texts, text.String()), append(want, list)
	}
	var messages, got [][]message
	for i := range texts {
		plain := candump.NewReader(strings.NewReader(texts[i]), candump.Options{})
		list := read(t, plain)
		if diff := cmp.Diff(want[i], list); diff != "" {
			t.Fatalf("what was spelt and what the Reader reads (-want +got):\n%s", diff)
		}
		blocks := candump.NewBlockReader(strings.NewReader(texts[i]), candump.Options{}, nil, 2)
		if diff := cmp.Diff(list, read(t, blocks)); diff != "" {
			t.Fatalf("the two readers differ (-Reader +BlockReader):\n%s", diff)
		}
		var said []message
		for k := range list {
			said = append(said, messageOf(t, &list[k]))
		}
		messages = append(messages, said)
	}
	oracle.Python(t, "can", "python3-can", readScript, texts, &got)
	if diff := cmp.Diff(messages, got); diff != "" {
		t.Errorf("read by both (-lull +python-can):\n%s", diff)
	}
}

// reader is implemented by both of lull's readers.
type reader interface {
	Scan() bool
	Frame() *decode.Frame
	Err() error
	Info() decode.Info
}

func read(t *testing.T, r reader) []decode.Frame {
	t.Helper()
	var list []decode.Frame
	for r.Scan() {
		list = append(list, *r.Frame())
	}
	if info := r.Info(); r.Err() != nil || info.Accepted != info.Lines {
		t.Fatalf("error %v, %+v", r.Err(), info)
	}
	return list
}

func TestLullReadsWhatPythonWrites(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var question [][]message
	var want [][]decode.Frame
	for number := range logs {
		var list []decode.Frame
		var log []message
		now := int64(1_700_000_000e9)
		if number%4 == 0 {
			now = 0 // python-can does not pad the seconds of its own clock
		}
		for line := range int64(lines) {
			f := anyFrame(rng)
			f.Time, f.Line = now, line+1
			now += rng.Int64N(3e9) / 1000 * 1000
			// python-can writes a direction except for error frames, and no length for a
			// remote request.
			switch {
			case f.Flags.Has(decode.Error):
				f.Flags &^= decode.Received | decode.Transmitted
			case !f.Flags.Has(decode.Transmitted):
				f.Flags |= decode.Received
			}
			if f.Flags.Has(decode.Remote) {
				f.Len = 0
			}
			m := messageOf(t, &f)
			m.Bus, m.Data = f.Bus, hex.EncodeToString(f.Payload())
			list, log = append(list, f), append(log, m)
		}
		want, question = append(want, list), append(question, log)
	}
	var texts []string
	oracle.Python(t, "can", "python3-can", writeScript, question, &texts)
	for i, text := range texts {
		for name, r := range map[string]reader{
			"Reader":      candump.NewReader(strings.NewReader(text), candump.Options{}),
			"BlockReader": candump.NewBlockReader(strings.NewReader(text), candump.Options{}, nil, 2),
		} {
			if diff := cmp.Diff(want[i], read(t, r)); diff != "" {
				t.Fatalf("written by python-can, read by the %s (-want +got):\n%s\n%.300s", name, diff, text)
			}
		}
	}
	if len(texts) != logs {
		t.Errorf("%d logs of %d", len(texts), logs)
	}
}
