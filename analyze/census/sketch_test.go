package census

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestFewDifferentTimesAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		few := rapid.SliceOfN(rapid.Int64Range(0, 1e12), 1, 64).Draw(t, "few")
		values := rapid.SliceOfN(rapid.SampledFrom(few), 1, 500).Draw(t, "values")
		s := newSketch(64)
		sorted := make([]float64, len(values))
		for i, v := range values {
			s.add(v)
			sorted[i] = float64(v)
		}
		slices.Sort(sorted)
		for _, percent := range []int{0, 5, 50, 90, 95, 100} {
			want := quantileOf(sorted, percent)
			if got := s.quantile(int64(percent)); math.Abs(got-want) > 1e-12*want {
				t.Errorf("quantile %d %%: %v, want %v", percent, got, want)
			}
		}
	})
}

// Beyond that a quantile is off by no more than the width of its cell.
func TestManyDifferentTimesAreWithinTheWidthOfACell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		most := rapid.SampledFrom([]int{64, 256, 1024}).Draw(t, "room")
		top := rapid.SampledFrom([]int64{1e4, 2e7, 1e12, math.MaxInt64 / 4096}).Draw(t, "top")
		values := rapid.SliceOfN(rapid.Int64Range(0, top), 1, 3000).Draw(t, "values")
		s := newSketch(most)
		for _, v := range values {
			s.add(v)
		}
		if len(s.cells) > most {
			t.Fatalf("%d cells, room for %d", len(s.cells), most)
		}
		slices.Sort(values)
		width := math.Ldexp(1, -s.digits)
		for rank, v := range values {
			if got := s.ranked(int64(rank)); math.Abs(got-float64(v)) > width*float64(v) {
				t.Fatalf("value %d of %d: %v, want %v within %v", rank, len(values), got, v, width*float64(v))
			}
		}
	})
}

// Ten million times between 10 and 20 ms, all different: 1,024 cells of nine
// binary digits hold them.
func TestAFactorOfTwoCostsLessThanTwoInAThousand(t *testing.T) {
	s := newSketch(fineCells)
	for i := range int64(1_000_000) {
		s.add(10e6 + i*10)
	}
	if s.digits < 9 {
		t.Errorf("%d digits", s.digits)
	}
	if got := s.quantile(50); math.Abs(got-15e6) > 0.002*15e6 {
		t.Errorf("median %v", got)
	}
}

// Even the least room holds every length of time that there is.
func TestTheLeastRoomIsEnough(t *testing.T) {
	s := newSketch(coarseCells)
	for shift := range 63 {
		for _, add := range []int64{0, 1, 2, 3} {
			s.add(int64(1)<<shift + add)
		}
	}
	s.add(math.MaxInt64)
	s.add(0)
	if s.count != 63*4+2 || len(s.cells) > coarseCells {
		t.Errorf("%d values in %d cells", s.count, len(s.cells))
	}
}
