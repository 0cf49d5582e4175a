package picture

import (
	"math"
	"strconv"

	"lull/analyze"
	"lull/pkg/bounds"
)

// axis maps values to heights on the sheet.
type axis struct {
	low, high   float64
	top, bottom float64
}

func (a axis) y(v float64) float64 {
	return a.bottom - (v-a.low)/(a.high-a.low)*(a.bottom-a.top)
}

// roundSteps returns the multiples of 1, 2 or 5 times a power of ten that lie in low..high,
// about most of them at the most, and the number of digits that tells them apart.
func roundSteps(low, high float64, most int) (ticks []float64, decimals int) {
	span := high - low
	if !(span > 0) || math.IsInf(span, 0) {
		return nil, 0
	}
	rough := span / float64(most)
	power := math.Pow(10, math.Floor(math.Log10(rough)))
	step := power * 10
	for _, m := range []float64{1, 2, 5} {
		if power*m >= rough {
			step = power * m
			break
		}
	}
	decimals = max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	for n := math.Ceil(low/step - 1e-9); n*step <= high+step*1e-9; n++ {
		ticks = append(ticks, n*step)
		if len(ticks) > 4*most {
			break // low and step are too far apart for float64
		}
	}
	return ticks, min(decimals, 9)
}

func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil && f == 0 {
		return strconv.FormatFloat(0, 'f', decimals, 64)
	}
	return s
}

// piece is a stretch of time and where it lies on the sheet.
type piece struct {
	from, to    int64
	left, right float64
}

// timeline is the common time axis: pieces at one scale, with the time between them left
// out.
type timeline []piece

// breakWidth is the room between two pieces.
const breakWidth = 34

// newTimeline lays pieces of time out between left and right.
func newTimeline(spans [][2]int64, left, right float64) timeline {
	var total int64
	for _, s := range spans {
		total += s[1] - s[0]
	}
	scale := (right - left - breakWidth*float64(len(spans)-1)) / float64(max(total, 1))
	var t timeline
	for _, s := range spans {
		p := piece{from: s[0], to: s[1], left: left}
		p.right = left + float64(s[1]-s[0])*scale
		t = append(t, p)
		left = p.right + breakWidth
	}
	return t
}

// x places a moment in a piece; it may lie outside of it.
func (p piece) x(at int64) float64 {
	return p.left + float64(at-p.from)*(p.right-p.left)/float64(max(p.to-p.from, 1))
}

// x places a moment; what lies between two pieces is placed in the break.
func (t timeline) x(at int64) float64 {
	for i, p := range t {
		switch {
		case at <= p.to:
			return max(p.x(at), p.left)
		case i+1 < len(t) && at < t[i+1].from:
			return p.right + breakWidth*float64(at-p.to)/float64(t[i+1].from-p.to)
		}
	}
	return t.right()
}

func (t timeline) left() float64  { return t[0].left }
func (t timeline) right() float64 { return t[len(t)-1].right }

// shows reports whether a moment lies in a piece.
func (t timeline) shows(at int64) bool {
	for _, p := range t {
		if at >= p.from && at <= p.to {
			return true
		}
	}
	return false
}

// boxes returns the parts of a stretch of time in each piece, as left and right.
func (t timeline) boxes(from, to int64) [][2]float64 {
	var list [][2]float64
	for _, p := range t {
		if from <= p.to && to >= p.from {
			list = append(list, [2]float64{p.x(max(from, p.from)), p.x(min(to, p.to))})
		}
	}
	return list
}

// ticks returns the round moments of a piece.
func (p piece) ticks() ([]float64, int) {
	return roundSteps(bounds.Seconds(p.from), bounds.Seconds(p.to), max(int((p.right-p.left)/62), 1))
}

// uprights draws a line at each round moment, broken where there is text.
func (d *Drawing) uprights(t timeline, top, bottom float64, texts []rect) {
	for _, p := range t {
		ticks, _ := p.ticks()
		for _, at := range ticks {
			x := p.x(int64(math.Round(at * 1e9)))
			d.upright(Grid, x, top, bottom, texts)
		}
	}
}

