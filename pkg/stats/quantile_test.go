package stats_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lull/pkg/stats"
)

var gauge = []float64{95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1772, 95.0925, 95.1990, 95.1682}

func TestQuantileOfPublishedData(t *testing.T) {
	eleven, six := []float64{6, 7, 15, 36, 39, 40, 41, 42, 43, 47, 49}, []float64{7, 15, 36, 39, 40, 41}
	tests := []struct {
		name   string // and where the values are from; the place is (n-1)p + 1
		values []float64
		p      float64
		want   float64
	}{
		// 95.1981 in the handbook itself, at place (n+1)p.
		{"NIST/SEMATECH e-Handbook gauge data, 7.2.6.2", gauge, 0.9, 95.19568},
		{"the same, median", gauge, 0.5, 95.16365},
		{"15 20 35 40 50; well-known example of percentiles", []float64{15, 20, 35, 40, 50}, 0.4, 29},
		{"quartile example of Moore and McCabe, from memory", eleven, 0.25, 25.5},
		{"the same, median", eleven, 0.5, 40},
		{"the same, third quartile", eleven, 0.75, 42.5},
		{"the same of an even number, from memory", six, 0.25, 20.25},
		{"the same, median", six, 0.5, 37.5},
		{"the same, third quartile", six, 0.75, 39.75},
		{"lowest", eleven, 0, 6},
		{"highest", eleven, 1, 49},
		{"one value", []float64{3}, 0.3, 3},
		{"too far apart for their difference", []float64{-math.MaxFloat64, math.MaxFloat64}, 0.25, -math.MaxFloat64 / 2},
	}
	for _, test := range tests {
		for _, values := range orders(test.values) {
			before := slices.Clone(values)
			if got, ok := stats.Quantile(values, test.p); !ok || !near(got, test.want, 1e-15) {
				t.Errorf("%s: %v, %v, want %v", test.name, got, ok, test.want)
			}
			if !slices.Equal(before, values) {
				t.Errorf("%s: the values were moved", test.name)
			}
		}
	}
}

func TestSummaryOfPublishedData(t *testing.T) {
	tests := []struct {
		name   string // and where the values are from
		values []float64
		want   stats.Summary
	}{
		{"quartile example of Moore and McCabe, from memory", []float64{6, 7, 15, 36, 39, 40, 41, 42, 43, 47, 49},
			stats.Summary{N: 11, Min: 6, Q1: 25.5, Median: 40, Q3: 42.5, Max: 49}},
		{"NIST StRD NumAcc1", []float64{10000001, 10000003, 10000002},
			stats.Summary{N: 3, Min: 10000001, Q1: 10000001.5, Median: 10000002, Q3: 10000002.5, Max: 10000003}},
		{"one value", []float64{-2}, stats.Summary{N: 1, Min: -2, Q1: -2, Median: -2, Q3: -2, Max: -2}},
	}
	for _, test := range tests {
		for _, values := range orders(test.values) {
			if got, ok := stats.Summarize(values); !ok || got != test.want {
				t.Errorf("%s: %+v, %v, want %+v", test.name, got, ok, test.want)
			}
		}
	}
	// NIST StRD Michelso: median 299.85, from 299.62 to 300.07, of its data.
	got, ok := stats.Summarize(scaled(michelso, 100, 299))
	if !ok || got.N != 100 || !near(got.Min, 299.62, 1e-15) || !near(got.Median, 299.85, 1e-15) || !near(got.Max, 300.07, 1e-15) {
		t.Errorf("Michelso: %+v, %v", got, ok)
	}
}

func TestQuantilesOfNothingOrOfNoNumbersAreNone(t *testing.T) {
	for _, bad := range [][]float64{nil, {math.NaN()}, {1, math.Inf(1)}, {math.Inf(-1), 2, 3}} {
		if got, ok := stats.Quantile(bad, 0.5); ok || got != 0 {
			t.Errorf("%v: %v", bad, got)
		}
		if got, ok := stats.Summarize(bad); ok || got != (stats.Summary{}) {
			t.Errorf("%v: %+v", bad, got)
		}
	}
	for _, p := range []float64{-0.1, 1.1, math.NaN(), math.Inf(1)} {
		if got, ok := stats.Quantile([]float64{1, 2}, p); ok || got != 0 {
			t.Errorf("p %v: %v", p, got)
		}
	}
}

func TestQuantilesStayFiniteAndInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.OneOf(rapid.Float64Range(-5, 5), rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64))
		values := rapid.SliceOfN(value, 1, 30).Draw(t, "values")
		summary, ok := stats.Summarize(values)
		median, _ := stats.Median(values)
		if !ok || summary.N != len(values) || summary.Median != median || summary.Min != slices.Min(values) || summary.Max != slices.Max(values) {
			t.Fatalf("%+v, %v, median %v", summary, ok, median)
		}
		last := summary.Min
		for _, p := range []float64{0, 0.1, 0.25, 0.3, 0.5, 0.6, 0.75, 0.99, 1} {
			q, ok := stats.Quantile(values, p)
			// Rounding may move neighbours within a last digit.
			if !ok || q < last && !near(q, last, 1e-15) || q > summary.Max || q < summary.Min {
				t.Fatalf("%v at %v, before it %v, of %+v", q, p, last, summary)
			}
			last = q
			if p == 0.25 && q != summary.Q1 || p == 0.75 && q != summary.Q3 {
				t.Fatalf("%v at %v, not of %+v", q, p, summary)
			}
		}
	})
}
