package measure

import (
	"slices"

	"lull/analyze"
	"lull/analyze/feed"
	"lull/analyze/segment"
	"lull/decode"
	"lull/pkg/bounds"
)

// Metric describes one measurement. The table Metrics computes, documents and
// prints each of them; a new metric is one entry there, its key in
// decode.MetricKeys and a test; its line in the documentation is written from it.
type Metric struct {
	Key    string        // one of decode.MetricKeys
	Name   string        // as people call it; empty if the key's words do
	Unit   string        // of its values
	Better string        // "higher", "lower", or "" where neither is better
	Window string        // from, to, or the window it is taken from
	Needs  []decode.Role // without these it has no value
	Text   string        // what it is, in words

	// What must be kept for it, and until when it waits, follows from these. Before is how
	// far before the stop onset, or the crank, its samples may be asked for, and After how
	// long after running, in ns.
	Before, After int64
	// RunDown are the roles of which it asks for samples between stop onset and rest, and
	// InRest those of which it asks for the lowest or highest from rest to running: the
	// rest may be longer than all samples can be kept for.
	RunDown, InRest []decode.Role
	// Late metrics wait until the vehicle leaves the standstill.
	Late bool
	// Start tells that it is given for every starter operation too.
	Start bool

	// Broken is the code of the finding where its limit is broken, if it has one of its
	// own. Broken limits of one Family are one finding: one of them holds the other in it,
	// or they show one and the same thing. HoldsTries tells that it holds every try to start
	// in it.
	Broken     string
	Family     Family
	HoldsTries bool
	// Ends are the instants that a duration lies between.
	Ends [2]End
	// Bounds is what its low and high follow from.
	Bounds Bounding

	// of measures it. The needed roles are known to have been seen.
	of func(r *Measurer, w *windows) analyze.MetricValue
}

// Family gathers metrics that show one and the same thing.
type Family string

const (
	Wait   Family = "wait"   // the time that the driver waits
	Supply Family = "supply" // the supply while the starter turns
)

// Bounding is what the bounds of a metric follow from.
type Bounding string

const (
	OfMoments    Bounding = "moments"    // the earliest and the latest that its two ends can be
	OfSamples    Bounding = "samples"    // none, but how far its samples lie apart
	OfCurve      Bounding = "curve"      // how far the engine speed may reach around a moment
	OfLine       Bounding = "line"       // samples that are surely below, and those that may be
	OfFit        Bounding = "fit"        // the standard error of a fit
	OfMultiplied Bounding = "multiplied" // those of engine_off
)

// End is an instant at which a duration begins or ends.
type End string

const (
	AtStop      End = "stop"
	AtRest      End = "rest"
	AtRequest   End = "request"
	AtCrank     End = "crank" // the first
	AtLastCrank End = "last crank"
	AtRunning   End = "running"
	AtLeaving   End = "leaving" // of the standstill
)

// Keeps returns what must be kept of a log for the metrics.
func Keeps() segment.Keep {
	var k segment.Keep
	add := func(to *[]decode.Role, roles []decode.Role) {
		for _, role := range roles {
			if !slices.Contains(*to, role) {
				*to = append(*to, role)
			}
		}
	}
	for i := range Metrics {
		k.LookBack = max(k.LookBack, Metrics[i].Before)
		add(&k.RunDown, Metrics[i].RunDown)
		add(&k.InRest, Metrics[i].InRest)
	}
	return k
}

// After returns the longest look ahead, in ns, of those metrics that do not wait for the
// vehicle to leave.
func After() int64 {
	var longest int64
	for i := range Metrics {
		if !Metrics[i].Late {
			longest = max(longest, Metrics[i].After)
		}
	}
	return longest
}

// Awaits reports whether a metric that does not wait for the vehicle to leave still lacks
// samples after an engine that came to run at the moment running.
func (r *Measurer) Awaits(running int64) bool {
	for i := range Metrics {
		m := &Metrics[i]
		if m.After == 0 { // so are those that wait for the vehicle to leave
			continue
		}
		for _, role := range m.Needs {
			if k := &r.Tracks[role]; k.Seen && k.Last.T < running+m.After {
				return true
			}
		}
	}
	return false
}

// AfterEnd is the look ahead, in ns, where the engine did not come to run.
const AfterEnd = bounds.Second / 2

// Measurer measures episodes and starts by what was recorded.
type Measurer struct{ *feed.Recording }

// windows is what a metric is measured over: an episode, or one starter operation
// outside of any.
type windows struct {
	episode *segment.Episode // nil for a start
	first   *analyze.Event   // first crank
	last    *analyze.Event   // last crank
	lastOff int64            // when the last crank's starter was seen off; 0 unknown
	from    *analyze.Event   // what the windows start from: the first crank, else the decision
	running *bounds.Instant
	end     bounds.Instant // running, else where it was given up
	// What tells these instants was not seen whole. Before: a crank may lie before
	// from, or its instant is wide. After: the same of the last crank and running.
	lostBefore, lostAfter bool
	// away is how long the starter was not seen where no crank and no decision was.
	away int64
}

// lost reports whether the windows may not be where they seem to be.
func (w *windows) lost() bool { return w.lostBefore || w.lostAfter }

