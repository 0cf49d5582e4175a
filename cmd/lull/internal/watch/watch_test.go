package watch

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
	"lull/decode/sigmap"
)

const car = `
format: 1
frames:
  - id: 0x1A0
    signals:
      rpm: {start: 0, length: 16, role: engine_speed, unit: rpm, invalid: [0xFFFF]}
      door: {start: 24, length: 1}
  - id: 0x2A0
    module: body unit
    signals:
      big: {start: 7, length: 12, order: big}
  - id: 0x3A0
    bus: can1
    signals:
      lamp: {start: 0, length: 1}
  - id: 0x4A0
    sent: on_change
    signals:
      key: {start: 0, length: 1}
  - obd: {mode: 0x01, pid: 0x0C, response: 0x7E8}
    signals:
      asked: {start: 7, length: 16, order: big}
`

func mapOf(t *testing.T, text string) *decode.Map {
	t.Helper()
	m, err := sigmap.Parse("car.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

var start = time.Unix(1_700_000_000, 0)

func none(string) int64 { return 0 }

func frame(at time.Duration, id uint32, data ...byte) *decode.Frame {
	f := &decode.Frame{Time: start.Add(at).UnixNano(), Bus: "can0", ID: id, Len: uint8(len(data))}
	copy(f.Data[:], data)
	return f
}

func errorFrame(at time.Duration) *decode.Frame {
	f := frame(at, 0x80, 0, 0, 0, 0, 0, 0, 0, 0)
	f.Flags = decode.Error
	return f
}

// check holds what is said against the beginnings that are wanted.
func check(t *testing.T, said []string, want ...string) {
	t.Helper()
	if len(said) != len(want) {
		t.Errorf("said %q, want %q", said, want)
		return
	}
	for i := range want {
		if !strings.HasPrefix(said[i], want[i]) {
			t.Errorf("said %q, want %q", said[i], want[i])
		}
	}
}

func TestASilentBusIsToldWithinTenSeconds(t *testing.T) {
	w := New(nil, none, start)
	check(t, w.Check(start.Add(2*time.Second), false))
	check(t, w.Check(start.Add(6*time.Second), false), "no frame has come; switch the ignition on")
	check(t, w.Check(start.Add(20*time.Second), true))
	if got := w.Silent(start.Add(3 * time.Second)); got != 3*time.Second {
		t.Errorf("silent for %v", got)
	}
}

func TestAWrongBitRateIsTold(t *testing.T) {
	w := New(nil, none, start)
	w.Push(errorFrame(0), start)
	check(t, w.Check(start.Add(6*time.Second), false), "only error frames come (bus error); the bit rate is probably not the bus's")
	w.Push(errorFrame(time.Second), start)
	check(t, w.Check(start.Add(9*time.Second), false))
	if b := w.Buses()[0]; b.Errors != 2 || b.Frames != 2 {
		t.Errorf("%+v", b)
	}
}

// What may pass is told as long as it is so, and no longer.
func TestALackIsToldWhileItLasts(t *testing.T) {
	w := New(nil, none, start)
	late := start.Add(6 * time.Second)
	lack := func(now time.Time, ended bool, want string) {
		t.Helper()
		if got := w.Lack(now, ended); !strings.HasPrefix(got, want) || want == "" && got != "" {
			t.Errorf("%q, not %q", got, want)
		}
	}
	lack(start.Add(2*time.Second), false, "")
	lack(start.Add(2*time.Second), true, "no frame has come")
	lack(late, false, "no frame has come")
	w.Push(errorFrame(0), start)
	lack(late, false, "only error frames come (bus error)")
	w.Push(frame(time.Second, 1), start)
	lack(late, false, "")
	lack(late, true, "")
}

func TestWhatOfTheMapIsMissingIsTold(t *testing.T) {
	w := New(mapOf(t, car), none, start)
	w.Push(frame(0, 0x1A0, 0xFF, 0xFF, 0, 0), start)
	check(t, w.Check(start.Add(7*time.Second), false))
	check(t, w.Check(start.Add(9*time.Second), false),
		"no frame of the interface can1, which the map names; recorded is can0",
		"mapped but not seen yet: 0x2A0 (body unit);",
		"no answer seen yet to obd 01 0C; recording asks nothing",
		"rpm comes, but has had no valid value yet")
	check(t, w.Check(start.Add(90*time.Second), true))
}

func TestAnotherLengthThanTheMapReadsIsTold(t *testing.T) {
	w := New(mapOf(t, car), none, start)
	w.Push(frame(0, 0x2A0, 1, 2), start) // the twelve bits reach byte 1
	w.Push(frame(0, 0x1A0, 1, 2, 3), start)
	w.Push(frame(0, 0x1A0, 1, 2, 3), start)
	check(t, w.Check(start, false), "0x1A0 on can0 comes with 3 bytes, but the map reads up to byte 3 of it")
	w = New(mapOf(t, car), none, start)
	w.Push(frame(0, 0x2A0, 1), start)
	check(t, w.Check(start, false), "0x2A0 on can0 comes with 1 byte, but the map reads up to byte 1 of it")
}

func TestAClockThatIsSetBackIsTold(t *testing.T) {
	w := New(nil, none, start)
	for n := range mostSteps + 5 {
		w.Push(frame(time.Duration(n)*time.Second+5*time.Second, 1), start)
		w.Push(frame(time.Duration(n)*time.Second+4950*time.Millisecond, 1), start) // two interfaces in turn
		w.Push(frame(time.Duration(n)*time.Second+3*time.Second, 1), start)
	}
	said := w.Check(start, false)
	if len(said) != mostSteps || !strings.HasPrefix(said[0], "the time ran back by 1.9 s") && !strings.HasPrefix(said[0], "the time ran back by 2.0 s") {
		t.Errorf("%d times: %q", len(said), said[0])
	}
}

func TestRatesLoadsValuesAndAgesAreThoseOfTheFrames(t *testing.T) {
	w := New(mapOf(t, car), func(bus string) int64 { return map[string]int64{"can0": 100_000}[bus] }, start)
	for n := range 300 {
		at := time.Duration(n) * 10 * time.Millisecond
		w.Push(frame(at, 0x1A0, byte(n), 0, 0, 1), start.Add(at))
	}
	b := w.Buses()[0]
	if b.PerSecond != 100 || b.Load < 0.07 || b.Load > 0.12 { // about 80 to 100 bits each
		t.Errorf("%+v", b)
	}
	rpm := &w.Signals()[0]
	if want := float64(299 & 0xFF); !rpm.Seen || rpm.Sample.Value != want {
		t.Errorf("%+v", rpm)
	}
	now := start.Add(2990*time.Millisecond + 1500*time.Millisecond)
	if age := w.Age(rpm, now); age != 1500*time.Millisecond {
		t.Errorf("age %v", age)
	}
	if s := w.Silent(now); s != 1500*time.Millisecond {
		t.Errorf("silent for %v", s)
	}
	var seen []bool
	for _, s := range w.Signals() {
		seen = append(seen, s.Seen)
	}
	if diff := cmp.Diff([]bool{true, true, false, false, false, false}, seen); diff != "" {
		t.Error(diff)
	}
	w.Push(frame(time.Minute, 0x1A0, 1, 2, 3, 4), start)
	if b.PerSecond != 0 {
		t.Errorf("after a pause %d a second", b.PerSecond)
	}
}

func TestNoiseOfManyInterfacesTakesNoMoreMemory(t *testing.T) {
	w := New(nil, none, start)
	for n := range 1000 {
		f := frame(0, 1)
		f.Bus = strings.Repeat("x", n)
		w.Push(f, start)
	}
	if n := len(w.Buses()); n != 64 {
		t.Errorf("%d interfaces", n)
	}
}
