package candump

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// Both readers count each empty line in runs of any length, between lines of every kind,
// whatever the stamps are.
func TestRunsOfEmptyLinesAreCountedOneByOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	runs := []int{1, 2, 3, 100, 5000, bufferSize - 1, bufferSize, bufferSize + 1}
	for round := range 60 {
		var log []byte
		empty := int64(0)
		for range rng.IntN(12) {
			log = append(log, messyLog(rng, rng.IntN(30))...)
			if rng.IntN(3) == 0 {
				log = append(log, "(1700000000.000000) can0 20000004#0004000000000000\n"...)
			}
			n := runs[rng.IntN(len(runs))]
			log = append(log, bytes.Repeat([]byte("\n"), n)...)
		}
		if round%3 == 0 {
			log = bytes.ReplaceAll(log, []byte("(1700"), []byte("(")) // small stamps, which are held back
		}
		for _, line := range bytes.SplitAfter(log, []byte("\n")) {
			if string(line) == "\n" {
				empty++
			}
		}
		want := tell(NewReader(bytes.NewReader(log), Options{}))
		if i := want.info; i.Blank < empty || i.Accepted+i.Rejected+i.Blank+i.Comments+i.Remarked != i.Lines || i.Bytes != int64(len(log)) {
			t.Fatalf("round %d: %d empty lines, %d bytes: %+v", round, empty, len(log), i)
		}
		for _, size := range []int{200, blockSize} {
			b := newBlockReader(bytes.NewReader(log), Options{}, nil, rng.IntN(3), size)
			if diff := cmp.Diff(want, tellBlocks(b), cmp.AllowUnexported(told{})); diff != "" {
				t.Fatalf("round %d, blocks of %d: %s", round, size, diff)
			}
		}
	}
}

// A file that unpacks to very many empty lines takes little time.
func TestEmptyLinesCostLittle(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: the race detector is slow for each byte, and a short run has no time")
	}
	log := slices.Repeat([]byte("\n"), 64<<20)
	for name, read := range map[string]func() told{
		"Reader":      func() told { return tell(NewReader(bytes.NewReader(log), Options{})) },
		"BlockReader": func() told { return tellBlocks(NewBlockReader(bytes.NewReader(log), Options{}, nil, 1)) },
	} {
		began := time.Now()
		if got := read(); got.info.Blank != 64<<20 {
			t.Errorf("%s: %+v", name, got.info)
		}
		if took := time.Since(began); took > time.Second/2 {
			t.Errorf("%s: took %v", name, took)
		}
	}
}
