package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// match gives for each true stop the episode that tells of it, nil for none.
func (x *trial) match(r *analyze.Result) (found []*analyze.Episode, spare []*analyze.Episode) {
	found = make([]*analyze.Episode, len(x.stops))
	for i := range r.Episodes {
		e := &r.Episodes[i]
		from, to := e.Stop.Low+r.Start, e.Stop.High+r.Start
		if e.Running != nil {
			to = e.Running.High + r.Start
		}
		which := -1
		for k := range x.stops {
			s := &x.stops[k]
			if from <= s.end && to >= s.stop.a && (which < 0 || found[which] != nil) {
				which = k
			}
		}
		if which < 0 || found[which] != nil {
			spare = append(spare, e)
			continue
		}
		found[which] = e
	}
	return found, spare
}

// check holds a result against the truth.
func (x *trial) check(r *analyze.Result, left []*seen, kind string) []problem {
	var problems []problem
	h := x.b.holesOf(x.log, left)
	say := func(stop int, what, format string, args ...any) {
		problems = append(problems, problem{stop, what, what + ": " + fmt.Sprintf(format, args...)})
	}
	found, spare := x.match(r)
	for _, e := range spare {
		say(-1, "an episode that never was", "%s from %.3f s", e.Outcome, bounds.Seconds(e.Stop.T))
	}
	for i, e := range found {
		if e == nil {
			continue
		}
		s := &x.stops[i]
		for what, bad := range map[string]bool{
			"aborted": e.Outcome == analyze.Aborted, "stalled": e.Outcome == analyze.Stalled,
			"no start": e.Outcome == analyze.NoStart, "ignition off": e.Outcome == analyze.IgnitionOff,
		} {
			if bad && strings.ReplaceAll(s.outcome, "_", " ") != what {
				say(i, "outcome "+what+", which it was not", "true: %s", s.outcome)
			}
		}
		instant := func(what string, truth *span, low, high int64) {
			low, high = low+r.Start, high+r.Start
			if truth != nil && (truth.b < low || truth.a > high) {
				say(i, "instant of "+what, "true %.4f to %.4f s, given %.4f to %.4f", bounds.Seconds(truth.a-r.Start), bounds.Seconds(truth.b-r.Start), bounds.Seconds(low-r.Start), bounds.Seconds(high-r.Start))
			}
		}
		of := func(m Moment) *span {
			if m == nil {
				return nil
			}
			p := point(*m)
			return &p
		}
		instant("stop", &s.stop, e.Stop.Low, e.Stop.High)
		if e.Rest != nil {
			instant("rest", s.rest, e.Rest.Low, e.Rest.High)
		}
		if e.Running != nil {
			instant("running", of(s.running), e.Running.Low, e.Running.High)
		}
		if e.Decision != nil {
			instant("decision", s.decision, e.Decision.Low, e.Decision.High)
		}
		if len(e.Cranks) == len(s.cranks) {
			for k := range e.Cranks {
				instant("crank", &s.cranks[k], e.Cranks[k].Low, e.Cranks[k].High)
			}
		}
		asked := ""
		if e.Request != nil {
			asked = x.m.Requests[e.Request.Condition].Name
		}
		if s.request != nil && asked == s.request.Name {
			p := point(s.request.At)
			instant("request", &p, e.Request.Low, e.Request.High)
		}
		for _, v := range e.Metrics {
			f, ok := x.truths[i][v.Key]
			if !ok || v.Absent != nil || (f.nature != duration && f.nature != moving) {
				continue
			}
			if f.high < v.Low-1e-9 || f.low > v.High+1e-9 {
				say(i, v.Key+" does not hold the truth", "true %.4f to %.4f, given %.4f to %.4f", f.low, f.high, v.Low, v.High)
			}
		}
		x.checkLimits(i, e, h, kind, say)
		x.checkFewSamples(i, e, r.Start, left, say)
	}
	if kind != "scattered" { // what one frame less hides nothing can tell
		x.checkFindings(r, found, say)
	}
	x.checkRest(r, left, kind, say)
	return problems
}

