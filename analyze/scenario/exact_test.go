package scenario

import (
	"math"
	"testing"
)

func TestWaveIsPeriodicAndNearASine(t *testing.T) {
	for i := -400; i <= 400; i++ {
		phase := float64(i) / 100
		want := math.Sin(2 * math.Pi * phase)
		if got := wave(phase); math.Abs(got-want) > 0.06 {
			t.Errorf("wave(%v) = %v, a sine has %v", phase, got, want)
		}
	}
}

func TestNearestRoundsHalfAwayFromZero(t *testing.T) {
	for x, want := range map[float64]int64{0: 0, 0.49: 0, 0.5: 1, 1.5: 2, 2.4: 2, -0.49: 0, -0.5: -1, -1.5: -2, -2.6: -3} {
		if got := nearest(x); got != want {
			t.Errorf("nearest(%v) = %d, want %d", x, got, want)
		}
	}
}

func TestOutputsChangeInOrderOfTimeAndOnlyWhenTheyDiffer(t *testing.T) {
	var seen []change
	o := outputs{seen: func(c change) { seen = append(seen, c) }}
	o.set(brake, 1, 50)
	o.set(gear, 3, 20)
	o.set(brake, 1, 60)
	o.set(brake, 0, 70)
	if at, ok := o.next(); at != 20 || !ok || !o.planned(gear) || o.planned(radio) {
		t.Fatalf("first planned change at %d, %v", at, ok)
	}
	o.advance(60)
	if o.value[brake] != 1 || o.value[gear] != 3 {
		t.Errorf("after 60: brake %d, gear %d", o.value[brake], o.value[gear])
	}
	o.advance(70)
	want := []change{{20, gear, 3}, {50, brake, 1}, {70, brake, 0}}
	if len(seen) != len(want) || seen[0] != want[0] || seen[1] != want[1] || seen[2] != want[2] {
		t.Errorf("seen %v, want %v", seen, want)
	}
	if _, ok := o.next(); ok {
		t.Error("a change is still planned")
	}
}

func TestACurveCrossesWhereItsStraightLineDoes(t *testing.T) {
	c := curve{from: 5 * step}
	c.old[engineSpeed], c.new[engineSpeed] = 600, 400
	if at, ok := c.falls(engineSpeed, 500); !ok || at != 5*step+step/2 {
		t.Errorf("falls through 500 at %d, %v", at, ok)
	}
	if _, ok := c.rises(engineSpeed, 500); ok {
		t.Error("a falling curve rises")
	}
	if v := c.at(engineSpeed, 5*step+step/4); v != 550 {
		t.Errorf("a quarter into the step it is %v", v)
	}
	c.old[engineSpeed], c.new[engineSpeed] = 30, 30
	if _, ok := c.falls(engineSpeed, 30); ok {
		t.Error("a level curve falls")
	}
}

// Positions of J1939 parameters and of big-endian fields, bit by bit: bit number
// = 8 x byte + bit in byte.
func TestFieldsLieWhereAMapSaysTheyDo(t *testing.T) {
	for _, c := range []struct {
		name string
		f    field
		raw  int64
		want [4]byte
	}{
		{"little endian over two bytes", field{start: 4, length: 12}, 0xABC, [4]byte{0xC0, 0xAB}},
		{"big endian whole bytes", field{start: 7, length: 16, big: true}, 0x1234, [4]byte{0x12, 0x34}},
		{"big endian from the middle of a byte", field{start: 3, length: 12, big: true}, 0xABC, [4]byte{0x0A, 0xBC}},
		{"negative", field{start: 8, length: 16, signed: true}, -2, [4]byte{0, 0xFE, 0xFF}},
		{"one bit", field{start: 31, length: 1}, 1, [4]byte{3: 0x80}},
	} {
		var data [4]byte
		c.f.put(data[:], c.raw)
		if data != c.want {
			t.Errorf("%s: % X, want % X", c.name, data, c.want)
		}
		c.f.put(data[:], 0)
		if data != [4]byte{} {
			t.Errorf("%s: 0 leaves % X", c.name, data)
		}
	}
}

func TestAFieldHoldsWhatItsRangeAllows(t *testing.T) {
	w := &world{}
	w.curve.old[voltage], w.curve.new[voltage] = 300, 300
	w.curve.old[steering], w.curve.new[steering] = -500, -500
	f := of(voltage, 0, 8, 1, 0)
	if raw := f.raw(w, 0); raw != 255 {
		t.Errorf("300 in eight bits is %d", raw)
	}
	f = of(steering, 0, 8, 1, 0).asSigned()
	if raw := f.raw(w, 0); raw != -128 {
		t.Errorf("-500 in eight signed bits is %d", raw)
	}
}
