package stats

import (
	"cmp"
	"slices"
)

// Holm adjusts the p-values of a family of tests so that the chance of any wrong
// rejection in the family is at most the level (S. Holm, Scandinavian Journal of
// Statistics 6, 1979). The smallest of n p-values is multiplied by n, the next
// smallest by n-1, and so on; each result is at least the one before it and at
// most 1. The adjusted p-values are in the order of p. ok is false if a p-value is
// not between 0 and 1.
func Holm(p []float64) (adjusted []float64, ok bool) {
	order := make([]int, len(p))
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return nil, false
		}
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	adjusted = make([]float64, len(p))
	least := 0.0
	for rank, i := range order {
		least = max(least, min(1, float64(len(p)-rank)*p[i]))
		adjusted[i] = least
	}
	return adjusted, true
}