// checkLimits looks at what is said of a stop's limits.
func (x *trial) checkLimits(i int, e *analyze.Episode, h *holes, kind string, say func(stop int, what, format string, args ...any)) {
	values := map[string]analyze.MetricValue{}
	for _, v := range e.Metrics {
		values[v.Key] = v
	}
	for _, l := range e.Limits {
		held, ok := x.limits[l.Limit]
		if !ok || held.stop != i {
			continue
		}
		f, v := x.truths[i][held.metric], values[held.metric]
		text := fmt.Sprintf("%s with limit min %v max %v, given %v (%v to %v), true %v, sampling %v", l.Verdict, l.Limit.Min, l.Limit.Max, v.Best, v.Low, v.High, f.low, v.Sampling)
		reach := int64(0)
		if held.metric == "take_off_shock" {
			reach = 150 * ms // of its fits
		}
		missing, lost := x.b.touch(f, 0, h.away), x.b.touch(f, reach, h.lost)
		switch {
		case held.broken && l.Verdict == analyze.Inside && missing:
			say(i, held.metric+" inside, though it was outside and that was not seen", "%s", text)
		case held.broken && l.Verdict == analyze.Inside && kind != "whole" && kind != "scattered" && !lost && !near(f, v):
			say(i, held.metric+" inside, though it was outside", "%s", text)
		case !held.broken && l.Verdict == analyze.Outside && (missing || !lost && kind != "scattered") && !near(f, v):
			say(i, held.metric+" outside, though it was inside", "%s", text)
		case l.Verdict == analyze.Inside && missing:
			say(i, held.metric+" inside, though it was not seen whole", "%s", text)
		}
	}
}

// near reports whether a median is as it truly was, but for what a window that is a
// little longer makes of it: an engine that is cranked gathers speed.
func near(f figure, v analyze.MetricValue) bool {
	slack := 0.03
	if v.Unit == "rpm" {
		slack = 0.3
	}
	return f.nature == middle && math.Abs(v.Best-f.low) <= slack*f.low
}

// checkFewSamples looks for verdicts on windows with fewer than three samples. Windows
// run from the first instant's low to the last one's high.
func (x *trial) checkFewSamples(i int, e *analyze.Episode, zero int64, left []*seen, say func(stop int, what, format string, args ...any)) {
	if len(e.Cranks) == 0 || e.Running == nil {
		return
	}
	first, last, running := e.Cranks[0], e.Cranks[len(e.Cranks)-1], *e.Running
	lead := 50 * ms
	if first.From == decode.EngineSpeed {
		lead = 300 * ms
	}
	for metric, w := range map[string]window{
		"crank_speed":       {"engine_speed", last.Low + 60*ms, bounds.Middle(last.Instant, running).High},
		"flare":             {"engine_speed", running.Low, running.High + 2000*ms},
		"voltage_before":    {"voltage", first.Low - lead - 1000*ms, first.High - lead},
		"voltage_min":       {"voltage", first.Low - lead, running.High + 500*ms},
		"module_supply_min": {"supply", first.Low - lead, running.High + 500*ms},
	} {
		samples, of := 0, x.b.frameOf(w.signal)
		for k := range left {
			if at := left[k].frame.Time - zero; left[k].of == of && at >= w.from && at <= w.to {
				samples++
			}
		}
		for _, l := range e.Limits {
			if l.Limit.Metric != metric || samples >= 3 {
				continue
			}
			median := x.truths[i][metric].nature == middle
			if l.Verdict == analyze.Inside || median && l.Verdict == analyze.Outside {
				say(i, metric+" judged by fewer than three samples", "%s by %d", l.Verdict, samples)
				break
			}
		}
	}
}

// checkFindings looks for findings that accuse without having seen.
func (x *trial) checkFindings(r *analyze.Result, found []*analyze.Episode, say func(stop int, what, format string, args ...any)) {
	for i, e := range found {
		if e == nil {
			continue
		}
		s := &x.stops[i]
		name := fmt.Sprintf("episode %d", e.N)
		for _, f := range r.Findings {
			if !slices.Contains(f.Evidence, name) {
				continue
			}
			switch {
			case f.Code == "no_restart_request" && s.request != nil,
				f.Code == "stalled" && s.outcome != "stalled",
				f.Code == "failed_start" && s.commanded == 1 && s.running != nil:
				say(i, "finding "+f.Code, "%+v", f.About)
			}
		}
	}
	for _, f := range r.Findings {
		c, disagrees := f.About.(analyze.CounterDisagrees)
		hidden := c.Gaps > 0 || c.Pauses > 0 || c.Silences > 0 || c.Lines > 0
		if disagrees && x.b.hasStarter && !hidden || f.Code == "implausible_signal" {
			say(-1, "finding "+f.Code, "%+v", f.About)
		}
	}
}

