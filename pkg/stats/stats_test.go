package stats_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lull/pkg/stats"
)

// near reports whether two numbers agree within the relative tolerance.
func near(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Abs(want)
}

// mavro is the set Mavro of the NIST Statistical Reference Datasets (univariate),
// in units of 0.00001 above 2.
var mavro = []float64{180, 170, 180, 190, 180, 170, 150, 140, 150, 150, 170, 180, 180, 190, 190, 210, 200, 160, 140, 130,
	130, 150, 150, 160, 150, 140, 130, 140, 150, 140, 150, 160, 150, 160, 190, 200, 200, 210, 220, 230, 240, 250, 270, 260,
	260, 260, 270, 260, 250, 240}

// michelso is the set Michelso from the same source, in units of 0.01 above 299.
var michelso = []float64{85, 74, 90, 107, 93, 85, 95, 98, 98, 88, 100, 98, 93, 65, 76, 81, 100, 100, 96, 96, 96, 94, 96, 94, 88,
	80, 85, 88, 90, 84, 83, 79, 81, 88, 88, 83, 80, 79, 76, 80, 88, 88, 88, 86, 72, 72, 62, 86, 97, 95, 88, 91, 85, 87, 84, 84,
	85, 84, 84, 84, 89, 81, 81, 82, 80, 77, 76, 74, 75, 76, 91, 92, 89, 86, 88, 72, 84, 85, 85, 78, 89, 84, 78, 81, 76, 81, 79,
	81, 82, 85, 87, 87, 81, 74, 81, 94, 95, 80, 81, 87}

func scaled(values []float64, unit, offset float64) []float64 {
	out := slices.Clone(values)
	for i := range out {
		out[i] = offset + out[i]/unit
	}
	return out
}

func TestMedianOfPublishedData(t *testing.T) {
	alternating := []float64{10000000.2}
	for range 500 {
		alternating = append(alternating, 10000000.1, 10000000.3)
	}
	tests := []struct {
		name   string // and where it is from
		values []float64
		want   float64
	}{
		{"NIST StRD Mavro, median of its data", scaled(mavro, 100000, 2), 2.00180},
		{"NIST StRD Michelso, median of its data", scaled(michelso, 100, 299), 299.85},
		{"NIST StRD NumAcc1", []float64{10000001, 10000003, 10000002}, 10000002},
		{"NIST StRD NumAcc4", alternating, 10000000.2},
		{"NIST/SEMATECH e-Handbook gauge data, median", []float64{95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195,
			95.1772, 95.0925, 95.1990, 95.1682}, 95.16365},
		{"quartile example of Moore and McCabe, from memory", []float64{6, 7, 15, 36, 39, 40, 41, 42, 43, 47, 49}, 40},
		{"the same of an even number, from memory", []float64{7, 15, 36, 39, 40, 41}, 37.5},
	}
	for _, test := range tests {
		for _, v := range orders(test.values) {
			before := slices.Clone(v)
			got, ok := stats.Median(v)
			if !ok || !near(got, test.want, 1e-15) {
				t.Errorf("%s: %v, %v, want %v", test.name, got, ok, test.want)
			}
			if !slices.Equal(before, v) {
				t.Errorf("%s: the values were moved", test.name)
			}
			var tally stats.Tally
			for _, x := range v[:len(v)/2] {
				tally.Add(x, 1)
			}
			if counted, ok := tally.Median(v[len(v)/2:]); !ok || counted != got {
				t.Errorf("%s: counted %v, %v, sorted %v", test.name, counted, ok, got)
			}
		}
	}
}

// orders returns the values in the given order, sorted, and reversed.
func orders(values []float64) [][]float64 {
	sorted := slices.Sorted(slices.Values(values))
	reversed := slices.Clone(sorted)
	slices.Reverse(reversed)
	return [][]float64{slices.Clone(values), sorted, reversed}
}

func TestNoValuesHaveNoMedian(t *testing.T) {
	if v, ok := stats.Median(nil); ok || v != 0 {
		t.Errorf("sorted: %v, %v", v, ok)
	}
	var tally stats.Tally
	if v, ok := tally.Median(nil); ok || v != 0 {
		t.Errorf("counted: %v, %v", v, ok)
	}
}

func TestMedianStaysFinite(t *testing.T) {
	tests := []struct{ a, b, want float64 }{
		{math.MaxFloat64, math.MaxFloat64, math.MaxFloat64},
		{-math.MaxFloat64, math.MaxFloat64, 0},
		{math.MaxFloat64 / 2, math.MaxFloat64, math.MaxFloat64 * 0.75},
		{math.SmallestNonzeroFloat64, math.SmallestNonzeroFloat64, math.SmallestNonzeroFloat64},
		{1e300, -1e300, 0},
	}
	for _, test := range tests {
		if got, ok := stats.Median([]float64{test.a, test.b}); !ok || got != test.want {
			t.Errorf("%v and %v: %v, want %v", test.a, test.b, got, test.want)
		}
	}
}

