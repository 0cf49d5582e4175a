package spelling

import (
	"testing"

	"pgregory.net/rapid"
)

func TestDistanceCountsSlips(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"episodes", "episodes", 0}, {"episods", "episodes", 1}, {"epsiodes", "episodes", 1},
		{"", "abc", 3}, {"abc", "", 3}, {"kitten", "sitting", 3}, {"öl", "ol", 1}, {"ca", "abc", 3},
	} {
		if got := Distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
	word := rapid.OneOf(rapid.StringN(0, 12, -1), rapid.StringMatching(`[abc]{0,8}`)) // with few letters, swaps are frequent
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := Distance(a, b)
		x, y := len([]rune(a)), len([]rune(b))
		if d != Distance(b, a) || d > max(x, y) || d < max(x, y)-min(x, y) || (d == 0) != (string([]rune(a)) == string([]rune(b))) {
			t.Fatalf("%q to %q: %d", a, b, d)
		}
	})
}
