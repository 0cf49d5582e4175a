package stats_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"lull/pkg/oracle"
	"lull/pkg/stats"
)

// twoSamples and twoRates are questions put to SciPy.
type twoSamples struct {
	Before []float64 `json:"before"`
	After  []float64 `json:"after"`
}

type twoRates struct {
	Before [2]int `json:"before"` // count, of
	After  [2]int `json:"after"`
}

type scipyQuestion struct {
	Samples []twoSamples `json:"samples"`
	Rates   []twoRates   `json:"rates"`
	Counts  []int        `json:"counts"`
}

type scipyAnswer struct {
	Samples []struct {
		Asymptotic [3]float64 `json:"asymptotic"` // two-sided, less, greater
		Exact      []float64  `json:"exact"`      // the same; empty with ties
		Permuted   []float64  `json:"permuted"`   // the same by permutation; empty for large samples
		U          float64    `json:"u"`
		Quantiles  [5]float64 `json:"quantiles"` // of after: lowest, quartiles, highest
		Shift      float64    `json:"shift"`
	} `json:"samples"`
	Rates []struct {
		Fisher [3]float64 `json:"fisher"`
		Wilson [2]float64 `json:"wilson"`
		Hybrid [2]float64 `json:"hybrid"`
	} `json:"rates"`
	Counts [][2]float64 `json:"counts"`
}

// scipyScript answers them. Permutation tests are SciPy's own, of the rank sum from its
// rankdata; the hybrid interval is put together from its score intervals.
const scipyScript = `
import json, math, sys
import numpy as np
from scipy import stats

sides = ("two-sided", "less", "greater")
question = json.load(sys.stdin)
answer = dict(samples=[], rates=[], counts=[])

for s in question["samples"]:
    before, after = np.array(s["before"]), np.array(s["after"])
    every = np.concatenate([after, before])
    ranks = stats.rankdata(every)
    mean = len(after) * (len(every) + 1) / 2
    exact, permuted = [], []
    if len(set(every)) == len(every):
        exact = [stats.mannwhitneyu(after, before, alternative=a, method="exact").pvalue for a in sides]
    if min(len(after), len(before)) > 1 and math.comb(len(every), len(after)) <= 1000:
        sample = (ranks[:len(after)], ranks[len(after):])
        def moved(x, y, axis=-1): return np.sum(x, axis=axis) - mean
        def far(x, y, axis=-1): return np.abs(np.sum(x, axis=axis) - mean)
        permuted = [
            stats.permutation_test(sample, far, vectorized=True, n_resamples=np.inf, alternative="greater").pvalue,
            stats.permutation_test(sample, moved, vectorized=True, n_resamples=np.inf, alternative="less").pvalue,
            stats.permutation_test(sample, moved, vectorized=True, n_resamples=np.inf, alternative="greater").pvalue]
    asymptotic = [stats.mannwhitneyu(after, before, alternative=a, method="asymptotic") for a in sides]
    answer["samples"].append(dict(
        asymptotic=[1.0 if math.isnan(a.pvalue) else a.pvalue for a in asymptotic], exact=exact, permuted=permuted,
        u=asymptotic[0].statistic, quantiles=list(np.quantile(after, [0, 0.25, 0.5, 0.75, 1])),
        ninth=np.quantile(after, 0.9), shift=np.median(np.subtract.outer(after, before))))

for r in question["rates"]:
    (kb, nb), (ka, na) = r["before"], r["after"]
    fisher = [stats.fisher_exact([[ka, na - ka], [kb, nb - kb]], alternative=a)[1] for a in sides]
    wilson = stats.binomtest(ka, na).proportion_ci(0.95, "wilson")
    other = stats.binomtest(kb, nb).proportion_ci(0.95, "wilson")
    d = ka / na - kb / nb
    hybrid = [d - math.hypot(ka / na - wilson.low, other.high - kb / nb), d + math.hypot(wilson.high - ka / na, kb / nb - other.low)]
    answer["rates"].append(dict(fisher=fisher, wilson=list(wilson), hybrid=hybrid))

for k in question["counts"]:
    answer["counts"].append([stats.chi2.ppf(0.025, 2 * k) / 2 if k else 0.0, stats.chi2.isf(0.025, 2 * k + 2) / 2])

json.dump(answer, sys.stdout)
`

