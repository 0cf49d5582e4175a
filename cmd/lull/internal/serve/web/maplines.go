package web

import (
	"strings"

	"lull/cmd/lull/internal/words"
)

// Mistake is a mistake in a map, at a place in its text, counted from 1.
type Mistake struct {
	Line, Column int
	Why, Hint    string
}

// MapLine is a line of a map with the mistakes in it, or stands for lines left out because
// no mistake is in or near them.
type MapLine struct {
	Number   int
	Text     string
	Mistakes []Mistake
	Skipped  int // number of lines left out; if any, there is no text
}

// mapLines assigns mistakes to the lines of a map's text, and leaves out what is far from
// any.
func mapLines(text string, mistakes []Mistake) []MapLine {
	if len(mistakes) == 0 {
		return nil
	}
	const near = 4
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	at := map[int][]Mistake{}
	for _, m := range mistakes {
		m.Why, m.Hint = words.VisibleBlock(m.Why), words.VisibleBlock(m.Hint)
		number := min(max(m.Line, 1), len(lines))
		at[number] = append(at[number], m)
	}
	shown := func(number int) bool {
		for n := number - near; n <= number+near; n++ {
			if len(at[n]) > 0 {
				return true
			}
		}
		return false
	}
	var list []MapLine
	for i, t := range lines {
		switch {
		case shown(i + 1):
			t = strings.ReplaceAll(strings.TrimSuffix(t, "\r"), "\t", "    ")
			list = append(list, MapLine{Number: i + 1, Text: words.Visible(t), Mistakes: at[i+1]})
		case len(list) > 0 && list[len(list)-1].Skipped > 0:
			list[len(list)-1].Skipped++
		default:
			list = append(list, MapLine{Skipped: 1})
		}
	}
	return list
}
