package onelog

import (
	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/feed"
	"lull/analyze/findings"
	"lull/analyze/measure"
	"lull/analyze/segment"
	"lull/analyze/series"
	"lull/analyze/streams"
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
	decoder *decode.Decoder

	started  bool
	zero     int64 // time of the first frame
	latest   int64 // the greatest time so far
	due      int64 // when to look after open things again
	trimDue  int64
	frames   int64
	backward leaps
	jumps    leaps

	uses                  []use // of each of the map's signals
	counter               counter
	engineHours, distance odometer
	extents               []analyze.Extent // of what conditions read

	result   analyze.Result
	finished []*segment.Crank // measured, in the order of their measuring
}

// use is what one of the map's signals is read for.
type use struct {
	role      decode.Role
	converts  bool             // to the role's unit
	condition bool             // it concerns conditions: what stands below
	signal    *decode.Signal   // of the map
	track     *series.Track    // of the role
	tested    *findings.Tested // of the role

	request, inhibit bool            // a condition reads it
	watched          *feed.Watched   // nil: not watched
	extent           *analyze.Extent // nil: no condition reads it
}

// wanted tells whether the analysis reads a signal at all.
func (r *Run) wanted(signal int) bool {
	u := &r.uses[signal]
	return u.role != decode.NoRole || u.request || u.inhibit || u.watched != nil
}

// NewRun starts an analysis by the map, which may be shared between runs.
func NewRun(m *decode.Map) *Run {
	rec := feed.NewRecording(m)
	r := &Run{Recording: rec, decoder: decode.NewDecoder(m), uses: make([]use, len(m.Signals))}
	r.Finder = findings.New(rec, &r.result)
	r.Segmenter, r.Measurer = segment.NewSegmenter(rec, &r.result, measure.Before()), measure.Measurer{Recording: rec}
	for i := range r.uses {
		r.uses[i] = use{
			signal: &m.Signals[i], role: m.Signals[i].Role, watched: r.Watched[i],
			converts: m.Signals[i].ToRole != decode.Conversion{},
			track:    &r.Tracks[m.Signals[i].Role], tested: &r.Plausible.Roles[m.Signals[i].Role],
			request: r.Requests.Uses(i), inhibit: r.Inhibits.Uses(i),
		}
	}
	r.extents = conditionSignals(m)
	for i := range r.extents {
		r.uses[r.extents[i].Signal].extent = &r.extents[i]
	}
	for i := range r.uses {
		u := &r.uses[i]
		u.condition = u.request || u.inhibit || u.watched != nil || u.extent != nil
	}
	r.engineHours, r.distance = r.newOdometer(decode.EngineSpeed), r.newOdometer(decode.VehicleSpeed)
	r.decoder.Only(r.wanted)
	r.backward.Code, r.jumps.Code = decode.RemarkTimeBackwards, decode.RemarkTimeJump
	return r
}

// Push takes the next frame. It does not keep it.
func (r *Run) Push(f *decode.Frame) {
	r.clock(f.Time, f.Line)
	r.frames += 1 + int64(f.Skipped)
	now := r.Now
	samples := r.decoder.Decode(f)
	matched := r.decoder.Matched()
	if len(matched) == 0 {
		return // as if passed over
	}
	if len(r.Plausible.Frames) < findings.KeptFrames {
		r.Plausible.Keep(r.M, f, matched)
	}
	if !r.Streams.Usual(f, now, matched) {
		if silence, ended := r.Streams.Seen(f, now, matched); ended {
			r.silent(silence)
		}
	}
	r.Requests.Advance(now)
	r.Inhibits.Advance(now)
	for i := range samples {
		s := &samples[i]
		s.Time = now
		r.sample(s)
	}
	if !r.Requests.Idle() || !r.Inhibits.Idle() {
		r.Drain()
	}
	if now >= r.due {
		r.due = now + 100*bounds.Millisecond
		r.settle(false)
		if now >= r.trimDue {
			r.trimDue = now + bounds.Second
			r.Trim()
		}
	}
}

