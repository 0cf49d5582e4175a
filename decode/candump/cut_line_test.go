package candump_test

import (
	"bytes"
	"testing"

	"lull/decode"
	"lull/decode/candump"
)

// The memory after the last line of a log contains what an earlier block left there. If all
// lines are equal, that is just the missing rest of a line that was cut off, and it must not be
// read.
func TestACutLastLineIsNotCompletedFromAnEarlierBlock(t *testing.T) {
	line := []byte("(1700000000.000000) can0 123#1122334455667788\n")
	whole := bytes.Repeat(line, 600_000/len(line)) // more than two blocks
	filter := decode.NewFilter(&decode.Map{})
	for cut := 1; cut < len(line); cut++ {
		log := whole[:len(whole)-cut]
		r := candump.NewReader(bytes.NewReader(log), candump.Options{})
		for r.Scan() {
		}
		b := candump.NewBlockReader(bytes.NewReader(log), candump.Options{}, filter, 0)
		for b.Scan() {
		}
		if want, got := r.Info(), b.Info(); want.Lines != got.Lines || want.Accepted != got.Accepted || want.Rejected != got.Rejected || b.Err() != nil {
			t.Fatalf("%d bytes missing: %d lines, %d frames, %d rejected, error %v; want %d, %d, %d",
				cut, got.Lines, got.Accepted, got.Rejected, b.Err(), want.Lines, want.Accepted, want.Rejected)
		}
	}
}

// A dot separates two bytes. After the last byte it means that a byte is missing, whatever
// follows it.
func TestADotAfterTheLastByteMeansAMissingByte(t *testing.T) {
	for _, end := range []string{".", ". ", ".\t", ". R", ".\r"} {
		r := candump.NewReader(bytes.NewReader([]byte("(1735270588.936508) can0 123#11"+end+"\n")), candump.Options{})
		for r.Scan() {
		}
		if info := r.Info(); info.Accepted != 0 || info.Rejected != 1 {
			t.Errorf("%q behind the payload: %d frames, %d rejected", end, info.Accepted, info.Rejected)
		}
	}
}
