package stats

import (
	"cmp"
	"slices"
)

// Holm adjusts the p-values of a family of tests so that the chance of one or more
// wrong rejections in the family is bounded by the level (S. Holm, Scandinavian
// Journal of Statistics 6, 1979): the least times their number, the next least
// times one less and so on, none below the one before it, none above 1. The
// adjusted ones are in the order given. Where one is not between 0 and 1 ok is
// false.
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
