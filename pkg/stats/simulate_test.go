package stats_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lull/pkg/stats"
)

// simulated is how many pairs of samples each of the tests below draws. Failures name
// the seed, which reproduces them.
const simulated = 2000

// draws are ways to draw a value, among them distributions with long tails, skewed ones,
// and coarse ones that give ties.
var draws = map[string]func(*rand.Rand) float64{
	"normal":      (*rand.Rand).NormFloat64,
	"exponential": (*rand.Rand).ExpFloat64,
	"rounded":     func(rng *rand.Rand) float64 { return math.Round(2 * rng.NormFloat64()) },
	"two values":  func(rng *rand.Rand) float64 { return float64(rng.IntN(2)) },
}

var simulatedSizes = [][2]int{{4, 5}, {6, 12}, {13, 13}, {15, 14}, {40, 30}}

// luck returns by how much an observed share may lie on the wrong side of the true one:
// four standard deviations.
func luck(share float64) float64 { return 4 * math.Sqrt(share*(1-share)/simulated) }

func pair(rng *rand.Rand, draw func(*rand.Rand) float64, sizes [2]int) (sides [2][]float64) {
	for i, n := range sizes {
		for range n {
			sides[i] = append(sides[i], draw(rng))
		}
	}
	return sides
}

// If nothing changed, a p-value is at most a with a probability of at most a, and of
// nearly a if there are many different p-values.
func TestProbabilitiesAreUniformWhereNothingChanged(t *testing.T) {
	for name, draw := range draws {
		for i, sizes := range simulatedSizes {
			seed := uint64(100 + i)
			rng := rand.New(rand.NewPCG(seed, seed))
			levels := []float64{0.01, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9}
			rejected := make(map[string][]int)
			for range simulated {
				sides := pair(rng, draw, sizes)
				test, ok := stats.RankSum(sides[0], sides[1])
				if !ok {
					t.Fatalf("%s, %v, seed %d: none", name, sizes, seed)
				}
				for tail, p := range map[string]float64{"two-sided": test.TwoSided, "less": test.Less, "greater": test.Greater} {
					if rejected[tail] == nil {
						rejected[tail] = make([]int, len(levels))
					}
					for k, level := range levels {
						if p <= level {
							rejected[tail][k]++
						}
					}
				}
			}
			for tail, counts := range rejected {
				for k, level := range levels {
					// With two different values W moves in steps of n/2, for which the
					// correction by 1/2 is too small. That shows only at high levels, which
					// decide nothing.
					if name == "two values" && level > 0.2 && sizes[0] > 13 {
						continue
					}
					share := float64(counts[k]) / simulated
					if share > level+luck(level) {
						t.Errorf("%s, %v, seed %d: %s p <= %v in %v", name, sizes, seed, tail, level, share)
					}
					if (name == "normal" || name == "exponential") && sizes[0] >= 13 && share < level*0.9-luck(level)-0.01 {
						t.Errorf("%s, %v, seed %d: %s p <= %v only in %v", name, sizes, seed, tail, level, share)
					}
				}
			}
		}
	}
}

// The interval contains the true shift with at least the stated confidence, and without
// ties with no more than that.
func TestIntervalsHoldTheTrueShift(t *testing.T) {
	const shift = 3
	for name, draw := range draws {
		for i, sizes := range simulatedSizes {
			seed := uint64(200 + i)
			rng := rand.New(rand.NewPCG(seed, seed))
			holds, confidence := 0, 0.0
			for range simulated {
				sides := pair(rng, draw, sizes)
				for k := range sides[1] {
					sides[1][k] += shift
				}
				got, ok := stats.HodgesLehmann(sides[0], sides[1], 0.95)
				if !ok {
					t.Fatalf("%s, %v, seed %d: none", name, sizes, seed)
				}
				if got.Low <= shift && shift <= got.High {
					holds++
				}
				confidence = got.Confidence
			}
			share := float64(holds) / simulated
			if confidence < 0.95 || share < confidence-luck(confidence) {
				t.Errorf("%s, %v, seed %d: holds in %v, says %v", name, sizes, seed, share, confidence)
			}
			if (name == "normal" || name == "exponential") && share > confidence+luck(confidence) {
				t.Errorf("%s, %v, seed %d: holds in %v, says only %v", name, sizes, seed, share, confidence)
			}
		}
	}
}

// The same for counts and rates. The coverage of Wilson's interval varies around its
// confidence with the true share; that of exact intervals is at least theirs.
func TestIntervalsHoldTheTrueRate(t *testing.T) {
	const seed = 300
	rng := rand.New(rand.NewPCG(seed, seed))
	for _, share := range []float64{0.05, 0.3, 0.5, 0.9} {
		for _, of := range []int{5, 12, 40} {
			score, difference := 0, 0
			for range simulated {
				var rates [2]stats.Rate
				for i := range rates {
					rates[i].Of = of
					for range of {
						if rng.Float64() < share {
							rates[i].Count++
						}
					}
				}
				if got, ok := stats.Wilson(rates[0], 0.95); ok && got.Low <= share && share <= got.High {
					score++
				}
				if got, ok := stats.Newcombe(rates[0], rates[1], 0.95); ok && got.Low <= 0 && 0 <= got.High {
					difference++
				}
			}
			for name, of := range map[string]struct {
				held  int
				least float64
			}{"Wilson": {score, 0.87}, "Newcombe": {difference, 0.93}} {
				if got := float64(of.held) / simulated; got < of.least-luck(of.least) {
					t.Errorf("%s, share %v, seed %d: holds in %v", name, share, seed, got)
				}
			}
		}
	}
	for _, mean := range []float64{0.5, 3, 20} {
		held := 0
		for range simulated {
			count, passed := 0, rng.ExpFloat64() // time up to the first event, the second ...
			for passed < mean {
				count, passed = count+1, passed+rng.ExpFloat64()
			}
			if got, ok := stats.Poisson(count, 0.95); ok && got.Low <= mean && mean <= got.High {
				held++
			}
		}
		if got := float64(held) / simulated; got < 0.95-luck(0.95) {
			t.Errorf("mean %v, seed %d: holds in %v", mean, seed, got)
		}
	}
}
