package onelog

import (
	"lull/analyze"
	"lull/decode"
)

// counter follows the readings of a starter-operation counter.
type counter struct {
	seen        bool
	first, last float64
	from, to    stamp   // of the two
	step        float64 // from first to last, over the width's end too
	resets      []analyze.CounterReset
}

// stamp is a time in a part of the log: where time runs back a new part begins.
type stamp struct {
	part int
	time int64
}

func (m stamp) shift(d int64) stamp { return stamp{m.part, m.time + d} }

// before reports whether the stamp comes first in the log.
func (m stamp) before(other stamp) bool {
	return m.part < other.part || m.part == other.part && m.time < other.time
}

func (c *counter) add(t stamp, v float64, signal *decode.Signal) {
	if !c.seen {
		c.seen, c.first, c.last, c.from, c.to = true, v, v, t, t
		return
	}
	step, reset := analyze.CounterStep(c.last, v, signal)
	if reset {
		c.resets = append(c.resets, analyze.CounterReset{From: c.last, To: v, Time: t.time})
	}
	c.step += step
	c.last, c.to = v, t
}

// account counts the starter operations and holds the counter against them.
func (r *Run) account(starts []analyze.Start) analyze.Starter {
	var s analyze.Starter
	for _, start := range starts {
		switch start.Kind {
		case analyze.RestartStart:
			s.Restart++
		case analyze.RetryStart:
			s.Retry++
		default:
			s.Key++
		}
	}
	c := &r.sums.counter
	if !c.seen {
		s.Absent = r.Missing(decode.StarterCount)
		return s
	}
	s.First, s.Last, s.Step, s.Resets = c.first, c.last, c.step, c.resets
	// Operations shortly before a reading may not be counted in it yet.
	var late int64
	if period, known := r.Streams.Period(r.M.Role[decode.StarterCount]); known {
		late = 2 * period
	}
	least, most := 0, 0
	between, lately := 0, 0 // of the first and the last reading, and shortly before the last
	for _, k := range r.Finished {
		low, high := stamp{k.Part, k.Low}, stamp{k.Part, k.High}
		if c.from.before(low) && !c.to.shift(-late).before(high) {
			least++
		}
		if !high.before(c.from.shift(-late)) && !c.to.before(low) {
			most++
		}
		switch best := (stamp{k.Part, k.T}); {
		case c.to.before(best):
			s.After++
		case c.from.before(best):
			between++
			if c.to.shift(-late).before(best) {
				lately++
			}
		}
	}
	unit := r.M.RoleSignal(decode.StarterCount).Scale.Step()
	steps := c.step / unit
	s.Agrees = len(c.resets) == 0 && steps >= float64(least) && steps <= float64(most)
	if s.Agrees {
		s.After += min(lately, max(0, between-int(steps))) // it has yet to count those
	}
	return s
}
