package onelog

import (
	"lull/analyze"
	"lull/analyze/feed"
	"lull/analyze/findings"
	"lull/analyze/measure"
	"lull/analyze/segment"
	"lull/analyze/series"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// Run takes the frames of one log, in the log's order, and finds what happened.
// It is a state machine with bounded memory, whatever the log's length, and not
// safe for use by several goroutines. A Run serves a file and a live interface
// alike: all that counts are the frames.
type Run struct {
	*feed.Recording
	*segment.Segmenter
	measure.Measurer
	*findings.Finder

	uses   []use // of each of the map's signals
	lanes  lanes
	sums   sums
	result analyze.Result

	due     int64 // when to look after open things again
	trimDue int64
	pushAll bool // no frame is put aside: for tests
}

// sums are what is added up over the whole log.
type sums struct {
	counter               counter
	engineHours, distance odometer
	extents               []analyze.Extent // of what conditions read
}

// use is what one of the map's signals is read for.
type use struct {
	role     decode.Role
	converts bool             // to the role's unit
	signal   *decode.Signal   // of the map
	track    *series.Track    // of the role
	tested   *findings.Tested // of the role

	extent           *analyze.Extent // nil: no condition of any kind reads it, and nothing below holds
	request, inhibit bool            // one of these reads it
	watched          *feed.Watched   // nil: not watched
}

// wanted reports whether the analysis reads a signal at all.
func (r *Run) wanted(signal int) bool {
	u := &r.uses[signal]
	return u.role != decode.NoRole || u.extent != nil
}

// NewRun starts an analysis by the map, which may be shared between runs.
func NewRun(m *decode.Map) *Run {
	r := &Run{uses: make([]use, len(m.Signals)), lanes: newLanes(m), due: lookEvery, trimDue: trimEvery}
	rec := feed.NewRecording(m, events{r})
	r.Recording = rec
	r.Finder = findings.New(rec, &r.result)
	r.Segmenter, r.Measurer = segment.NewSegmenter(rec, &r.result, measure.Keeps()), measure.Measurer{Recording: rec}
	for i := range r.uses {
		r.uses[i] = use{
			signal: &m.Signals[i], role: m.Signals[i].Role, watched: r.Watched[i],
			converts: m.Signals[i].ToRole != decode.Conversion{},
			track:    &r.Tracks[m.Signals[i].Role], tested: &r.Plausible.Roles[m.Signals[i].Role],
			request: r.Requests.Uses(i), inhibit: r.Inhibits.Uses(i),
		}
	}
	r.sums.extents = conditionSignals(m)
	for i := range r.sums.extents {
		r.uses[r.sums.extents[i].Signal].extent = &r.sums.extents[i]
	}
	r.sums.engineHours, r.sums.distance = r.newOdometer(decode.EngineSpeed), r.newOdometer(decode.VehicleSpeed)
	r.Only(r.wanted)
	return r
}

// How often a Run looks after what is open, and forgets what nothing asks for any more.
const (
	lookEvery = 100 * bounds.Millisecond
	trimEvery = bounds.Second
)

// Push takes the next frame. It does not keep it.
func (r *Run) Push(f *decode.Frame) {
	if r.quiet(f) {
		return
	}
	r.flush()
	samples, named := r.Recording.Push(f)
	if !named {
		return
	}
	r.Plausible.Sees(f, r.Entries())
	if r.Plausible.Wants() {
		r.Plausible.Keep(r.M, f, r.Entries())
	}
	now := r.Now
	for i := range samples {
		s := &samples[i]
		s.Time = now
		r.sample(s)
	}
	if !r.Requests.Idle() || !r.Inhibits.Idle() {
		r.Drain()
	}
	if now >= r.due {
		r.due = now + lookEvery
		r.settle(false)
		if now >= r.trimDue {
			r.trimDue = now + trimEvery
			r.Trim()
		}
	}
	r.follow(f, samples, r.Entries())
}

// Pass takes a run of frames that the map does not name, as Feed.Pass does.
func (r *Run) Pass(p decode.Passed) {
	if !r.Follows(p.First) {
		r.flush() // the clock runs back, or a gap ends
	}
	r.Recording.Pass(p)
}

// sample hands one decoded value to everything that reads its signal. None is
// not a value and counts as not seen.
func (r *Run) sample(s *decode.Sample) {
	u := &r.uses[s.Signal]
	if u.extent != nil {
		r.condition(u, s)
	}
	if !s.Valid {
		return
	}
	r.Seen[s.Signal] = true
	signal := u.signal
	switch u.role {
	case decode.NoRole:
	case decode.StopCommand:
		r.command(u, s, &r.Stop, (*segment.Segmenter).StopCommand)
	case decode.StarterCommand:
		r.command(u, s, &r.Starter, (*segment.Segmenter).StarterCommand)
	case decode.Ignition:
		r.command(u, s, &r.Ignition, (*segment.Segmenter).IgnitionChanged)
	case decode.StarterCount:
		r.sums.counter.add(stamp{r.Part, s.Time}, s.Value, signal)
	case decode.InhibitCode:
		r.Code.Add(s.Time, s.Raw, signal, r.StaleAfter(decode.InhibitCode))
	default:
		value := s.Value
		if u.converts {
			if value = signal.ToRole.Apply(value); !stats.Finite(value) {
				break // no number in the role's unit
			}
		}
		u.track.Add(s.Time, value)
		u.tested.Add(s.Time, value)
		switch u.role {
		case decode.EngineSpeed:
			r.Plausible.Command(s.Time, &r.Stop, &r.Ignition, &r.Engine)
			r.sums.engineHours.run(r.Recording, series.Point{T: s.Time, V: value})
			r.EngineSpeed(s.Time, value)
			if r.Stand != nil && value > r.M.Settings.RestSpeed {
				r.Plausible.Idle.Add(value)
			}
		case decode.VehicleSpeed:
			r.sums.distance.drive(r.Recording, series.Point{T: s.Time, V: value})
			r.VehicleSpeed(s.Time, value)
		case decode.BatteryVoltage:
			if r.Starter.Seen && r.Stop.Seen {
				break // nothing is read from dips
			}
			r.Dips.Add(r.Tracks[decode.BatteryVoltage].All())
		case decode.FuelRate:
			if r.Stand != nil && r.Engine.Run.Side > 0 {
				r.Stand.Fuel.Add(series.Point{T: s.Time, V: value})
			}
		}
	}
}

// command follows a signal that is on or off, and passes on that it changed.
func (r *Run) command(u *use, s *decode.Sample, of *series.Switched, changed func(*segment.Segmenter, bool, bounds.Instant)) {
	on := u.signal.On(s.Raw)
	r.Plausible.On[u.role] = r.Plausible.On[u.role] || on
	if edge, when := of.Add(s.Time, on); edge != 0 {
		if edge > 0 && u.role == decode.StopCommand {
			r.Plausible.Commanded(&r.Engine)
		}
		changed(r.Segmenter, edge > 0, when)
	}
}

// condition hands a value that conditions read to what concerns them.
func (r *Run) condition(u *use, s *decode.Sample) {
	if u.request {
		r.Requests.Take(s)
	}
	if u.inhibit {
		r.Inhibits.Take(s)
	}
	if !s.Valid {
		return
	}
	u.extent.Add(s.Value)
	if u.watched != nil {
		u.watched.Add(s.Time, s.Value)
		if u.watched.Tally != nil {
			u.watched.Tally.Add(series.Point{T: s.Time, V: s.Value})
		}
	}
}

// events are what the feed tells a Run.
type events struct{ *Run }

// Cut ends all that is open where the log, or what can be measured of it in one
// piece, ends.
func (r events) Cut(end int64, last bool) {
	outcome := analyze.InGap
	if last {
		outcome = analyze.LogEnd
	}
	r.Drain()
	if r.Open != nil {
		r.Close(outcome, end)
	}
	r.settle(true)
	r.EndStandstill(bounds.At(end), true)
	r.FinishStandstills(true)
}

// Restart starts again after time ran back.
func (r events) Restart(now int64) {
	r.Recording.Forget()
	r.Segmenter.Forget()
	r.sums.engineHours.seen, r.sums.distance.seen = false, false
	r.due, r.trimDue = now, now
	r.lanes.forget()
}

// Silent takes a silence that ended.
func (r events) Silent(s analyze.Silence) {
	r.result.Silences = append(r.result.Silences, s)
	r.SilentIn = append(r.SilentIn, r.Part)
}

// Gap takes a time without any frame.
func (r events) Gap(gap analyze.Gap) {
	r.result.Gaps = append(r.result.Gaps, gap)
	r.Segmenter.Gap(gap)
}
