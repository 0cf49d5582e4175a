package draft

import (
	"math"
	"testing"
)

// speedStream is a stream with a 16-bit engine speed of a factor in its first two bytes: at
// rest, cranked, idling, told late by a time in s.
func speedStream(period, factor, late float64) *stream {
	s := &stream{size: 8, page: -1}
	for at := 0.0; at < 20; at += period {
		v := 0.0
		switch since := math.Mod(at-late, 10) - 4; {
		case since > 1:
			v = 800
		case since > 0.6:
			v = 200 + 600*(since-0.6)/0.4
		case since > 0:
			v = 200
		}
		s.t, s.w = append(s.t, at), append(s.w, uint64(math.Round(v/factor)))
	}
	s.prepare()
	return s
}

func speedShape(period, factor, late float64) shape {
	f := field{s: speedStream(period, factor, late), hi: 48, n: 16}
	return shape{field: f, idle: 800 / factor, calm: 800 / factor, crank: 200 / factor, top: 800 / factor}
}

func curveOf(f field) []float64 {
	x := f.values()
	return interpolate(grid(0, 20, 0.05), x.t, x.v)
}

// One field of 0.2 per minute could as well be of 0.25; what a second module tells by 0.25
// leaves one choice for both, and a field that lacks its lowest bits is known by its factor.
func TestCopiesOfTheEngineSpeedSettleTheFactor(t *testing.T) {
	for _, c := range []struct{ first, second float64 }{{0.2, 0.25}, {0.25, 0.2}, {0.1, 1}, {1.6, 0.25}, {0.8, 0.5}, {3, 0.25}, {0.125, 10}} {
		list := sameSpeed([]shape{speedShape(0.01, c.first, 0), speedShape(0.02, c.second, 0)}, curveOf)
		factor, _, gap := list.scaling()
		if math.Abs(factor/c.first-1) > 0.01 || gap <= 0 {
			t.Errorf("of %g and %g the first was taken as %g, the next is worse by %.2f", c.first, c.second, factor, gap)
		}
	}
	if penalty, cut := unusual(1.6); cut != 3 && cut != 4 || penalty >= 5 {
		t.Errorf("1.6 lacks %d bits, penalty %v; want the 3 of 0.2, or the 4 of 0.1", cut, penalty)
	}
	if _, cut := unusual(0.25); cut != 0 {
		t.Errorf("0.25 lacks %d bits, want none", cut)
	}
}

// What a module passes on late, or comes seldom, dates no start, however fine it is.
func TestTheCopyThatTellsFirstIsTaken(t *testing.T) {
	f := speedShape(0.01, 0.25, 0).field
	d := newDrive(f.scaled(0.25, 0))
	for _, c := range []struct {
		name  string
		list  []shape
		first int
	}{
		{"passed on after 100 ms", []shape{speedShape(0.01, 0.25, 0.1), speedShape(0.02, 1, 0)}, 1},
		{"seldom", []shape{speedShape(0.2, 0.125, 0), speedShape(0.01, 0.25, 0)}, 1},
		{"coarse", []shape{speedShape(0.02, 40, 0), speedShape(0.02, 0.25, 0)}, 1},
	} {
		list := sameSpeed(c.list, curveOf)
		factor, _, _ := list.scaling()
		list.quickest(factor, d)
		if list[0].field != c.list[c.first].field {
			t.Errorf("%s: it was taken", c.name)
		}
	}
}

// Of one place only one field is a copy: one that lacks its upper bits has another ratio,
// and one in the wrong order of bytes shakes more.
func TestOnePlaceIsOneCopy(t *testing.T) {
	x := speedShape(0.01, 0.25, 0)
	x.score, x.rough = 1.3, 0.03
	cut, other := x, x
	cut.field.hi, cut.field.n, cut.score = 52, 12, 1.29
	other.field.big, other.field.hi, other.rough = true, 0, 0.01
	if got := oncePerPlace([]shape{cut, x}); len(got) != 1 || got[0].field.n != 16 {
		t.Errorf("%d copies, want the one that is better", len(got))
	}
	if got := oncePerPlace([]shape{x, other}); len(got) != 1 || !got[0].field.big {
		t.Errorf("%d copies, want the one that is smoother", len(got))
	}
}
