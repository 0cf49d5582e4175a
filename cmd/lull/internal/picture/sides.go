package picture

import (
	"fmt"
	"slices"

	"lull/pkg/stats"
)

// SidesRow is one metric of a comparison: its values on each side.
type SidesRow struct {
	Name, Unit    string
	Before, After []float64
	Low, High     float64   // ends of the axis, which all values and limits lie on
	Limits        []float64 // of the map
	Note          string    // what is said of it, such as the shift with its interval
}

// Sides draws every value as a point, the side before above the one after, with
// the median as an upright line and the middle half as a box. Each metric has an
// axis of its own.
func Sides(rows []SidesRow, width float64) Drawing {
	s := &sheet{narrow: width < narrower}
	s.Width, s.Title = width, "Before and after"
	s.left = 190
	if s.narrow {
		s.left = 54
	}
	right := width - 10
	s.y = 2
	for _, row := range rows {
		all := slices.Concat(row.Before, row.After)
		if len(all) == 0 {
			continue
		}
		margin := (row.High - row.Low) * 0.05
		if margin == 0 {
			margin = 0.5
		}
		low, high := row.Low-margin, row.High+margin
		x := func(v float64) float64 { return s.left + (v-low)/(high-low)*(right-s.left) }
		heading := row.Name
		if row.Unit != "" {
			heading += ", " + row.Unit
		}
		s.text(Heading, 2, s.y+11, Start, heading)
		if s.narrow {
			s.y += 14
			s.text(Quiet, 2, s.y+11, Start, fitting(row.Note, width-4))
		} else {
			s.text(Quiet, right, s.y+11, End, fitting(row.Note, right-wide(heading)-20))
		}
		s.y += 18
		top := s.y
		ticks, decimals := roundSteps(low, high, max(int((right-s.left)/80), 2))
		for _, v := range ticks {
			s.line(Grid, Point{x(v), top}, Point{x(v), top + 48})
			s.text(Quiet, x(v), top+60, Middle, fixed(v, decimals))
		}
		for _, limit := range row.Limits {
			s.line(Limit, Point{x(limit), top}, Point{x(limit), top + 48})
		}
		s.side("before", row.Before, x, top+12, false)
		s.side("after", row.After, x, top+36, true)
		s.y = top + 70
	}
	s.Height = s.y
	return s.Drawing
}

// side draws the values of one side along a line.
func (s *sheet) side(name string, values []float64, x func(float64) float64, y float64, filled bool) {
	label := fmt.Sprintf("%s, %d", name, len(values))
	if s.narrow {
		label = name
	}
	s.text(Words, s.left-10, y+4, End, label)
	q, ok := stats.Summarize(values)
	if !ok {
		return
	}
	s.box(Line, Outline, x(q.Q1), y-7, max(x(q.Q3), x(q.Q1)+0.5), y+7)
	for i, v := range values {
		// Values that coincide are moved apart a little.
		offset := float64(i%3-1) * 3
		corners := []Point{{x(v) - 3.2, y + offset}, {x(v), y + offset - 3.2}, {x(v) + 3.2, y + offset}, {x(v), y + offset + 3.2}}
		if filled {
			s.Shapes = append(s.Shapes, Shape{Kind: Area, Ink: Primary, Points: corners})
		} else {
			s.line(Mark, append(corners, corners[0])...)
		}
	}
	s.line(Mark, Point{x(q.Median), y - 10}, Point{x(q.Median), y + 10})
}
