package onelog

import (
	"fmt"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// Metric describes one measurement. The table Metrics computes, documents and
// prints each of them; a new metric is one entry there, its key in
// decode.MetricKeys, a test and a line in the documentation.
type Metric struct {
	Key    string
	Unit   string
	Better string // "higher", "lower", or "" where neither is better
	Window string // from, to, or the window it is taken from
	Needs  []decode.Role
	Text   string

	// of measures it. The needed roles are known to have been seen.
	of func(r *recording, w *windows) analyze.MetricValue
	// late metrics wait until the vehicle leaves the standstill.
	late bool
	// start tells that it is given for every starter operation too.
	start bool
}

// windows is what a metric is measured over: an episode, or one starter operation
// outside of any.
type windows struct {
	episode *episode       // nil for a start
	first   *analyze.Event // first crank
	last    *analyze.Event // last crank
	lastOff int64          // when the last crank's starter was seen off; 0 unknown
	from    *analyze.Event // what the windows start from: the first crank, else the decision
	running *bounds.Instant
	end     bounds.Instant // running, else where it was given up
	// What tells these instants was not seen whole. Before: a crank may lie before
	// from, or its instant is wide. After: the same of the last crank and running.
	lostBefore, lostAfter bool
}

// lost tells whether the windows may not be where they seem to be.
func (w *windows) lost() bool { return w.lostBefore || w.lostAfter }

// lose finds out what of the instants was not seen.
func (r *recording) lose(w *windows) *windows {
	if w.from == nil {
		return w
	}
	since, first, until := *w.from, w.from.High, w.from.High
	if w.episode != nil {
		since = *w.episode.decision()
	}
	if w.last != nil {
		until = w.last.High
	} else {
		first = w.end.High // none was seen
	}
	unseen := func(from, to int64) bool {
		if r.has(decode.StarterCommand) {
			return r.starter.Unseen(from, to) > 0
		}
		return r.engineUnseen(from, to) > 0
	}
	w.lostBefore = unseen(since.Low, first) || since.From == decode.StopCommand && w.first == nil && r.stop.Unseen(since.Low, since.High) > 0
	w.lostAfter = unseen(until, w.end.High) || r.engineUnseen(w.end.Low, w.end.High) > 0
	return w
}

// MetricByKey finds a metric.
func MetricByKey(key string) (Metric, bool) {
	for _, m := range Metrics {
		if m.Key == key {
			return m, true
		}
	}
	return Metric{}, false
}

func absent(format string, args ...any) analyze.MetricValue {
	return analyze.MetricValue{Absent: fmt.Sprintf(format, args...)}
}

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

// take measures one metric, or says why not.
func (r *recording) take(m *Metric, w *windows) analyze.MetricValue {
	v := analyze.MetricValue{}
	for _, role := range m.Needs {
		if !r.has(role) {
			v = absent("%s", r.missing(role))
			break
		}
	}
	if v.Absent == "" {
		v = m.of(r, w)
	}
	v.Key, v.Unit = m.Key, m.Unit
	return r.leaveOut(v)
}

// windowsOf is an episode as the metrics see it.
func (e *episode) windows() *windows {
	w := &windows{episode: e, first: e.firstCrank(), from: e.windowStart(), running: e.Running, end: e.windowEnd()}
	if n := len(e.cranks); n > 0 {
		w.last, w.lastOff = &e.cranks[n-1].Event, e.cranks[n-1].off
	}
	return w
}

// windows is a single starter operation as the metrics see it.
func (c *crank) windows() *windows {
	w := &windows{first: &c.Event, last: &c.Event, lastOff: c.off, from: &c.Event, running: c.running}
	if c.running != nil {
		w.end = *c.running
	} else {
		w.end = bounds.At(c.end)
	}
	return w
}

const (
	noCrank    = "no crank was seen"
	noRunning  = "the engine did not run again within this episode"
	noRest     = "the engine did not come to rest"
	noDecision = "no decision to restart was seen"
)

// whyNot says why an episode has no restart.
func (w *windows) whyNot() string {
	if w.episode == nil {
		return "the engine did not run after this start"
	}
	switch w.episode.Outcome {
	case analyze.Aborted:
		return "the stop was called off: the engine ran on"
	case analyze.InGap:
		return "the restart lies in a gap of the recording"
	case analyze.LogEnd:
		return "the log ends before the engine ran again"
	case analyze.NoStart:
		return "the engine did not start"
	case analyze.IgnitionOff:
		return "the ignition was switched off before the engine ran again"
	}
	return noRunning
}

// whyNoStart says why an episode has no crank and no decision.
func (w *windows) whyNoStart() string {
	if w.running != nil {
		return noCrank
	}
	return w.whyNot()
}

// noRequest says why there is no request.
func (r *recording) noRequest(w *windows) string {
	e := w.episode
	switch {
	case len(r.m.Requests) == 0:
		return "the map names no restart_requests"
	case e.decision() == nil:
		return noDecision
	case len(e.unknownAsked) > 0:
		return "no mapped restart request was seen before the decision, and not all could be: " + r.whyUnasked(e)
	}
	return "no mapped restart request became true before the decision"
}
