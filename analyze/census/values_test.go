package census

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"lull/decode"
)

// The check values of both polynomials over "123456789", begun with and inverted by FF:
// 4B is that of SAE J1850, DF that of AUTOSAR (from memory; both are in the public
// catalogue of such polynomials).
func TestPolynomialsAreThePublishedOnes(t *testing.T) {
	for _, test := range []struct {
		table *crcTable
		want  uint8
	}{{crc1D, 0x4B}, {crc2F, 0xDF}} {
		r := uint8(0xFF)
		for _, b := range []byte("123456789") {
			r = test.table[r^b]
		}
		if r ^= 0xFF; r != test.want {
			t.Errorf("%02X, want %02X", r, test.want)
		}
	}
}

// payloads makes a log of one identifier.
func payloads(n int, make func(i int, data []byte)) []Byte {
	frames := []decode.Frame{}
	for i := range n {
		f := decode.Frame{Time: int64(i) * 10 * ms, Bus: "can0", ID: 0x123, Len: 8}
		make(i, f.Data[:8])
		frames = append(frames, f)
	}
	return count(Options{Values: true}, frames).IDs[0].Bytes
}

func described(list []Byte) string {
	var s []string
	for i := range list {
		b := &list[i]
		for _, c := range b.Counters {
			s = append(s, fmt.Sprintf("%d:%d-%d +%d", i, c.Low, c.Low+c.Bits-1, c.Step))
		}
		if b.Check != NoCheck {
			s = append(s, fmt.Sprintf("%d check %d", i, b.Check))
		}
		if b.Pages {
			s = append(s, fmt.Sprintf("%d pages", i))
		}
		if b.Restless {
			s = append(s, fmt.Sprintf("%d restless", i))
		}
	}
	return strings.Join(s, ", ")
}

