package source

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
	"github.com/ulikunitz/xz"

	"lull/pkg/damage"
	"lull/pkg/oracle"
)

// packers pack by the libraries; there is none for bzip2.
var packers = map[string]func(io.Writer) (io.WriteCloser, error){
	"gzip": func(w io.Writer) (io.WriteCloser, error) { return gzip.NewWriter(w), nil },
	"zstd": func(w io.Writer) (io.WriteCloser, error) { return zstd.NewWriter(w) },
	"xz":   func(w io.Writer) (io.WriteCloser, error) { return xz.NewWriter(w) },
}

func pack(t testing.TB, name string, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := packers[name](&b)
	if err == nil {
		_, err = w.Write(data)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// someLog returns text that does not become very small when packed.
func someLog(lines int) []byte {
	random := rand.New(rand.NewPCG(7, 7))
	var b []byte
	for i := range lines {
		b = append(b, "(17352704"...)
		b = strconv.AppendInt(b, int64(10+i/1000%90), 10)
		b = append(b, ".000000) can0 1A0#"...)
		b = append(strconv.AppendUint(b, random.Uint64()|1<<63, 16), '\n')
	}
	return b
}

func openBytes(data []byte) (*Reader, error) {
	return Open(Input{Path: Stdin}, bytes.NewReader(data), WithSHA256())
}

func readBytes(t testing.TB, data []byte) ([]byte, error) {
	t.Helper()
	r, err := openBytes(data)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	got, err := io.ReadAll(r)
	if r.Bytes() != int64(len(data)) {
		t.Errorf("%d bytes of %d were read from disk", r.Bytes(), len(data))
	}
	return got, err
}

func TestACutPackedFileGivesWhatItHoldsAndThenDamage(t *testing.T) {
	plain := someLog(20_000)
	for name := range packers {
		whole := pack(t, name, plain)
		least := 0 // more of the file never gives less text
		cuts := 97
		if oracle.RaceDetector {
			cuts = 11
		}
		for cut := 7; cut < len(whole); cut += len(whole) / cuts {
			got, err := readBytes(t, whole[:cut])
			if !errors.Is(err, ErrDamaged) || errors.Is(err, ErrPacking) || !bytes.HasPrefix(plain, got) || len(got) < least {
				t.Fatalf("%s cut at %d of %d: %d bytes, error %v", name, cut, len(whole), len(got), err)
			}
			least = len(got)
		}
		// At most one block is lost.
		if lost := len(plain) - least; lost > len(plain)*2/5 && name != "xz" {
			t.Errorf("%s: %d of %d bytes lost when the last hundredth of the file is cut off", name, lost, len(plain))
		}
	}
}

func TestPackingsMayFollowEachOtherAndBeFollowedByNothingElse(t *testing.T) {
	one, two := someLog(500), []byte(text)
	for name := range packers {
		joined := append(pack(t, name, one), pack(t, name, two)...)
		both := append(append([]byte{}, one...), two...)
		if got, err := readBytes(t, joined); err != nil || !bytes.Equal(got, both) {
			t.Errorf("%s: %d bytes, error %v", name, len(got), err)
		}
		for _, garbage := range []string{"(1735270496.916858) can0 1A0#0011\n", strings.Repeat("\xAA", 100)} {
			got, err := readBytes(t, append(bytes.Clone(joined), garbage...))
			want := "standard input: something that is not " + name + " follows the packed log; check that the file is a copy of one log"
			if !bytes.Equal(got, both) || !errors.Is(err, ErrDamaged) || err.Error() != want {
				t.Errorf("%s: %d bytes of %d, error %v", name, len(got), len(both), err)
			}
		}
	}
	// Padding between and after streams is part of the xz format.
	x := pack(t, "xz", two)
	padded := append(append(append(bytes.Clone(x), 0, 0, 0, 0), x...), make([]byte, 8)...)
	if got, err := readBytes(t, padded); err != nil || string(got) != text+text {
		t.Errorf("padded xz gives %q, %v", got, err)
	}
	if got, err := readBytes(t, append(packed(t)["bzip2"], "more than that"...)); string(got) != text ||
		err.Error() != "standard input: something that is not bzip2 follows the packed log; check that the file is a copy of one log" {
		t.Errorf("bzip2 gives %q, %v", got, err)
	}
}

// zstdOf packs with the given window.
func zstdOf(t testing.TB, window int) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := zstd.NewWriter(&b, zstd.WithWindowSize(window), zstd.WithSingleSegment(false))
	if err != nil {
		t.Fatal(err)
	}
	io.WriteString(w, text)
	w.Flush() // so that the frame begins before its length is known
	w.Close()
	return b.Bytes()
}

// xzOf returns an xz file whose block claims to need the given dictionary or filter.
func xzOf(t testing.TB, dictionary, filter byte) []byte {
	t.Helper()
	b := pack(t, "xz", []byte(text))
	header := b[12 : 12+(int(b[12])+1)*4]
	if header[1] != 0 || header[2] != 0x21 {
		t.Fatalf("block header % x", header)
	}
	header[2], header[4] = filter, dictionary
	binary.LittleEndian.PutUint32(header[len(header)-4:], crc32.ChecksumIEEE(header[:len(header)-4]))
	return b
}

func TestPackingsThatNeedTooMuchMemoryAreRefusedWithAdvice(t *testing.T) {
	const tooMuch = "standard input: packed by %s in such a way that unpacking takes more than 64 MiB of memory; repack it: "
	for _, c := range []struct {
		name string
		data []byte
		want string // "" where it is read
	}{
		{"zstd of 64 MiB", zstdOf(t, 64<<20), ""},
		{"zstd of 128 MiB", zstdOf(t, 128<<20), strings.Replace(tooMuch, "%s", "zstd", 1) + "zstd -d --long=31 FILE && zstd LOG"},
		{"xz of 64 MiB", xzOf(t, 28, 0x21), ""},
		{"xz of 96 MiB", xzOf(t, 29, 0x21), strings.Replace(tooMuch, "%s", "xz", 1) + "xz -d FILE && xz -6 LOG"},
		{"xz of 4 GiB", xzOf(t, 40, 0x21), strings.Replace(tooMuch, "%s", "xz", 1) + "xz -d FILE && xz -6 LOG"},
		{"xz with a filter for machine code", xzOf(t, 22, 0x04), "standard input: packed by xz with an unsupported filter; repack it: xz -d FILE && xz -6 LOG"},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		r, err := openBytes(c.data)
		runtime.ReadMemStats(&after)
		if c.want != "" {
			if r != nil || err == nil || err.Error() != c.want || !errors.Is(err, ErrPacking) || errors.Is(err, ErrDamaged) {
				t.Errorf("%s: error %v", c.name, err)
			}
			if took := after.TotalAlloc - before.TotalAlloc; took > 2<<20 {
				t.Errorf("%s: refusing took %d bytes", c.name, took)
			}
			// The same after a stream that can be read.
			ok := pack(t, strings.Fields(c.name)[0], []byte(text))
			got, err := readBytes(t, append(ok, c.data...))
			if string(got) != text || err == nil || err.Error() != c.want || !errors.Is(err, ErrPacking) || !errors.Is(err, ErrDamaged) {
				t.Errorf("%s as the second: %q, %v", c.name, got, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got, err := io.ReadAll(r); string(got) != text || err != nil {
			t.Errorf("%s: %q, %v", c.name, got, err)
		}
		r.Close()
	}
}

// An xz index lists every block. Keeping the list of countless empty blocks would fill
// the memory.
func TestXZOfCountlessBlocksIsReadInConstantMemory(t *testing.T) {
	empty := pack(t, "xz", nil)
	b := bytes.Clone(empty[:12])
	b[7] = 0 // no checksum after blocks
	binary.LittleEndian.PutUint32(b[8:], crc32.ChecksumIEEE(b[6:8]))
	header := []byte{2, 0, 0x21, 1, 0, 0, 0, 0}
	header = binary.LittleEndian.AppendUint32(header, crc32.ChecksumIEEE(header))
	block := append(header, 0, 0, 0, 0)
	data := append(b, bytes.Repeat(block, 1<<18)...)
	r, err := openBytes(data)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	got, err := io.ReadAll(r)
	runtime.ReadMemStats(&after)
	if len(got) > 0 || !errors.Is(err, ErrDamaged) { // it has no index
		t.Errorf("%d bytes, error %v", len(got), err)
	}
	if took := after.TotalAlloc - before.TotalAlloc; took > 1<<20 {
		t.Errorf("%d empty blocks took %d bytes of memory", 1<<18, took)
	}
}

// zeros reads as the given number of zero bytes.
type zeros struct{ left int }

func (z *zeros) Read(p []byte) (int, error) {
	n := min(len(p), z.left)
	z.left -= n
	clear(p[:n])
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// A small packed file of zeros unpacks to a very large one.
func TestADecompressionBombStaysInConstantMemory(t *testing.T) {
	member, members := 64<<20, 16 // 1 GB
	if oracle.RaceDetector {
		member = 4 << 20
	}
	for name, packer := range packers {
		var b bytes.Buffer
		w, err := packer(&b)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(w, &zeros{member}); err != nil {
			t.Fatal(err)
		}
		w.Close()
		n := members
		if name == "xz" {
			n = 2 // unpacking is slow
		}
		r, err := openBytes(bytes.Repeat(b.Bytes(), n))
		if err != nil {
			t.Fatal(err)
		}
		runtime.GC()
		var before, now runtime.MemStats
		runtime.ReadMemStats(&before)
		buffer, total, peak := make([]byte, 256<<10), 0, uint64(0)
		for reads := 0; err == nil; reads++ {
			var k int
			k, err = r.Read(buffer)
			total += k
			if reads%256 == 0 {
				runtime.ReadMemStats(&now)
				peak = max(peak, now.HeapInuse)
			}
		}
		if err != io.EOF || total != n*member {
			t.Errorf("%s: %d bytes, error %v", name, total, err)
		}
		if more := int64(peak) - int64(before.HeapInuse); more > 32<<20 {
			t.Errorf("%s: %d MiB more memory than before", name, more>>20)
		}
		r.Close()
	}
}

func TestFiveThousandDamagedPackingsAreReadAsFarAsTheyGo(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	plain := someLog(200)
	var sound [][]byte
	for name := range packers {
		sound = append(sound, append(pack(t, name, plain), pack(t, name, plain)...))
	}
	sound = append(sound, packed(t)["bzip2"])
	total := 5000
	if oracle.RaceDetector {
		total = 500
	}
	start := time.Now()
	whole := 0
	var most uint64
	for i := range total {
		data := damage.Of(random, sound[i%len(sound)])
		r, err := openBytes(data)
		if err != nil {
			if !errors.Is(err, ErrPacking) {
				t.Fatalf("file %d: Open gives %v", i, err)
			}
			continue
		}
		n, err := io.Copy(io.Discard, io.LimitReader(r, 256<<20))
		if err == nil {
			whole++
		} else if !errors.Is(err, ErrDamaged) {
			t.Fatalf("file %d: Read gives %v", i, err)
		}
		if n == 256<<20 {
			t.Errorf("file %d of %d bytes unpacks without end", i, len(data))
		}
		r.Close()
		if i%100 == 0 {
			runtime.GC() // memory that one file took must be free again
			var now runtime.MemStats
			runtime.ReadMemStats(&now)
			most = max(most, now.HeapInuse)
		}
	}
	if most > 32<<20 {
		t.Errorf("%d MiB in use between files", most>>20)
	}
	t.Logf("%d damaged files in %v, %d of them read to a clean end, at most %d MiB in use between them", total, time.Since(start).Round(time.Millisecond), whole, most>>20)
}

func TestPeekShowsWhatReadReturns(t *testing.T) {
	for name, data := range packed(t) {
		r, err := openBytes(bytes.Repeat(data, 500))
		if err != nil {
			t.Fatal(err)
		}
		want := strings.Repeat(text, 500)
		for _, n := range []int{0, 1, 12, 5000, 12} {
			if head, err := r.Peek(n); string(head) != want[:n] || err != nil {
				t.Errorf("%s: peeking at %d gives %d bytes, %v", name, n, len(head), err)
			}
		}
		got, err := io.ReadAll(r)
		if string(got) != want || err != nil {
			t.Errorf("%s: %d bytes behind Peek, %v", name, len(got), err)
		}
		if head, err := r.Peek(1); len(head) != 0 || err != io.EOF {
			t.Errorf("%s: peeking at the end gives %d bytes, %v", name, len(head), err)
		}
		r, err = openBytes(data)
		if err != nil {
			t.Fatal(err)
		}
		if head, err := r.Peek(1000); string(head) != text || err != io.EOF {
			t.Errorf("%s: peeking beyond the end gives %q, %v", name, head, err)
		}
		if got, err := io.ReadAll(r); string(got) != text || err != nil {
			t.Errorf("%s: then Read gives %q, %v", name, got, err)
		}
	}
	cut := packed(t)["gzip"]
	r, err := openBytes(cut[:len(cut)-1])
	if err != nil {
		t.Fatal(err)
	}
	if head, err := r.Peek(1000); string(head) != text || !errors.Is(err, ErrDamaged) {
		t.Errorf("a cut file: %q, %v", head, err)
	}
}

func TestClosingEndsUnpacking(t *testing.T) {
	before := runtime.NumGoroutine()
	for name := range packers {
		r, err := openBytes(pack(t, name, someLog(50_000)))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadFull(r, make([]byte, 10_000)); err != nil {
			t.Fatal(err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}
	for end := time.Now().Add(10 * time.Second); runtime.NumGoroutine() > before; runtime.Gosched() {
		if time.Now().After(end) {
			t.Fatalf("%d goroutines, %d before", runtime.NumGoroutine(), before)
		}
	}
}

// A worker may still be reading when its job is abandoned.
func TestClosingWhileAnotherReadsGivesErrClosed(t *testing.T) {
	for name, data := range packed(t) {
		in, feed := io.Pipe()
		go feed.Write(bytes.Repeat(data, 500)) // and nothing after that
		r, err := Open(Input{Path: Stdin}, in)
		if err != nil {
			t.Fatal(err)
		}
		ended := make(chan error)
		go func() {
			_, err := io.Copy(io.Discard, r)
			ended <- err
		}()
		time.Sleep(time.Millisecond)
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		feed.Close()
		if err := <-ended; err != nil && !errors.Is(err, fs.ErrClosed) {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

// packedBy is the Debian package of each packing program.
var packedBy = map[string]string{"gzip": "gzip", "pigz": "pigz", "bzip2": "bzip2", "pbzip2": "pbzip2", "lbzip2": "lbzip2", "zstd": "zstd", "pzstd": "zstd", "xz": "xz-utils"}

// Files written by the programs themselves, with the options that people use.
func TestFilesByThePackingPrograms(t *testing.T) {
	tree(t)
	lines := 12_000
	if oracle.RaceDetector {
		lines = 1000
	}
	plain := someLog(lines)
	if err := os.WriteFile("drive.log", plain, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, command := range []string{
		"gzip -1", "gzip -9", "pigz -p 2", "bzip2 -1", "bzip2 -9", "pbzip2 -p2", "zstd -1", "zstd -19", "zstd --fast=3", "zstd -T2", "zstd --long=26", "pzstd -p 2",
		"xz -0", "xz -6", "xz -9e", "xz -T2 --block-size=300000", "xz --check=none", "xz --check=crc32", "xz --check=sha256", "lbzip2",
	} {
		t.Run(command, func(t *testing.T) {
			words := strings.Fields(command)
			program := exec.Command(oracle.Program(t, words[0], packedBy[words[0]]), append(words[1:], "-c", "drive.log")...)
			data, err := program.Output()
			if err != nil {
				t.Fatal(err)
			}
			if got, err := readBytes(t, append(bytes.Clone(data), data...)); err != nil || len(got) != 2*len(plain) || !bytes.Equal(got[:len(plain)], plain) || !bytes.Equal(got[len(plain):], plain) {
				t.Errorf("%d bytes of %d, error %v", len(got), 2*len(plain), err)
			}
		})
	}
}
