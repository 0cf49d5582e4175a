package onelog

import (
	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/series"
	"lull/analyze/streams"
	"lull/decode"
	"lull/pkg/bounds"
)

// Run takes the frames of one log, in the log's order, and finds what happened.
// It is a state machine with bounded memory, whatever the log's length, and not
// safe for use by several goroutines. A Run serves a file and a live interface
// alike: all that counts are the frames.
type Run struct {
	*recording
	*segmenter
	decoder *decode.Decoder

	started  bool
	zero     int64 // time of the first frame
	latest   int64 // the greatest time so far
	due      int64 // when to look after open things again
	trimDue  int64
	frames   int64
	backward leaps
	jumps    leaps

	uses       []use // of each of the map's signals
	counter    counter
	hours, way odometer
	extents    []analyze.Extent // of what conditions read
	plausible  plausible

	result   analyze.Result
	silentIn []int      // the part of the log that each of result.Silences lies in
	done     []*episode // handed out, in order
	finished []*crank   // measured, in the order of their measuring
}

// use is what one of the map's signals is read for.
type use struct {
	role      decode.Role
	converts  bool           // to the role's unit
	condition bool           // it concerns conditions: what stands below
	signal    *decode.Signal // of the map
	track     *series.Track  // of the role
	tested    *tested        // of the role

	request, inhibit bool            // a condition reads it
	watched          *watched        // nil: not watched
	extent           *analyze.Extent // nil: no condition reads it
}

// wanted tells whether the analysis reads a signal at all.
func (r *Run) wanted(signal int) bool {
	u := &r.uses[signal]
	return u.role != decode.NoRole || u.request || u.inhibit || u.watched != nil
}

