package analyze

import (
	"slices"
	"testing"
	"time"
)

// Samples that come late are put where they belong, behind those of the same moment, as
// far back as time may run.
func TestASampleThatComesLateLiesInOrderOfTime(t *testing.T) {
	var k track
	for n := range int64(2000) {
		k.add(n*millisecond, float64(n))
		if n >= 100 {
			k.add((n-100)*millisecond, -float64(n)) // of another interface
		}
	}
	points := k.all()
	if len(points) != 3900 || !slices.IsSortedFunc(points, func(a, b point) int { return int(a.t - b.t) }) {
		t.Fatalf("%d points, in order: no", len(points))
	}
	for i := 0; i < 3800; i += 2 {
		if points[i].v < 0 || points[i+1].v >= 0 || points[i].t != points[i+1].t {
			t.Fatalf("point %d: %v, then %v", i, points[i], points[i+1])
		}
	}
}

// Stamps that run back by milliseconds again and again cost little, however many.
func TestStampsThatRunBackAgainAndAgainCostLittle(t *testing.T) {
	var k track
	began := time.Now()
	for n := range int64(200_000) {
		k.add(90*millisecond-n%100*900, float64(n))
	}
	if took := time.Since(began); took > time.Second {
		t.Errorf("200,000 samples took %v", took)
	}
	if points := k.all(); !slices.IsSortedFunc(points, func(a, b point) int { return int(a.t - b.t) }) {
		t.Errorf("%d points, not in order", len(points))
	}
}
