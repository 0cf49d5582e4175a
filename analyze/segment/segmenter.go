package segment

import (
	"slices"

	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/feed"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

const (
	// awaited bounds how long memory is held for a switch's frame that stays away,
	// and for an engine that turns below running_speed and neither rests nor runs.
	awaited = 60 * bounds.Second
	// maxRequests bounds the requests that are remembered while an engine that was
	// told to stop runs on for hours.
	maxRequests = 1 << 12
)

// IdleBefore is how long before a stop onset the fuel rate of the idling engine is
// taken from, where the standstill before it is too short.
const IdleBefore = 5 * bounds.Second

// Keep is what is kept of a log for what is measured of an episode later. What lies
// around its ends is kept in any case.
type Keep struct {
	LookBack int64         // how much before a stop onset may be asked for, in ns
	RunDown  []decode.Role // whose samples from the stop onset to rest are kept
	InRest   []decode.Role // whose lowest and highest samples from rest on are kept
}

// Segmenter finds episodes, standstills and starter operations in what is recorded,
// and holds those that are open or wait for their last samples.
type Segmenter struct {
	*feed.Recording
	result *analyze.Result // standstills are handed out to it

	// Settings as nanoseconds.
	hold, Window, Patience, minStandstill int64
	keep                                  Keep

	Engine       Engine
	ignitionFall *bounds.Instant // the last one
	standing     series.Crossing // of standstill_speed
	Dips         dipFinder
	RequestLog   []analyze.Request
	truths       []conditions.TruthLog // of each inhibit

	Open      *Episode   // stopped, and nothing ended it yet
	Pending   []*Episode // closed, in order, waiting for their last samples
	Cranks    []*Crank   // all not yet settled, in order
	Finished  []*Crank   // measured, in the order of their measuring
	Stand     *standstill
	standWait []*standstill // ended, waiting for the episodes in them
	StoppedBy []*Episode    // of each of result.Standstills, nil if it was not stopped
}

// NewSegmenter returns a Segmenter of what r records, which hands standstills out to
// result, and forgets of r what neither it nor keep asks for.
func NewSegmenter(r *feed.Recording, result *analyze.Result, keep Keep) *Segmenter {
	set := r.M.Settings
	s := &Segmenter{
		Recording: r, result: result, keep: keep,
		hold:          int64(set.RunningHold),
		Window:        int64(set.RequestWindow),
		Patience:      int64(set.NoStartAfter),
		minStandstill: int64(set.MinStandstill),
		truths:        make([]conditions.TruthLog, len(r.M.Inhibits)),
	}
	s.Engine.Run = series.Crossing{Threshold: set.RunningSpeed, Half: r.HalfStep(decode.EngineSpeed), AtIsAbove: true}
	s.Engine.Rest = series.Crossing{Threshold: set.RestSpeed, Half: r.HalfStep(decode.EngineSpeed)}
	s.standing = series.Crossing{Threshold: set.StandstillSpeed, Half: r.HalfStep(decode.VehicleSpeed)}
	return s
}

// Gap takes a stretch of time without any frame.
func (r *Segmenter) Gap(gap analyze.Gap) {
	if r.Open != nil {
		r.Open.GapInside = true
	}
	if r.Stand != nil && gap.End-gap.Start >= r.minStandstill {
		// The vehicle may have been elsewhere meanwhile.
		r.EndStandstill(bounds.At(gap.Start), true)
		r.standing.Reset()
	}
}

// Forget starts again after time ran back, when all that was open is closed.
func (r *Segmenter) Forget() {
	r.ignitionFall = nil
	r.Engine.reset()
	r.standing.Reset()
	r.Dips.reset()
	r.RequestLog = r.RequestLog[:0]
	r.Cranks = r.Cranks[:0]
	r.Drain()
	for i := range r.truths {
		r.truths[i] = conditions.TruthLog{}
	}
}

// Drain takes what the conditions found: requests go to the log of requests,
// inhibits to their history of truth.
func (r *Segmenter) Drain() {
	for _, t := range r.Requests.Drain() {
		if t.To == analyze.True && t.Known == analyze.False {
			r.RequestLog = append(r.RequestLog, analyze.Request{Instant: t.At, Condition: t.Condition})
		}
	}
	for _, t := range r.Requests.Refined() {
		for i := len(r.RequestLog) - 1; i >= 0; i-- {
			if q := &r.RequestLog[i]; q.Condition == t.Condition && q.High == t.Told {
				q.High = t.High
				break
			}
		}
	}
	_ = r.Inhibits.Refined() // of no use: shares go by the likeliest moment
	for _, t := range r.Inhibits.Drain() {
		from := t.At.T
		if t.From == analyze.Unknown {
			// Its instant reaches back to the last sample before, into time of which
			// nothing is known.
			from = t.At.High
		}
		r.truths[t.Condition].Add(from, t.To)
	}
}

// keepFrom is the earliest moment that something open may still ask samples
// for.
func (r *Segmenter) keepFrom() int64 {
	back := max(r.keep.LookBack, r.Window) + 2*bounds.Second
	keep := r.Now - back
	if fall, falling := r.falling(); falling {
		keep = min(keep, fall-back)
	}
	if o := r.Open; o != nil {
		keep = min(keep, r.keepFor(o))
	}
	for _, e := range r.Pending {
		if !e.Settled {
			keep = min(keep, r.keepFor(e))
		}
		if e.Departure != nil {
			keep = min(keep, e.Departure.Low-bounds.Second)
		}
	}
	for _, c := range r.Cranks {
		keep = min(keep, c.Low-3*bounds.Second)
	}
	return keep
}

// falling returns the last fall below running_speed where it may still turn out to
// be a stop.
func (r *Segmenter) falling() (int64, bool) {
	e := &r.Engine
	return min(e.fall.Low, e.since), e.fallen && r.Now-e.fall.High < awaited
}

// notSeenSince is the earliest moment from which on a switch, as far as its
// frames told by now, may have changed.
func (r *Segmenter) notSeenSince(switches ...*series.Switched) int64 {
	from := r.Now
	for _, s := range switches {
		if s.Seen && s.Delay < 0 {
			from = min(from, s.Last)
		}
	}
	return max(from, r.Now-awaited)
}

// reach is how far before a decision, and before a stop onset, samples may be
// asked for.
func (r *Segmenter) reach() int64 { return max(3*bounds.Second, r.Window+bounds.Second) }

// keepFor is the same for one episode. While the engine rests only what may
// precede the restart is kept.
func (r *Segmenter) keepFor(e *Episode) int64 {
	if e.RunDown == nil {
		// Some engines run on for hours in spite of a stop command.
		from := max(e.Stop.Low, r.Now-awaited)
		if d := e.WhenDecided(); d != nil {
			from = min(from, max(d.Low, e.Stop.Low))
		}
		return from - r.reach()
	}
	from := r.notSeenSince(&r.Stop, &r.Starter)
	if k := &r.Tracks[decode.EngineSpeed]; k.Seen {
		from = min(from, max(k.Last.T, r.Now-awaited))
	}
	if d := e.WhenDecided(); d != nil {
		from = min(from, d.Low)
	}
	if r.Engine.off != nil {
		from = min(from, r.Engine.off.Low)
	}
	if e.Running != nil {
		from = min(from, e.Running.Low)
	}
	return from - r.reach()
}

// Trim forgets what nothing can ask for any more, so that memory does not grow
// with the log.
func (r *Segmenter) Trim() {
	if o := r.Open; o != nil && o.RunDown == nil && o.Rest != nil && r.Now > o.Rest.High+bounds.Second {
		o.RunDown = make(map[decode.Role][]series.Point, len(r.keep.RunDown))
		for _, role := range r.keep.RunDown {
			o.RunDown[role] = slices.Clone(series.Window(r.Tracks[role].All(), o.Stop.Low-r.reach(), o.Rest.High+bounds.Second))
		}
	}
	keep := r.keepFrom()
	for i := range r.Tracks {
		role := decode.Role(i)
		forgotten := r.Tracks[i].Trim(keep)
		if len(forgotten) == 0 || !slices.Contains(r.keep.InRest, role) {
			continue
		}
		limit := r.Hole(role)
		if r.Open != nil {
			r.Open.restOn(role, forgotten, limit)
		}
		for _, e := range r.Pending {
			if !e.Settled {
				e.restOn(role, forgotten, limit)
			}
		}
	}
	for _, k := range r.Watched {
		k.Trim(keep)
	}
	r.settleTallies()

	r.RequestLog = slices.DeleteFunc(r.RequestLog, func(q analyze.Request) bool {
		asks := func(e *Episode) bool { return e.mayAsk(q) }
		return q.High < keep && !(r.Open != nil && asks(r.Open)) && !slices.ContainsFunc(r.Pending, asks)
	})
	if n := len(r.RequestLog) - maxRequests; n > 0 {
		r.RequestLog = slices.Delete(r.RequestLog, 0, n)
	}
	needed := keep
	if r.Stand != nil {
		needed = min(needed, r.Stand.Start.T)
	}
	for _, s := range r.standWait {
		needed = min(needed, s.Start.T)
	}
	for i := range r.truths {
		r.truths[i].Trim(needed)
	}
	r.Code.Trim(needed)
}

// idleRate is what the engine burnt per hour before the stop: over the
// standstill where there is a second of it, else over the five seconds before,
// else as set.
func (r *Segmenter) idleRate(stop bounds.Instant) float64 {
	if r.Has(decode.FuelRate) {
		if s := r.Stand; s != nil && stop.T-s.Start.T >= bounds.Second {
			if rate, ok := s.Fuel.Median(stop.T); ok {
				return rate
			}
		}
		before := series.Window(r.Tracks[decode.FuelRate].All(), stop.T-IdleBefore, stop.T)
		if rate, ok := stats.Median(series.ValuesOf(before)); ok {
			return rate
		}
	}
	return r.M.Settings.IdleFuelRate
}