func TestScipySaysTheSame(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var question scipyQuestion
	for i := range 600 {
		most, coarse := []int{5, 12, 60}[i%3], rng.IntN(2) == 0
		draw := func() (values []float64) {
			for range 1 + rng.IntN(most) {
				v := 3 * rng.NormFloat64()
				if coarse {
					v = math.Round(v)
				}
				values = append(values, v)
			}
			return values
		}
		question.Samples = append(question.Samples, twoSamples{draw(), draw()})
		rate := func() [2]int {
			n := 1 + rng.IntN([]int{4, 20, 500}[i%3])
			return [2]int{rng.IntN(n + 1), n}
		}
		question.Rates = append(question.Rates, twoRates{rate(), rate()})
	}
	for k := range 60 {
		question.Counts = append(question.Counts, k, k*k*k)
	}
	var answer scipyAnswer
	oracle.Python(t, "scipy", "python3-scipy", scipyScript, question, &answer)
	if len(answer.Samples) != len(question.Samples) || len(answer.Rates) != len(question.Rates) || len(answer.Counts) != len(question.Counts) {
		t.Fatalf("%d, %d and %d answers", len(answer.Samples), len(answer.Rates), len(answer.Counts))
	}
	seen := make(map[string]int)
	compare := func(kind string, of any, got, want, tolerance float64) {
		seen[kind]++
		if !near(got, want, tolerance) && math.Abs(got-want) > 1e-13 {
			t.Errorf("%s of %v: %.15v, SciPy %.15v", kind, of, got, want)
		}
	}
	for i, q := range question.Samples {
		want := answer.Samples[i]
		got, ok := stats.RankSum(q.Before, q.After)
		summary, summed := stats.Summarize(q.After)
		shift, moved := stats.HodgesLehmann(q.Before, q.After, 0.95)
		if !ok || !summed || !moved {
			t.Fatalf("%v: %v %v %v", q, ok, summed, moved)
		}
		m := float64(len(q.After))
		compare("U", q, got.W-m*(m+1)/2, want.U, 0)
		for k, p := range []float64{got.TwoSided, got.Less, got.Greater} {
			switch {
			case got.Method == stats.Normal:
				compare("normal", q, p, want.Asymptotic[k], 1e-12)
			case len(want.Exact) > 0:
				compare("exact", q, p, want.Exact[k], 1e-12)
			}
			if len(want.Permuted) > 0 {
				compare("permuted", q, p, want.Permuted[k], 1e-12)
			}
		}
		for k, v := range []float64{summary.Min, summary.Q1, summary.Median, summary.Q3, summary.Max} {
			compare("quantile", q, v, want.Quantiles[k], 1e-14)
		}
		compare("shift", q, shift.Value, want.Shift, 1e-14)
	}
	for i, q := range question.Rates {
		want := answer.Rates[i]
		before, after := stats.Rate{Count: q.Before[0], Of: q.Before[1]}, stats.Rate{Count: q.After[0], Of: q.After[1]}
		fisher, ok := stats.Fisher(before, after)
		wilson, scored := stats.Wilson(after, 0.95)
		hybrid, differ := stats.Newcombe(before, after, 0.95)
		if !ok || !scored || !differ {
			t.Fatalf("%v: %v %v %v", q, ok, scored, differ)
		}
		for k, p := range []float64{fisher.TwoSided, fisher.Less, fisher.Greater} {
			compare("Fisher", q, p, want.Fisher[k], 1e-9)
		}
		for _, pair := range []struct {
			got  stats.Interval
			want [2]float64
		}{{wilson, want.Wilson}, {hybrid.Interval, want.Hybrid}} {
			compare("interval", q, pair.got.Low, pair.want[0], 1e-9)
			compare("interval", q, pair.got.High, pair.want[1], 1e-9)
		}
	}
	for i, k := range question.Counts {
		got, ok := stats.Poisson(k, 0.95)
		if !ok {
			t.Fatalf("%d: none", k)
		}
		compare("count", k, got.Low, answer.Counts[i][0], 1e-12)
		compare("count", k, got.High, answer.Counts[i][1], 1e-12)
	}
	for _, kind := range []string{"normal", "exact", "permuted"} {
		if seen[kind] < 100 {
			t.Errorf("only %d comparisons of %s: %v", seen[kind], kind, seen)
		}
	}
}
