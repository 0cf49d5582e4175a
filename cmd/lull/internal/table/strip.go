package table

import (
	"fmt"

	"lull/analyze/compare"
	"lull/cmd/lull/internal/words"
)

// strip is the characters that a strip of values is drawn with.
type strip struct{ median, middle, one, two, more, limit rune }

// stripOf returns ASCII characters if the output may carry no others.
func stripOf(style Style) strip {
	if style.Unicode {
		return strip{median: '┃', middle: '─', one: '·', two: ':', more: '•', limit: '╳'}
	}
	return strip{median: '|', middle: '-', one: '.', two: ':', more: '*', limit: 'X'}
}

func (s strip) legend() string {
	return fmt.Sprintf("%c median, %c middle half, %c %c %c one, two, more values, %c limit.", s.median, s.middle, s.one, s.two, s.more, s.limit)
}

// draw shows where values lie on a scale.
func (s strip) draw(values compare.Sample, scale words.Scale, width int) string {
	low, high := scale.Low, scale.High
	cellOf := func(v float64) int {
		if high == low {
			return width / 2
		}
		// Halved, as the difference of two float64 may overflow.
		return min(width-1, int((v/2-low/2)/(high/2-low/2)*float64(width)))
	}
	counts := make([]int, width)
	for _, v := range values.Values {
		counts[cellOf(v)]++
	}
	line := make([]rune, width)
	for i := range line {
		switch {
		case i == cellOf(values.Median):
			line[i] = s.median
		case counts[i] > 2:
			line[i] = s.more
		case counts[i] == 2:
			line[i] = s.two
		case counts[i] == 1:
			line[i] = s.one
		case i >= cellOf(values.Q1) && i <= cellOf(values.Q3):
			line[i] = s.middle
		default:
			line[i] = ' '
		}
	}
	for _, limit := range scale.Limits {
		if i := cellOf(limit); line[i] == ' ' || line[i] == s.middle {
			line[i] = s.limit
		}
	}
	return string(line)
}
