package bounds_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/pkg/bounds"
)

const millisecond = int64(1e6)

// The expected values are derived from JCGM 100:2008 (GUM) 4.3.7: an edge that is
// seen only with the next message of period P is uniformly distributed over the P
// before that message, so u = P/sqrt(12). The variances of two independent edges
// add up.
func TestTwoEdgesSeenWithTheNextMessage(t *testing.T) {
	tests := []struct {
		start, end        int64   // periods in ms
		u                 float64 // ms
		late              float64 // by how much the difference of the two frames exceeds the truth on average, ms
		least, most       float64 // hard bounds of that excess, ms
		drawn             int
		tolerance         float64
		uncertaintyWithin float64
	}{
		{10, 10, 4.0825, 0, -10, 10, 200_000, 0.05, 0.005},
		{10, 20, 6.4550, 5, -10, 20, 200_000, 0.05, 0.005},
		{20, 20, 8.1650, 0, -20, 20, 200_000, 0.1, 0.005},
		{50, 10, 14.7196, -20, -50, 10, 200_000, 0.15, 0.005},
		{100, 10, 29.0115, -45, -100, 10, 200_000, 0.3, 0.005},
		{100, 100, 40.8248, 0, -100, 100, 200_000, 0.4, 0.005},
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, test := range tests {
		const truth = 417 * millisecond
		var sum, squares float64
		least, most := math.Inf(1), math.Inf(-1)
		for range test.drawn {
			// Phases of the two messages: when the edges happen within a period.
			a := edge(0, rng.Int64N(test.start*millisecond), test.start*millisecond)
			b := edge(truth, rng.Int64N(test.end*millisecond), test.end*millisecond)
			d := bounds.Sub(b, a)
			if d.Low > bounds.Seconds(truth) || d.High < bounds.Seconds(truth) {
				t.Fatalf("%v does not hold the truth", d)
			}
			if width := d.High - d.Low; math.Abs(width*1000-float64(test.start+test.end)) > 1e-9 {
				t.Fatalf("%v is %v s wide", d, width)
			}
			frames := float64(b.High-a.High-truth) / 1e6
			sum += frames
			squares += frames * frames
			least, most = min(least, frames), max(most, frames)
		}
		mean := sum / float64(test.drawn)
		u := math.Sqrt(squares/float64(test.drawn) - mean*mean)
		if math.Abs(u-test.u) > test.u*test.uncertaintyWithin || math.Abs(mean-test.late) > test.tolerance {
			t.Errorf("%d and %d ms: u = %.4f ms, late by %.3f ms", test.start, test.end, u, mean)
		}
		if least < test.least || most > test.most || least > test.least*0.95 || most < test.most*0.95 {
			t.Errorf("%d and %d ms: from %.3f to %.3f ms", test.start, test.end, least, most)
		}
		if combined := math.Hypot(float64(test.start), float64(test.end)) / math.Sqrt(12); math.Abs(combined-test.u) > 5e-5 {
			t.Errorf("%d and %d ms: combined u = %.5f ms", test.start, test.end, combined)
		}
	}
}

// edge returns the bounds of an instant t that is observed through a message of the
// given period, the next of which comes after wait.
func edge(t, wait, period int64) bounds.Instant {
	return bounds.Midway(t+wait-period, t+wait)
}

// The midpoint of the bounds is free of that lateness.
func TestBestValueIsNotLateOnAverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const n, truth = 200_000, 417 * millisecond
	sum := 0.0
	for range n {
		a := edge(0, rng.Int64N(100*millisecond), 100*millisecond)
		b := edge(truth, rng.Int64N(10*millisecond), 10*millisecond)
		sum += bounds.Sub(b, a).Best
	}
	// u of the mean is 29 ms / sqrt(n) = 0.065 ms.
	if mean := sum / n; math.Abs(mean-bounds.Seconds(truth)) > 0.0003 {
		t.Errorf("mean %.6f s", mean)
	}
}

func instants(t *rapid.T, name string) bounds.Instant {
	t.Helper()
	low := rapid.Int64Range(-1e15, 1e15).Draw(t, name)
	best := low + rapid.Int64Range(0, 1e12).Draw(t, name)
	return bounds.Instant{Low: low, T: best, High: best + rapid.Int64Range(0, 1e12).Draw(t, name)}
}

func values(t *rapid.T, name string) bounds.Value {
	t.Helper()
	low := rapid.Float64Range(-1e6, 1e6).Draw(t, name)
	best := low + rapid.Float64Range(0, 1e3).Draw(t, name)
	return bounds.Value{Low: low, Best: best, High: best + rapid.Float64Range(0, 1e3).Draw(t, name)}
}

