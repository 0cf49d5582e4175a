package series

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// By going through all points, for random times of which some are the same.
func TestPointsAroundAStretchAreThoseThatGoingThroughAllFinds(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	for range 3000 {
		points := make([]Point, rng.IntN(6))
		at := int64(0)
		for i := range points {
			at += rng.Int64N(4)
			points[i] = Point{T: at, V: float64(rng.IntN(9))}
		}
		low := rng.Int64N(20) - 3
		high := low + rng.Int64N(6)
		var within []Point
		first, last := 0, len(points)-1
		for i, p := range points {
			if p.T >= low && p.T <= high {
				within = append(within, p)
			}
			if p.T <= low {
				first = i
			}
		}
		for i, p := range slices.Backward(points) {
			if p.T >= high {
				last = i
			}
		}
		last = min(len(points)-1, max(last, first+1)) // two, where there are two
		if got := Window(points, low, high); !slices.Equal(got, within) {
			t.Fatalf("%v within %d..%d: %v, want %v", points, low, high, got, within)
		}
		if got := Bracket(points, low, high); !slices.Equal(got, points[first:last+1]) {
			t.Fatalf("%v around %d..%d: %v, want %v", points, low, high, got, points[first:last+1])
		}
		before, seen := At(points, low)
		if want := len(points) > 0 && points[0].T <= low; seen != want || seen && before != points[first] {
			t.Fatalf("%v at %d: %v, %t", points, low, before, seen)
		}
		longest := int64(0)
		for i := range within {
			if i > 0 {
				longest = max(longest, within[i].T-within[i-1].T)
			}
		}
		if got := Longest(within); got != longest {
			t.Fatalf("longest step of %v: %d, want %d", within, got, longest)
		}
	}
}

func TestAValueBetweenPointsLiesOnTheLine(t *testing.T) {
	points := []Point{{10, 100}, {20, 200}, {20, 300}, {30, 0}}
	for at, want := range map[int64]float64{0: 100, 10: 100, 11: 110, 19: 190, 20: 200, 21: 270, 30: 0, 40: 0} {
		if got := Interpolate(points, at); got != want {
			t.Errorf("at %d: %g, want %g", at, got, want)
		}
	}
	if got := ValuesOf(points); !slices.Equal(got, []float64{100, 200, 300, 0}) {
		t.Errorf("values %v", got)
	}
}

func TestTheUsualStepIsTheMiddleOne(t *testing.T) {
	for _, test := range []struct {
		times []int64
		want  int64
	}{
		{nil, 0}, {[]int64{5}, 0}, {[]int64{5, 8}, 3}, {[]int64{5, 8, 9}, 3}, {[]int64{5, 8, 9, 19}, 3}, {[]int64{0, 1, 3, 6, 10}, 3},
	} {
		var points []Point
		for _, at := range test.times {
			points = append(points, Point{T: at})
		}
		if got := UsualStep(points); got != test.want {
			t.Errorf("%v: %d, want %d", test.times, got, test.want)
		}
	}
}
