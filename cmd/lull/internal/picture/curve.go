package picture

import (
	"fmt"

	"lull/analyze"
)

// Curve is one signal over a whole log.
type Curve struct {
	Name, Unit string
	Points     []analyze.TracePoint
	Switch     bool // its values are 0 and 1, held from one point to the next
	Span       int64
	// Result, unless nil, has the starts and stops that are marked below.
	Result *analyze.Result
}

// Draw draws the signal, below it when the engine was started and stopped.
func (c Curve) Draw(width float64) Drawing {
	s := newSheet(nil, nil, [][2]int64{{0, max(c.Span, 1)}}, width)
	s.Title = c.Name + " over the drive"
	s.y = 2
	if c.Switch && len(c.Points) > 0 {
		s.bar("on", c.on())
	} else {
		s.curve(c)
	}
	if c.Result != nil {
		s.Description = fmt.Sprintf("%d starts, %d stops", len(c.Result.Starts), len(c.Result.Episodes))
		var starts []stateSpan
		for i := range c.Result.Starts {
			x := &c.Result.Starts[i]
			v := stateSpan{x.Crank.T, x.Crank.T, yes, ""}
			if x.Running != nil {
				v.to = x.Running.T
			}
			starts = append(starts, v)
		}
		if len(starts) > 0 {
			s.bar("starts", starts)
		}
		s.stops(c.Result)
	}
	bottom := s.y
	var under Drawing
	under.uprights(s.time, 4, bottom, s.texts())
	s.Shapes = append(under.Shapes, s.Shapes...)
	s.Height = s.scale(s.time, bottom)
	return s.Drawing
}

// on is when a switch was on; a thin line is drawn where it was seen off.
func (c Curve) on() []stateSpan {
	var list []stateSpan
	for i, p := range c.Points {
		to := c.Span
		if i+1 < len(c.Points) {
			to = c.Points[i+1].T
		}
		v := stateSpan{p.T, to, no, ""}
		if p.Value > 0 {
			v.state = yes
		}
		if n := len(list); n > 0 && list[n-1].state == v.state {
			list[n-1].to = v.to
			continue
		}
		list = append(list, v)
	}
	return list
}

// curve draws a number.
func (s *sheet) curve(c Curve) {
	const height = 84
	if len(c.Points) == 0 {
		s.text(Quiet, s.left, s.y+12, Start, "never seen in this log")
		s.y += 20
		return
	}
	low, high := c.Points[0].Value, c.Points[0].Value
	for _, p := range c.Points {
		low, high = min(low, p.Value), max(high, p.Value)
	}
	if s.narrow {
		s.text(Heading, 2, s.y+10, Start, fitting(c.label(", "), s.Width-4))
		s.y += 14
	} else {
		s.text(Heading, 2, s.y+12, Start, fitting(c.Name, s.left-6))
		s.text(Quiet, 2, s.y+26, Start, c.Unit)
	}
	spare := (high - low) * 0.06
	if spare == 0 {
		spare = max(high*0.05, 0.5)
	}
	a := axis{low - spare, high + spare, s.y + 4, s.y + height}
	ticks, decimals := roundSteps(a.low, a.high, height/20)
	for _, v := range ticks {
		s.line(Grid, Point{s.time.left(), a.y(v)}, Point{s.time.right(), a.y(v)})
		s.text(Quiet, s.left-5, a.y(v)+4, End, fixed(v, decimals))
	}
	s.trace(s.time, a, c.Points, Primary)
	s.y += height + 8
}

func (c Curve) label(between string) string {
	if c.Unit == "" {
		return c.Name
	}
	return c.Name + between + c.Unit
}