// Lose notes in w what of its instants was not seen, and returns it.
func (r *Measurer) Lose(w *windows) *windows {
	if w.from == nil {
		if w.episode != nil {
			w.away = r.Starter.Unseen(w.episode.Stop.Low, w.end.High)
		}
		return w
	}
	since, first, until := *w.from, w.from.High, w.from.High
	if w.episode != nil {
		since = *w.episode.WhenDecided()
	}
	if w.last != nil {
		until = w.last.High
	} else {
		first = w.end.High // none was seen
	}
	unseen := func(from, to int64) bool {
		if r.Has(decode.StarterCommand) {
			return r.Starter.Unseen(from, to) > 0
		}
		return r.EngineUnseen(from, to) > 0
	}
	w.lostBefore = unseen(since.Low, first) || since.From == decode.StopCommand && w.first == nil && r.Stop.Unseen(since.Low, since.High) > 0
	w.lostAfter = unseen(until, w.end.High) || r.EngineUnseen(w.end.Low, w.end.High) > 0
	return w
}

// MetricByKey returns the metric with the key, and whether there is one.
func MetricByKey(key string) (Metric, bool) {
	for _, m := range Metrics {
		if m.Key == key {
			return m, true
		}
	}
	return Metric{}, false
}

// Absent returns the value of a metric that has none, with the reason.
func Absent(why analyze.Reason) analyze.MetricValue { return analyze.MetricValue{Absent: why} }

func measured(v bounds.Value) analyze.MetricValue { return analyze.MetricValue{Value: v} }

// sampled is a median or extreme with the longest time between its samples.
func sampled(v float64, sampling int64) analyze.MetricValue {
	return analyze.MetricValue{Value: bounds.Exactly(v), Sampling: bounds.Seconds(sampling), HasSampling: true}
}

// fitted is a figure of a least-squares fit.
func fitted(v, standardError float64) analyze.MetricValue {
	return analyze.MetricValue{
		Value:         bounds.Value{Low: v - standardError, Best: v, High: v + standardError},
		StandardError: standardError, HasStandardError: true,
	}
}

// hasAll reports whether all of the roles were seen.
func (r *Measurer) hasAll(roles []decode.Role) bool {
	return !slices.ContainsFunc(roles, func(role decode.Role) bool { return !r.Has(role) })
}

// Take returns the value of one metric over w, or why there is none.
func (r *Measurer) Take(m *Metric, w *windows) analyze.MetricValue {
	v := analyze.MetricValue{}
	for _, role := range m.Needs {
		if !r.Has(role) {
			v = Absent(r.Missing(role))
			break
		}
	}
	if v.Absent == nil {
		v = m.of(r, w)
	}
	v.Key, v.Unit = m.Key, m.Unit
	if v.Absent != nil && v.Unseen == 0 && w.from == nil && m.Start && r.hasAll(m.Needs) {
		v.Unseen = bounds.Seconds(w.away) // as the crank was not seen
	}
	return r.leaveOut(v)
}

// WindowsOf returns an episode as the metrics see it.
func WindowsOf(e *segment.Episode) *windows {
	w := &windows{episode: e, first: e.FirstCrank(), from: e.WindowStart(), running: e.Running, end: e.WindowEnd()}
	if n := len(e.Operations); n > 0 {
		w.last, w.lastOff = &e.Operations[n-1].Event, e.Operations[n-1].Off
	}
	return w
}

// WindowsOfStart returns a single starter operation as the metrics see it.
func WindowsOfStart(c *segment.Crank) *windows {
	w := &windows{first: &c.Event, last: &c.Event, lastOff: c.Off, from: &c.Event, running: c.Running}
	if c.Running != nil {
		w.end = *c.Running
	} else {
		w.end = bounds.At(c.End)
	}
	return w
}

// whyNot returns the reason why an episode, or a start, has no restart.
func (w *windows) whyNot() analyze.Reason {
	if w.episode == nil {
		return analyze.NoRunning
	}
	return w.episode.Outcome
}

// whyNoStart returns the reason why an episode has no crank and no decision.
func (w *windows) whyNoStart() analyze.Reason {
	if w.running != nil {
		return analyze.NoCrank
	}
	return w.whyNot()
}

// noRequest returns the reason why there is no request.
func (r *Measurer) noRequest(w *windows) analyze.Reason {
	e := w.episode
	switch {
	case len(r.M.Requests) == 0:
		return analyze.NoRequestsMapped
	case e.WhenDecided() == nil:
		return analyze.NoDecision
	case len(e.UnknownAsked) > 0:
		return analyze.UnseenRequests{Why: WhyUnasked(r.Recording, e)}
	}
	return analyze.NoRequest
}

// WhyUnasked returns why requests that may have asked for a restart were not seen.
func WhyUnasked(r *feed.Recording, e *segment.Episode) analyze.NotSeen {
	if gap := r.Streams.Gaps.Within(e.Stop.Low, e.WindowEnd().High); gap > 0 {
		return analyze.NotSeen{Gap: gap}
	}
	var unknown []*decode.Condition
	for _, i := range e.UnknownAsked {
		unknown = append(unknown, &r.M.Requests[i])
	}
	return r.WhyUnknown(unknown...)
}
