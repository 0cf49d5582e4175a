package onelog

import (
	"cmp"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/findings"
	"lull/analyze/measure"
	"lull/analyze/segment"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
)

// settlePatience is how much longer slow frames are waited for.
const settlePatience = 10 * bounds.Second

// settle measures what has all its samples, and hands out what is complete, in
// order. force does so whatever is still missing.
func (r *Run) settle(force bool) {
	for _, e := range r.Pending {
		if !e.Settled && (force || r.ready(e)) {
			r.measure(e)
		}
		if e.Settled && !e.Done && (force || !r.TakeOffWaits(e)) {
			r.measureTakeOff(e)
		}
	}
	for len(r.Pending) > 0 && r.Pending[0].Done {
		e := r.Pending[0]
		r.Pending = r.Pending[1:]
		e.N = len(r.Done) + 1
		r.Done = append(r.Done, e)
		e.RunDown, e.Rested, e.Departures = nil, nil, nil
	}
	r.settleCranks(force)
	r.FinishStandstills(force)
}

// ready reports whether all samples that the first measurements need are in.
func (r *Run) ready(e *segment.Episode) bool {
	if e.Running == nil {
		return r.Now >= e.End+measure.AfterEnd
	}
	until := e.Running.High + measure.After()
	if r.Now < until {
		return false
	}
	if r.Now > until+settlePatience {
		return true
	}
	for _, s := range []*series.Switched{&r.Stop, &r.Starter} {
		if s.Seen && s.Last < e.Running.High {
			return false
		}
	}
	return !r.Awaits(e.Running.High)
}

// measure resolves what asked for the restart and what came of it, and takes all
// measurements but those of the take-off.
func (r *Run) measure(e *segment.Episode) {
	e.Settled = true
	e.FallHidden = e.StopFall == nil && len(e.Operations) > 0 && r.Stop.Unseen(e.Stop.Low, e.Operations[0].High) > 0
	e.FindRequest(r.RequestLog, r.Window)
	r.FindUnknown(e)
	e.Judge(r.Has(decode.StopCommand) && !r.StopUnseen(e))
	e.Decision = e.WhenDecided()
	e.Cranks = make([]analyze.Event, 0, len(e.Operations))
	for i, c := range e.Operations {
		c.Kind = analyze.RestartStart
		if i > 0 {
			c.Kind = analyze.RetryStart
		}
		e.Cranks = append(e.Cranks, c.Event)
	}
	w := r.Lose(measure.WindowsOf(e))
	e.Metrics = make([]analyze.MetricValue, len(measure.Metrics))
	for i := range measure.Metrics {
		if !measure.Metrics[i].Late {
			e.Metrics[i] = measure.Sound(r.Take(&measure.Metrics[i], w))
		}
	}
	if from, restarted := e.RestartFrom(r.Patience); len(e.Operations) == 0 && e.Running != nil && restarted && r.Has(decode.StarterCommand) {
		if away := r.Starter.Unseen(from, e.Running.High); away > 0 {
			e.Notes = append(e.Notes, analyze.CommandUnseen{Role: decode.StarterCommand, Length: away})
		}
	}
	if e.GapInside && e.Outcome != analyze.InGap {
		e.Notes = append(e.Notes, analyze.GapInside{})
	}
	for _, c := range e.Operations {
		r.measureCrank(c)
	}
}

// measureTakeOff takes the measurements that wait for the vehicle to leave, and
// judges the limits.
func (r *Run) measureTakeOff(e *segment.Episode) {
	e.Done = true
	r.SeekDeparture(e)
	w := measure.WindowsOf(e)
	for i := range measure.Metrics {
		if measure.Metrics[i].Late {
			e.Metrics[i] = measure.Sound(r.Take(&measure.Metrics[i], w))
		}
	}
	e.Limits = r.Limits(&e.Episode)
}

// settleCranks measures starter operations that belong to no episode.
func (r *Run) settleCranks(force bool) {
	for _, c := range r.Cranks {
		if c.Episode != nil {
			continue
		}
		switch {
		case c.Running != nil && (force || r.Now >= c.Running.High+measure.After()):
			r.measureCrank(c)
		case c.Running == nil && c.End != 0 && (force || r.Now >= c.End+measure.AfterEnd):
			r.measureCrank(c)
		case c.Running == nil && c.End == 0 && (force || r.Now > c.T+r.Patience && r.Engine.Rise == nil):
			c.End = min(c.T+r.Patience, r.Now)
			r.measureCrank(c)
		}
	}
	r.Cranks = slices.DeleteFunc(r.Cranks, func(c *segment.Crank) bool {
		if c.Settled {
			r.Finished = append(r.Finished, c)
		}
		return c.Settled
	})
}

