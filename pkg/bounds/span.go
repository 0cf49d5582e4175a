package bounds

import "slices"

// Durations in nanoseconds.
const (
	Millisecond = int64(1e6)
	Second      = int64(1e9)
)

// Span is a stretch of time in nanoseconds.
type Span struct{ From, To int64 }

// Union returns the total time that the spans cover, counting overlaps once.
func Union(spans []Span) int64 {
	sorted := slices.Clone(spans)
	slices.SortFunc(sorted, func(a, b Span) int {
		switch {
		case a.From < b.From:
			return -1
		case a.From > b.From:
			return 1
		}
		return 0
	})
	var covered int64
	end := int64(-1 << 63)
	for _, s := range sorted {
		if from := max(s.From, end); s.To > from {
			covered += s.To - from
		}
		end = max(end, s.To)
	}
	return covered
}
