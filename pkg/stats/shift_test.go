package stats_test

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lull/pkg/stats"
)

func TestHodgesLehmannOfPublishedData(t *testing.T) {
	tests := []struct {
		name          string // and where the values are from
		after, before []float64
		confidence    float64 // asked for
		want          stats.Shift
	}{
		{"permeability, 96 %; Hollander and Wolfe, chapter 4", permeabilityTerm, permeabilityEarly, 0.95,
			stats.Shift{Value: 0.305, Interval: stats.Interval{Low: -0.15, High: 0.76, Confidence: 0.96}, Rank: 9}},
		{"permeability, 90 %; R's exactRankTests", permeabilityTerm, permeabilityEarly, 0.90,
			stats.Shift{Value: 0.305, Interval: stats.Interval{Low: -0.08, High: 0.72, Confidence: 0.90}, Rank: 12}},
		// R's exactRankTests gives the same estimate with -4 to 22, an interval based on
		// the distribution with these ties. Ours is based on the one without ties: for 4
		// and 11 values the critical U at 95 % is 6 (tables of Mann and Whitney), so the
		// interval begins at rank 7.
		{"blood pressure, ties; estimate of R's exactRankTests, interval counted", pressureTreated, pressureControl, 0.95,
			stats.Shift{Value: 9.5, Interval: stats.Interval{Low: 0, High: 22, Confidence: 0.96}, Rank: 7}},
		{"Hollander and Wolfe, chapter 4, exercise 2, 95.3 %; counted", exerciseFirst, exerciseSecond, 0.95,
			stats.Shift{Value: 410, Interval: stats.Interval{Low: 168, High: 690, Confidence: 0.953}, Rank: 31}},
		{"mice of Efron and Tibshirani; counted", miceTreated, miceControl, 0.95, stats.Shift{Value: 28}},
	}
	for _, test := range tests {
		got, ok := stats.HodgesLehmann(test.before, test.after, test.confidence)
		if !ok || !near(got.Value, test.want.Value, 1e-14) {
			t.Errorf("%s: %+v, %v, want %+v", test.name, got, ok, test.want)
		}
		if test.want.Rank == 0 {
			continue
		}
		if !near(got.Low, test.want.Low, 1e-14) || !near(got.High, test.want.High, 1e-14) || math.Abs(got.Confidence-test.want.Confidence) > 0.006 ||
			got.Confidence < test.confidence || got.Rank != test.want.Rank {
			t.Errorf("%s: %+v, want %+v", test.name, got, test.want)
		}
	}
}

// If the samples are too small for the confidence asked for, the interval is the widest
// possible one, whose confidence is 1 - 2 / C(n + m, n).
func TestTheShiftOfVerySmallSamplesSaysHowLittleIsKnown(t *testing.T) {
	tests := []struct {
		before, after []float64
		want          stats.Shift
	}{
		{[]float64{1}, []float64{3}, stats.Shift{Value: 2, Interval: stats.Interval{Low: 2, High: 2, Confidence: 0}, Rank: 1}},
		{[]float64{1, 2}, []float64{7}, stats.Shift{Value: 5.5, Interval: stats.Interval{Low: 5, High: 6, Confidence: 1. / 3}, Rank: 1}},
		{[]float64{1, 2, 4}, []float64{1, 2, 4}, stats.Shift{Value: 0, Interval: stats.Interval{Low: -3, High: 3, Confidence: 0.9}, Rank: 1}},
		// 39 and 1 values reach exactly 95 %; 38 and 1 do not.
		{sequence(39, 0, 1), []float64{38}, stats.Shift{Value: 19, Interval: stats.Interval{Low: 0, High: 38, Confidence: 0.95}, Rank: 1}},
		{sequence(38, 0, 1), []float64{37}, stats.Shift{Value: 18.5, Interval: stats.Interval{Low: 0, High: 37, Confidence: 1 - 2./39}, Rank: 1}},
	}
	for _, test := range tests {
		got, ok := stats.HodgesLehmann(test.before, test.after, 0.95)
		if near(got.Confidence, test.want.Confidence, 1e-15) {
			got.Confidence = test.want.Confidence
		}
		if !ok || got != test.want {
			t.Errorf("%v and %v: %+v, %v, want %+v", test.before, test.after, got, ok, test.want)
		}
	}
}

