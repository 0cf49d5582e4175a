package onelog

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lull/analyze"
	"lull/analyze/series"
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
	for _, s := range []*series.Switched{&r.stop, &r.starter} {
		if s.Seen && s.Last < e.Running.High {
			return false
		}
	}
	v := &r.tracks[decode.BatteryVoltage]
	return !v.Seen || v.Last.T >= e.Running.High+second/2
}

// measure resolves what asked for the restart and what came of it, and takes all
// measurements but those of the take-off.
func (r *Run) measure(e *episode) {
	e.settled = true
	e.fallHidden = e.stopFall == nil && len(e.cranks) > 0 && r.stop.Unseen(e.Stop.Low, e.cranks[0].High) > 0
	e.findRequest(r.requestLog, r.window)
	r.findUnknown(e)
	e.judge(r.has(decode.StopCommand) && !r.stopUnseen(e))
	e.Decision = e.decision()
	e.Cranks = make([]analyze.Event, 0, len(e.cranks))
	for i, c := range e.cranks {
		c.kind = analyze.RestartStart
		if i > 0 {
			c.kind = analyze.RetryStart
		}
		e.Cranks = append(e.Cranks, c.Event)
	}
	w := r.lose(e.windows())
	e.Metrics = make([]analyze.MetricValue, len(Metrics))
	for i := range Metrics {
		if !Metrics[i].late {
			e.Metrics[i] = sound(r.take(&Metrics[i], w))
		}
	}
	if from := e.windowStart(); len(e.cranks) == 0 && e.Running != nil && from != nil && r.has(decode.StarterCommand) {
		if away := r.starter.Unseen(from.Low, e.Running.High); away > 0 {
			e.Notes = append(e.Notes, fmt.Sprintf("%s was not seen for %s of this restart: what the starter did in it is not known", decode.StarterCommand, lengthText(away)))
		}
	}
	if e.gapInside && e.Outcome != analyze.InGap {
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
	r.seekLeave(e)
	w := e.windows()
	for i := range Metrics {
		if Metrics[i].late {
			e.Metrics[i] = sound(r.take(&Metrics[i], w))
		}
	}
	e.Limits = r.limits(&e.Episode)
}

// limits holds what was measured of an episode against the map's limits.
func (r *recording) limits(e *analyze.Episode) []analyze.LimitVerdict {
	var verdicts []analyze.LimitVerdict
	for _, limit := range r.m.Limits {
		for _, v := range e.Metrics {
			if v.Key == limit.Metric && v.Absent == "" {
				verdicts = append(verdicts, analyze.LimitVerdict{Limit: limit, Verdict: judgeLimit(v, limit)})
			}
		}
	}
	return verdicts
}

// sound keeps the order of a value's bounds, which rounding may disturb, and takes
// no number that is none: a field of a float may hold anything.
func sound(v analyze.MetricValue) analyze.MetricValue {
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
func judgeLimit(v analyze.MetricValue, limit decode.Limit) analyze.Verdict {
	low, high := v.Low, v.High
	if v.OpenBelow {
		low = math.Inf(-1)
	}
	if v.OpenAbove {
		high = math.Inf(1)
	}
	switch {
	case limit.HasMin && high < limit.Min || limit.HasMax && low > limit.Max:
		return analyze.Outside
	case v.OpenBelow || v.OpenAbove:
		return analyze.Unseen
	case limit.HasMin && low < limit.Min || limit.HasMax && high > limit.Max:
		return analyze.Borderline
	}
	return analyze.Inside
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

// mayAsk tells whether a request may still be what asked for the episode's
// restart, because the car had to wait for rest.
func (e *episode) mayAsk(q analyze.Request) bool {
	return !e.settled && q.High >= e.Stop.Low && (e.Rest == nil || q.Low <= e.Rest.High)
}

// Finish ends the log and gives the result. info is what the reader counted; the
// Run must not be used afterwards.
func (r *Run) Finish(info decode.Info) *analyze.Result {
	end := r.latest
	r.cut(analyze.LogEnd)
	for _, s := range r.streams.Finish(r.now) {
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
func (r *Run) starts() []analyze.Start {
	list := r.finished
	slices.SortStableFunc(list, func(a, b *crank) int {
		return cmp.Or(cmp.Compare(a.part, b.part), cmp.Compare(a.T, b.T))
	})
	starts := make([]analyze.Start, 0, len(list))
	for i, c := range list {
		s := analyze.Start{N: i + 1, Kind: c.kind, Crank: c.Event, Running: c.running, Metrics: c.metrics}
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
	s := analyze.Summary{Standstills: len(out.Standstills), Episodes: len(out.Episodes), StarterOperations: len(out.Starts)}
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
