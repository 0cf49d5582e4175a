package series

import (
	"slices"
	"testing"
	"time"

	"lull/pkg/bounds"
)

// Samples that come late are put where they belong, behind those of the same moment, as
// far back as time may run.
func TestASampleThatComesLateLiesInOrderOfTime(t *testing.T) {
	var k Track
	for n := range int64(2000) {
		k.Add(n*bounds.Millisecond, float64(n))
		if n >= 100 {
			k.Add((n-100)*bounds.Millisecond, -float64(n)) // of another interface
		}
	}
	points := k.All()
	if len(points) != 3900 || !slices.IsSortedFunc(points, func(a, b Point) int { return int(a.T - b.T) }) {
		t.Fatalf("%d points, in order: no", len(points))
	}
	for i := 0; i < 3800; i += 2 {
		if points[i].V < 0 || points[i+1].V >= 0 || points[i].T != points[i+1].T {
			t.Fatalf("point %d: %v, then %v", i, points[i], points[i+1])
		}
	}
}

func TestASampleFromBeforeAllOthersIsKeptUnlessTooManyLieAfterIt(t *testing.T) {
	for later, want := range map[int]bool{1: true, 2: true, mostLater - 1: true, mostLater: true, mostLater + 1: false} {
		var k Track
		for n := range later {
			k.Add(int64(10+n), 1)
		}
		k.Add(5, 2)
		if first := k.All()[0]; (first == Point{T: 5, V: 2}) != want {
			t.Errorf("%d samples after it: the first is %v", later, first)
		}
		if k.Last.V != 1 {
			t.Errorf("%d samples after it: it counts as the latest", later)
		}
	}
}

// Stamps that run back by milliseconds again and again cost little, however many.
func TestStampsThatRunBackAgainAndAgainCostLittle(t *testing.T) {
	var k Track
	began := time.Now()
	for n := range int64(200_000) {
		k.Add(90*bounds.Millisecond-n%100*900, float64(n))
	}
	if took := time.Since(began); took > time.Second {
		t.Errorf("200,000 samples took %v", took)
	}
	if points := k.All(); !slices.IsSortedFunc(points, func(a, b Point) int { return int(a.T - b.T) }) {
		t.Errorf("%d points, not in order", len(points))
	}
}
