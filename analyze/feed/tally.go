package feed

import (
	"lull/analyze/series"
	"lull/pkg/stats"
)

// WindowTally counts the values of one signal since a standstill began, the
// newest of them apart, since the stop onset is known only after the fact.
type WindowTally struct {
	settled stats.Tally
	recent  []series.Point
}

// Add counts a point.
func (w *WindowTally) Add(p series.Point) { w.recent = append(w.recent, p) }

// AddAll counts points.
func (w *WindowTally) AddAll(points []series.Point) { w.recent = append(w.recent, points...) }

// SettleBefore counts what lies before the moment for good.
func (w *WindowTally) SettleBefore(moment int64) {
	n := 0
	for n < len(w.recent) && w.recent[n].T < moment {
		from, v := n, w.recent[n].V
		for n++; n < len(w.recent) && w.recent[n].T < moment && w.recent[n].V == v; n++ {
		}
		w.settled.Add(v, n-from)
	}
	w.recent = w.recent[:copy(w.recent, w.recent[n:])]
}

// Median returns the median of what lies at or before the moment, and whether anything
// does.
func (w *WindowTally) Median(until int64) (float64, bool) {
	var more []float64
	for _, p := range w.recent {
		if p.T <= until {
			more = append(more, p.V)
		}
	}
	return w.settled.Median(more)
}
