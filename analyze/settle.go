package analyze

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lull/decode"
)

const (
	// settleAfter is how long after running the last window of the first
	// measurements ends: the flare.
	settleAfter = 2 * second
	// settleAfterEnd is the same for an episode that did not end in running.
	settleAfterEnd = second / 2
	// settlePatience is how much longer slow frames are waited for.
	settlePatience = 10 * second
	// lookBack is how much of every role's past is kept when nothing is open: the
	// five seconds of the fuel rate and some, or more where request_window asks for
	// it.
	lookBack = 7 * second
	// awaited bounds how long memory is held for a switch's frame that stays away,
	// and for an engine that turns below running_speed and neither rests nor runs.
	awaited = 60 * second
	// maxRequests bounds the requests that are remembered while an engine that was
	// told to stop runs on for hours.
	maxRequests = 1 << 12
)

// settle measures what has all its samples, and hands out what is complete, in
// order. force does so whatever is still missing.
func (r *Run) settle(force bool) {
	for _, e := range r.pending {
		if !e.settled && (force || r.ready(e)) {
			r.measure(e)
		}
		if e.settled && !e.done && (force || !r.takeOffWaits(e)) {
			r.measureTakeOff(e)
		}
	}
	for len(r.pending) > 0 && r.pending[0].done {
		e := r.pending[0]
		r.pending = r.pending[1:]
		e.N, e.Part = len(r.done)+1, e.part
		r.done = append(r.done, e)
		e.runDown, e.leaves = nil, nil
	}
	r.settleCranks(force)
	r.finishStandstills(force)
}

// ready tells whether all samples that the first measurements need are in.
func (r *Run) ready(e *episode) bool {
	if e.Running == nil {
		return r.now >= e.end+settleAfterEnd
	}
	until := e.Running.High + settleAfter
	if r.now < until {
		return false
	}
	if r.now > until+settlePatience {
		return true
	}
	for _, s := range []*switched{&r.stop, &r.starter} {
		if s.seen && s.last < e.Running.High {
			return false
		}
	}
	v := &r.tracks[decode.BatteryVoltage]
	return !v.seen || v.last.t >= e.Running.High+second/2
}

// measure resolves what asked for the restart and what came of it, and takes all
// measurements but those of the take-off.
func (r *Run) measure(e *episode) {
	e.settled = true
	e.fallHidden = e.stopFall == nil && len(e.cranks) > 0 && r.stop.unseen(e.Stop.Low, e.cranks[0].High) > 0
	e.findRequest(r.requestLog, r.window)
	r.findUnknown(e)
	e.judge(r.has(decode.StopCommand) && !r.stopUnseen(e))
	e.Decision = e.decision()
	e.Cranks = make([]Event, 0, len(e.cranks))
	for i, c := range e.cranks {
		c.kind = RestartStart
		if i > 0 {
			c.kind = RetryStart
		}
		e.Cranks = append(e.Cranks, c.Event)
	}
	w := r.lose(e.windows())
	e.Metrics = make([]MetricValue, len(Metrics))
	for i := range Metrics {
		if !Metrics[i].late {
			e.Metrics[i] = sound(r.take(&Metrics[i], w))
		}
	}
	if from := e.windowStart(); len(e.cranks) == 0 && e.Running != nil && from != nil && r.has(decode.StarterCommand) {
		if away := r.starter.unseen(from.Low, e.Running.High); away > 0 {
			e.Notes = append(e.Notes, fmt.Sprintf("%s was not seen for %s of this restart: what the starter did in it is not known", decode.StarterCommand, lengthText(away)))
		}
	}
	if e.gapInside && e.Outcome != InGap {
		e.Notes = append(e.Notes, "the recording has a gap inside this episode")
	}
	for _, c := range e.cranks {
		r.measureCrank(c)
	}
}

// measureTakeOff takes the measurements that wait for the vehicle to leave, and
// judges the limits.
func (r *Run) measureTakeOff(e *episode) {
	e.done = true
	w := e.windows()
	for i := range Metrics {
		if Metrics[i].late {
			e.Metrics[i] = sound(r.take(&Metrics[i], w))
		}
	}
	e.Limits = r.limits(&e.Episode)
}

// limits holds what was measured of an episode against the map's limits.
func (r *Run) limits(e *Episode) []LimitVerdict {
	var verdicts []LimitVerdict
	for _, limit := range r.m.Limits {
		for _, v := range e.Metrics {
			if v.Key == limit.Metric && v.Absent == "" {
				verdicts = append(verdicts, LimitVerdict{limit, judgeLimit(v, limit)})
			}
		}
	}
	return verdicts
}

// sound keeps the order of a value's bounds, which rounding may disturb, and takes
// no number that is none: a field of a float may hold anything.
func sound(v MetricValue) MetricValue {
	for _, x := range []float64{v.Low, v.Best, v.High, v.Sampling, v.StandardError} {
		if x-x != 0 {
			why := absent("the samples are too large to measure by")
			why.Key, why.Unit = v.Key, v.Unit
			return why
		}
	}
	v.Low, v.High = min(v.Low, v.Best), max(v.High, v.Best)
	return v
}