// Over all ways to deal distinct values out to two sides that do not differ, the share
// of intervals that contain 0 is exactly the stated confidence. With the next rank, the
// share would be less than what was asked for.
func TestTheIntervalOfTheShiftHoldsWhatItSays(t *testing.T) {
	for n := 1; n <= 6; n++ {
		for m := 1; m <= 6; m++ {
			for _, confidence := range []float64{0.5, 0.8, 0.95, 0.99} {
				total, holds, next := 0, 0, 0
				var shift stats.Shift
				for set := range uint(1) << (n + m) {
					if bits.OnesCount(set) != n {
						continue
					}
					var sides [2][]float64
					for i := range n + m {
						sides[set>>i&1] = append(sides[set>>i&1], math.Exp2(float64(i)))
					}
					var ok bool
					if shift, ok = stats.HodgesLehmann(sides[0], sides[1], confidence); !ok {
						t.Fatalf("%v: none", sides)
					}
					var differences []float64
					for _, a := range sides[1] {
						for _, b := range sides[0] {
							differences = append(differences, a-b)
						}
					}
					slices.Sort(differences)
					if want := differences[shift.Rank-1]; shift.Low != want {
						t.Fatalf("%v: %+v, want from %v", sides, shift, want)
					}
					if want := differences[n*m-shift.Rank]; shift.High != want {
						t.Fatalf("%v: %+v, want to %v", sides, shift, want)
					}
					total++
					if shift.Low <= 0 && 0 <= shift.High {
						holds++
					}
					if shift.Rank < n*m-shift.Rank && differences[shift.Rank] <= 0 && 0 <= differences[n*m-shift.Rank-1] {
						next++
					}
				}
				if share := float64(holds) / float64(total); math.Abs(share-shift.Confidence) > 1e-15 {
					t.Errorf("%d and %d: holds 0 in %v, says %v", n, m, share, shift.Confidence)
				}
				if shift.Confidence < confidence && shift.Rank != 1 {
					t.Errorf("%d and %d: %+v, asked for %v", n, m, shift, confidence)
				}
				if share := float64(next) / float64(total); share >= confidence {
					t.Errorf("%d and %d: with rank %d it would hold 0 in %v, asked for %v", n, m, shift.Rank+1, share, confidence)
				}
			}
		}
	}
}

func TestTheShiftIsAmongTheSortedDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.OneOf(rapid.Float64Range(-1e300, 1e300), rapid.Float64Range(-1, 1),
			rapid.Map(rapid.IntRange(-3, 3), func(i int) float64 { return float64(i) }))
		before := rapid.SliceOfN(value, 1, 30).Draw(t, "before")
		after := rapid.SliceOfN(value, 1, 30).Draw(t, "after")
		got, ok := stats.HodgesLehmann(before, after, 0.95)
		var differences []float64
		for _, a := range after {
			for _, b := range before {
				differences = append(differences, a-b)
			}
		}
		slices.Sort(differences)
		median, _ := stats.Median(differences)
		if !ok || got.Value != median || got.Low != differences[got.Rank-1] || got.High != differences[len(differences)-got.Rank] {
			t.Fatalf("%+v, %v of %v", got, ok, differences)
		}
		if math.Signbit(got.Low) && got.Low == 0 || math.Signbit(got.High) && got.High == 0 {
			t.Fatalf("%+v has a negative zero", got)
		}
		if !(got.Low <= got.Value && got.Value <= got.High && got.Confidence >= 0 && got.Confidence < 1) {
			t.Fatalf("%+v", got)
		}
	})
}

func TestTheShiftNeedsFiniteValuesOnBothSides(t *testing.T) {
	good := []float64{1, 2, 3}
	for _, bad := range [][]float64{nil, {1, math.NaN()}, {math.Inf(1)}} {
		for _, sides := range [][2][]float64{{good, bad}, {bad, good}, {bad, bad}} {
			if got, ok := stats.HodgesLehmann(sides[0], sides[1], 0.95); ok || got != (stats.Shift{}) {
				t.Errorf("%v: %+v", sides, got)
			}
		}
	}
	for _, confidence := range []float64{0, 1, -1, 2, 95, math.NaN(), math.Inf(1)} {
		if got, ok := stats.HodgesLehmann(good, good, confidence); ok {
			t.Errorf("confidence %v: %+v", confidence, got)
		}
	}
	huge := []float64{-math.MaxFloat64, math.MaxFloat64}
	for _, sides := range [][2][]float64{{huge, huge}, {huge[:1], huge[1:]}, {huge[1:], huge[:1]}} {
		if got, ok := stats.HodgesLehmann(sides[0], sides[1], 0.95); ok {
			t.Errorf("%v: %+v", sides, got)
		}
	}
}

// Large samples: the rank is near that of the normal distribution, nm/2 - z
// sqrt(nm(n+m+1)/12), and the confidence is hardly above what was asked for.
func TestTheShiftOfLargeSamples(t *testing.T) {
	const z = 1.959963984540054
	for _, sizes := range [][2]int{{40, 30}, {300, 300}, {1000, 1000}, {5, 4000}, {12, 900}, {3000, 2500}} {
		n, m := float64(sizes[0]), float64(sizes[1])
		got, ok := stats.HodgesLehmann(sequence(sizes[0], 0, 1), sequence(sizes[1], 10, 1), 0.95)
		want := n*m/2 - z*math.Sqrt(n*m*(n+m+1)/12)
		if !ok || math.Abs(float64(got.Rank)-want) > 3+0.004*n*m || got.Confidence < 0.95 || got.Confidence > 0.9515 {
			t.Errorf("%v: %+v, %v, rank about %v", sizes, got, ok, want)
		}
		if middle := 10 + (m-n)/2; got.Value != middle {
			t.Errorf("%v: %v, want %v", sizes, got.Value, middle)
		}
	}
}

func BenchmarkHodgesLehmann(b *testing.B) {
	for _, sizes := range [][2]int{{12, 11}, {28, 28}, {300, 300}, {1000, 1000}, {3, 490}} {
		before, after := sequence(sizes[0], 0.25, 3), sequence(sizes[1], 0, 1)
		b.Run(fmt.Sprintf("%dand%d", sizes[0], sizes[1]), func(b *testing.B) {
			for b.Loop() {
				if _, ok := stats.HodgesLehmann(before, after, 0.95); !ok {
					b.Fatal("none")
				}
			}
		})
	}
}
