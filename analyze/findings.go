package analyze

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/units"
)

// aroundStart is how far before the crank onset and after running a silence
// counts as one that the start made.
const (
	silenceBefore = 100 * millisecond
	silenceAfter  = 2 * second
)

// assignSilences finds the episode that each silence overlaps.
func (r *Run) assignSilences() {
	for i := range r.result.Silences {
		s := &r.result.Silences[i]
		end := r.silenceEnd(s)
		for _, e := range r.done {
			from := e.windowStart()
			if from == nil || e.part != r.silentIn[i] {
				continue
			}
			until := e.windowEnd().High
			if e.Running != nil {
				until += silenceAfter
			}
			if s.Start <= until && end >= from.Low-silenceBefore {
				s.Episode = e.N
				break
			}
		}
	}
}

// silenceEnd is when a silence ended: its duration leaves the gaps in it out.
func (r *Run) silenceEnd(s *Silence) int64 {
	end := s.Start + s.Duration
	for _, g := range r.result.Gaps {
		if g.Start >= s.Start && g.Start < end {
			end += g.End - g.Start
		}
	}
	return end
}

// remarks are what the analysis itself has to say about the log.
func (r *Run) remarks() []decode.Remark {
	var list []decode.Remark
	if r.backward.Count > 0 {
		r.backward.Text = decode.Counted(r.backward.Count, "time stamp lies", "time stamps lie") + " before the one of the line before"
		list = append(list, r.dated(r.backward))
	}
	if r.jumps.Count > 0 {
		r.jumps.Text = "time jumps at " + decode.Counted(r.jumps.Count, "place", "places") + ": back by more than 100 ms, or ahead over a gap without any frame"
		list = append(list, r.dated(r.jumps))
	}
	if count, line, time := r.decoder.Incomplete(); count > 0 {
		list = append(list, decode.Remark{
			Code: decode.RemarkMessageIncomplete, Count: count, Line: line, Time: time, HasTime: true,
			Text: decode.Counted(count, "answer of several frames was", "answers of several frames were") +
				" left out: frames are missing, doubled or out of order",
			Places: r.decoder.IncompletePlaces(),
		})
	}
	var unseen []string
	for i := range r.m.Signals {
		if !r.uses[i].seen && r.wanted(i) {
			unseen = append(unseen, r.m.Signals[i].Name)
		}
	}
	if r.started && len(unseen) > 0 {
		list = append(list, decode.Remark{
			Code: decode.RemarkSignalNotSeen, Count: int64(len(unseen)),
			Text: "mapped but never seen in this log, so treated as not mapped: " + strings.Join(unseen, ", "),
		})
	}
	return list
}

// dated gives a remark the time that its frame has in the log, as remarks of
// readers have.
func (r *Run) dated(m decode.Remark) decode.Remark {
	m.Time += r.zero
	return m
}

// findings gathers what the reader should look at, in the order of the drive.
func (r *Run) findings() []Finding {
	var list []Finding
	add := func(code string, severity Severity, evidence []string, format string, args ...any) {
		list = append(list, Finding{Code: code, Severity: severity, Text: fmt.Sprintf(format, args...), Evidence: evidence})
	}
	for _, e := range r.done {
		r.episodeFindings(e, add)
	}
	r.startFindings(add)
	r.silenceFindings(add)
	r.standstillFindings(add)
	r.logFindings(add)
	return list
}

// adder takes a finding; evidence names episodes, standstills or starts and is
// never nil.
type adder func(code string, severity Severity, evidence []string, format string, args ...any)

func evidence(kind string, n int) (name string, list []string) {
	name = kind + " " + strconv.Itoa(n)
	return name, []string{name}
}

