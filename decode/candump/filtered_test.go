package candump

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// filterOf returns a filter that wants frames with these 11-bit identifiers.
func filterOf(ids ...uint32) *decode.Filter {
	m := &decode.Map{}
	for _, id := range ids {
		m.Entries = append(m.Entries, decode.Entry{Kind: decode.ByID, ID: id})
	}
	return decode.NewFilter(m)
}

// An interface whose first line is rejected is reported with its first good line, even if the
// frame of that line is skipped.
func TestAnInterfaceThatBeginsWithABadLineIsReportedWithItsFirstGoodOne(t *testing.T) {
	for _, bad := range []string{"(1700000000.000002) can1 123#1\n", "(1700000000.000002) can1 800#11\n", "(1700000000.000002) can1 123#11 X\n"} {
		log := "(1700000000.000001) can0 123#11\n" + bad +
			"(1700000000.000003) can0 123#11\n(1700000000.000004) can1 123#11\n(1700000000.000005) can2 123#11\n"
		// The first block settles what the stamps mean; the second is read by the fast
		// path.
		first := bytes.Repeat([]byte("(1700000000.000000) can0 123#11\n"), 10)
		b := newBlockReader(bytes.NewReader(append(first, log...)), Options{}, &decode.Filter{}, 1, len(first))
		for b.Scan() {
		}
		if diff := cmp.Diff([]string{"can0", "can1", "can2"}, b.Info().Interfaces); diff != "" || !b.plain {
			t.Errorf("%q: fast way %v, interfaces (-want +got):\n%s", bad, b.plain, diff)
		}
	}
}

// wanted reports whether a frame is to be read. Error and remote frames are not:
// they carry no samples.
func wanted(filter *decode.Filter, f *decode.Frame) bool {
	switch {
	case f.Flags&(decode.Error|decode.Remote) != 0:
		return false
	case f.Flags&decode.Extended != 0:
		return filter.WantsExtended(f.ID)
	}
	return filter.WantsStandard(f.ID)
}

// closeTogether reports whether frames are close enough to each other and to the frame before
// them to be counted in Skipped.
func closeTogether(frames []decode.Frame) bool {
	for i := range frames[1:] {
		if frames[i+1].Time < frames[i].Time {
			return false
		}
	}
	return frames[len(frames)-1].Time-frames[0].Time < decode.PassedStep
}

// unskipped returns the frame as a reader without a filter returns it.
func unskipped(f *decode.Frame) decode.Frame {
	g := *f
	g.Skipped = 0
	return g
}

// Skipped frames are counted, and their interfaces reported, as if they were read.
func TestFilteredBlocksCountWhatTheReaderCounts(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	rounds := 4000
	if testing.Short() {
		rounds = 500
	}
	passed := int64(0)
	for round := range rounds {
		log := messyLog(rng, 1+rng.IntN(80))
		if round%3 > 0 {
			log = damage(rng, log)
		}
		want := tell(NewReader(bytes.NewReader(log), Options{}))
		filter := []*decode.Filter{{}, filterOf(1, 3), filterOf(0x123)}[rng.IntN(3)]
		b := newBlockReader(bytes.NewReader(log), Options{}, filter, 1+rng.IntN(3), 1+rng.IntN(2000))
		var frames []decode.Frame
		count := int64(0)
		for b.Scan() {
			f, p := b.Frame(), b.Passed()
			if f != nil {
				p = decode.Passed{Count: int64(f.Skipped)}
				if p.Count > 0 && !closeTogether(want.frames[max(count-1, 0):count+p.Count+1]) {
					t.Fatalf("round %d: %d frames are skipped before %+v\nlog:\n%.4000q", round, p.Count, f, log)
				}
			} else if p.Count == 0 {
				t.Fatalf("round %d: nothing was read\nlog:\n%.4000q", round, log)
			}
			passed += p.Count
			if f == nil {
				// A run stands for the next frames that the reader reads.
				first, last := want.frames[count], want.frames[count+p.Count-1]
				if run := (decode.Passed{Count: p.Count, First: first.Time, Last: last.Time, Line: first.Line}); p != run {
					t.Fatalf("round %d: run %+v, want %+v\nlog:\n%.4000q", round, p, run, log)
				}
			}
			for k := range p.Count {
				if f := want.frames[count+k]; wanted(filter, &f) {
					t.Fatalf("round %d: %+v was passed over\nlog:\n%.4000q", round, f, log)
				}
			}
			frames = append(frames, want.frames[count:count+p.Count]...)
			count += p.Count
			if f != nil {
				frames = append(frames, unskipped(f))
				count++
			}
		}
		if info := b.Info(); b.Err() != nil || !reflect.DeepEqual(want.info, info) || !slices.Equal(want.frames, frames) {
			t.Fatalf("round %d: error %v, frames and info (-Reader +BlockReader):\n%s%s\nlog:\n%.4000q",
				round, b.Err(), cmp.Diff(want.frames, frames), cmp.Diff(want.info, info), log)
		}
	}
	if passed < int64(rounds) {
		t.Errorf("only %d frames were passed over", passed)
	}
}

