package candump

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// told is the result of reading a log: all its frames, or those that a filter wants and the
// runs between them.
type told struct {
	frames []decode.Frame
	info   decode.Info
	err    error
}

func tell(r *Reader) told {
	var t told
	for r.Scan() {
		t.frames = append(t.frames, *r.Frame())
	}
	t.info, t.err = r.Info(), r.Err()
	return t
}

func tellBlocks(r *BlockReader) told {
	var t told
	for r.Scan() {
		t.frames = append(t.frames, *r.Frame())
	}
	t.info, t.err = r.Info(), r.Err()
	return t
}

// messyLog returns a log of about the given number of lines, most of them plain, some of every
// other kind, and some damaged.
func messyLog(rng *rand.Rand, lines int) []byte {
	var log []byte
	ns := int64(1_700_000_000_000_000_000)
	forms := []string{
		"(%d.%06d) can0 123#R4\n", "(%d.%06d) can0 12345678##5112233445566778899AABB\n", "(%d.%06d)  vcan2 7FF#\r\n",
		"(%d.%06d) can1 20000004#0004000000000000\n", "(%d.%06d) can0 123#1122334455667788_E\n", " (%d.%06d)  can0  123   [2]  11 22\n",
		"(%d.%06d) can0 1ABCDEF0#aabb T\n", "(%d.%06d) can0 800#11\n", "(%d.%06d) can0 123#112\n", "(%d.%06d) can0 123#112233445566778899\n",
		"(%d.%06d000) can0 123#01\n", "(%d.%06d) can0 45123#81:00:12345678#11\n", "(%d.%06d) interface-long 123#01 R\n", "(%d.%06d) c 123#01 X\n",
		"DROPCOUNT: dropped %d CAN frames on 'can0' socket (total drops %d)\n", "# comment %d %d\n", "\n%.0d%.0d", "garbage %d %d\n", "\tcontroller-problem{%d%d}\n",
	}
	buses := []string{"can0", "can1", "vcan2", "can0", "can0"}
	for range lines {
		switch k := rng.IntN(40); {
		case k == 0:
			ns -= rng.Int64N(200e6)
		case k == 1:
			ns += rng.Int64N(300e6)
		default:
			ns += rng.Int64N(2e6)
		}
		ns = ns / 1000 * 1000
		if rng.IntN(12) == 0 {
			log = append(log, fmt.Sprintf(forms[rng.IntN(len(forms))], ns/1e9, ns%1e9/1000)...)
			continue
		}
		f := decode.Frame{Time: ns, Bus: buses[rng.IntN(len(buses))], ID: rng.Uint32N(8), Len: uint8(rng.IntN(9))}
		if rng.IntN(3) == 0 {
			f.ID, f.Flags = rng.Uint32N(1<<29), decode.Extended
		}
		for i := range f.Len {
			f.Data[i] = byte(rng.Uint32())
		}
		log = AppendFrame(log, &f)
	}
	return log
}

// damage flips bits, and cuts, doubles and shuffles pieces.
func damage(rng *rand.Rand, log []byte) []byte {
	log = bytes.Clone(log)
	for range rng.IntN(8) {
		if len(log) < 4 {
			break
		}
		i, j := rng.IntN(len(log)), rng.IntN(len(log))
		i, j = min(i, j), min(max(i, j), min(i, j)+200)
		switch rng.IntN(6) {
		case 0:
			log[i] ^= 1 << rng.IntN(8)
		case 1:
			log = append(log[:i], log[j:]...)
		case 2:
			log = append(log[:j:j], log[i:]...)
		case 3:
			log = append(log[:i:i], append([]byte{byte(rng.Uint32())}, log[i:]...)...)
		case 4:
			log[i], log[j] = log[j], log[i]
		case 5:
			log = log[:max(j, len(log)-rng.IntN(100))]
		}
	}
	return log
}

func TestBlockReaderReadsWhatReaderReads(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	rounds := 4000
	if testing.Short() {
		rounds = 500
	}
	plain := 0
	for round := range rounds {
		log := messyLog(rng, 1+rng.IntN(60))
		if round%3 > 0 {
			log = damage(rng, log)
		}
		if round%50 == 0 {
			i := rng.IntN(len(log))
			long := bytes.Repeat([]byte("x"), mostLine-100+rng.IntN(200)+rng.IntN(2)*100_000)
			log = append(log[:i:i], append(long, log[i:]...)...)
		}
		o := Options{Stamps: decode.Stamps(rng.IntN(5) / 4 * rng.IntN(5))}
		var fault error
		if rng.IntN(5) == 0 {
			fault = errors.New("the disk went away")
		}
		in := func() io.Reader {
			if fault == nil {
				return bytes.NewReader(log)
			}
			return io.MultiReader(bytes.NewReader(log), iotest.ErrReader(fault))
		}
		want := tell(NewReader(in(), o))
		size, workers := 1+rng.IntN(400), rng.IntN(4)
		b := newBlockReader(in(), o, nil, workers, size)
		got := tellBlocks(b)
		if b.plain {
			plain++
		}
		if diff := cmp.Diff(want.frames, got.frames); diff != "" {
			t.Fatalf("round %d, size %d, %d workers: frames differ:\n%s\nlog:\n%.4000q", round, size, workers, diff, log)
		}
		if diff := cmp.Diff(want.info, got.info); diff != "" {
			t.Fatalf("round %d, size %d, %d workers: info differs:\n%s\nlog:\n%.4000q", round, size, workers, diff, log)
		}
		if !errors.Is(got.err, want.err) {
			t.Fatalf("round %d: error %v, want %v", round, got.err, want.err)
		}
	}
	if plain < rounds/4 {
		t.Errorf("only %d of %d logs went the fast way", plain, rounds)
	}
}
