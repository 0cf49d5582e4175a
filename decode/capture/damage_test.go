package capture

import (
	"bytes"
	"encoding/binary"
	"io"
	"math/rand/v2"
	"runtime"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/decode"
	"lull/decode/candump"
	"lull/pkg/damage"
)

// captures are undamaged files of every format, to be damaged.
func captures(t testing.TB, lines string) [][]byte {
	list := frames(t, lines)
	var all [][]byte
	for _, order := range orders {
		micro, nano, ng := newPcap(order, 0xA1B2C3D4, 227), newPcap(order, 0xA1B23C4D, 227), newNg(order)
		ng.iface(227, named("can0"), unit(9)).iface(1, named("eth0")).iface(227, unit(0x80|20))
		for i := range list {
			f := &list[i]
			data := record(f)
			micro.packet(uint32(f.Time/1e9), uint32(f.Time%1e9/1e3), data, len(data))
			nano.packet(uint32(f.Time/1e9), uint32(f.Time%1e9), data, len(data))
			ng.enhanced(0, uint64(f.Time), data, len(data), option{2, []byte{1, 0, 0, 0}}).enhanced(1, uint64(f.Time), data, len(data))
			if i%5 == 0 {
				ng.block(4, make([]byte, 4)).block(5, ng.body().u32(0, 0, 0).options([]option{{5, make([]byte, 8)}}).Bytes())
			}
			if i == 7 {
				ng.section().iface(227)
			}
		}
		all = append(all, micro.Bytes(), nano.Bytes(), ng.Bytes())
	}
	return all
}

func TestFiveThousandDamagedCapturesAreCountedInFull(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	sound := captures(t, log+log+log)
	start := time.Now()
	var before, after runtime.MemStats
	var most uint64
	var accepted, rejected, refused int64
	for i := range 5000 {
		data := damage.Of(random, sound[i%len(sound)])
		if random.IntN(4) == 0 {
			data = damage.Length(random, data)
		}
		runtime.ReadMemStats(&before)
		r, err := NewReader(bytes.NewReader(data))
		if err != nil {
			refused++
			continue
		}
		for r.Scan() {
			checkFrame(t, r.Frame())
		}
		runtime.ReadMemStats(&after)
		most = max(most, after.TotalAlloc-before.TotalAlloc)
		info := r.Info()
		if info.Accepted+info.Rejected+info.Remarked != info.Lines || info.Blank+info.Comments != 0 {
			t.Fatalf("file %d: %+v", i, info)
		}
		if info.Bytes != int64(len(data)) {
			t.Errorf("file %d: %d bytes read of %d", i, info.Bytes, len(data))
		}
		accepted, rejected = accepted+info.Accepted, rejected+info.Rejected
	}
	// The buffer takes 256 KiB, and a packet block no more than twice that.
	if most > 2<<20 {
		t.Errorf("one capture took %d bytes of memory", most)
	}
	if accepted == 0 || rejected == 0 || refused == 0 {
		t.Errorf("%d frames accepted, %d packets rejected, %d files refused", accepted, rejected, refused)
	}
	t.Logf("%d accepted, %d rejected, %d refused in %v, at most %d KiB a file", accepted, rejected, refused, time.Since(start).Round(time.Millisecond), most>>10)
}

// checkFrame checks that a frame is one that a bus can carry.
func checkFrame(t testing.TB, f *decode.Frame) {
	t.Helper()
	most := uint8(8)
	if f.Flags.Has(decode.FD) {
		most = 64
	}
	limit := uint32(0x7FF)
	if f.Flags&(decode.Extended|decode.Error) != 0 {
		limit = 0x1FFFFFFF
	}
	if f.Len > most || f.ID > limit || f.Bus == "" || len(f.Bus) > 64 || f.Time < 0 || f.Line < 1 || f.RawDLC != 0 && (f.RawDLC < 9 || f.RawDLC > 15 || f.Len != 8) {
		t.Errorf("frame %+v", f)
	}
}