// scale draws the axis of time below y; it returns the height below which nothing
// is drawn.
func (d *Drawing) scale(t timeline, y float64) float64 {
	note := "time in s from the log's first frame"
	for i, p := range t {
		ticks, decimals := p.ticks()
		for _, at := range ticks {
			if x := p.x(int64(math.Round(at * 1e9))); x-p.left > 8 && p.right-x > 8 || len(t) == 1 {
				d.text(Quiet, x, y+13, Middle, fixed(at, decimals))
			}
		}
		d.line(Quiet, Point{p.left, y}, Point{p.right, y})
		if i > 0 {
			x := p.left - breakWidth/2
			for _, dx := range []float64{-2, 2} {
				d.line(Quiet, Point{x + dx - 2, y + 3}, Point{x + dx + 2, y - 7})
			}
			d.text(Quiet, x, y+13, Middle, fixed(bounds.Seconds(p.from-t[i-1].to), 0)+" s")
			note = "time in s from the log's first frame; //: left out"
		}
	}
	d.text(Quiet, t.right(), y+27, End, note)
	return y + 32
}

// trace draws a line through points, clipped at the ends of the pieces. Nothing is drawn
// where it is broken; a lone point is a dot.
func (d *Drawing) trace(t timeline, a axis, points []analyze.TracePoint, ink Ink) {
	dots := 2.0 // per pixel of width
	if d.Width <= Narrow {
		dots = 1
	}
	for _, p := range t {
		var run []Point
		end := func() {
			if len(run) == 1 {
				x, y := run[0].X, run[0].Y
				d.line(ink, Point{x - 0.8, y}, Point{x + 0.8, y})
			}
			d.line(ink, thin(run, dots)...)
			run = nil
		}
		for i, q := range points {
			here := Point{p.x(q.T), a.y(q.Value)}
			if i == 0 || q.Break {
				end()
				if here.X >= p.left && here.X <= p.right {
					run = append(run, here)
				}
				continue
			}
			before := Point{p.x(points[i-1].T), a.y(points[i-1].Value)}
			from, to, ok := between(before, here, p.left, p.right)
			if !ok {
				end()
				continue
			}
			if len(run) == 0 {
				run = append(run, from)
			}
			run = append(run, to)
		}
		end()
	}
}

// thin leaves out points that make no difference to a line: of those in one column of dots
// all but the first, lowest, highest and last, and those on the straight line between
// others. dots is the number of columns per pixel.
func thin(run []Point, dots float64) []Point {
	var columns []Point
	for from := 0; from < len(run); {
		to, low, high := from, from, from
		for to+1 < len(run) && math.Floor(run[to+1].X*dots) == math.Floor(run[from].X*dots) {
			to++
			if run[to].Y < run[low].Y {
				low = to
			}
			if run[to].Y > run[high].Y {
				high = to
			}
		}
		last := -1
		for _, i := range [4]int{from, min(low, high), max(low, high), to} {
			if i > last {
				columns = append(columns, run[i])
				last = i
			}
		}
		from = to + 1
	}
	return straighten(columns)
}

// straighten leaves out points that lie closer to the line through the others than
// coordinates are rounded. Of the lines from the last point kept, it tracks the range of
// slopes that pass all points since.
func straighten(points []Point) []Point {
	const near = 0.05
	if len(points) < 3 {
		return points
	}
	kept := points[:1:1]
	from := points[0]
	low, high := math.Inf(-1), math.Inf(1)
	for i, p := range points[1:] {
		slope := (p.Y - from.Y) / (p.X - from.X)
		if i > 0 && !(slope >= low && slope <= high) { // also if p is straight above it
			from = points[i]
			kept = append(kept, from)
			low, high = math.Inf(-1), math.Inf(1)
		}
		if width := p.X - from.X; width > 0 {
			low = max(low, (p.Y-near-from.Y)/width)
			high = min(high, (p.Y+near-from.Y)/width)
		} else {
			low, high = math.Inf(1), math.Inf(-1) // no point has been passed yet
		}
	}
	return append(kept, points[len(points)-1])
}
