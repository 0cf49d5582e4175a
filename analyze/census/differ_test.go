package census

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/decode"
)

// drive makes a log of a car in which someone may press the brake: bit 4 of byte 2 of 1A0,
// beside a counter, a checksum, speed with noise, and a coolant that warms up.
func drive(seed uint64, presses func(i int) bool, more ...func(i int) decode.Frame) *Result {
	dice := rand.New(rand.NewPCG(seed, 1))
	var frames []decode.Frame
	noise := byte(0)
	for i := range 2000 {
		if i%3 > 0 {
			noise = byte(dice.IntN(256))
		}
		f := decode.Frame{Time: int64(i) * 10 * ms, Bus: "can0", ID: 0x1A0, Len: 8}
		f.Data = [64]byte{byte(i) & 0xF, noise, 0x05, byte(100 + i/100), byte(40 + dice.IntN(8)), 0, 0xFF}
		if presses(i) {
			f.Data[2] |= 0x10
		}
		for _, b := range f.Data[:7] {
			f.Data[7] ^= b
		}
		frames = append(frames, f)
		for _, m := range more {
			f := m(i)
			f.Time = int64(i)*10*ms + ms
			frames = append(frames, f)
		}
	}
	return count(Options{Values: true}, frames)
}

func differences(d *Differences) []string {
	var list []string
	for _, x := range d.List {
		list = append(list, fmt.Sprintf("%d %X %d:%d+%d %v %v %v part %v", x.Kind, x.ID, x.Byte, x.Low, x.Bits, x.Of, x.Against, x.Changes, x.Part))
	}
	return list
}

func TestTheBrakeStandsFirst(t *testing.T) {
	never := func(int) bool { return false }
	always := func(int) bool { return true }
	often := func(i int) bool { return i%600 > 400 }
	for _, test := range []struct {
		name        string
		of, against func(int) bool
		want        string
	}{
		{"held all the time", never, always, "0 1A0 2:4+1 {0 0} {1 1} [0 0] part false"},
		{"the other way round", always, never, "0 1A0 2:4+1 {1 1} {0 0} [0 0] part false"},
		{"pressed three times", never, often, "1 1A0 2:4+1 {0 0} {0 1} [0 6] part false"},
		{"the other way round", often, never, "1 1A0 2:4+1 {0 1} {0 0} [6 0] part false"},
	} {
		d := Differ([]*Result{drive(1, test.of)}, []*Result{drive(2, test.against)})
		if diff := cmp.Diff([]string{test.want}, differences(d)); diff != "" {
			t.Errorf("%s: -want +got:\n%s", test.name, diff)
		}
		if d.Counters != 1 || d.Checksums != 1 || d.Restless != 1 || d.Pages != 0 {
			t.Errorf("%s: left out %+v", test.name, d)
		}
	}
	// With several logs on a side all of them have to agree.
	d := Differ([]*Result{drive(1, never), drive(3, often)}, []*Result{drive(2, always)})
	if diff := cmp.Diff([]string{"1 1A0 2:4+1 {0 1} {1 1} [6 0] part false"}, differences(d)); diff != "" {
		t.Errorf("several logs: -want +got:\n%s", diff)
	}
}

