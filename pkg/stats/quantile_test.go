package stats_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lull/pkg/stats"
)

var gauge = []float64{95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1772, 95.0925, 95.1990, 95.1682}

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
		{"NIST/SEMATECH e-Handbook gauge data, 7.2.6.2", gauge,
			stats.Summary{N: 12, Min: 95.0610, Q1: 95.138025, Median: 95.16365, Q3: 95.181325, Max: 95.1990}},
		{"15 20 35 40 50; well-known example of percentiles", []float64{15, 20, 35, 40, 50},
			stats.Summary{N: 5, Min: 15, Q1: 20, Median: 35, Q3: 40, Max: 50}},
		{"quartile example of an even number, from memory", []float64{7, 15, 36, 39, 40, 41},
			stats.Summary{N: 6, Min: 7, Q1: 20.25, Median: 37.5, Q3: 39.75, Max: 41}},
		{"too far apart for their difference", []float64{-math.MaxFloat64, math.MaxFloat64},
			stats.Summary{N: 2, Min: -math.MaxFloat64, Q1: -math.MaxFloat64 / 2, Median: 0, Q3: math.MaxFloat64 / 2, Max: math.MaxFloat64}},
		{"one value", []float64{-2}, stats.Summary{N: 1, Min: -2, Q1: -2, Median: -2, Q3: -2, Max: -2}},
	}
	for _, test := range tests {
		for _, values := range orders(test.values) {
			before := slices.Clone(values)
			got, ok := stats.Summarize(values)
			want := test.want
			if !ok || got.N != want.N || got.Min != want.Min || got.Max != want.Max ||
				!near(got.Q1, want.Q1, 1e-15) || !near(got.Median, want.Median, 1e-15) || !near(got.Q3, want.Q3, 1e-15) {
				t.Errorf("%s: %+v, %v, want %+v", test.name, got, ok, want)
			}
			if !slices.Equal(before, values) {
				t.Errorf("%s: the values were moved", test.name)
			}
		}
	}
	// NIST StRD Michelso: median 299.85, from 299.62 to 300.07.
	got, ok := stats.Summarize(scaled(michelso, 100, 299))
	if !ok || got.N != 100 || !near(got.Min, 299.62, 1e-15) || !near(got.Median, 299.85, 1e-15) || !near(got.Max, 300.07, 1e-15) {
		t.Errorf("Michelso: %+v, %v", got, ok)
	}
}

func TestASummaryNeedsFiniteValues(t *testing.T) {
	for _, bad := range [][]float64{nil, {math.NaN()}, {1, math.Inf(1)}, {math.Inf(-1), 2, 3}} {
		if got, ok := stats.Summarize(bad); ok || got != (stats.Summary{}) {
			t.Errorf("%v: %+v", bad, got)
		}
	}
}

func TestSummariesStayFiniteAndInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.OneOf(rapid.Float64Range(-5, 5), rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64))
		values := rapid.SliceOfN(value, 1, 30).Draw(t, "values")
		summary, ok := stats.Summarize(values)
		median, _ := stats.Median(values)
		if !ok || summary.N != len(values) || summary.Median != median || summary.Min != slices.Min(values) || summary.Max != slices.Max(values) {
			t.Fatalf("%+v, %v, median %v", summary, ok, median)
		}
		last := summary.Min
		for _, q := range []float64{summary.Q1, summary.Median, summary.Q3, summary.Max} {
			// Rounding may exchange values that differ in the last digit only.
			if q < last && !near(q, last, 1e-15) || q > summary.Max || q < summary.Min {
				t.Fatalf("%v, before it %v, of %+v", q, last, summary)
			}
			last = q
		}
	})
}
