package stats

import "gonum.org/v1/gonum/stat/distuv"

// PoissonInterval is the exact interval for the expected number of events where
// count of them were seen (Garwood, Biometrika 28, 1936): low is where as many or
// more, high where as few or fewer would be seen with a probability of half of
// what the confidence leaves. Both are quantiles of chi-squared. low of a count of
// 0 is 0. ok is false for a negative count and for a confidence that is not
// between 0 and 1.
func PoissonInterval(count int, confidence float64) (low, high float64, ok bool) {
	if count < 0 || !(confidence > 0 && confidence < 1) {
		return 0, 0, false
	}
	outside := (1 - confidence) / 2
	if count > 0 {
		low = distuv.ChiSquared{K: 2 * float64(count)}.Quantile(outside) / 2
	}
	high = distuv.ChiSquared{K: 2*float64(count) + 2}.Quantile(1-outside) / 2
	return low, high, isFinite(low) && isFinite(high)
}
