package scenario

import (
	"lull/pkg/bounds"
)

// nature is how a metric comes about, and so what may be said of it where its
// samples are missing.
type nature uint8

const (
	duration nature = iota // its bounds are hard, whatever is missing
	moving                 // a value at an instant
	timed                  // a duration that samples between its ends make
	lowest
	highest
	middle // a median
)

// window is a time that a metric needs samples of a signal of.
type window struct {
	signal   string
	from, to int64
}

// figure is a metric as it truly was.
type figure struct {
	nature    nature
	low, high float64 // where the truth lies
	windows   []window
}

// figures returns the true metrics of a stop.
func (s *trueStop) figures(c *course, b *bus) map[string]figure {
	all := map[string]figure{}
	between := func(key string, from, to *span) {
		if from != nil && to != nil {
			all[key] = figure{nature: duration, low: bounds.Seconds(to.a - from.b), high: bounds.Seconds(to.b - from.a)}
		}
	}
	reached := func(m Moment) *span {
		if m == nil {
			return nil
		}
		p := point(*m)
		return &p
	}
	rest, running, takeOff := s.rest, reached(s.running), reached(s.takeOff)
	var first, last, request *span
	if n := len(s.cranks); n > 0 {
		first, last = &s.cranks[0], &s.cranks[n-1]
	}
	if s.request != nil {
		p := point(s.request.At)
		request = &p
	}
	between("run_down", &s.stop, rest)
	between("stop_duration", rest, first)
	between("engine_off", &s.stop, running)
	between("restart_latency", request, running)
	between("request_to_crank", request, first)
	between("crank_to_run", last, running)
	between("take_off_delay", request, takeOff)

	at := func(key string, when *span) {
		if when == nil {
			return
		}
		period := b.frames[b.frameOf("engine_speed")].period * 5 / 4
		from, to := when.a-period, when.b+period
		all[key] = figure{nature: moving, low: c.lowest(engineSpeed, from, to), high: c.highest(engineSpeed, from, to)}
	}
	at("speed_at_request", request)
	at("speed_at_crank", first)
	if first == nil || running == nil {
		return all
	}

	half := last.b + (running.a-last.b)/2
	if from := last.b + 60*ms; half > from {
		v := c.median(engineSpeed, from, half)
		all["crank_speed"] = figure{middle, v, v, []window{{"engine_speed", from, half}}}
	}
	until := running.a + 2000*ms
	v := c.highest(engineSpeed, running.a, until)
	all["flare"] = figure{highest, v, v, []window{{"engine_speed", running.a, until}}}

	lead := 50 * ms
	if s.derived {
		lead = 300 * ms
	}
	before := window{"voltage", first.b - lead - 1000*ms, first.a - lead}
	start := window{"voltage", first.b - 50*ms, running.a + 500*ms}
	rested := c.median(voltage, before.from, before.to)
	least := c.lowest(voltage, start.from, start.to)
	all["voltage_before"] = figure{middle, rested, rested, []window{before}}
	all["voltage_min"] = figure{lowest, least, least, []window{start}}
	all["voltage_dip"] = figure{highest, rested - least, rested - least, []window{before, start}}
	low := c.below(voltage, c.nominal*0.8, start.from, start.to)
	all["low_voltage_time"] = figure{timed, low, low, []window{start}}
	if back, ok := c.recovers(rested-0.5, start); ok {
		d := bounds.Seconds(back - c.lowestAt(voltage, start.from, start.to))
		all["voltage_recovery"] = figure{timed, d, d, []window{before, start, {"voltage", start.from, back + 100*ms}}}
	}
	v = c.lowest(supply, start.from, start.to)
	all["module_supply_min"] = figure{lowest, v, v, []window{{"supply", start.from, start.to}}}
	if rest != nil && rest.a < running.a {
		v = c.lowest(holdPressure, rest.b, running.a)
		all["hold_pressure_min"] = figure{lowest, v, v, []window{{"hold", rest.b, running.a}}}
	}
	if takeOff != nil {
		signal := "road_speed"
		if b.frameOf("acceleration") >= 0 {
			signal = "acceleration"
		}
		all["take_off_shock"] = figure{nature: highest, windows: []window{{signal, takeOff.a, takeOff.b + 1000*ms}}}
	}
	return all
}

// recovers is when the voltage comes back to a level for 100 ms after its lowest.
func (c *course) recovers(level float64, w window) (int64, bool) {
	from := c.lowestAt(voltage, w.from, w.to)
	if c.at(voltage, from) >= level {
		return 0, false
	}
	for _, at := range c.passes(voltage, level, from, min(w.to+1500*ms, c.to), true) {
		if at+100*ms < c.to && c.lowest(voltage, at+1, at+100*ms) >= level {
			return at, true
		}
	}
	return 0, false
}