// Pass takes a run of frames that the map does not name: all that counts of them
// is that they were there. Pushing them one by one comes to the same.
func (r *Run) Pass(p decode.Passed) {
	if p.Count == 0 {
		return
	}
	r.clock(p.First, p.Line)
	r.frames += p.Count
	if last := p.Last - r.zero; last != r.Now {
		r.Now = last
		r.latest = max(r.latest, last)
		r.Streams.Pass(last)
	}
}

// clock takes the time of the next frame of any kind.
func (r *Run) clock(time, line int64) {
	if now := time - r.zero; r.started && now >= r.Now && r.Streams.Next(now) {
		r.Now, r.latest = now, max(r.latest, now)
		return
	}
	r.jump(time, line)
}

// jump is clock for the first frame, and for one that comes before, or long after,
// the one before it.
func (r *Run) jump(time, line int64) {
	if !r.started {
		r.started, r.zero = true, time
		r.due, r.trimDue = 100*bounds.Millisecond, bounds.Second
	}
	now := time - r.zero
	if now < r.Now {
		r.back(line, now)
	}
	r.Now = now
	r.latest = max(r.latest, now)
	if gap, ended := r.Streams.Tick(now); ended {
		r.gap(line, gap)
	}
}

// sample hands one decoded value to everything that reads its signal. None is
// not a value and counts as not seen.
func (r *Run) sample(s *decode.Sample) {
	u := &r.uses[s.Signal]
	if u.condition {
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
		if edge, when := r.Stop.Add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.StopCommand(edge > 0, when)
		}
	case decode.StarterCommand:
		if edge, when := r.Starter.Add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.StarterCommand(edge > 0, when)
		}
	case decode.Ignition:
		if edge, when := r.Ignition.Add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.IgnitionChanged(edge > 0, when)
		}
	case decode.StarterCount:
		r.counter.add(stamp{r.Part, s.Time}, s.Value, signal)
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
		u.tested.Add(value)
		switch u.role {
		case decode.EngineSpeed:
			r.Plausible.Command(s.Time, &r.Stop, &r.Ignition, &r.Engine)
			r.engineHours.run(r.Recording, series.Point{T: s.Time, V: value})
			r.EngineSpeed(s.Time, value)
		case decode.VehicleSpeed:
			r.distance.drive(r.Recording, series.Point{T: s.Time, V: value})
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

// condition hands a value to what concerns the map's conditions.
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
	if u.extent != nil && !s.Again {
		u.extent.Add(s.Value)
	}
	if u.watched != nil {
		u.watched.Add(s.Time, s.Value)
		if u.watched.Tally != nil {
			u.watched.Tally.Add(series.Point{T: s.Time, V: s.Value})
		}
	}
}

// back handles a time stamp that lies before the one of the frame before it.
func (r *Run) back(line, now int64) {
	r.backward.note(line, now, now-r.Streams.Latest)
	if r.Streams.Latest-now <= streams.JumpBack {
		return
	}
	r.jumps.note(line, now, now-r.Streams.Latest)
	r.cut(analyze.InGap)
	r.forget(now)
}

// cut ends all that is open where the log, or what can be measured of it in one
// piece, ends.
func (r *Run) cut(outcome analyze.Outcome) {
	end := r.Streams.Latest
	for _, c := range []*conditions.Set{r.Requests, r.Inhibits} {
		c.Advance(end)
		c.Finish(end)
	}
	r.Drain()
	if r.Open != nil {
		r.Close(outcome, end)
	}
	r.settle(true)
	r.EndStandstill(bounds.At(end), true)
	r.FinishStandstills(true)
}

// silent takes a silence that ended.
func (r *Run) silent(s analyze.Silence) {
	r.result.Silences = append(r.result.Silences, s)
	r.SilentIn = append(r.SilentIn, r.Part)
}

// forget starts anew after time ran back: no sample before bounds one after.
func (r *Run) forget(now int64) {
	r.Recording.Forget(now)
	r.Segmenter.Forget()
	r.engineHours.seen, r.distance.seen = false, false
	r.due, r.trimDue = now, now
}

// gap notes a time without any frame.
func (r *Run) gap(line int64, gap analyze.Gap) {
	r.jumps.note(line, r.Now, gap.End-gap.Start)
	r.result.Gaps = append(r.result.Gaps, gap)
	r.Segmenter.Gap(gap)
}
