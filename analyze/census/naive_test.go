package census

import (
	"slices"

	"lull/decode"
)

// naive counts a log the plain way, with everything in memory. The log must not
// run back and must have fewer gaps and silences than are kept.
func naive(frames []decode.Frame) []ID {
	type name struct {
		bus      string
		id       uint32
		extended bool
	}
	var buses []string
	times := map[name][]int64{}
	byName := map[name]*ID{}
	var order []*ID
	for i := range frames {
		f := &frames[i]
		if !slices.Contains(buses, f.Bus) {
			buses = append(buses, f.Bus)
		}
		if f.Flags.Has(decode.Error) {
			continue
		}
		n := name{f.Bus, f.ID, f.Flags.Has(decode.Extended)}
		if byName[n] == nil {
			byName[n] = &ID{Bus: f.Bus, ID: f.ID, Extended: n.extended}
			order = append(order, byName[n])
		}
		x := byName[n]
		if f.Flags.Has(decode.Remote) {
			x.Remote++
			continue
		}
		x.Count++
		x.FD = x.FD || f.Flags.Has(decode.FD)
		if !slices.Contains(x.Lengths, int(f.Len)) {
			x.Lengths = append(x.Lengths, int(f.Len))
		}
		times[n] = append(times[n], f.Time-frames[0].Time)
	}
	for _, x := range byName {
		slices.Sort(x.Lengths)
		for bit := range 512 {
			var seen [2]bool
			for i := range frames {
				f := &frames[i]
				if f.Bus == x.Bus && f.ID == x.ID && f.Flags.Has(decode.Extended) == x.Extended &&
					!f.Flags.Has(decode.Error) && !f.Flags.Has(decode.Remote) && bit/8 < int(f.Len) {
					seen[f.Data[bit/8]>>(bit%8)&1] = true
				}
			}
			if seen[0] && seen[1] {
				x.Changing = append(x.Changing, bit)
			}
		}
	}
	shortest := 0.0
	for n, x := range byName {
		var gaps []float64
		for i := 1; i < len(times[n]); i++ {
			gaps = append(gaps, float64(times[n][i]-times[n][i-1]))
		}
		if len(gaps) == 0 {
			continue
		}
		slices.Sort(gaps)
		x.HasPeriod = true
		x.Period = quantileOf(gaps, 50)
		x.Jitter = (quantileOf(gaps, 95) - quantileOf(gaps, 5)) / 2
		x.Regular = len(gaps) >= 10 && x.Period > 0 && quantileOf(gaps, 90) <= 5*x.Period
		if x.Regular && (shortest == 0 || x.Period < shortest) {
			shortest = x.Period
		}
	}
	absent := func(length int64, period float64) bool {
		return length >= 100e6 && float64(length) > 5*period
	}
	var pauses [][2]int64
	for i := 1; i < len(frames); i++ {
		a, b := frames[i-1].Time-frames[0].Time, frames[i].Time-frames[0].Time
		if shortest > 0 && absent(b-a, shortest) {
			pauses = append(pauses, [2]int64{a, b})
		}
	}
	for n, x := range byName {
		if !x.Regular {
			continue
		}
		all := append(slices.Clone(times[n]), frames[len(frames)-1].Time-frames[0].Time)
		for i := 1; i < len(all); i++ {
			away := all[i] - all[i-1]
			for _, p := range pauses {
				if p[0] >= all[i-1] && p[1] <= all[i] {
					away -= p[1] - p[0]
				}
			}
			if absent(away, x.Period) {
				x.Silences = append(x.Silences, Silence{all[i-1], away})
			}
		}
	}
	slices.SortStableFunc(order, func(a, b *ID) int {
		if d := slices.Index(buses, a.Bus) - slices.Index(buses, b.Bus); d != 0 {
			return d
		}
		if a.Extended != b.Extended {
			return boolean(a.Extended) - boolean(b.Extended)
		}
		return int(a.ID) - int(b.ID)
	})
	var list []ID
	for _, x := range order {
		list = append(list, *x)
	}
	return list
}

// quantileOf returns a quantile of sorted values, linear between order statistics.
func quantileOf(sorted []float64, percent int) float64 {
	position := (len(sorted) - 1) * percent
	i, rest := position/100, float64(position%100)/100
	if rest == 0 {
		return sorted[i]
	}
	return sorted[i] + rest*(sorted[i+1]-sorted[i])
}