func (r *Run) measureCrank(c *segment.Crank) {
	c.Settled = true
	w := r.Lose(measure.WindowsOfStart(c))
	for i := range measure.Metrics {
		if measure.Metrics[i].Start {
			c.Metrics = append(c.Metrics, measure.Sound(r.Take(&measure.Metrics[i], w)))
		}
	}
}

// Finish ends the log and gives the result. info is what the reader counted; the
// Run must not be used afterwards.
func (r *Run) Finish(info decode.Info) *analyze.Result {
	r.flush()
	r.Recording.Finish()

	out := &r.result
	out.Info = info
	out.Frames = r.Frames
	out.Start, out.Span = r.Zero, r.Latest
	out.HasTime = r.Frames > 0 && info.Stamps != decode.StampsNone
	for _, e := range r.Done {
		out.Episodes = append(out.Episodes, e.Episode)
	}
	r.numberStandstills()
	r.findMoving()
	out.Starts = r.starts()
	r.AssignSilences()
	out.Starter = r.account(out.Starts)
	r.summarize()
	out.Info.Remarks = append(slices.Clone(info.Remarks), r.remarks()...)
	out.IdleSpeed = r.IdleSpeed()
	out.Trust = r.Finder.Trust()
	out.Findings = r.Finder.All()
	if !out.Usable() {
		findings.Withdraw(out)
	}
	result := *out // by itself, since a part of the Run would keep all of it
	return &result
}

// numberStandstills numbers what was handed out, and names the episode in each.
func (r *Run) numberStandstills() {
	for i := range r.result.Standstills {
		s := &r.result.Standstills[i]
		s.N = i + 1
		if e := r.StoppedBy[i]; e != nil {
			s.Episode = r.numberOf(e)
		}
	}
}

// findMoving marks the episodes in which the vehicle never stood.
func (r *Run) findMoving() {
	if !r.Has(decode.VehicleSpeed) {
		return
	}
	for i, e := range r.Done {
		end := e.WindowEnd().High
		stood := slices.ContainsFunc(r.result.Standstills, func(s analyze.Standstill) bool { return s.Start.Low <= end && s.End.High >= e.Stop.Low })
		r.result.Episodes[i].Moving = e.Rest != nil && !stood
	}
}

// numberOf is an episode's number, also of one that still waits for its take-off;
// 0 if it is not known yet.
func (r *Run) numberOf(e *segment.Episode) int {
	if e.N > 0 {
		return e.N
	}
	if i := slices.Index(r.Pending, e); i >= 0 {
		return len(r.Done) + 1 + i
	}
	return 0
}

// starts lists all starter operations, and r.Finished, in the log's order.
func (r *Run) starts() []analyze.Start {
	list := r.Finished
	slices.SortStableFunc(list, func(a, b *segment.Crank) int {
		return cmp.Or(cmp.Compare(a.Part, b.Part), cmp.Compare(a.T, b.T))
	})
	starts := make([]analyze.Start, 0, len(list))
	for i, c := range list {
		s := analyze.Start{N: i + 1, Part: c.Part, Kind: c.Kind, Crank: c.Event, Running: c.Running, Metrics: c.Metrics}
		if c.Episode != nil {
			s.Episode = c.Episode.N
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
			if v.Absent != nil {
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
	out.EngineHours, out.Distance = r.sum(&r.sums.engineHours, decode.EngineSpeed), r.sum(&r.sums.distance, decode.VehicleSpeed)
}

// remarks are what the analysis itself has to say about the log.
func (r *Run) remarks() []decode.Remark {
	list := r.Remarks()
	var unseen []string
	for i := range r.M.Signals {
		if !r.Seen[i] && r.wanted(i) {
			unseen = append(unseen, r.M.Signals[i].Name)
		}
	}
	if r.Frames > 0 && len(unseen) > 0 {
		list = append(list, decode.Remark{
			Code: decode.RemarkSignalNotSeen, Count: int64(len(unseen)),
			Text: "in your map but not in this log: " + strings.Join(unseen, ", ") + " (ignored)",
		})
	}
	return list
}