// NewRun starts an analysis by the map, which may be shared between runs.
func NewRun(m *decode.Map) *Run {
	rec := newRecording(m)
	r := &Run{recording: rec, decoder: decode.NewDecoder(m), uses: make([]use, len(m.Signals))}
	r.segmenter = newSegmenter(rec, &r.result)
	for i := range r.uses {
		r.uses[i] = use{
			signal: &m.Signals[i], role: m.Signals[i].Role, watched: r.watched[i],
			converts: m.Signals[i].ToRole != decode.Conversion{},
			track:    &r.tracks[m.Signals[i].Role], tested: &r.plausible.roles[m.Signals[i].Role],
			request: r.requests.Uses(i), inhibit: r.inhibits.Uses(i),
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
	r.hours, r.way = r.newOdometer(decode.EngineSpeed), r.newOdometer(decode.VehicleSpeed)
	r.decoder.Only(r.wanted)
	r.plausible = newPlausible(m)
	r.backward.Code, r.jumps.Code = decode.RemarkTimeBackwards, decode.RemarkTimeJump
	return r
}

// Push takes the next frame. It does not keep it.
func (r *Run) Push(f *decode.Frame) {
	r.clock(f.Time, f.Line)
	r.frames += 1 + int64(f.Skipped)
	now := r.now
	samples := r.decoder.Decode(f)
	matched := r.decoder.Matched()
	if len(matched) == 0 {
		return // as if passed over
	}
	if len(r.plausible.frames) < keptFrames {
		r.plausible.keep(r.m, f, matched)
	}
	if !r.streams.Usual(f, now, matched) {
		if silence, ended := r.streams.Seen(f, now, matched); ended {
			r.silent(silence)
		}
	}
	r.requests.Advance(now)
	r.inhibits.Advance(now)
	for i := range samples {
		s := &samples[i]
		s.Time = now
		r.sample(s)
	}
	if !r.requests.Idle() || !r.inhibits.Idle() {
		r.drain()
	}
	if now >= r.due {
		r.due = now + 100*millisecond
		r.settle(false)
		if now >= r.trimDue {
			r.trimDue = now + second
			r.trim()
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
	if last := p.Last - r.zero; last != r.now {
		r.now = last
		r.latest = max(r.latest, last)
		r.streams.Pass(last)
	}
}

// clock takes the time of the next frame of any kind.
func (r *Run) clock(time, line int64) {
	if now := time - r.zero; r.started && now >= r.now && r.streams.Next(now) {
		r.now, r.latest = now, max(r.latest, now)
		return
	}
	r.jump(time, line)
}

// jump is clock for the first frame, and for one that comes before, or long after,
// the one before it.
func (r *Run) jump(time, line int64) {
	if !r.started {
		r.started, r.zero = true, time
		r.due, r.trimDue = 100*millisecond, second
	}
	now := time - r.zero
	if now < r.now {
		r.back(line, now)
	}
	r.now = now
	r.latest = max(r.latest, now)
	if gap, ended := r.streams.Tick(now); ended {
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
	r.seen[s.Signal] = true
	signal := u.signal
	switch u.role {
	case decode.NoRole:
	case decode.StopCommand:
		if edge, when := r.stop.Add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.stopCommand(edge > 0, when)
		}
	case decode.StarterCommand:
		if edge, when := r.starter.Add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.starterCommand(edge > 0, when)
		}
	case decode.Ignition:
		if edge, when := r.ignition.Add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.ignitionChanged(edge > 0, when)
		}
	case decode.StarterCount:
		r.counter.add(stamp{r.part, s.Time}, s.Value, signal)
	case decode.InhibitCode:
		r.code.Add(s.Time, s.Raw, signal)
	default:
		value := s.Value
		if u.converts {
			if value = signal.ToRole.Apply(value); value-value != 0 {
				break // no number in the role's unit
			}
		}
		u.track.Add(s.Time, value)
		u.tested.add(value)
		switch u.role {
		case decode.EngineSpeed:
			r.plausible.command(s.Time, &r.stop, &r.ignition, &r.engine)
			r.hours.run(r.recording, series.Point{T: s.Time, V: value})
			r.engineSpeed(s.Time, value)
		case decode.VehicleSpeed:
			r.way.drive(r.recording, series.Point{T: s.Time, V: value})
			r.vehicleSpeed(s.Time, value)
		case decode.BatteryVoltage:
			if r.starter.Seen && r.stop.Seen {
				break // nothing is read from dips
			}
			r.dips.add(r.tracks[decode.BatteryVoltage].All())
		case decode.FuelRate:
			if r.stand != nil && r.engine.run.Side > 0 {
				r.stand.fuel.add(series.Point{T: s.Time, V: value})
			}
		}
	}
}

// condition hands a value to what concerns the map's conditions.
func (r *Run) condition(u *use, s *decode.Sample) {
	if u.request {
		r.requests.Take(s)
	}
	if u.inhibit {
		r.inhibits.Take(s)
	}
	if !s.Valid {
		return
	}
	if u.extent != nil && !s.Again {
		u.extent.Add(s.Value)
	}
	if u.watched != nil {
		u.watched.Add(s.Time, s.Value)
		if u.watched.tally != nil {
			u.watched.tally.add(series.Point{T: s.Time, V: s.Value})
		}
	}
}

// back handles a time stamp that lies before the one of the frame before it.
func (r *Run) back(line, now int64) {
	r.backward.note(line, now, now-r.streams.Latest)
	if r.streams.Latest-now <= streams.JumpBack {
		return
	}
	r.jumps.note(line, now, now-r.streams.Latest)
	r.cut(analyze.InGap)
	r.forget(now)
}

// cut ends all that is open where the log, or what can be measured of it in one
// piece, ends.
func (r *Run) cut(outcome analyze.Outcome) {
	end := r.streams.Latest
	for _, c := range []*conditions.Set{r.requests, r.inhibits} {
		c.Advance(end)
		c.Finish(end)
	}
	r.drain()
	if r.open != nil {
		r.close(outcome, end)
	}
	r.settle(true)
	r.endStandstill(bounds.At(end), true)
	r.finishStandstills(true)
}

// silent takes a silence that ended.
func (r *Run) silent(s analyze.Silence) {
	r.result.Silences = append(r.result.Silences, s)
	r.silentIn = append(r.silentIn, r.part)
}

// forget starts anew after time ran back: no sample before bounds one after.
func (r *Run) forget(now int64) {
	r.recording.forget(now)
	r.segmenter.forget()
	r.hours.seen, r.way.seen = false, false
	r.due, r.trimDue = now, now
}

// gap notes a time without any frame.
func (r *Run) gap(line int64, gap analyze.Gap) {
	r.jumps.note(line, r.now, gap.End-gap.Start)
	r.result.Gaps = append(r.result.Gaps, gap)
	r.segmenter.gap(gap)
}

func abs(v float64) float64 { return max(v, -v) }
