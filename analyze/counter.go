package analyze

import (
	"math"

	"lull/decode"
)

// counter follows the readings of a starter-operation counter.
type counter struct {
	seen        bool
	first, last float64
	firstTime   int64
	lastTime    int64
	step        float64 // from first to last, over the width's end too
	resets      []counterReset
}

// counterReset is a reading lower than the one before it.
type counterReset struct {
	from, to float64
	time     int64
}

// wrapStep is how far a counter may step between two readings to be taken as
// having run over its width's end: a reset to 0 at just that place is less
// likely than a handful of starts.
const wrapStep = 16

func (c *counter) add(t int64, v float64, signal *decode.Signal) {
	if !c.seen {
		c.seen, c.first, c.last, c.firstTime, c.lastTime = true, v, v, t, t
		return
	}
	step := v - c.last
	if step < 0 {
		span := math.Ldexp(signal.Scale.Step(), signal.Length)
		if over := step + span; over >= 0 && over <= wrapStep*signal.Scale.Step() {
			step = over
		} else {
			c.resets = append(c.resets, counterReset{c.last, v, t})
		}
	}
	c.step += step
	c.last, c.lastTime = v, t
}

// account counts the starter operations and holds the counter against them.
func (r *Run) account(starts []Start) Starter {
	var s Starter
	for _, start := range starts {
		switch start.Kind {
		case RestartStart:
			s.Restart++
		case RetryStart:
			s.Retry++
		default:
			s.Key++
		}
	}
	c := &r.counter
	if !c.seen {
		s.Absent = r.missing(decode.StarterCount)
		return s
	}
	s.First, s.Last, s.Step = c.first, c.last, c.step
	// Operations shortly before a reading may not be counted in it yet.
	var late int64
	if period, known := r.streams.period(r.m.Role[decode.StarterCount]); known {
		late = 2 * period
	}
	least, most := 0, 0
	for _, start := range starts {
		if start.Crank.Low > c.firstTime && start.Crank.High <= c.lastTime-late {
			least++
		}
		if start.Crank.High >= c.firstTime-late && start.Crank.Low <= c.lastTime {
			most++
		}
	}
	unit := r.m.RoleSignal(decode.StarterCount).Scale.Step()
	steps := c.step / unit
	s.Agrees = len(c.resets) == 0 && steps >= float64(least) && steps <= float64(most)
	return s
}
