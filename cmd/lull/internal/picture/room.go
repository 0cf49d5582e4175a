package picture

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// rect is a part of the sheet.
type rect struct{ left, top, right, bottom float64 }

// room returns what a text covers, with a little air around it.
func room(anchor Anchor, x, y float64, label string) rect {
	w := wide(label)
	r := rect{x, y - normal + 1, x + w, y + 3}
	switch anchor {
	case Middle:
		r.left, r.right = x-w/2, x+w/2
	case End:
		r.left, r.right = x-w, x
	}
	return r
}

// texts returns what all texts cover.
func (d *Drawing) texts() []rect {
	var list []rect
	for i := range d.Shapes {
		if s := &d.Shapes[i]; s.Kind == Text {
			list = append(list, room(s.Anchor, s.Points[0].X, s.Points[0].Y, s.Label))
		}
	}
	return list
}

// upright draws a vertical line that is broken where it would cross what must stay clear.
func (d *Drawing) upright(ink Ink, x, top, bottom float64, kept []rect) {
	const near = 1.0    // px from a text that a line may pass it at
	const shortest = 5. // px of a piece that still looks like the line
	var across []rect
	for _, r := range kept {
		if x > r.left-near && x < r.right+near && r.bottom > top && r.top < bottom {
			across = append(across, r)
		}
	}
	slices.SortFunc(across, func(a, b rect) int { return cmp.Compare(a.top, b.top) })
	for _, r := range append(across, rect{top: bottom, bottom: bottom}) {
		if r.top-top >= shortest {
			d.line(ink, Point{x, top}, Point{x, r.top})
		}
		top = max(top, r.bottom)
	}
}

// crossings counts the pieces of lines, and the texts, in a part of the sheet.
func (d *Drawing) crossings(r rect) int {
	n := 0
	for i := range d.Shapes {
		s := &d.Shapes[i]
		switch s.Kind {
		case Text:
			if o := room(s.Anchor, s.Points[0].X, s.Points[0].Y, s.Label); o.left < r.right && o.right > r.left && o.top < r.bottom && o.bottom > r.top {
				n++
			}
		case Line:
			if s.Ink == Grid {
				continue
			}
			for k := 1; k < len(s.Points); k++ {
				a, b, ok := between(s.Points[k-1], s.Points[k], r.left, r.right)
				if ok && min(a.Y, b.Y) < r.bottom && max(a.Y, b.Y) > r.top {
					n++
				}
			}
		}
	}
	return n
}

// note writes a text at the one of several places around a point where the least is in its
// way, if possible between top, bottom and the edges of the sheet.
func (d *Drawing) note(ink Ink, at Point, top, bottom, right float64, label string) {
	type place struct {
		anchor Anchor
		x, y   float64
	}
	best, least := place{}, math.MaxInt
	for _, dy := range []float64{-6, 14, -20, 28} {
		for _, p := range []place{{Start, at.X + 8, at.Y + dy}, {End, at.X - 8, at.Y + dy}} {
			r := room(p.anchor, p.x, p.y, label)
			n := d.crossings(r)
			if r.top < top || r.bottom > bottom || r.left < 2 || r.right > right {
				n += 1000
			}
			if n < least {
				best, least = p, n
			}
		}
	}
	d.text(ink, best.x, best.y, best.anchor, label)
}

// lines breaks a text between its words so that each line fits.
func lines(text string, width float64) []string {
	var list []string
	for _, word := range strings.Fields(text) {
		if n := len(list); n > 0 && wide(list[n-1]+" "+word) <= width {
			list[n-1] += " " + word
		} else {
			list = append(list, fitting(word, width))
		}
	}
	return list
}