// FuzzReader checks that no input makes the reader panic, miscount or take much memory, that
// the result does not depend on the pieces in which the input arrives, and that every frame
// is one that a bus can carry.
func FuzzReader(f *testing.F) {
	for _, data := range captures(f, log) {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		list, info, err := readAll(t, bytes.NewReader(data))
		for i := range list {
			checkFrame(t, &list[i])
		}
		again, infoAgain, errAgain := readAll(t, iotest.OneByteReader(bytes.NewReader(data)))
		if diff := cmp.Diff(list, again) + cmp.Diff(info, infoAgain); diff != "" || (err == nil) != (errAgain == nil) {
			t.Errorf("%v; byte by byte %v:\n%s", err, errAgain, diff)
		}
		if info.Lines > 0 && info.Bytes != int64(len(data)) {
			t.Errorf("%d bytes counted of %d", info.Bytes, len(data))
		}
	})
}

// Any text log can be written as a capture, and both give the same frames.
func TestAnyLogGivesTheSameFramesAsACapture(t *testing.T) {
	lengths := []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64}
	rapid.Check(t, func(t *rapid.T) {
		order := orders[rapid.SampledFrom([]string{"little-endian", "big-endian"}).Draw(t, "order")]
		ng := newNg(order).iface(227, unit(9)).iface(227, unit(9), named("body"))
		var text []byte
		for range rapid.IntRange(0, 40).Draw(t, "frames") {
			number := rapid.IntRange(0, 1).Draw(t, "interface")
			f := decode.Frame{Bus: []string{"can0", "body"}[number], Time: rapid.Int64Range(1e18, 1<<62).Draw(t, "time")}
			f.Len = uint8(rapid.SampledFrom(lengths[:9]).Draw(t, "length"))
			switch rapid.IntRange(0, 3).Draw(t, "kind") {
			case 0:
				f.Flags = decode.Remote
			case 1:
				f.Flags, f.ID = decode.Error, rapid.Uint32Range(0, idMask).Draw(t, "class")
			case 2:
				f.Flags = decode.FD
				f.Len = uint8(rapid.SampledFrom(lengths).Draw(t, "FD length"))
				if rapid.Bool().Draw(t, "BRS") {
					f.Flags |= decode.BitRateSwitch
				}
				if rapid.Bool().Draw(t, "ESI") {
					f.Flags |= decode.ErrorStateIndicator
				}
			}
			if f.Len == 8 && !f.Flags.Has(decode.FD) && rapid.Bool().Draw(t, "raw") {
				f.RawDLC = rapid.Uint8Range(9, 15).Draw(t, "code")
				if f.Flags.Has(decode.Error) {
					f.RawDLC = 0
				}
			}
			if !f.Flags.Has(decode.Error) {
				f.ID = rapid.Uint32Range(0, 0x7FF).Draw(t, "id")
				if rapid.Bool().Draw(t, "extended") {
					f.Flags |= decode.Extended
					f.ID = rapid.Uint32Range(0, idMask).Draw(t, "long id")
				}
			}
			for i := range f.Payload() {
				f.Data[i] = rapid.Byte().Draw(t, "byte")
			}
			data := record(&f)
			ng.enhanced(uint32(number), uint64(f.Time), data, len(data))
			text = candump.AppendFrame(text, &f)
		}
		var want, list []decode.Frame
		lines := candump.NewReader(bytes.NewReader(text), candump.Options{})
		for lines.Scan() {
			want = append(want, *lines.Frame())
		}
		r, err := NewReader(ng)
		if err != nil {
			t.Fatal(err)
		}
		for r.Scan() {
			list = append(list, *r.Frame())
		}
		if diff := cmp.Diff(want, list); diff != "" || r.Err() != nil || lines.Info().Rejected > 0 {
			t.Fatalf("error %v, %d lines rejected; frames (-want +got):\n%s", r.Err(), lines.Info().Rejected, diff)
		}
	})
}

