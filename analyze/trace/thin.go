package trace

import (
	"cmp"
	"slices"

	"lull/analyze"
	"lull/analyze/conditions"
)

// thinner keeps of the points in each column of a window the first, lowest,
// highest and last, and of those before and after the window the nearest one.
type thinner struct {
	from, to, width int64
	most            int // points from which on breaks are no longer kept
	points          []analyze.TracePoint
	after           bool  // the one after the window is there
	column          int64 // the one that is being filled
	count           int   // of the points in it
	kept            [4]counted
}

func newThinner(w analyze.Window, width int64) *thinner {
	return &thinner{from: w.From, to: w.To, width: width, most: 8 * w.Columns}
}

// counted is a point and its place among those of its column.
type counted struct {
	analyze.TracePoint
	n int
}

const (
	firstKept = iota
	lowestKept
	highestKept
	lastKept
)

// add takes the next point. A break is kept where it is wide enough to be seen:
// two columns, or back in time. Without a break time does not leave a column to
// go back to one before.
func (k *thinner) add(p analyze.TracePoint) {
	inside := len(k.points) > 0 || k.count > 0
	switch {
	case p.T < k.from && !p.Break && inside && k.column >= 0:
		return // set back by a little
	case p.T < k.from:
		k.flush()
		k.points = append(k.points[:0], analyze.TracePoint{T: p.T, Value: p.Value})
		k.column = -1
		return
	case p.T > k.to:
		if k.flush(); !k.after {
			k.after = true
			k.points = append(k.points, p)
		}
		return
	}
	column := (p.T - k.from) / k.width
	if p.Break {
		away := p.T - k.newest()
		p.Break = inside && (away < 0 || away > 2*k.width) && len(k.points) < k.most
	}
	if !p.Break {
		column = max(column, k.column)
	}
	if k.count > 0 && (column != k.column || p.Break) {
		k.flush()
	}
	k.column = column
	c := counted{p, k.count}
	k.count++
	if c.n == 0 {
		k.kept = [4]counted{c, c, c, c}
		return
	}
	if p.Value < k.kept[lowestKept].Value {
		k.kept[lowestKept] = c
	}
	if p.Value > k.kept[highestKept].Value {
		k.kept[highestKept] = c
	}
	k.kept[lastKept] = c
}

// newest is the time of the newest point.
func (k *thinner) newest() int64 {
	if k.count > 0 {
		return k.kept[lastKept].T
	}
	if n := len(k.points); n > 0 {
		return k.points[n-1].T
	}
	return k.from
}

// flush ends a column.
func (k *thinner) flush() {
	if k.count == 0 {
		return
	}
	k.count = 0
	kept := k.kept
	slices.SortFunc(kept[:], func(a, b counted) int { return cmp.Compare(a.n, b.n) })
	for i, c := range kept {
		if i == 0 || c.n != kept[i-1].n {
			k.points = append(k.points, c.TracePoint)
		}
	}
}

// finish returns the points.
func (k *thinner) finish() []analyze.TracePoint {
	k.flush()
	return slices.Clone(k.points) // without room for more, since results are kept
}

// stretches returns each condition's states over a window. Stretches narrower than
// a column are joined, and the joined one is true where one of them was, so that
// nothing that was true is lost.
func stretches(logs []conditions.TruthLog, g *tracing) [][]analyze.Stretch {
	all := make([][]analyze.Stretch, 0, len(logs))
	for i := range logs {
		var list []analyze.Stretch
		for _, s := range logs[i].Segments(g.From, g.To) {
			next := analyze.Stretch{From: s.From, To: s.To, State: s.State}
			n := len(list)
			switch {
			case n > 0 && list[n-1].State == next.State:
				list[n-1].To = next.To
			case n > 0 && next.To-next.From < g.width && list[n-1].To-list[n-1].From < g.width:
				list[n-1].To = next.To
				list[n-1].State = max(list[n-1].State, next.State)
			default:
				list = append(list, next)
			}
		}
		all = append(all, list)
	}
	return all
}
