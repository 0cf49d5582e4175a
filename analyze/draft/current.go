package draft

import (
	"cmp"
	"math"
	"slices"
)

// current looks for the battery's current: a signed number that falls deeply while the
// starter turns the engine, and comes back. No log tells its factor.
func (b *bench) current() {
	if b.has(BatteryCurrent) || len(b.drive.cranks) < 3 {
		return
	}
	type pulse struct {
		field
		score  float64
		lowest float64
		in     int
	}
	var list []pulse
	for _, s := range b.plain {
		if len(s.t) <= 30 || s.period > 0.11 {
			continue
		}
		for _, f := range b.slow(s) {
			if f.n < 8 {
				continue
			}
			f.signed = true
			v := f.all()
			sorted := sortedCopy(v)
			spanAll := quantile(sorted, 0.98) - quantile(sorted, 0.02)
			in, lows, of := 0, []float64{}, 0
			for _, c := range b.drive.cranks {
				if c.runs == 0 {
					continue
				}
				of++
				i, j, k := s.at(c.before-0.6), s.at(c.before-0.05), s.at(c.runs+0.2)
				if j-i < 2 || k-j < 2 {
					continue
				}
				level := median(v[i:j])
				low := slices.Min(v[j : k+1])
				if level-low > max(2*spanAll, 20) {
					in++
				}
				lows = append(lows, low)
			}
			if in >= 3 && share(in, of) >= 0.8 {
				list = append(list, pulse{f, share(in, of), median(lows), in})
			}
		}
	}
	if len(list) == 0 {
		return
	}
	slices.SortStableFunc(list, func(x, y pulse) int {
		return cmp.Or(cmp.Compare(math.Round(10*y.score), math.Round(10*x.score)), cmp.Compare(y.n, x.n), cmp.Compare(x.s.period, y.s.period))
	})
	p := list[0]
	s := b.proposal(BatteryCurrent, p.field, 1, 0)
	s.Field.Unit = ""
	s.Evidence = []Evidence{CrankCurrent{p.in, len(b.drive.cranks), p.lowest}}
	b.put(s, p.field, series{})
}
