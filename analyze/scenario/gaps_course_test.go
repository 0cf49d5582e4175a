package scenario

import (
	"math"
	"math/rand/v2"
	"slices"

	"lull/decode"
)

// course is what a car truly did in a drive, at every step of its physics. Any
// bus can be laid over it afterwards.
type course struct {
	name     string
	from, to int64
	steps    [][quantityCount]float64 // steps[i] is what it was at from + (i+1) x step
	first    [outputCount]int64
	changes  [outputCount][]change
	truth    Truth
	nominal  float64 // V
}

// follow runs a drive and writes its course down. The bus that it runs with
// carries one frame a step and nothing else: a clock.
func follow(d Drive) *course {
	p := *d.plan
	p.pause = [2]float64{}
	p.network = network{bus: "can0", streams: []stream{{id: 1, period: step, counts: -1, noise: -1}}}
	w := newWorld(&p)
	c := &course{name: d.Name, from: p.start, first: w.out.value, nominal: p.machine.nominal}
	seen := w.out.seen
	w.out.seen = func(x change) {
		c.changes[x.what] = append(c.changes[x.what], x)
		seen(x)
	}
	w.play(func(*decode.Frame) bool {
		if w.curve.from != p.start+int64(len(c.steps))*step {
			panic("not one frame a step")
		}
		c.steps = append(c.steps, w.curve.new)
		return true
	})
	c.truth, c.to = w.record.truth, p.start+int64(len(c.steps))*step
	return c
}

// shake gives what the modules measure some noise that is truly there: it belongs
// to the course, so the truth has it too. An engine at rest stays at rest.
func (c *course) shake(seed uint64) {
	r := rand.New(rand.NewPCG(seed, 9))
	for i := range c.steps {
		s := &c.steps[i]
		s[engineSpeed] += s[engineSpeed] * 0.003 * (2*r.Float64() - 1)
		s[voltage] += 0.03 * (2*r.Float64() - 1)
		s[current] += 3 * (2*r.Float64() - 1)
	}
}

func (c *course) index(t int64) int {
	return int(min(max((t-c.from)/step-1, 0), int64(len(c.steps)-2)))
}

// at is a quantity at a moment.
func (c *course) at(q quantity, t int64) float64 {
	i := c.index(t)
	a, b := c.steps[i][q], c.steps[i+1][q]
	share := float64(t-c.from-int64(i+1)*step) / float64(step)
	return a + (b-a)*limit(share, 0, 1)
}

// output is what an output was at a moment.
func (c *course) output(o output, t int64) int64 {
	value := c.first[o]
	for _, x := range c.changes[o] {
		if x.at > t {
			break
		}
		value = x.value
	}
	return value
}

// passes are the moments in from..to at which a quantity crosses a level.
func (c *course) passes(q quantity, level float64, from, to int64, rising bool) []int64 {
	var all []int64
	for i := c.index(from); i <= c.index(to); i++ {
		s := curve{from: c.from + int64(i+1)*step, old: c.steps[i], new: c.steps[i+1]}
		pass, ok := s.falls(q, level)
		if rising {
			pass, ok = s.rises(q, level)
		}
		if ok && pass >= from && pass <= to {
			all = append(all, pass)
		}
	}
	return all
}

// within are the values of a quantity in from..to, the ends included.
func (c *course) within(q quantity, from, to int64) []float64 {
	values := []float64{c.at(q, from)}
	for i := c.index(from) + 1; i <= c.index(to); i++ {
		if t := c.from + int64(i+1)*step; t > from && t < to {
			values = append(values, c.steps[i][q])
		}
	}
	return append(values, c.at(q, to))
}

func (c *course) lowest(q quantity, from, to int64) float64 { return slices.Min(c.within(q, from, to)) }
func (c *course) highest(q quantity, from, to int64) float64 {
	return slices.Max(c.within(q, from, to))
}

func (c *course) median(q quantity, from, to int64) float64 {
	values := c.within(q, from, to)
	slices.Sort(values)
	return values[len(values)/2]
}

