package onelog

import (
	"fmt"
	"math"

	"lull/analyze/conditions"
	"lull/analyze/series"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// recording is what was recorded so far, as far as it may still be asked for: the
// recent samples of every role, and what the conditions are.
type recording struct {
	m        *decode.Map
	now      int64 // time of the newest frame
	part     int   // of the log: how often time ran back by more than a little
	streams  *streams.Streams
	requests *conditions.Set
	inhibits *conditions.Set

	seen   []bool // of each of the map's signals
	tracks [decode.RoleCount]series.Track
	// watched keeps the signals of the map's conditions and of inhibits.
	watched map[int]*watched

	stop, starter, ignition series.Switched
	engineAway              streams.Pauses // when the engine speed was not seen
	code                    conditions.CodeHistory
}

// watched is a signal that conditions read: its recent samples, and its values since
// the open standstill began.
type watched struct {
	series.Track
	tally *windowTally // nil: no standstill is open
}

func newRecording(m *decode.Map) *recording {
	r := &recording{m: m, streams: streams.New(m), seen: make([]bool, len(m.Signals)), watched: make(map[int]*watched)}
	r.requests = conditions.New(m, m.Requests, r.streams)
	r.inhibits = conditions.New(m, m.Inhibits, r.streams)
	r.stop = r.newSwitch(decode.StopCommand)
	r.starter = r.newSwitch(decode.StarterCommand)
	r.ignition = r.newSwitch(decode.Ignition)
	r.code.Delay, r.code.Streams, r.code.Signal = r.eventDelay(decode.InhibitCode), r.streams, m.Role[decode.InhibitCode]
	for _, signal := range m.Conditions {
		r.watched[signal] = &watched{}
	}
	for i := range m.Inhibits {
		m.Inhibits[i].Expr.Walk(func(e *decode.Expr) {
			if len(e.Children) == 0 {
				r.watched[e.Signal] = &watched{}
			}
		})
	}
	return r
}

// forget starts anew after time ran back: no sample before bounds one after.
func (r *recording) forget(now int64) {
	for i := range r.tracks {
		r.tracks[i].Reset()
	}
	for _, k := range r.watched {
		k.Reset()
	}
	r.stop.Reset()
	r.starter.Reset()
	r.ignition.Reset()
	r.engineAway = streams.Pauses{}
	r.code.Reset()
	r.streams.Reset(now)
	r.requests.Reset(now)
	r.inhibits.Reset(now)
	r.part++
}

// has tells whether a role is mapped and was ever seen.
func (r *recording) has(role decode.Role) bool {
	i := r.m.Role[role]
	return i >= 0 && r.seen[i]
}

// missing says why a role gives nothing.
func (r *recording) missing(role decode.Role) string {
	s := r.m.RoleSignal(role)
	if s == nil {
		return "no signal has the role " + role.String()
	}
	return fmt.Sprintf("%s, which has the role %s, was never seen in this log", s.Name, role)
}

// hole is how long a role's samples may stay away before they are missed.
func (r *recording) hole(role decode.Role) int64 {
	i := r.m.Role[role]
	limit := r.streams.Hole(i)
	if len(r.m.Signals[i].When) > 0 && limit < math.MaxInt64 {
		limit = max(limit, r.streams.Threshold(usualStep(r.tracks[role].All()))) // it is not in every frame
	}
	return limit
}

// unseen is how much of low..high the points of a role do not show: the time
// between two neighbours that is long enough to be missed, and the gaps of the
// recording in any other.
func (r *recording) unseen(role decode.Role, points []series.Point, low, high int64) int64 {
	limit, last, sum := r.hole(role), int64(math.MinInt64), int64(0)
	stretch := func(to int64) {
		from := max(last, low)
		switch clipped := min(to, high); {
		case clipped <= from:
		case last != math.MinInt64 && to-last >= limit || last == math.MinInt64 && clipped-from >= limit:
			sum += clipped - from
		default:
			sum += r.streams.Gaps.Within(from, clipped)
		}
		last = to
	}
	for _, p := range series.Bracket(points, low, high) {
		stretch(p.T)
	}
	if last < high {
		stretch(high)
	}
	return sum
}

// engineUnseen is how much of from..to the engine speed was not seen.
func (r *recording) engineUnseen(from, to int64) int64 {
	return r.engineAway.Unseen(from, to, r.tracks[decode.EngineSpeed].Last.T, r.streams, r.m.Role[decode.EngineSpeed])
}

// inGap tells whether an instant may lie in a gap of the recording.
func (r *recording) inGap(when bounds.Instant) bool {
	return r.streams.Gaps.Between(when.Low, when.High)
}

// staleAfter is from when on a role's signal that is not seen tells nothing any
// more; false means never.
func (r *recording) staleAfter(role decode.Role) (int64, bool) {
	index := r.m.Role[role]
	period, known := r.streams.Period(index)
	if r.m.Entries[r.m.Signals[index].Entry].OnChange && !known {
		return 0, false
	}
	return max(int64(r.m.Settings.StaleAfter), 3*period), true
}

// halfStep is how far the quantity may lie from a sample's value, because the
// signal's field has no finer steps; 0 where no signal has the role.
func (r *recording) halfStep(role decode.Role) float64 {
	s := r.m.RoleSignal(role)
	if s == nil || s.Float {
		return 0
	}
	return abs(s.ToRole.ApplyStep(s.Scale.Step())) / 2
}

// eventDelay is how far an event on the role's signal may lie before the frame
// that shows it, negative where the frame is cyclic.
func (r *recording) eventDelay(role decode.Role) int64 {
	s := r.m.RoleSignal(role)
	if s == nil || !r.m.Entries[s.Entry].OnChange {
		return -1
	}
	return int64(r.m.Settings.EventDelay)
}

// newSwitch follows a switch role's signal.
func (r *recording) newSwitch(role decode.Role) series.Switched {
	s := series.Switched{Delay: r.eventDelay(role), Streams: r.streams, Signal: r.m.Role[role]}
	s.Events = s.Delay >= 0 && r.m.Entries[r.m.RoleSignal(role).Entry].Period == 0
	return s
}