// judgeLimit holds a value with its bounds against a limit. It never rounds. A value
// of which not enough was seen may break a limit, and never keeps one.
func judgeLimit(v MetricValue, limit decode.Limit) Verdict {
	low, high := v.Low, v.High
	if v.OpenBelow {
		low = math.Inf(-1)
	}
	if v.OpenAbove {
		high = math.Inf(1)
	}
	switch {
	case limit.HasMin && high < limit.Min || limit.HasMax && low > limit.Max:
		return Outside
	case v.OpenBelow || v.OpenAbove:
		return Unseen
	case limit.HasMin && low < limit.Min || limit.HasMax && high > limit.Max:
		return Borderline
	}
	return Inside
}

// settleCranks measures starter operations that belong to no episode.
func (r *Run) settleCranks(force bool) {
	for _, c := range r.cranks {
		if c.settled || c.episode != nil {
			continue
		}
		switch {
		case c.running != nil && (force || r.now >= c.running.High+settleAfter):
			r.measureCrank(c)
		case c.running == nil && c.end != 0 && (force || r.now >= c.end+settleAfterEnd):
			r.measureCrank(c)
		case c.running == nil && c.end == 0 && (force || r.now > c.T+r.patience && r.engine.rise == nil):
			c.end = min(c.T+r.patience, r.now)
			r.measureCrank(c)
		}
	}
	r.cranks = slices.DeleteFunc(r.cranks, func(c *crank) bool {
		if c.settled {
			r.finished = append(r.finished, c)
		}
		return c.settled
	})
}

func (r *Run) measureCrank(c *crank) {
	c.settled = true
	w := r.lose(c.windows())
	for i := range Metrics {
		if Metrics[i].start {
			c.metrics = append(c.metrics, sound(r.take(&Metrics[i], w)))
		}
	}
}

// keepFrom is the earliest moment that something open may still ask samples
// for.
func (r *Run) keepFrom() int64 {
	back := max(lookBack, r.window+2*second)
	keep := r.now - back
	if fall, falling := r.falling(); falling {
		keep = min(keep, fall-back)
	}
	if o := r.open; o != nil {
		keep = min(keep, r.keepFor(o))
	}
	for _, e := range r.pending {
		if !e.settled {
			keep = min(keep, r.keepFor(e))
		}
		if e.leave != nil {
			keep = min(keep, e.leave.Low-second)
		}
	}
	for _, c := range r.cranks {
		keep = min(keep, c.Low-3*second)
	}
	return keep
}

// falling gives the last fall below running_speed where it may still turn out to
// be a stop.
func (r *Run) falling() (int64, bool) {
	e := &r.engine
	return min(e.fall.Low, e.since), e.fallen && r.now-e.fall.High < awaited
}

// notSeenSince is the earliest moment from which on a switch, as far as its
// frames told by now, may have changed.
func (r *Run) notSeenSince(switches ...*switched) int64 {
	from := r.now
	for _, s := range switches {
		if s.seen && s.delay < 0 {
			from = min(from, s.last)
		}
	}
	return max(from, r.now-awaited)
}

// reach is how far before a decision, and before a stop onset, samples may be
// asked for.
func (r *Run) reach() int64 { return max(3*second, r.window+second) }

// keepFor is the same for one episode. While the engine rests only what may
// precede the restart is kept.
func (r *Run) keepFor(e *episode) int64 {
	if e.runDown == nil {
		// Some engines run on for hours in spite of a stop command.
		from := max(e.Stop.Low, r.now-awaited)
		if d := e.decision(); d != nil {
			from = min(from, max(d.Low, e.Stop.Low))
		}
		return from - r.reach()
	}
	from := r.notSeenSince(&r.stop, &r.starter)
	if k := &r.tracks[decode.EngineSpeed]; k.seen {
		from = min(from, max(k.last.t, r.now-awaited))
	}
	if d := e.decision(); d != nil {
		from = min(from, d.Low)
	}
	if r.engine.off != nil {
		from = min(from, r.engine.off.Low)
	}
	if e.Running != nil {
		from = min(from, e.Running.Low)
	}
	return from - r.reach()
}

// mayAsk tells whether a request may still be what asked for the episode's
// restart, because the car had to wait for rest.
func (e *episode) mayAsk(q Request) bool {
	return !e.settled && q.High >= e.Stop.Low && (e.Rest == nil || q.Low <= e.Rest.High)
}