// norris is the set Norris of the NIST Statistical Reference Datasets (linear
// regression, lower difficulty): y and x alternate. Data and certified values are
// from memory.
var norris = []float64{0.1, 0.2, 338.8, 337.4, 118.1, 118.2, 888.0, 884.6, 9.2, 10.1, 228.1, 226.5, 668.5, 666.3, 998.5, 996.3,
	449.1, 448.6, 778.9, 777.0, 559.2, 558.2, 0.3, 0.4, 0.1, 0.6, 778.1, 775.5, 668.8, 666.9, 339.3, 338.0, 448.9, 447.5,
	10.8, 11.6, 557.7, 556.0, 228.3, 228.1, 998.0, 995.8, 888.8, 887.6, 119.6, 120.2, 0.3, 0.3, 0.6, 0.3, 557.6, 556.8,
	339.3, 339.1, 888.0, 887.2, 998.5, 999.0, 778.9, 779.0, 10.2, 11.1, 117.6, 118.3, 228.9, 229.2, 668.4, 669.1,
	449.2, 448.9, 0.2, 0.5}

// pontius is the set Pontius from the same source (lower difficulty, quadratic): y at
// x = 150000, 300000 ... 3000000, measured twice. From memory.
var pontius = []float64{.11019, .21956, .32949, .43899, .54803, .65694, .76562, .87487, .98292, 1.09146, 1.20001, 1.30822, 1.41599,
	1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844, .11052, .22018, .32939, .43886, .54798, .65739, .76596,
	.87474, .98300, 1.09150, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829}

func TestLineOfPublishedData(t *testing.T) {
	var x, y []float64
	for i := 0; i < len(norris); i += 2 {
		y, x = append(y, norris[i]), append(x, norris[i+1])
	}
	const certified, certifiedError = 1.00211681802045, 0.429796848199937e-3
	for _, offset := range []float64{0, 1e6} {
		slope, standardError, ok := stats.Line(scaled(x, 1, offset), y)
		tolerance := 1e-13
		if offset != 0 {
			tolerance = 1e-10 // the offset itself rounds the x
		}
		if !ok || !near(slope, certified, tolerance) || !near(standardError, certifiedError, 100*tolerance) {
			t.Errorf("offset %v: %v +- %v, %v; certified %v +- %v", offset, slope, standardError, ok, certified, certifiedError)
		}
	}
}

func TestParabolaOfPublishedData(t *testing.T) {
	x := make([]float64, len(pontius))
	for i := range x {
		x[i] = float64(i%20+1) * 150000
	}
	const certified, certifiedError = -0.316081871345029e-14, 0.486652849992036e-16
	for _, unit := range []float64{1, 1e-9, 1e6} {
		second, standardError, ok := stats.Parabola(scaled(x, unit, 0), pontius)
		square := unit * unit
		if !ok || !near(second, 2*certified*square, 1e-11) || !near(standardError, 2*certifiedError*square, 1e-11) {
			t.Errorf("unit %v: %v +- %v, %v; certified %v +- %v", unit, second, standardError, ok, 2*certified*square, 2*certifiedError*square)
		}
	}
}

// Calculated by hand: at x = 0, 1, 2, 3, the values y = 0, 1, 1, 2 are fitted by
// 0.1 + 0.6 x with a residual sum of squares of 0.2 and sum (x - mean)^2 = 5; the
// values y = 0, 1, 1, 4 by 0.3 - 0.3 x + 0.5 x^2 with a residual sum of squares of 0.8,
// and the sum of squares of the orthogonal quadratic polynomial is 4.
func TestFitsByHand(t *testing.T) {
	x := []float64{0, 1, 2, 3}
	slope, standardError, ok := stats.Line(x, []float64{0, 1, 1, 2})
	if !ok || !near(slope, 0.6, 1e-15) || !near(standardError, math.Sqrt(0.2/2/5), 1e-14) {
		t.Errorf("line: %v +- %v, %v", slope, standardError, ok)
	}
	second, standardError, ok := stats.Parabola(x, []float64{0, 1, 1, 4})
	if !ok || !near(second, 1, 1e-15) || !near(standardError, 2*math.Sqrt(0.8/1/4), 1e-14) {
		t.Errorf("parabola: %v +- %v, %v", second, standardError, ok)
	}
}