func TestDifferencesAreInTheOrderOfWhatTheyTell(t *testing.T) {
	never := func(int) bool { return false }
	frame := func(id uint32, data ...byte) decode.Frame {
		f := decode.Frame{Bus: "can0", ID: id, Len: uint8(len(data))}
		copy(f.Data[:], data)
		return f
	}
	of := drive(1, never,
		func(i int) decode.Frame { return frame(0x200, byte(20+i/400)) },       // a range, and below it
		func(i int) decode.Frame { return frame(0x210, 0x12, byte(i/50)&0xF) }, // a value
		func(int) decode.Frame { return frame(0x220, 0) },
	)
	against := drive(2, func(i int) bool { return i%600 > 400 },
		func(i int) decode.Frame { return frame(0x200, byte(21+i/400)) },
		func(i int) decode.Frame { return frame(0x210, 0x35, byte(i/50)&0x1F) }, // the top of a number
		func(int) decode.Frame { return frame(0x230, 0) },
	)
	want := []string{
		"1 1A0 2:4+1 {0 0} {0 1} [0 6] part false",
		"2 220 0:0+0 {0 0} {0 0} [0 0] part false",
		"2 230 0:0+0 {0 0} {0 0} [0 0] part false",
		"0 210 0:0+8 {18 18} {53 53} [0 0] part false",
		"1 210 1:4+1 {0 0} {0 1} [0 2] part true",
		"3 200 0:0+8 {20 24} {21 25} [4 4] part false",
	}
	if diff := cmp.Diff(want, differences(Differ([]*Result{of}, []*Result{against}))); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// The names of interfaces matter where a log has several.
func TestInterfacesAreMatchedWhereThereAreSeveral(t *testing.T) {
	log := func(buses ...string) *Result {
		var frames []decode.Frame
		for i := range 40 {
			for _, b := range buses {
				frames = append(frames, decode.Frame{Time: int64(i) * ms, Bus: b, ID: 1, Len: 1})
			}
		}
		return count(Options{Values: true}, frames)
	}
	if d := Differ([]*Result{log("can0")}, []*Result{log("slcan0")}); len(d.List) != 0 {
		t.Errorf("%+v", d.List)
	}
	d := Differ([]*Result{log("can0", "can1")}, []*Result{log("can0")})
	if len(d.List) != 1 || d.List[0].Bus != "can1" || d.List[0].Kind != Missing {
		t.Errorf("%+v", d.List)
	}
}

// What differs one way differs the other way round, and what is said of a field is what
// the plain count of its values gives.
func TestDifferencesAreThoseOfThePlainCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var logs [2][]decode.Frame
		for i := range logs {
			logs[i] = rapid.SliceOfN(rapid.Custom(drawFrame), 1, 60).Draw(t, "frames")
			for j := range logs[i] {
				logs[i][j].Bus = "can0"
			}
		}
		a, b := count(Options{Values: true}, logs[0]), count(Options{Values: true}, logs[1])
		there, back := Differ([]*Result{a}, []*Result{b}), Differ([]*Result{b}, []*Result{a})
		if len(there.List) != len(back.List) {
			t.Fatalf("%d differences one way, %d the other", len(there.List), len(back.List))
		}
		for _, x := range there.List {
			if x.Kind == Missing {
				continue
			}
			for i, want := range []Range{x.Of, x.Against} {
				got, any := Range{}, false
				for _, f := range logs[i] {
					if f.ID != x.ID || f.Flags.Has(decode.Extended) != x.Extended || f.Flags.Has(decode.Error) || f.Flags.Has(decode.Remote) || x.Byte >= int(f.Len) {
						continue
					}
					v := uint16(f.Data[x.Byte] >> x.Low & uint8(1<<x.Bits-1))
					if x.Bits == 16 && x.Byte+1 >= int(f.Len) {
						continue
					} else if x.Bits == 16 {
						v, _, _ = pairOf(boolean(x.Big), f.Data[x.Byte], f.Data[x.Byte+1])
					}
					if !any {
						got, any = Range{v, v}, true
					}
					got.Least, got.Most = min(got.Least, v), max(got.Most, v)
				}
				if got != want {
					t.Fatalf("%+v: side %d has %v", x, i, got)
				}
			}
			if x.Of == x.Against {
				t.Fatalf("%+v: no difference", x)
			}
		}
	})
}

// A number of two bytes is told as one, in its order; bytes beside each other that have
// nothing to do with each other stay bytes.
func TestANumberOfTwoBytesIsToldAsOne(t *testing.T) {
	log := func(seed uint64, from, reach int) *Result {
		dice := rand.New(rand.NewPCG(seed, 2))
		var frames []decode.Frame
		v := from
		for i := range 2000 {
			if v += dice.IntN(60) - 29; v > from+reach || v < from {
				v = min(max(v, from), from+reach)
			}
			f := decode.Frame{Time: int64(i) * 10 * ms, Bus: "can0", ID: 0x1A0, Len: 8}
			slow := byte(from/100 + i/300) // beside one that wanders by itself
			f.Data = [64]byte{byte(v >> 8), byte(v), 0, byte(v), byte(v >> 8), 0, slow, byte(40 + dice.IntN(8))}
			frames = append(frames, f)
		}
		return count(Options{Values: true}, frames)
	}
	a, b := log(1, 3000, 1500), log(2, 9000, 2500)
	d := Differ([]*Result{a}, []*Result{b})
	var numbers []string
	for _, x := range d.List {
		switch {
		case x.Bits == 16:
			numbers = append(numbers, fmt.Sprint(x.Byte, " big ", x.Big, " apart ", x.Apart))
			if x.Of.Least < 3000 || x.Of.Most > 4500 || x.Against.Least < 9000 || x.Against.Most > 11500 || x.Kind != Ranged {
				t.Errorf("%+v", x)
			}
		case x.Byte != 6 && x.Byte != 7:
			t.Errorf("told by bytes, too: %+v", x)
		}
	}
	if diff := cmp.Diff([]string{"0 big true apart true", "3 big false apart true"}, numbers); diff != "" {
		t.Error(diff)
	}
	if d.Restless > 0 {
		t.Errorf("%d restless bytes are left out", d.Restless)
	}
	// It rests on one side: what the other shows is enough.
	still := log(1, 3000, 0)
	for _, x := range Differ([]*Result{still}, []*Result{b}).List {
		if x.Byte == 0 && (x.Bits != 16 || x.Kind != Toggled || !x.Big || x.Of != Range{3000, 3000}) {
			t.Errorf("%+v", x)
		}
	}
}
