package feed

import (
	"math"
	"slices"

	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/series"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// Recording is a Feed and what it told so far, as far as it may still be asked for: the
// recent samples of every role, and what the conditions are. Whoever pushes the frames
// adds the samples to it.
type Recording struct {
	Feed

	Seen   []bool                         // of each of the map's signals
	Tracks [decode.RoleCount]series.Track // in the role's unit
	// Watched keeps the signals of the map's conditions and of inhibits.
	Watched map[int]*Watched

	Stop, Starter, Ignition series.Switched
	EngineAway              streams.Pauses // when the engine speed was not seen
	Code                    conditions.CodeHistory
}

// Watched is a signal that conditions read: its recent samples, and its values since
// the open standstill began.
type Watched struct {
	series.Track
	Tally *WindowTally // nil: no standstill is open
}

// NewRecording returns the Recording of a log that has told nothing yet, to be read by
// m, which may be shared.
func NewRecording(m *decode.Map, to Listener) *Recording {
	r := &Recording{Seen: make([]bool, len(m.Signals)), Watched: make(map[int]*Watched)}
	r.Feed = *New(m, m.Requests, m.Inhibits, to)
	r.Stop = r.newSwitch(decode.StopCommand)
	r.Starter = r.newSwitch(decode.StarterCommand)
	r.Ignition = r.newSwitch(decode.Ignition)
	r.Code.Delay, r.Code.Streams, r.Code.Signal = r.EventDelay(decode.InhibitCode), r.Streams, m.Role[decode.InhibitCode]
	for _, signal := range m.Circumstances {
		r.Watched[signal] = &Watched{}
	}
	for i := range m.Inhibits {
		m.Inhibits[i].Expr.Walk(func(e *decode.Expr) {
			if len(e.Children) == 0 {
				r.Watched[e.Signal] = &Watched{}
			}
		})
	}
	return r
}

// Forget starts again after time ran back: no sample before bounds one after.
func (r *Recording) Forget() {
	for i := range r.Tracks {
		r.Tracks[i].Reset()
	}
	for _, k := range r.Watched {
		k.Reset()
	}
	r.Stop.Reset()
	r.Starter.Reset()
	r.Ignition.Reset()
	r.EngineAway = streams.Pauses{}
	r.Code.Reset()
}

// Has reports whether a role is mapped and was ever seen.
func (r *Recording) Has(role decode.Role) bool {
	i := r.M.Role[role]
	return i >= 0 && r.Seen[i]
}

// Missing returns the reason why a role that Has denies gives nothing.
func (r *Recording) Missing(role decode.Role) analyze.Reason {
	s := r.M.RoleSignal(role)
	if s == nil {
		return analyze.NoSignal{Role: role}
	}
	return analyze.NeverSeen{Signal: s.Name, Role: role}
}

// Hole returns how long a role's samples may stay away before they are missed,
// in ns. The role must be mapped.
func (r *Recording) Hole(role decode.Role) int64 {
	i := r.M.Role[role]
	limit := r.Streams.Hole(i)
	if len(r.M.Signals[i].When) > 0 && limit < math.MaxInt64 {
		limit = max(limit, r.Streams.Threshold(series.UsualStep(r.Tracks[role].All()))) // it is not in every frame
	}
	return limit
}

// Unseen returns how much of low..high, in ns, the points of a role do not show: the time
// between two neighbours that is long enough to be missed, and the gaps of the
// recording in any other.
func (r *Recording) Unseen(role decode.Role, points []series.Point, low, high int64) int64 {
	limit, last, sum := r.Hole(role), int64(math.MinInt64), int64(0)
	stretch := func(to int64) {
		from := max(last, low)
		switch clipped := min(to, high); {
		case clipped <= from:
		case last != math.MinInt64 && to-last >= limit || last == math.MinInt64 && clipped-from >= limit:
			sum += clipped - from
		default:
			sum += r.Streams.Gaps.Within(from, clipped)
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

// EngineUnseen returns how much of from..to, in ns, the engine speed was not seen.
func (r *Recording) EngineUnseen(from, to int64) int64 {
	return r.EngineAway.Unseen(from, to, r.Tracks[decode.EngineSpeed].Last.T, r.Streams, r.M.Role[decode.EngineSpeed])
}

// InGap reports whether an instant may lie in a gap of the recording.
func (r *Recording) InGap(when bounds.Instant) bool {
	return r.Streams.Gaps.Between(when.Low, when.High)
}

// StaleAfter returns how long, in ns, a role's signal may stay away and still tell
// something: math.MaxInt64 where it may for ever.
func (r *Recording) StaleAfter(role decode.Role) int64 {
	index := r.M.Role[role]
	period, known := r.Streams.Period(index)
	if r.M.Entries[r.M.Signals[index].Entry].OnChange && !known {
		return math.MaxInt64
	}
	return max(int64(r.M.Settings.StaleAfter), 3*period)
}

// HalfStep returns how far, in the role's unit, the quantity may lie from a sample's
// value, because the signal's field has no finer steps; 0 if no signal has the
// role.
func (r *Recording) HalfStep(role decode.Role) float64 {
	s := r.M.RoleSignal(role)
	if s == nil || s.Float {
		return 0
	}
	return math.Abs(s.ToRole.ApplyStep(s.Scale.Step())) / 2
}

// EventDelay returns how far, in ns, an event on the role's signal may lie before the frame
// that shows it, negative where the frame is cyclic.
func (r *Recording) EventDelay(role decode.Role) int64 {
	s := r.M.RoleSignal(role)
	if s == nil || !r.M.Entries[s.Entry].OnChange {
		return -1
	}
	return int64(r.M.Settings.EventDelay)
}

// newSwitch follows a switch role's signal.
func (r *Recording) newSwitch(role decode.Role) series.Switched {
	s := series.Switched{Delay: r.EventDelay(role), Streams: r.Streams, Signal: r.M.Role[role]}
	s.Events = s.Delay >= 0 && r.M.Entries[r.M.RoleSignal(role).Entry].Period == 0
	return s
}

// WhyUnknown returns the signals of conditions that were never seen, or else those
// that they read.
func (r *Recording) WhyUnknown(list ...*decode.Condition) analyze.NotSeen {
	var never, all []string
	for _, c := range list {
		for _, signal := range c.Expr.Signals() {
			name := r.M.Signals[signal].Name
			if !slices.Contains(all, name) {
				all = append(all, name)
				if !r.Seen[signal] {
					never = append(never, name)
				}
			}
		}
	}
	if len(never) > 0 {
		return analyze.NotSeen{Signals: never, Never: true}
	}
	return analyze.NotSeen{Signals: all}
}