func TestTooFewPointsGiveNoFit(t *testing.T) {
	huge := math.MaxFloat64
	tests := []struct {
		name string
		fit  func(x, y []float64) (float64, float64, bool)
		x, y []float64
	}{
		{"line: nothing", stats.Line, nil, nil},
		{"line: two points", stats.Line, []float64{0, 1}, []float64{0, 1}},
		{"line: one x", stats.Line, []float64{2, 2, 2}, []float64{0, 1, 2}},
		{"line: different lengths", stats.Line, []float64{0, 1, 2}, []float64{0, 1, 2, 3}},
		{"line: x too far apart", stats.Line, []float64{-huge, huge, huge}, []float64{0, 1, 2}},
		{"line: y too far apart", stats.Line, []float64{0, 1, 2, 3}, []float64{huge, -huge, huge, -huge}},
		{"parabola: three points", stats.Parabola, []float64{0, 1, 2}, []float64{0, 1, 4}},
		{"parabola: two x", stats.Parabola, []float64{0, 0.1, 0.1, 0, 0.1}, []float64{0, 1, 2, 3, 4}},
		{"parabola: two x far off", stats.Parabola, []float64{1e9, 1e9 + 1, 1e9, 1e9 + 1}, []float64{0, 1, 2, 3}},
		{"parabola: different lengths", stats.Parabola, []float64{0, 1, 2, 3, 4}, []float64{0, 1, 2, 3}},
		{"parabola: y too far apart", stats.Parabola, []float64{0, 1, 2, 3}, []float64{huge, -huge, huge, huge}},
	}
	for _, test := range tests {
		if v, e, ok := test.fit(test.x, test.y); ok {
			t.Errorf("%s: %v +- %v", test.name, v, e)
		}
	}
}

func TestFitsFindTheCoefficientsThatMadeTheData(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-1000, 1000)
		a, b, c := number.Draw(t, "a"), number.Draw(t, "b"), number.Draw(t, "c")
		from := rapid.Float64Range(-100, 100).Draw(t, "from")
		step := rapid.Float64Range(0.001, 10).Draw(t, "step")
		var x, straight, bent []float64
		for i := range rapid.IntRange(4, 40).Draw(t, "n") {
			v := from + step*float64(i)
			x, straight, bent = append(x, v), append(straight, a+b*v), append(bent, a+b*v+c*v*v)
		}
		// The rounding of y itself is spread over the range of x.
		size, reach := 1.0, x[len(x)-1]-x[0]
		for _, v := range x {
			size = max(size, math.Abs(a)+math.Abs(b*v)+math.Abs(c*v*v))
		}
		rounding := size * 1e-13
		if slope, e, ok := stats.Line(x, straight); !ok || math.Abs(slope-b) > rounding/reach || e > rounding/reach {
			t.Fatalf("slope %v +- %v, %v, want %v", slope, e, ok, b)
		}
		if second, e, ok := stats.Parabola(x, bent); !ok || math.Abs(second-2*c) > 100*rounding/reach/reach || e > 100*rounding/reach/reach {
			t.Fatalf("second derivative %v +- %v, %v, want %v", second, e, ok, 2*c)
		}
	})
}

func TestStandardErrorGrowsWithTheNoise(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4, 5, 6, 7}
	noise := []float64{1, -1, -1, 1, 1, -1, -1, 1}
	for _, fit := range []func(x, y []float64) (float64, float64, bool){stats.Line, stats.Parabola} {
		quietValue, quiet, _ := fit(x, noise)
		loudValue, loud, _ := fit(x, scaled(noise, 0.1, 7))
		if !near(loud, 10*quiet, 1e-12) || math.Abs(loudValue-10*quietValue) > 1e-13 {
			t.Errorf("%v +- %v and ten times that: %v +- %v", quietValue, quiet, loudValue, loud)
		}
	}
}

func TestCountedMedianIsTheSortedOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.OneOf(rapid.Float64Range(-5, 5), rapid.Map(rapid.IntRange(-3, 3), func(i int) float64 { return float64(i) }))
		counted := rapid.SliceOfN(value, 1, 50).Draw(t, "counted")
		more := rapid.SliceOfN(value, 0, 50).Draw(t, "more")
		var tally stats.Tally
		for _, v := range counted {
			tally.Add(v, 1)
		}
		want, _ := stats.Median(append(slices.Clone(counted), more...))
		for range 2 { // Median does not change the Tally
			if got, ok := tally.Median(more); !ok || got != want {
				t.Fatalf("%v, %v, want %v", got, ok, want)
			}
		}
	})
}

// With far more different values than a Tally keeps apart, its median stays close to
// the true one, and every value counts.
func TestCountedMedianOfVeryManyDifferentValues(t *testing.T) {
	var tally stats.Tally
	const n = 400_000
	for i := range n {
		tally.Add(1000+float64(i)/n, 1)
	}
	tally.Add(2000, n+1)
	if got, ok := tally.Median(nil); !ok || got != 2000 {
		t.Errorf("the half that came later: %v, %v", got, ok)
	}
	tally.Add(0, n)
	got, ok := tally.Median(nil)
	if want := 1000.5; !ok || !near(got, want, 1e-7) {
		t.Errorf("%v, %v, want about %v", got, ok, want)
	}
}

func ExampleLine() {
	// A battery of 12.6 V and 10 milliohm under a starter's current.
	amperes := []float64{-300, -200, -150, -100}
	volts := []float64{9.6, 10.6, 11.1, 11.6}
	ohm, _, _ := stats.Line(amperes, volts)
	fmt.Printf("%.4f\n", ohm)
	// Output: 0.0100
}