// FuzzBlocks checks that whatever follows a good line is counted alike by the Reader and by a
// BlockReader with blocks of any size, with and without skipped frames.
func FuzzBlocks(f *testing.F) {
	first := bytes.Repeat([]byte("(1700000000.000000) can0 123#11\n"), 8)
	for _, c := range goodLines {
		f.Add([]byte("(1700000000.000001) can1 123#1122\n"+c.line+"\n(1700000000.000002) can2 103#\n"), uint8(3))
	}
	for _, c := range badLines {
		f.Add([]byte("(1700000000.000001) can1 001#1122\n"+c.line+"\n(1700000000.000002) can2 00112233#\n"), uint8(0))
	}
	f.Add([]byte("(1700000000.000002) can1 123#1\n(1700000000.000003) can0 123#\n(1700000000.000004) can1 123#\n"), uint8(250))
	// The first block settles what the stamps mean; the others are read by the fast path.
	filters := []*decode.Filter{nil, {}, filterOf(1, 0x103)}
	f.Fuzz(func(t *testing.T, text []byte, size uint8) {
		log := append(bytes.Clone(first), text...)
		want := tell(NewReader(bytes.NewReader(log), Options{}))
		for i, filter := range filters {
			b := newBlockReader(bytes.NewReader(log), Options{}, filter, 2, len(first)+int(size%32))
			var frames []decode.Frame
			for b.Scan() {
				from := len(frames)
				if f := b.Frame(); f != nil {
					frames = append(frames, want.frames[from:from+int(f.Skipped)]...)
					frames = append(frames, unskipped(f))
				} else {
					frames = append(frames, want.frames[from:from+int(b.Passed().Count)]...)
				}
			}
			if info := b.Info(); !reflect.DeepEqual(want.info, info) || !slices.Equal(want.frames, frames) {
				t.Errorf("filter %d: frames and info (-Reader +BlockReader):\n%s%s", i, cmp.Diff(want.frames, frames), cmp.Diff(want.info, info))
			}
		}
	})
}

// Plain logs, as nearly all are, whose wanted frames have identifiers and payloads with
// every digit in every place.
func TestWantedFramesOfPlainLogsAreReadAsTheReaderReadsThem(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	ids := []uint32{0x7FF, 0x123, 0x456, 0x789, 0x0AB, 0x4CD, 0x6EF, 0x700, 0x070, 0x007}
	seen := 0
	for round := range 40 {
		var log bytes.Buffer
		for n := range 400 {
			id := ids[rng.IntN(len(ids))]
			if rng.IntN(4) > 0 {
				id = 0x555 // not wanted
			}
			fmt.Fprintf(&log, "(1700000000.%06d) can0 %03X#", 100*n, id)
			for range rng.IntN(9) {
				fmt.Fprintf(&log, "%02X", byte(rng.Uint32()))
			}
			log.WriteByte('\n')
		}
		var want, got []decode.Frame
		for r := NewReader(bytes.NewReader(log.Bytes()), Options{}); r.Scan(); {
			if f := *r.Frame(); f.ID != 0x555 {
				want = append(want, f)
			}
		}
		b := newBlockReader(bytes.NewReader(log.Bytes()), Options{}, filterOf(ids...), 1+rng.IntN(3), 1+rng.IntN(20_000))
		for b.Scan() {
			if f := b.Frame(); f != nil && f.ID != 0x555 {
				got = append(got, unskipped(f))
			}
		}
		b.Close()
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("round %d (-want +got):\n%.2000s", round, diff)
		}
		seen += len(got)
	}
	if seen < 3000 {
		t.Errorf("%d wanted frames: too few to tell", seen)
	}
}