func TestWhatBytesLookLike(t *testing.T) {
	dice := rand.New(rand.NewPCG(1, 2))
	slow := func(i int) byte { return byte(i / 9) }
	// put writes a checksum over all other bytes, the plain way.
	crc := func(polynomial byte, list ...byte) byte {
		r := byte(0xFF)
		for _, b := range list {
			for bit := 7; bit >= 0; bit-- {
				top := r>>7 ^ b>>bit&1
				if r <<= 1; top == 1 {
					r ^= polynomial
				}
			}
		}
		return r ^ 0xFF
	}
	body := func(i int, d []byte) {
		copy(d, []byte{byte(i % 16), slow(i), byte(i / 2 * 37), 0x40, byte(i / 100), 3, 7, 0})
	}
	for _, test := range []struct {
		name string
		make func(i int, d []byte)
		want string
	}{
		{"constant", func(_ int, d []byte) { d[3] = 9 }, ""},
		{"low nibble counts, high nibble is a state", func(i int, d []byte) { d[1] = byte(i)&0xF | byte(i/70)<<4 }, "1:0-3 +1"},
		{"high nibble counts", func(i int, d []byte) { d[7] = byte(i)<<4 | 5 }, "7:4-7 +1"},
		{"a byte counts", func(i int, d []byte) { d[0] = byte(i) }, "0:0-7 +1"},
		{"by threes", func(i int, d []byte) { d[2] = byte(3*i) & 0xF }, "2:0-3 +3"},
		{"two bits", func(i int, d []byte) { d[2] = byte(i) & 3 << 2 }, "2:2-3 +1"},
		{"downwards", func(i int, d []byte) { d[2] = byte(-i) & 0xF }, "2:0-3 +15"},
		{"one in 100 is lost", func(i int, d []byte) { d[0] = byte(i+i/100) & 0xF }, "0:0-3 +1"},
		{"one in 10 is lost", func(i int, d []byte) { d[0] = byte(i+i/10) & 0xF }, ""},
		{"a bit that toggles is no counter", func(i int, d []byte) { d[0] = byte(i) & 1 << 3 }, "0 pages"},
		{"pages", func(i int, d []byte) { d[0] = []byte{1, 0x10, 0x25, 0x31, 0x80}[i%5]; d[1] = d[0] ^ slow(i) }, "0 pages"},
		{"chance is no page", func(_ int, d []byte) { d[0] = byte(dice.IntN(5)) << 2 }, ""},
		{"noise", func(_ int, d []byte) { d[5] = byte(dice.Uint32()) }, "5 restless"},
		{"a slow value", func(i int, d []byte) { d[5] = slow(i) }, ""},
		{"exclusive or", func(i int, d []byte) {
			body(i, d)
			for _, b := range d[:7] {
				d[7] ^= b
			}
			d[7] ^= 0x5A
		}, "0:0-3 +1, 7 check 1"},
		{"sum", func(i int, d []byte) {
			body(i, d)
			for _, b := range d[:7] {
				d[7] += b
			}
			d[7] += 0x23
		}, "0:0-3 +1, 7 check 2"},
		{"sum to zero", func(i int, d []byte) {
			body(i, d)
			for _, b := range d[:7] {
				d[7] -= b
			}
		}, "0:0-3 +1, 7 check 3"},
		{"CRC of SAE J1850", func(i int, d []byte) { body(i, d); d[7] = crc(0x1D, d[:7]...) }, "0:0-3 +1, 7 check 4"},
		{"... with an identifier before", func(i int, d []byte) { body(i, d); d[7] = crc(0x1D, append([]byte{0x12, 0x34}, d[:7]...)...) }, "0:0-3 +1, 7 check 4"},
		{"... with one behind", func(i int, d []byte) { body(i, d); d[7] = crc(0x1D, append(append([]byte{}, d[:7]...), 0xA7)...) }, "0:0-3 +1, 7 check 6"},
		{"CRC of AUTOSAR in byte 0", func(i int, d []byte) {
			body(i, d)
			d[6] = d[0]
			d[0] = crc(0x2F, d[1:]...)
		}, "0 check 5, 6:0-3 +1"},
		{"... with one behind", func(i int, d []byte) { body(i, d); d[7] = crc(0x2F, append(append([]byte{}, d[:7]...), 0xA7)...) }, "0:0-3 +1, 7 check 7"},
		{"CRC over a counter alone", func(i int, d []byte) { d[1] = byte(i) & 0xF; d[0] = crc(0x1D, d[1:]...) }, "0 check 4, 1:0-3 +1"},
		// What follows a rule and is no checksum, or may be another byte's.
		{"exclusive or beside noise", func(i int, d []byte) {
			body(i, d)
			d[4] = byte(dice.Uint32())
			for _, b := range d[:7] {
				d[7] ^= b
			}
		}, "0:0-3 +1, 4 restless, 7 restless"},
		{"a value sent twice", func(i int, d []byte) {
			d[0], d[1] = byte(i*7), byte(i*i/90)
			d[6], d[7] = d[0], d[1]
		}, "0:0-7 +7, 6:0-7 +7"},
		{"a value and what is left of 255", func(i int, d []byte) {
			d[0], d[1] = byte(i*i/70), byte(i*i/90)
			d[6], d[7] = ^d[0], ^d[1]
		}, ""},
		{"a slow sum of two slow values", func(i int, d []byte) { d[0], d[1] = slow(i), byte(i/40); d[7] = d[0] + d[1] }, ""},
		{"CRC of an unknown polynomial", func(i int, d []byte) { body(i, d); d[2] = byte(dice.Uint32()); d[7] = crc(0x9B, d[:7]...) }, "0:0-3 +1, 2 restless, 7 restless"},
	} {
		if got := described(payloads(600, test.make)); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
		// Too few frames prove nothing.
		if got := described(payloads(12, test.make)); got != "" {
			t.Errorf("%s: %q of 12 frames", test.name, got)
		}
	}
}

// One frame that breaks a checksum is enough not to claim it.
func TestAChecksumHoldsInEveryFrame(t *testing.T) {
	make := func(broken int) func(i int, d []byte) {
		return func(i int, d []byte) {
			copy(d, []byte{byte(i), byte(i / 9), byte(i / 2 * 37)})
			d[7] = d[0] ^ d[1] ^ d[2]
			if i == broken {
				d[7] ^= 1
			}
		}
	}
	if got := described(payloads(600, make(-1))); got != "0:0-7 +1, 7 check 1" {
		t.Errorf("unbroken: %q", got)
	}
	if got := described(payloads(600, make(500))); strings.Contains(got, "check") {
		t.Errorf("broken: %q", got)
	}
}

