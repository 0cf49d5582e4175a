package picture

import (
	"math"
	"strings"

	"lull/cmd/lull/internal/words"
)

// bolder is how much wider bold text is.
const bolder = 1.12

// Bars draws measures as bars from 0, each beside its limit and with its words, so that no
// legend is needed. What is out of limits is a full bar, what is within an empty one.
func Bars(list []words.Measure, width float64) Drawing {
	d := Drawing{Width: width, Title: "Beside the limit"}
	left, y := 62.0, 2.0
	if len(list) > 0 && len(list[0].Bars) == 2 {
		d.Title = "Before and after"
	} else {
		left = 2
	}
	const thick, share = 15.0, 0.48
	var said []string // the same for those who cannot see it
	for _, m := range list {
		var told []string
		for i, line := range lines(m.Name, (width-4)/bolder) {
			d.text(Heading, 2, y+11+float64(i)*14, Start, line)
			y += 14 * float64(min(i, 1))
		}
		y += 17
		// The longest bar leaves room for its words where they do not fit into it.
		most := most(&m)
		right := width - 10
		x := func(v float64) float64 { return left + max(v, 0)/most*(right-left)*share }
		top := y
		var limits []float64
		if m.Limit != nil && m.Limit.HasMin {
			limits = append(limits, m.Limit.Min)
		}
		if m.Limit != nil && m.Limit.HasMax {
			limits = append(limits, m.Limit.Max)
		}
		for _, b := range m.Bars {
			d.text(Heading, 2, y+12, Start, b.Side)
			end := max(x(b.Value), left+2)
			if b.Bad {
				d.box(Area, Failure, left, y, end, y+thick)
			} else {
				d.box(Line, Outline, left, y, end, y+thick)
			}
			told = append(told, strings.TrimSpace(b.Side+" "+b.Text))
			beside := end
			for _, l := range limits {
				if x(l) > end-4 {
					beside = max(beside, x(l))
				}
			}
			ink := Words
			if b.Bad {
				ink = Failure
			}
			if wide(b.Text)*bolder <= width-beside-10 {
				d.text(ink, beside+8, y+12, Start, b.Text)
			} else {
				y += 15
				d.text(ink, left, y+12, Start, fitting(b.Text, (width-left-4)/bolder))
			}
			y += thick + 4
		}
		for i, l := range limits {
			d.line(Limit, Point{x(l), top - 2}, Point{x(l), y + 2})
			if i == 0 {
				at, anchor := x(l), Middle
				if at-wide(m.LimitText)/2-20 < 2 {
					at, anchor = 2, Start
				}
				d.text(Words, at, y+11, anchor, fitting("limit: "+m.LimitText, width-4))
				y += 12
			}
		}
		y += 10
		if m.LimitText != "" {
			told = append(told, "limit: "+m.LimitText)
		}
		said = append(said, m.Name+": "+strings.Join(told, "; "))
	}
	d.Description = strings.Join(said, ". ")
	d.Height = max(y-8, 1)
	return d
}

// most is the value at which the longest bar ends.
func most(m *words.Measure) float64 {
	high := 0.0
	if m.Limit == nil {
		high = 1
	} else {
		if m.Limit.HasMin {
			high = m.Limit.Min
		}
		if m.Limit.HasMax {
			high = max(high, m.Limit.Max)
		}
	}
	for _, b := range m.Bars {
		high = max(high, b.Value)
	}
	if !(high > 0) || math.IsInf(high, 0) {
		return 1
	}
	return high
}
