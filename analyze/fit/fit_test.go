package fit_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/fit"
	"lull/decode"
)

func TestWhatOfAMapDoesNotFitALogIsNamedWithItsCause(t *testing.T) {
	signal := func(name string, entry, start, length int) decode.Signal {
		return decode.Signal{Name: name, Entry: entry, Start: start, Length: length, Scale: decode.Identity}
	}
	never := signal("never valid", 0, 8, 8)
	never.Invalid = []int64{0xFF}
	speed := signal("speed", 1, 0, 8)
	speed.Role = decode.VehicleSpeed
	m := &decode.Map{
		Entries: []decode.Entry{
			{ID: 0x100, Signals: []int{0, 1, 2}},
			{ID: 0x200, Signals: []int{3}},
			{Kind: decode.ByOBD, Mode: 1, PID: 0x0C, Response: 0x7E8, Address: -1, Signals: []int{4}},
		},
		Signals: []decode.Signal{signal("fine", 0, 0, 8), never, signal("long", 0, 16, 16), speed, signal("polled", 2, 0, 16)},
	}
	frame := func(id uint32, payload ...byte) *decode.Frame {
		f := &decode.Frame{ID: id, Len: uint8(len(payload))}
		copy(f.Data[:], payload)
		return f
	}
	f := fit.New(m)
	for range 3 {
		f.Add(frame(0x100, 1, 0xFF, 3))
	}
	f.Add(frame(0x100, 1, 0xFF, 3, 4)) // one that is long enough does not make it usual
	f.Add(frame(0x300, 1))
	want := []analyze.Cause{
		analyze.UnseenSignal{Signal: "never valid", Frame: "0x100", Frames: true},
		analyze.ShortFrame{Signal: "long", Frame: "0x100", Needs: 4, Bytes: 3},
		analyze.UnseenSignal{Signal: "speed", Role: decode.VehicleSpeed, Frame: "0x200"},
		analyze.UnseenSignal{Signal: "polled", Frame: "obd 01 0C"},
	}
	if diff := cmp.Diff(want, f.Misfits()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if n := f.Seen(); n != 2 {
		t.Errorf("%d signals seen, want fine and, once, long", n)
	}
}

func TestAMapThatFitsHasNothingToBeNamed(t *testing.T) {
	m := &decode.Map{Entries: []decode.Entry{{ID: 1, Signals: []int{0}}}, Signals: []decode.Signal{{Name: "a", Length: 8, Scale: decode.Identity}}}
	f := fit.New(m)
	f.Add(&decode.Frame{ID: 1, Len: 1})
	if list := f.Misfits(); len(list) != 0 || f.Seen() != 1 {
		t.Errorf("%v, %d seen", list, f.Seen())
	}
}