// trim forgets what nothing can ask for any more, so that memory does not grow
// with the log.
func (r *Run) trim() {
	if o := r.open; o != nil && o.runDown == nil && o.Rest != nil && r.now > o.Rest.High+second {
		down := window(r.tracks[decode.EngineSpeed].all(), o.Stop.Low-r.reach(), o.Rest.High+second)
		o.runDown = slices.Clone(down)
	}
	keep := r.keepFrom()
	for role := range r.tracks {
		forgotten := r.tracks[role].trim(keep)
		if decode.Role(role) != decode.HoldPressure {
			continue
		}
		if len(forgotten) == 0 {
			continue
		}
		limit := r.hole(decode.HoldPressure)
		if r.open != nil {
			r.open.holdOn(forgotten, limit)
		}
		for _, e := range r.pending {
			if !e.settled {
				e.holdOn(forgotten, limit)
			}
		}
	}
	for _, k := range r.watched {
		k.trim(keep)
	}
	r.settleTallies()

	r.requestLog = slices.DeleteFunc(r.requestLog, func(q Request) bool {
		asks := func(e *episode) bool { return e.mayAsk(q) }
		return q.High < keep && !(r.open != nil && asks(r.open)) && !slices.ContainsFunc(r.pending, asks)
	})
	if n := len(r.requestLog) - maxRequests; n > 0 {
		r.requestLog = slices.Delete(r.requestLog, 0, n)
	}
	needed := keep
	if r.stand != nil {
		needed = min(needed, r.stand.start.T)
	}
	for _, s := range r.standWait {
		needed = min(needed, s.start.T)
	}
	for i := range r.truths {
		r.truths[i].trim(needed)
	}
	r.code.trim(needed)
}

// staleAfter is how long a role's signal may stay away and still tell something:
// math.MaxInt64 where it may for ever.
func (r *Run) staleAfter(role decode.Role) int64 {
	index := r.m.Role[role]
	period, known := r.streams.period(index)
	if r.m.Entries[r.m.Signals[index].Entry].OnChange && !known {
		return math.MaxInt64
	}
	return max(int64(r.m.Settings.StaleAfter), 3*period)
}

// Finish ends the log and gives the result. info is what the reader counted; the
// Run must not be used afterwards.
func (r *Run) Finish(info decode.Info) *Result {
	end := r.latest
	r.cut(LogEnd)
	for _, s := range r.streams.finish(r.now) {
		r.silent(s)
	}

	out := &r.result
	out.Info = info
	out.Frames = r.frames
	out.Start, out.Span = r.zero, end
	out.HasTime = r.started && info.Stamps != decode.StampsNone
	for _, e := range r.done {
		out.Episodes = append(out.Episodes, e.Episode)
	}
	r.numberStandstills()
	out.Starts = r.starts()
	r.assignSilences()
	out.Starter = r.account(out.Starts)
	r.summarize()
	out.Info.Remarks = append(slices.Clone(info.Remarks), r.remarks()...)
	out.Findings = r.findings()
	result := *out // by itself, since a part of the Run would keep all of it
	return &result
}

// numberStandstills numbers what was handed out, and names the episode in each.
func (r *Run) numberStandstills() {
	for i := range r.result.Standstills {
		s := &r.result.Standstills[i]
		s.N = i + 1
		if e := r.stoppedBy[i]; e != nil {
			s.Episode = r.numberOf(e)
		}
	}
}

// numberOf is an episode's number, also of one that still waits for its take-off;
// 0 where it is not known yet.
func (r *Run) numberOf(e *episode) int {
	if e.N > 0 {
		return e.N
	}
	if i := slices.Index(r.pending, e); i >= 0 {
		return len(r.done) + 1 + i
	}
	return 0
}

// starts lists all starter operations, and r.finished, in the log's order.
func (r *Run) starts() []Start {
	list := r.finished
	slices.SortStableFunc(list, func(a, b *crank) int {
		return cmp.Or(cmp.Compare(a.part, b.part), cmp.Compare(a.T, b.T))
	})
	starts := make([]Start, 0, len(list))
	for i, c := range list {
		s := Start{N: i + 1, Kind: c.kind, Crank: c.Event, Running: c.running, Metrics: c.metrics}
		if c.episode != nil {
			s.Episode = c.episode.N
		}
		starts = append(starts, s)
	}
	return starts
}

// summarize counts what was found.
func (r *Run) summarize() {
	out := &r.result
	s := Summary{Standstills: len(out.Standstills), Episodes: len(out.Episodes), StarterOperations: len(out.Starts)}
	for _, e := range out.Episodes {
		for _, v := range e.Metrics {
			if v.Absent != "" {
				continue
			}
			switch v.Key {
			case "engine_off":
				s.EngineOff += v.Best
			case "fuel_saved":
				s.FuelSaved += v.Best
			}
		}
	}
	for _, st := range out.Standstills {
		if st.Opportunity {
			s.Opportunities++
			if st.Stopped {
				s.Stops++
			}
		}
	}
	out.Summary, out.Exercised = s, r.exercise()
	out.EngineHours, out.Distance = r.sum(&r.hours, decode.EngineSpeed), r.sum(&r.way, decode.VehicleSpeed)
}
