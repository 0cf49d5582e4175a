package decode

import (
	"fmt"
	"slices"
	"strings"
)

// Counted returns a number with the matching word: "1 line", "2 lines".
func Counted(n int64, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Pick returns one if n is 1, else many.
func Pick(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// ByReason returns how often each reason occurred, such as "too long: 3; odd digits: 1".
// counts is indexed by reason, and name returns the text of a reason. The most common
// reason comes first; equally common ones are in the order of counts.
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