// within draws a number that lies within the bounds.
func within(t *rapid.T, v bounds.Value) float64 {
	t.Helper()
	return min(v.High, v.Low+rapid.Float64Range(0, 1).Draw(t, "share")*(v.High-v.Low))
}

func inOrder(v bounds.Value) bool { return v.Low <= v.Best && v.Best <= v.High }

func TestArithmeticNeverNarrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := instants(t, "a"), instants(t, "b")
		x := rapid.Int64Range(a.Low, a.High).Draw(t, "x")
		y := rapid.Int64Range(b.Low, b.High).Draw(t, "y")
		if d := bounds.Sub(b, a); !inOrder(d) || bounds.Seconds(y-x) < d.Low || bounds.Seconds(y-x) > d.High {
			t.Fatalf("%v - %v = %v without %d - %d", b, a, d, y, x)
		}
		if m := bounds.Middle(a, b); m.Low > m.T || m.T > m.High || (x+y)/2 < m.Low-1 || (x+y)/2 > m.High+1 {
			t.Fatalf("between %v and %v: %v", a, b, m)
		}
		if got := a.Shift(y).Shift(-y); got != a {
			t.Fatalf("%v there and back is %v", a, got)
		}

		v, w := values(t, "v"), values(t, "w")
		p, q := within(t, v), within(t, w)
		if d := v.Minus(w); !inOrder(d) || p-q < d.Low || p-q > d.High {
			t.Fatalf("%v - %v = %v without %v - %v", v, w, d, p, q)
		}
		factor := rapid.Float64Range(-100, 100).Draw(t, "factor")
		offset := rapid.Float64Range(-100, 100).Draw(t, "offset")
		scaled := float64(p*factor) + offset
		if s := v.Scaled(factor, offset); !inOrder(s) || scaled < s.Low || scaled > s.High {
			t.Fatalf("%v x %v + %v = %v without %v", v, factor, offset, s, scaled)
		}
	})
}

func TestArithmeticByHand(t *testing.T) {
	a := bounds.Instant{Low: 1e9, T: 2e9, High: 3e9}
	b := bounds.Instant{Low: 10e9, T: 11e9, High: 15e9}
	tests := []struct {
		name      string
		got, want any
	}{
		{"a known instant", bounds.At(7), bounds.Instant{Low: 7, T: 7, High: 7}},
		{"midway", bounds.Midway(-3, 4), bounds.Instant{Low: -3, T: 0, High: 4}},
		{"shifted", a.Shift(-1e9), bounds.Instant{Low: 0, T: 1e9, High: 2e9}},
		{"half way", bounds.Middle(a, b), bounds.Instant{Low: 5.5e9, T: 6.5e9, High: 9e9}},
		{"difference", bounds.Sub(b, a), bounds.Value{Low: 7, Best: 9, High: 14}},
		{"backwards", bounds.Sub(a, b), bounds.Value{Low: -14, Best: -9, High: -7}},
		{"exactly", bounds.Exactly(2.5), bounds.Value{Low: 2.5, Best: 2.5, High: 2.5}},
		{"scaled", bounds.Value{Low: 1, Best: 2, High: 4}.Scaled(3, -1), bounds.Value{Low: 2, Best: 5, High: 11}},
		{"turned round", bounds.Value{Low: 1, Best: 2, High: 4}.Scaled(-3, 1), bounds.Value{Low: -11, Best: -5, High: -2}},
		{"minus", bounds.Value{Low: 1, Best: 2, High: 4}.Minus(bounds.Value{Low: 10, Best: 11, High: 12}), bounds.Value{Low: -11, Best: -9, High: -6}},
		{"seconds", bounds.Seconds(1_234_567_891), 1.234567891},
	}
	for _, test := range tests {
		if diff := cmp.Diff(test.want, test.got); diff != "" {
			t.Errorf("%s: %s", test.name, diff)
		}
	}
}

func TestTouchesAtBothEnds(t *testing.T) {
	i := bounds.Instant{Low: 10, T: 15, High: 20}
	tests := []struct {
		low, high int64
		want      bool
	}{{0, 9, false}, {0, 10, true}, {12, 13, true}, {0, 100, true}, {20, 30, true}, {21, 30, false}}
	for _, test := range tests {
		if got := i.Touches(test.low, test.high); got != test.want {
			t.Errorf("%d..%d: %v", test.low, test.high, got)
		}
	}
}
