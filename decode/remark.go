package decode

import (
	"fmt"
	"slices"
	"strings"
)

// Counted writes a number with the word that goes with it: "1 line", "2 lines".
func Counted(n int64, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Pick returns the word for one, or for many.
func Pick(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// ByReason sums up how often each reason was met, the commonest first, equals in
// the order of their numbers: "too long: 3; odd digits: 1". name gives the words of
// a reason.
func ByReason(counts []int64, name func(reason int) string) string {
	var order []int
	for why, n := range counts {
		if n > 0 {
			order = append(order, why)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return int(min(1, max(-1, counts[b]-counts[a])))
	})
	parts := make([]string, len(order))
	for i, why := range order {
		parts[i] = fmt.Sprintf("%s: %d", name(why), counts[why])
	}
	return strings.Join(parts, "; ")
}