// checkRest looks for starter operations, standstills, silences and gaps that never
// were.
func (x *trial) checkRest(r *analyze.Result, left []*seen, kind string, say func(stop int, what, format string, args ...any)) {
	holds := func(i bounds.Instant, t int64) bool { return i.Low+r.Start <= t && t <= i.High+r.Start }
	for _, s := range r.Starts {
		if x.b.hasStarter && !slices.ContainsFunc(x.c.truth.Starts, func(t TrueStart) bool { return holds(s.Crank.Instant, t.Crank) }) {
			say(-1, "a starter operation that never was", "%.4f to %.4f", bounds.Seconds(s.Crank.Low), bounds.Seconds(s.Crank.High))
		}
	}
	for _, s := range r.Standstills {
		for _, t := range x.c.truth.Standstills {
			if t.Start >= s.End.Low+r.Start || t.End <= s.Start.High+r.Start {
				continue
			}
			if t.Stopped && s.Unexplained {
				say(-1, "a standstill unexplained at which the engine was stopped", "%.3f to %.3f", bounds.Seconds(s.Start.T), bounds.Seconds(s.End.T))
			}
		}
		begins := func(t TrueStandstill) bool { return holds(s.Start, t.Start) }
		ends := func(t TrueStandstill) bool { return holds(s.End, t.End) }
		after := func(g analyze.Gap) bool { return s.Start.T-g.End >= 0 && s.Start.T-g.End < 200*ms }
		if s.Start.T > 1000*ms && !slices.ContainsFunc(r.Gaps, after) && !slices.ContainsFunc(x.c.truth.Standstills, begins) {
			say(-1, "start of a standstill", "%.4f to %.4f", bounds.Seconds(s.Start.Low), bounds.Seconds(s.Start.High))
		}
		if !s.Open && !slices.ContainsFunc(x.c.truth.Standstills, ends) {
			say(-1, "end of a standstill", "%.4f to %.4f", bounds.Seconds(s.End.Low), bounds.Seconds(s.End.High))
		}
	}
	if kind == "gap" || kind == "whole" {
		for _, s := range r.Silences {
			say(-1, "a silence that never was", "%s from %.3f s for %.3f s", s.ID, bounds.Seconds(s.Start), bounds.Seconds(s.Duration))
		}
	}
	if kind == "silence" || kind == "whole" {
		for _, g := range r.Gaps {
			say(-1, "a gap that never was", "%.3f to %.3f", bounds.Seconds(g.Start), bounds.Seconds(g.End))
		}
	}
}

// beside shows what was found of a stop beside what is true.
func (x *trial) beside(r *analyze.Result, stop int) string {
	if stop < 0 {
		return ""
	}
	var t strings.Builder
	at := func(what string, a, b int64) { fmt.Fprintf(&t, " %s %.4f..%.4f", what, float64(a)/1e9, float64(b)/1e9) }
	s := &x.stops[stop]
	fmt.Fprintf(&t, "\n    true: %s", s.outcome)
	at("stop", s.stop.a-r.Start, s.stop.b-r.Start)
	if s.rest != nil {
		at("rest", s.rest.a-r.Start, s.rest.b-r.Start)
	}
	if s.request != nil {
		at(s.request.Name, s.request.At-r.Start, s.request.At-r.Start)
	}
	if s.decision != nil {
		at("decision", s.decision.a-r.Start, s.decision.b-r.Start)
	}
	for _, k := range s.cranks {
		at("crank", k.a-r.Start, k.b-r.Start)
	}
	if s.running != nil {
		at("running", *s.running-r.Start, *s.running-r.Start)
	}
	found, _ := x.match(r)
	e := found[stop]
	fmt.Fprintf(&t, "\n    found: %s", e.Outcome)
	at("stop", e.Stop.Low, e.Stop.High)
	if e.Rest != nil {
		at("rest", e.Rest.Low, e.Rest.High)
	}
	if e.Request != nil {
		at(x.m.Requests[e.Request.Condition].Name, e.Request.Low, e.Request.High)
	}
	if e.Decision != nil {
		at("decision", e.Decision.Low, e.Decision.High)
	}
	for _, k := range e.Cranks {
		at("crank", k.Low, k.High)
	}
	if e.Running != nil {
		at("running", e.Running.Low, e.Running.High)
	}
	return t.String()
}