// plainBytes counts what was seen in the bytes of one identifier the plain way.
func plainBytes(frames []decode.Frame, x *ID) []Byte {
	var list []Byte
	var last *decode.Frame
	for i := range frames {
		f := &frames[i]
		if f.Bus != x.Bus || f.ID != x.ID || f.Flags.Has(decode.Extended) != x.Extended || f.Flags.Has(decode.Error) || f.Flags.Has(decode.Remote) {
			continue
		}
		for at := range int(f.Len) {
			if at == len(list) {
				list = append(list, Byte{})
			}
			b, v := &list[at], f.Data[at]
			b.Count++
			b.Seen[v/64] |= 1 << (v % 64)
			if last == nil || at >= int(last.Len) {
				continue
			}
			b.Pairs++
			if v != last.Data[at] {
				b.Changes++
			}
			for bit := range 8 {
				b.Flips[bit] += int64((v ^ last.Data[at]) >> bit & 1)
			}
		}
		last = f
	}
	return list
}

func TestValuesEqualThePlainCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frames := rapid.SliceOfN(rapid.Custom(drawFrame), 0, 120).Draw(t, "frames")
		got := count(Options{Values: true}, frames)
		for i := range got.IDs {
			x := &got.IDs[i]
			want := plainBytes(frames, x)
			if diff := cmp.Diff(want, x.Bytes, cmpopts.IgnoreFields(Byte{}, "Counters", "Check", "Pages", "Restless"), cmpopts.IgnoreUnexported(Byte{}), cmpopts.EquateEmpty()); diff != "" {
				t.Fatalf("%X: -plain +census:\n%s", x.ID, diff)
			}
			var changing []int
			for at := range x.Bytes {
				b := &x.Bytes[at]
				for bit := range 8 {
					if b.Ones()&b.Zeros()>>bit&1 == 1 {
						changing = append(changing, 8*at+bit)
					}
				}
				if b.Values() < 1 || b.Least() > b.Most() {
					t.Fatalf("%+v", b)
				}
			}
			if diff := cmp.Diff(x.Changing, changing, cmpopts.EquateEmpty()); diff != "" {
				t.Fatalf("changing bits: %s", diff)
			}
		}
	})
}

// A flood of identifiers costs no more than the room for columns, and it is said of how
// many frames no values are kept.
func TestValuesOfAFloodStayInBounds(t *testing.T) {
	c := New(Options{Values: true})
	for i := range mostColumns/8 + 5 {
		c.Add(&decode.Frame{Time: int64(i), Bus: "can0", ID: uint32(i), Flags: decode.Extended, Len: 8})
	}
	got := c.Result(decode.Info{Stamps: decode.StampsAbsolute})
	columns := 0
	for _, x := range got.IDs {
		columns += len(x.Bytes)
	}
	if columns != mostColumns || len(got.Info.Remarks) != 1 || got.Info.Remarks[0].Count != 5 {
		t.Errorf("%d columns, remarks %v", columns, got.Info.Remarks)
	}
}

func TestValuesAllocateNothingForAFrame(t *testing.T) {
	if testing.CoverMode() != "" {
		t.Skip("SKIPPED: coverage counts allocate")
	}
	c := New(Options{Values: true})
	n := 0
	next := func() {
		f := decode.Frame{Time: int64(n) * 10 * ms, Bus: "can0", ID: uint32(n%3) + 1, Len: 8}
		for i := range f.Data[:8] {
			f.Data[i] = byte(n * (i + 3) / 2)
		}
		c.Add(&f)
		n++
	}
	for range 1000 {
		next()
	}
	if a := testing.AllocsPerRun(1000, next); a > 0 {
		t.Errorf("%v allocations", a)
	}
}

