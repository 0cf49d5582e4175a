package candump

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/klauspost/compress/zstd"
	"github.com/ulikunitz/xz"

	"lull/decode"
	"lull/pkg/source"
)

// soundLog returns a log in which every line is a frame.
func soundLog(rng *rand.Rand, lines int) []byte {
	var log []byte
	f := decode.Frame{Time: 1_700_000_000_000_000_000, Bus: "can0", Len: 8}
	for range lines {
		f.Time += 1000 * (1 + rng.Int64N(20_000))
		f.ID = rng.Uint32N(0x800)
		for i := range f.Len {
			f.Data[i] = byte(rng.Uint32())
		}
		log = AppendFrame(log, &f)
	}
	return log
}

// Every line that comes out of a damaged packed log is counted once. Both readers report the
// same and end with the damage. If the file was cut, every complete line before the cut is
// read.
func TestDamagedPackedLogsAreCountedInFull(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	plain := soundLog(rng, 4000)
	want := tell(NewReader(bytes.NewReader(plain), Options{})).frames
	var packed [][]byte
	for _, packer := range []func(io.Writer) (io.WriteCloser, error){
		func(w io.Writer) (io.WriteCloser, error) { return gzip.NewWriter(w), nil },
		func(w io.Writer) (io.WriteCloser, error) { return zstd.NewWriter(w) },
		func(w io.Writer) (io.WriteCloser, error) { return xz.NewWriter(w) },
	} {
		var b bytes.Buffer
		w, err := packer(&b)
		if err == nil {
			_, err = w.Write(plain)
		}
		if err == nil {
			err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		packed = append(packed, b.Bytes())
	}
	rounds := 200
	if testing.Short() {
		rounds = 40
	}
	cutShort, damaged := 0, 0
	for round := range rounds {
		data := bytes.Clone(packed[round%len(packed)])
		at := 6 + rng.IntN(len(data)-6) // after the bytes by which the packing is recognised
		cut := round%2 == 0
		if cut {
			data = data[:at]
		} else {
			data[at] ^= 1 << rng.IntN(8)
		}
		open := func() *source.Reader {
			in, err := source.Open(source.Input{Path: source.Stdin}, bytes.NewReader(data))
			if errors.Is(err, source.ErrPacking) {
				return nil // a head that requires something unsupported
			}
			if err != nil {
				t.Fatal(err)
			}
			return in
		}
		in := open()
		if in == nil {
			continue
		}
		watch := time.AfterFunc(time.Minute, func() { panic(fmt.Sprintf("damaged packed log %d is not read in a minute", round)) })
		got := tell(NewReader(in, Options{}))
		in.Close()
		in = open()
		blocks := tellBlocks(newBlockReader(in, Options{}, nil, 1+rng.IntN(3), 1000+rng.IntN(100_000)))
		in.Close()
		watch.Stop()

		i := got.info
		if i.Accepted+i.Rejected+i.Blank+i.Comments+i.Remarked != i.Lines || i.Accepted != int64(len(got.frames)) {
			t.Fatalf("round %d: %d frames, counted %+v", round, len(got.frames), i)
		}
		if !reflect.DeepEqual(i, blocks.info) || !slices.Equal(got.frames, blocks.frames) || (got.err == nil) != (blocks.err == nil) {
			t.Fatalf("round %d: errors %v and %v, frames and info (-Reader +BlockReader):\n%s%s", round, got.err, blocks.err,
				cmp.Diff(got.frames, blocks.frames), cmp.Diff(i, blocks.info))
		}
		if got.err != nil && !errors.Is(got.err, source.ErrDamaged) || cut && got.err == nil {
			t.Fatalf("round %d, cut %v: error %v", round, cut, got.err)
		}
		if got.err != nil {
			damaged++
		}
		if !cut {
			continue
		}
		whole := bytes.Count(plain[:i.Bytes], []byte{'\n'})
		if !slices.Equal(got.frames, want[:whole]) || i.Lines > int64(whole)+1 {
			t.Fatalf("round %d: %d of %d whole lines read, counted %+v", round, len(got.frames), whole, i)
		}
		if whole > 0 {
			cutShort++
		}
	}
	if cutShort < rounds/8 || damaged < rounds/2 {
		t.Errorf("of %d files %d gave lines before their cut and %d told damage: they prove little", rounds, cutShort, damaged)
	}
	t.Logf("of %d files %d gave lines before their cut, %d told damage", rounds, cutShort, damaged)
}
