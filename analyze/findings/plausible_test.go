package findings

import (
	"testing"

	"lull/pkg/bounds"
)

// A value may take a step of 5, and 10 more in a second.
func TestAJumpIsAStepThatTheQuantityCannotTakeInTheTime(t *testing.T) {
	for _, test := range []struct {
		name           string
		took           int64
		by             float64
		changes, jumps int64
	}{
		{"nothing", 100 * bounds.Millisecond, 0, 0, 0},
		{"what it can", 100 * bounds.Millisecond, 6, 1, 0},
		{"a little more", 100 * bounds.Millisecond, 6.25, 1, 1},
		{"the same downwards", 100 * bounds.Millisecond, -6.25, 1, 1},
		{"at once", 0, 5, 1, 0},
		{"more at once", 0, 5.25, 1, 1},
		{"in a second", bounds.Second, 15, 1, 0},
		{"more in a second", bounds.Second, 15.25, 1, 1},
		{"who knows what was in so long a time", bounds.Second + 1, 99, 0, 0},
		{"time that runs back", -1, 99, 0, 0},
	} {
		k := Tested{quantity: quantity{step: 5, rate: 10}}
		k.Add(3*bounds.Second, 100) // the first value is no change
		k.Add(3*bounds.Second+test.took, 100+test.by)
		if k.changes != test.changes || k.jumps != test.jumps {
			t.Errorf("%s: %d changes and %d jumps, want %d and %d", test.name, k.changes, k.jumps, test.changes, test.jumps)
		}
		if test.jumps > 0 && (k.from != 100 || k.to != 100+test.by) {
			t.Errorf("%s: from %g to %g", test.name, k.from, k.to)
		}
	}
}

func TestTheWidestJumpIsTold(t *testing.T) {
	k := Tested{quantity: quantity{step: 5}}
	for n, v := range []float64{50, 60, 40, 47, 27, 26} {
		k.Add(int64(n)*bounds.Millisecond, v)
	}
	if k.changes != 5 || k.jumps != 4 || k.from != 60 || k.to != 40 {
		t.Errorf("%d changes, %d jumps, the widest from %g to %g; want 5, 4, the first of the widest from 60 to 40", k.changes, k.jumps, k.from, k.to)
	}
}