// BenchmarkAdd counts frames of a busy bus: counters, noise, slow values; with and without
// what was seen in each byte.
func BenchmarkAdd(b *testing.B) {
	frames := make([]decode.Frame, 40000)
	dice := rand.New(rand.NewPCG(1, 2))
	for i := range frames {
		f := &frames[i]
		*f = decode.Frame{Time: int64(i) * ms / 4, Bus: "can0", ID: uint32(i % 40), Len: 8}
		n := i / 40
		f.Data = [64]byte{byte(n) & 0xF, byte(dice.Uint32()), byte(n / 20), byte(n / 300), 0x40, 0, byte(n*n) >> 3, 0xFF}
	}
	for name, o := range map[string]Options{"plain": {}, "values": {Values: true}} {
		b.Run(name, func(b *testing.B) {
			c := New(o)
			for i := range b.N {
				f := &frames[i%len(frames)]
				c.Add(f)
			}
		})
	}
}

// What modules answer is counted by service and number; the frames are those of public
// examples (decode's tests name them).
func TestAnswersAreCounted(t *testing.T) {
	frame := func(id uint32, data ...byte) decode.Frame {
		f := decode.Frame{Bus: "can0", ID: id, Len: uint8(len(data))}
		if id > 0x7FF {
			f.Flags = decode.Extended
		}
		copy(f.Data[:], data)
		return f
	}
	frames := []decode.Frame{
		frame(0x7DF, 2, 1, 0x0C),
		frame(0x7E8, 4, 0x41, 0x0C, 0x0E, 0x70),
		frame(0x7E8, 4, 0x41, 0x0C, 0x1A, 0xF8),
		// Two values in one answer of several frames, among other answers.
		frame(0x7E8, 0x10, 0x11, 0x41, 0x05, 0x6E, 0x01, 0x83, 0x33),
		frame(0x7E9, 3, 0x7F, 1, 0x12),
		frame(0x7E8, 0x21, 0xFF, 0x63, 0x15, 0xA0, 0x78, 0x0C, 0x0A),
		frame(0x7E8, 0x22, 0x6B, 0x03, 0x02, 0x00, 0x55, 0x55, 0x55),
		frame(0x7E8, 3, 0x7F, 0x22, 0x78), // comes later: no answer
		frame(0x18DAF110, 5, 0x62, 0xF1, 0x90, 0x31, 0x32),
		frame(0x18DAF110, 6, 0x41, 0x31, 0x1D, 0xE6, 0x51, 0x01),
		frame(0x18DAF110, 2, 0x7E, 0x00),
		frame(0x7E8, 3, 0x41, 0x06, 0x80),
		frame(0x7E8, 3, 0x41, 0x0C, 0x80), // cut off
		frame(0x123, 4, 0x41, 0x0C, 0x0E, 0x70),
	}
	number := func(id uint32, service uint8, pid int, least, most int64, n int64) Answer {
		return Answer{Bus: "can0", ID: id, Extended: id > 0x7FF, Service: service, Number: pid, Count: n, HasValue: most >= 0, Least: max(least, 0), Most: max(most, 0)}
	}
	want := []Answer{
		number(0x7E8, 1, 0x01, 0, -1, 1),
		number(0x7E8, 1, 0x03, 0, -1, 1),
		number(0x7E8, 1, 0x05, 0x6E, 0x6E, 1),
		number(0x7E8, 1, 0x06, 0, -1, 1),
		number(0x7E8, 1, 0x0C, 0x0A6B, 0x1AF8, 3),
		number(0x7E8, 1, 0x15, 0, -1, 1),
		{Bus: "can0", ID: 0x7E9, Service: 1, Number: -1, Refused: true, Code: 0x12, Count: 1},
		number(0x18DAF110, 1, 0x31, 7654, 7654, 1),
		number(0x18DAF110, 1, 0x51, 0, -1, 1),
		number(0x18DAF110, 0x22, 0xF190, 0, -1, 1),
		number(0x18DAF110, 0x3E, -1, 0, -1, 1),
	}
	if diff := cmp.Diff(want, count(Options{}, frames).Answers); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestJ1939IsFoundByItsGroups(t *testing.T) {
	frames := []decode.Frame{}
	for _, id := range []uint32{0x0CF00400, 0x18FEF100, 0x18FEEE00} {
		frames = append(frames, decode.Frame{Bus: "can0", ID: id, Flags: decode.Extended, Len: 8}, decode.Frame{Bus: "can1", ID: id & 0x7FF, Len: 8})
	}
	got := count(Options{}, frames)
	if !got.Buses[0].J1939 || got.Buses[1].J1939 {
		t.Errorf("%+v", got.Buses)
	}
}
