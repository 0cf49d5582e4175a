package trace

import (
	"testing"

	"pgregory.net/rapid"

	"lull/analyze"
)

// Whatever is thinned, every column still shows the first, lowest, highest and
// last of its samples, and there are never more than four of one column.
func TestThinnedTracesLoseNoExtreme(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.IntRange(1, 20).Draw(t, "columns")
		w := analyze.Window{From: 1000, To: 1000 + rapid.Int64Range(1, 4000).Draw(t, "length"), Columns: columns}
		width := max((w.To-w.From)/int64(columns), 1)
		k := newThinner(w, width)
		at := int64(0)
		type column struct{ first, low, high, last float64 }
		want := map[int64]*column{}
		var before, after *analyze.TracePoint
		for range rapid.IntRange(0, 300).Draw(t, "samples") {
			at += rapid.Int64Range(0, 60).Draw(t, "step")
			p := analyze.TracePoint{T: at, Value: rapid.Float64Range(-10, 10).Draw(t, "value")}
			k.add(p)
			switch {
			case at < w.From:
				before = &p
			case at > w.To:
				if after == nil {
					after = &p
				}
			default:
				c := want[(at-w.From)/width]
				if c == nil {
					c = &column{p.Value, p.Value, p.Value, p.Value}
					want[(at-w.From)/width] = c
				}
				c.low, c.high, c.last = min(c.low, p.Value), max(c.high, p.Value), p.Value
			}
		}
		got := map[int64]*column{}
		counts := map[int64]int{}
		last := int64(-1)
		for _, p := range k.finish() {
			if p.T < last {
				t.Fatalf("a point at %d stands after one at %d", p.T, last)
			}
			last = p.T
			switch {
			case p.T < w.From:
				if before == nil || *before != p {
					t.Fatalf("before the window: %v, want %v", p, before)
				}
				before = nil
			case p.T > w.To:
				if after == nil || *after != p {
					t.Fatalf("after the window: %v, want %v", p, after)
				}
				after = nil
			default:
				n := (p.T - w.From) / width
				if counts[n]++; counts[n] > 4 {
					t.Fatalf("column %d holds more than four points", n)
				}
				c := got[n]
				if c == nil {
					c = &column{p.Value, p.Value, p.Value, p.Value}
					got[n] = c
				}
				c.low, c.high, c.last = min(c.low, p.Value), max(c.high, p.Value), p.Value
			}
		}
		if before != nil || after != nil {
			t.Fatalf("the points beside the window are missing: %v, %v", before, after)
		}
		if len(got) != len(want) {
			t.Fatalf("%d columns hold points, want %d", len(got), len(want))
		}
		for n, c := range want {
			if *got[n] != *c {
				t.Fatalf("column %d: %v, want %v", n, *got[n], *c)
			}
		}
	})
}