func (r *Run) episodeFindings(e *episode, add adder) {
	where, list := evidence("episode", e.N)
	for _, l := range e.Limits {
		v := e.metric(l.Limit.Metric)
		limit := limitText(l.Limit, v.Unit)
		switch {
		case l.Verdict == Outside && l.Limit.Metric == "hold_pressure_min":
			add("pressure_lost", Attention, list, "%s: the hydraulic pressure fell to %s while the engine rested, limit %s", where, valueText(v), limit)
		case l.Verdict == Outside:
			add("limit_broken", Attention, list, "%s: %s is %s, limit %s", where, v.Key, valueText(v), limit)
		case l.Verdict == Borderline:
			add("limit_borderline", Note, list, "%s: %s is %s; the bus does not tell on which side of the limit %s it lies", where, v.Key, valueText(v), limit)
		}
	}
	switch {
	case e.Outcome == NoStart:
		add("failed_start", Attention, list, "%s: the engine did not start%s", where, tries(len(e.cranks)))
	case len(e.cranks) > 1 && e.Running != nil:
		add("failed_start", Attention, list, "%s: the engine started only at try %d", where, len(e.cranks))
	case len(e.cranks) > 1:
		add("failed_start", Attention, list, "%s: the engine had to be cranked again, and %s", where, e.windows().whyNot())
	}
	if e.Outcome == Stalled {
		add("stalled", Attention, list, "%s: the engine stalled: it came to rest without a stop command", where)
	}
	if e.Request == nil && e.Running != nil && len(r.m.Requests) > 0 && e.Outcome != Stalled {
		add("no_restart_request", Note, list, "%s: no mapped request explains this restart", where)
		for _, i := range e.unknownAsked {
			c := &r.m.Requests[i]
			add("cannot_tell", Note, list, "%s: cannot tell whether %q asked for the restart: %s", where, c.Name, r.whyUnknown(c))
		}
	}
}

func tries(n int) string {
	switch n {
	case 0:
		return ": the starter was never seen to engage"
	case 1:
		return " after one try"
	}
	return fmt.Sprintf(" after %d tries", n)
}

// metric gives one of an episode's values by its key.
func (e *Episode) metric(key string) MetricValue {
	for _, v := range e.Metrics {
		if v.Key == key {
			return v
		}
	}
	return MetricValue{}
}

// startFindings tells of retries of a key start.
func (r *Run) startFindings(add adder) {
	for _, s := range r.result.Starts {
		if s.Kind == RetryStart && s.Episode == 0 {
			_, list := evidence("start", s.N)
			add("failed_start", Attention, list, "start %d at %.1f s: the engine had to be cranked again", s.N, bounds.Seconds(s.Crank.T))
		}
	}
}

func (r *Run) silenceFindings(add adder) {
	for _, s := range r.result.Silences {
		if s.Episode == 0 {
			continue
		}
		name := s.ID
		if s.Module != "" {
			name = s.Module + " (" + s.ID + ")"
		}
		dip := ""
		if v := r.done[s.Episode-1].metric("voltage_min"); v.Absent == "" && v.Key != "" {
			dip = ", while the battery voltage fell to " + valueText(v)
		}
		where, list := evidence("episode", s.Episode)
		add("module_silent", Attention, list, "%s: %s on %s was silent for %.2f s from %.2f s on%s",
			where, name, s.Bus, bounds.Seconds(s.Duration), bounds.Seconds(s.Start), dip)
	}
}

func (r *Run) standstillFindings(add adder) {
	for _, s := range r.result.Standstills {
		where, list := evidence("standstill", s.N)
		if s.Unexplained {
			reason := "no mapped inhibit explains it"
			if len(r.m.Inhibits) == 0 && r.m.Role[decode.InhibitCode] < 0 {
				reason = "the map names no inhibits"
			}
			add("unexplained_standstill", Attention, list, "%s (%.1f s from %.1f s on): the engine was not stopped, and %s",
				where, bounds.Seconds(s.End.T-s.Start.T), bounds.Seconds(s.Start.T), reason)
		}
		for _, name := range s.CannotTell {
			why := "it was not seen"
			for i := range r.m.Inhibits {
				if r.m.Inhibits[i].Name == name {
					why = r.whyUnknown(&r.m.Inhibits[i])
				}
			}
			add("cannot_tell", Note, list, "%s: cannot tell whether %q kept the engine running: %s", where, name, why)
		}
	}
}