// below is for how many seconds a quantity was below a level.
func (c *course) below(q quantity, level float64, from, to int64) float64 {
	n := 0
	values := c.within(q, from, to)
	for _, v := range values {
		if v < level {
			n++
		}
	}
	return float64(n) / float64(len(values)) * float64(to-from) / 1e9
}

// lowestAt is when a quantity was lowest.
func (c *course) lowestAt(q quantity, from, to int64) int64 {
	best, when := math.Inf(1), from
	for t := from; t <= to; t += step {
		if v := c.at(q, t); v < best {
			best, when = v, t
		}
	}
	return when
}

// span is a moment that is itself not one point of the course: a true onset lies
// somewhere from a to b.
type span struct{ a, b int64 }

func point(t int64) span { return span{t, t} }

// trueStop is one stop of the engine as a bus can tell it at best: where it has no
// stop or no starter command, the moments that the engine's own course gives.
type trueStop struct {
	outcome   string
	stop      span
	rest      *span // from the first passage of the threshold to the last: it rocks
	request   *TrueRequest
	decision  *span
	cranks    []span
	command   int64 // the first crank's starter command, told by the bus or not
	running   Moment
	takeOff   Moment
	end       int64
	derived   bool // the crank onset is taken from the engine speed
	commanded int  // starter commands
}

// stops returns the true stops of a course on a bus that has the commands or not.
func (c *course) stops(hasStop, hasStarter bool) []trueStop {
	var all []trueStop
	for i := range c.truth.Episodes {
		e := &c.truth.Episodes[i]
		s := trueStop{outcome: e.Outcome, stop: point(e.Stop), request: e.Request, takeOff: e.TakeOff, end: c.to, commanded: len(e.Cranks)}
		if e.Running != nil {
			// With noise it may cross some more times.
			rises := c.passes(engineSpeed, trueRunning, *e.Running-40*ms, *e.Running+40*ms, true)
			s.running = &rises[len(rises)-1]
			s.end = *s.running
		} else if e.Outcome == "aborted" {
			s.end = *e.Decision + 500*ms
		} else if i+1 < len(c.truth.Episodes) {
			s.end = c.truth.Episodes[i+1].Stop - 3000*ms
		}
		if e.Rest != nil {
			until := *e.Rest + 1000*ms
			if len(e.Cranks) > 0 {
				until = min(until, e.Cranks[0])
			}
			falls := c.passes(engineSpeed, trueRest, *e.Rest-20*ms, until+20*ms, false)
			s.rest = &span{*e.Rest, max(*e.Rest, falls[len(falls)-1])}
		}
		if e.Decision != nil {
			d := point(*e.Decision)
			s.decision = &d
		}
		if !hasStop {
			until := s.end
			if s.rest != nil {
				until = s.rest.a
			}
			falls := c.passes(engineSpeed, trueRunning, e.Stop, until, false)
			if len(falls) == 0 {
				continue // the engine ran on
			}
			s.stop = point(falls[len(falls)-1])
		}
		for _, at := range e.Cranks {
			s.command = e.Cranks[0]
			crank := point(at)
			if !hasStarter {
				crank = c.turns(at)
				s.derived = true
			}
			s.cranks = append(s.cranks, crank)
		}
		if len(s.cranks) > 0 && (!hasStop || !hasStarter) {
			d := s.cranks[0]
			for _, x := range c.changes[stopCommand] {
				if hasStop && x.value == 0 && x.at > e.Stop && x.at < d.b {
					d = span{min(x.at, d.a), min(x.at, d.b)}
					break
				}
			}
			s.decision = &d
		}
		all = append(all, s)
	}
	return all
}

// turns is when the starter that was told to at a moment takes hold: from the first
// current that it draws to the engine speeding up.
func (c *course) turns(command int64) span {
	i := c.index(command)
	for i < len(c.steps)-2 && c.steps[i][current] > c.steps[c.index(command)][current]-60 {
		i++
	}
	t := c.from + int64(i+1)*step
	j := i
	for j < len(c.steps)-2 && c.steps[j+1][engineSpeed] <= c.steps[j][engineSpeed] {
		j++
	}
	return span{min(t, c.from+int64(j+1)*step), c.from + int64(j+2)*step}
}
