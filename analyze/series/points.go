package series

import (
	"slices"
	"sort"
)

// Window returns the points, which are in order of time, in low..high, both ends included.
func Window(points []Point, low, high int64) []Point {
	from := sort.Search(len(points), func(i int) bool { return points[i].T >= low })
	points = points[from:]
	return points[:sort.Search(len(points), func(i int) bool { return points[i].T > high })]
}

// Bracket returns the points from the last at or before low to the first at or
// after high.
func Bracket(points []Point, low, high int64) []Point {
	from := max(0, sort.Search(len(points), func(i int) bool { return points[i].T > low })-1)
	to := min(len(points), max(sort.Search(len(points), func(i int) bool { return points[i].T >= high })+1, from+2))
	return points[from:to]
}

// At returns the last point at or before the moment, and whether there is one.
func At(points []Point, moment int64) (Point, bool) {
	for i := len(points) - 1; i >= 0; i-- {
		if points[i].T <= moment {
			return points[i], true
		}
	}
	return Point{}, false
}

// Interpolate returns the value at the moment on the straight line between the two
// points around it, beyond the ends that of the nearest. There must be a point.
func Interpolate(points []Point, moment int64) float64 {
	for i, p := range points {
		if p.T >= moment {
			if i == 0 || p.T == moment {
				return p.V
			}
			q := points[i-1]
			return q.V + (p.V-q.V)*float64(moment-q.T)/float64(p.T-q.T)
		}
	}
	return points[len(points)-1].V
}

// ValuesOf returns the values of points, in their order, without the times.
func ValuesOf(points []Point) []float64 {
	values := make([]float64, len(points))
	for i, p := range points {
		values[i] = p.V
	}
	return values
}

// Longest returns the longest time between neighbouring points, in ns; 0 if there
// are not two.
func Longest(points []Point) int64 {
	var d int64
	for i := 1; i < len(points); i++ {
		d = max(d, points[i].T-points[i-1].T)
	}
	return d
}

// UsualStep returns the median time between neighbouring points, in ns; 0 if there
// are not two.
func UsualStep(points []Point) int64 {
	if len(points) < 2 {
		return 0
	}
	steps := make([]int64, len(points)-1)
	for i := range steps {
		steps[i] = points[i+1].T - points[i].T
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}