// whyUnknown names the signals of a condition that were never seen, or else
// those that it reads.
func (r *Run) whyUnknown(c *decode.Condition) string {
	var never, all []string
	c.Expr.Walk(func(e *decode.Expr) {
		if len(e.Children) > 0 {
			return
		}
		name := r.m.Signals[e.Signal].Name
		if !slices.Contains(all, name) {
			all = append(all, name)
			if !r.uses[e.Signal].seen {
				never = append(never, name)
			}
		}
	})
	if len(never) > 0 {
		return strings.Join(never, ", ") + were(len(never)) + "never seen"
	}
	return strings.Join(all, ", ") + were(len(all)) + "not seen for too long"
}

func were(n int) string {
	if n == 1 {
		return " was "
	}
	return " were "
}

func (r *Run) logFindings(add adder) {
	out := &r.result
	if s := out.Starter; s.Absent == "" {
		for _, reset := range r.counter.resets {
			add("counter_reset", Note, []string{}, "the starter-operation counter fell from %v to %v at %.1f s: starter or module was replaced or reset",
				reset.from, reset.to, bounds.Seconds(reset.time))
		}
		if !s.Agrees && len(r.counter.resets) == 0 {
			add("counter_disagrees", Attention, []string{}, "the starter-operation counter stepped by %v from %v to %v, but %d operations were seen in all",
				s.Step, s.First, s.Last, s.Key+s.Restart+s.Retry)
		}
	}
	if period, known := r.voltagePeriod(); known && period > 21*millisecond {
		var dipped []string
		for _, e := range r.done {
			if v := e.metric("voltage_min"); v.Key != "" && v.Absent == "" {
				dipped = append(dipped, "episode "+strconv.Itoa(e.N))
			}
		}
		if len(dipped) == 0 {
			dipped = dippedStarts(out.Starts)
		}
		if len(dipped) > 0 {
			add("dip_undersampled", Note, dipped, "the battery voltage comes only every %.0f ms: the true minimum may be lower than voltage_min says", bounds.Seconds(period)*1000)
		}
	}
	if out.Info.Rejected > 0 {
		add("log_damaged", Note, []string{}, "%s of the log could not be read and %s left out", decode.Counted(out.Info.Rejected, "line", "lines"), wasWere(out.Info.Rejected))
	}
	for i := range out.Info.Remarks {
		if m := &out.Info.Remarks[i]; m.Code == decode.RemarkPackedDamaged {
			add("log_damaged", Note, []string{}, "%s", m.Text)
		}
	}
	for i, g := range out.Gaps {
		if i == decode.MaxPlaces {
			add("gap", Note, []string{}, "%d further gaps", len(out.Gaps)-i)
			break
		}
		add("gap", Note, []string{}, "the recording has a gap of %.2f s at %.2f s", bounds.Seconds(g.End-g.Start), bounds.Seconds(g.Start))
	}
}

// dippedStarts names the starts that have a lowest voltage.
func dippedStarts(starts []Start) []string {
	var names []string
	for _, s := range starts {
		for _, v := range s.Metrics {
			if v.Key == "voltage_min" && v.Absent == "" {
				names = append(names, "start "+strconv.Itoa(s.N))
			}
		}
	}
	return names
}

// voltagePeriod is the period of the battery voltage's frame, as learned.
func (r *Run) voltagePeriod() (int64, bool) {
	if !r.has(decode.BatteryVoltage) {
		return 0, false
	}
	return r.streams.period(r.m.Role[decode.BatteryVoltage])
}

func wasWere(n int64) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

func limitText(l decode.Limit, unit string) string {
	switch {
	case l.HasMin && l.HasMax:
		return fmt.Sprintf("%v to %v %s", l.Min, l.Max, unit)
	case l.HasMin:
		return fmt.Sprintf("at least %v %s", l.Min, unit)
	}
	return fmt.Sprintf("at most %v %s", l.Max, unit)
}

// valueText writes a value with the digits that its bounds justify, its unit, and
// the bounds where they differ.
func valueText(v MetricValue) string {
	text := units.Round(v.Best, v.Low, v.High)
	if v.Low != v.High {
		return fmt.Sprintf("%s %s (%s to %s)", text, v.Unit, units.Round(v.Low, v.Low, v.High), units.Round(v.High, v.Low, v.High))
	}
	return text + " " + v.Unit
}