func TestPacketsAreReadWithoutAllocation(t *testing.T) {
	const packets = 20_000
	for name, whole := range map[string]func() *file{
		"pcap": func() *file {
			w := newPcap(binary.LittleEndian, 0xA1B2C3D4, 227)
			for i := range uint32(packets) {
				w.packet(1.7e9+i, i, one, 16)
			}
			return w
		},
		"pcapng": func() *file {
			w := newNg(binary.LittleEndian).iface(227, named("can0")).iface(227, unit(0x80|20))
			for i := range uint32(packets) {
				w.enhanced(i%2, 1.7e15+uint64(i), one, 16, option{1, []byte("a comment")})
			}
			return w
		},
	} {
		data := whole().Bytes()
		var r *Reader
		count := 0
		read := testing.AllocsPerRun(3, func() {
			var err error
			if r, err = NewReader(bytes.NewReader(data)); err != nil {
				t.Fatal(err)
			}
			for count = 0; r.Scan(); count++ {
			}
		})
		if count != packets || read > 100 {
			t.Errorf("%s: %v allocations for %d packets", name, read, count)
		}
	}
}

func TestCountlessInterfacesAndNamesTakeBoundedMemory(t *testing.T) {
	w := newNg(binary.LittleEndian)
	for i := range uint32(3 * mostInterfaces) {
		name := []byte{'a' + byte(i%26), 'a' + byte(i/26%26), 'a' + byte(i/676%26)}
		w.iface(227, named(string(name)), option{1, make([]byte, 200)}, option{11, make([]byte, 2000)})
	}
	for i := range uint32(2 * mostInterfaces) {
		w.enhanced(i, 1.7e15, one, 16)
	}
	data := w.Bytes()
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	r, err := NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	for r.Scan() {
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	info := r.Info()
	if info.Accepted != mostInterfaces || info.Rejected != mostInterfaces || len(info.Interfaces) != mostNames {
		t.Errorf("%d accepted, %d rejected, %d interfaces named", info.Accepted, info.Rejected, len(info.Interfaces))
	}
	if more := int64(after.HeapInuse) - int64(before.HeapInuse); more > 8<<20 {
		t.Errorf("%d KiB for %d KiB of interfaces", more>>10, len(data)>>10)
	}
	runtime.KeepAlive(r)
}

// endless is a capture without an end: a head, then one piece again and again.
type endless struct {
	head, piece []byte
	left        int
}

func (e *endless) Read(p []byte) (int, error) {
	if len(e.head) == 0 {
		if e.left == 0 {
			return 0, io.EOF
		}
		e.left--
		e.head = e.piece
	}
	n := copy(p, e.head)
	e.head = e.head[n:]
	return n, nil
}

func TestLongCapturesTakeNoMoreMemoryThanShortOnes(t *testing.T) {
	w := newNg(binary.LittleEndian).iface(227)
	head := bytes.Clone(w.Bytes())
	w.Reset()
	count := make([]byte, 8)
	for i := range uint64(1000) {
		w.enhanced(0, 1.7e15+i, one, 16, option{1, []byte("a comment")})
	}
	w.block(10, append([]byte("SLKT\x04\x00\x00\x00"), make([]byte, 500)...)). // keys
											block(4, []byte{1, 0, 8, 0, 1, 2, 3, 4, 'n', 'a', 'm', 0, 0, 0, 0, 0}).
											block(5, w.body().u32(0, 0, 0).options([]option{{1, make([]byte, 100)}, {5, count}}).Bytes()).
											section().iface(227)
	peak := func(pieces int) int64 {
		var before, now runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		r, err := NewReader(&endless{head: head, piece: w.Bytes(), left: pieces})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for ; r.Scan(); n++ {
		}
		if n != pieces*1000 || r.Info().Remarks != nil {
			t.Fatalf("%d frames, %+v", n, r.Info())
		}
		runtime.GC()
		runtime.ReadMemStats(&now)
		runtime.KeepAlive(r)
		return int64(now.HeapInuse) - int64(before.HeapInuse)
	}
	short, long := peak(10), peak(1000)
	if long > short+1<<20 {
		t.Errorf("%d KiB for 10,000 packets, %d KiB for 1,000,000", short>>10, long>>10)
	}
}

func BenchmarkReader(b *testing.B) {
	w := newNg(binary.LittleEndian).iface(227)
	for i := range uint64(100_000) {
		w.enhanced(0, 1.7e15+i, one, 16)
	}
	b.SetBytes(int64(w.Len()))
	for b.Loop() {
		r, err := NewReader(bytes.NewReader(w.Bytes()))
		if err != nil {
			b.Fatal(err)
		}
		for r.Scan() {
		}
	}
}
