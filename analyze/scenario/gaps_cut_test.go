package scenario

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// cut is what a log lacks: all frames of a time, those of one mapped frame, or some
// here and there.
type cut struct {
	frame    int // -1: all
	from, to int64
	about    string
	stop     int     // about which of the true stops, -1 none
	share    float64 // 0: all of them
}

// loss is what one log lacks.
type loss struct {
	kind string
	cuts []cut
	seed uint64
}

// text names what was lost about one stop, all of it where that is -1.
func (l *loss) text(b *bus, zero int64, stop int) string {
	var parts []string
	for _, c := range l.cuts {
		if c.stop != stop && stop >= 0 && c.stop >= 0 {
			continue
		}
		what := "everything"
		if c.frame >= 0 {
			what = b.frames[c.frame].signals[0].name + "'s frame"
		}
		if c.share > 0 {
			what = fmt.Sprintf("%.0f %% of %s", c.share*100, what)
		}
		parts = append(parts, fmt.Sprintf("%s %.4f..%.4f (%s)", what, float64(c.from-zero)/1e9, float64(c.to-zero)/1e9, c.about))
	}
	return l.kind + ": " + strings.Join(parts, "; ")
}

// apply returns what is left of a log.
func (l *loss) apply(log []*seen) []*seen {
	r := rand.New(rand.NewPCG(l.seed, 3))
	left := make([]*seen, 0, len(log))
	for i := range log {
		at, of := log[i].frame.Time, log[i].of
		lost := slices.ContainsFunc(l.cuts, func(c cut) bool {
			return at >= c.from && at < c.to && (c.frame < 0 || c.frame == of) && (c.share == 0 || r.Float64() < c.share)
		})
		if !lost {
			left = append(left, log[i])
		}
	}
	return left
}

// anchors are the moments of a stop that a figure depends on.
func (s *trueStop) anchors(c *course) map[string]int64 {
	all := map[string]int64{"stop": s.stop.a}
	if s.rest != nil {
		all["rest"] = s.rest.a
	}
	if s.request != nil {
		all["request"] = s.request.At
	}
	if s.decision != nil {
		all["decision"] = s.decision.a
	}
	if n := len(s.cranks); n > 0 {
		all["crank"] = s.cranks[0].a
		all["last crank"] = s.cranks[n-1].a
		all["before"] = s.cranks[0].a - 500*ms
		if s.running != nil {
			all["cranking"] = s.cranks[n-1].a + (*s.running-s.cranks[n-1].a)/3
			all["dip"] = c.lowestAt(voltage, s.cranks[0].a, *s.running)
		}
	}
	if s.running != nil {
		all["running"] = *s.running
		all["flare"] = *s.running + 400*ms
	}
	if s.takeOff != nil {
		all["take-off"] = *s.takeOff
	}
	return all
}

// kinds are the kinds of losses.
var kinds = []string{"gap", "silence", "both", "scattered"}

// lose draws what a log lacks: one cut, or two, about one anchor of each stop.
func lose(r *rand.Rand, kind string, b *bus, c *course, stops []trueStop) loss {
	l := loss{kind: kind, seed: r.Uint64()}
	if kind == "scattered" {
		share := 0.03 + 0.12*r.Float64()
		for i, f := range b.frames {
			if f.sent != onChange && f.sent != repeated {
				l.cuts = append(l.cuts, cut{i, c.from, c.to, "scattered", -1, share})
			}
		}
		return l
	}
	for i := range stops {
		anchors := stops[i].anchors(c)
		names := make([]string, 0, len(anchors))
		for name := range anchors {
			names = append(names, name)
		}
		slices.Sort(names)
		place := func(frame int, least int64) {
			name := names[r.IntN(len(names))]
			long := []int64{120, 180, 260, 400, 700, 1200, 2000, 3000}[r.IntN(8)] * ms
			long = max(long, least)
			from := anchors[name] - int64(r.Float64()*float64(long))
			l.cuts = append(l.cuts, cut{frame, from, from + long, fmt.Sprintf("stop %d: %s", i+1, name), i, 0})
		}
		if kind != "silence" {
			place(-1, 0)
		}
		if kind != "gap" {
			// A frame that is sent on change alone cannot be missed, nor one that is
			// repeated before some repeats are.
			frame := r.IntN(len(b.frames))
			f := &b.frames[frame]
			if f.sent == onChange {
				continue
			}
			least := int64(0)
			if f.sent == repeated {
				least = 6 * f.period
			}
			place(frame, least)
		}
	}
	return l
}

// holes is what a log lacks of a bus: the times in which one of its frames stayed
// away for so long that it counts as silent, or the recording stopped, and those
// from which any frame at all was cut.
type holes struct {
	away [][]span // of each frame, its own and the recording's
	lost [][]span
}

// holesOf finds them. Whether a time that hardly counts counts is left open.
func (b *bus) holesOf(log, left []*seen) *holes {
	h := &holes{make([][]span, len(b.frames)), make([][]span, len(b.frames))}
	shortest := map[sent]int64{}
	for _, f := range b.frames {
		how := f.sent
		if how == byGroup {
			how = cyclic
		}
		if p := shortest[how]; f.period > 0 && (p == 0 || f.period < p) {
			shortest[how] = f.period
		}
	}
	every := shortest[cyclic]
	if every == 0 {
		every = shortest[polled]
	}
	long := func(period int64) int64 { return max(5*period, 100*ms) * 11 / 10 }
	for i := 1; i < len(left); i++ {
		if from, to := left[i-1].frame.Time, left[i].frame.Time; to-from >= long(every) {
			for of := range h.away {
				h.away[of] = append(h.away[of], span{from, to})
			}
		}
	}
	last := make([]int64, len(b.frames))
	for i := range left {
		of, at := left[i].of, left[i].frame.Time
		if of < 0 {
			continue
		}
		f := &b.frames[of]
		if before := last[of]; before > 0 && f.period > 0 && f.sent != repeated && at-before >= long(f.period) {
			h.away[of] = append(h.away[of], span{before, at})
		}
		last[of] = at
	}
	k := 0
	for i := range log {
		if k < len(left) && left[k] == log[i] {
			k++
		} else if of := log[i].of; of >= 0 {
			h.lost[of] = append(h.lost[of], point(log[i].frame.Time))
		}
	}
	return h
}

// touch reports whether a window of a figure has one of the times of its frame in it.
func (b *bus) touch(f figure, reach int64, times [][]span) bool {
	for _, w := range f.windows {
		for _, t := range times[b.frameOf(w.signal)] {
			if t.a < w.to+reach && t.b > w.from-reach {
				return true
			}
		}
	}
	return false
}
