package analyze

import (
	"lull/decode"
	"lull/pkg/bounds"
)

// Run takes the frames of one log, in the log's order, and finds what happened.
// It is a state machine with bounded memory, whatever the log's length, and not
// safe for use by several goroutines. A Run serves a file and a live interface
// alike: all that counts are the frames.
type Run struct {
	m        *decode.Map
	decoder  *decode.Decoder
	streams  *streams
	requests *conditions
	inhibits *conditions

	// Settings as nanoseconds.
	hold, window, patience, minStandstill int64

	started  bool
	zero     int64 // time of the first frame
	now      int64 // of the newest frame
	latest   int64 // the greatest time so far
	due      int64 // when to look after open things again
	trimDue  int64
	frames   int64
	part     int // of the log: how often time ran back by more than a little
	backward leaps
	jumps    leaps

	uses   []use // of each of the map's signals
	tracks [decode.RoleCount]track
	// watched keeps the signals of the map's conditions and of inhibits.
	watched map[int]*track

	stop, starter, ignition switched
	ignitionFall            *bounds.Instant // the last one
	counter                 counter
	hours, way              odometer
	extents                 []Extent // of what conditions read
	code                    codeHistory

	engine     engine
	standX     crossing
	leave      *bounds.Instant // the last time the vehicle left a standstill
	dips       dipFinder
	plausible  plausible
	requestLog []Request

	open      *episode   // stopped, and nothing ended it yet
	pending   []*episode // closed, in order, waiting for their last samples
	cranks    []*crank   // all not yet settled, in order
	stand     *standstill
	standWait []*standstill // ended, waiting for the episodes in them

	truths []truthLog // of each inhibit

	result   Result
	silentIn []int      // the part of the log that each of result.Silences lies in
	done     []*episode // handed out, in order
	finished []*crank   // measured, in the order of their measuring
	// hiddenStarts are when the engine came to run, outside of any episode, by a start
	// that was not seen.
	hiddenStarts []int64
	stoppedBy    []*episode // of each of result.Standstills, nil where it was not stopped
}

// use is what one of the map's signals is read for.
type use struct {
	role      decode.Role
	seen      bool
	converts  bool           // to the role's unit
	condition bool           // it concerns conditions: what stands below
	signal    *decode.Signal // of the map
	track     *track         // of the role
	tested    *tested        // of the role

	request, inhibit bool         // a condition reads it
	watched          *track       // nil: not watched
	tally            *windowTally // of the open standstill, if watched
	extent           *Extent      // nil: no condition reads it
}

// wanted tells whether the analysis reads a signal at all.
func (r *Run) wanted(signal int) bool {
	u := &r.uses[signal]
	return u.role != decode.NoRole || u.request || u.inhibit || u.watched != nil
}

// NewRun starts an analysis by the map, which may be shared between runs.
func NewRun(m *decode.Map) *Run {
	set := m.Settings
	r := &Run{
		m:             m,
		decoder:       decode.NewDecoder(m),
		streams:       newStreams(m),
		hold:          int64(set.RunningHold),
		window:        int64(set.RequestWindow),
		patience:      int64(set.NoStartAfter),
		minStandstill: int64(set.MinStandstill),
		uses:          make([]use, len(m.Signals)),
		watched:       make(map[int]*track),
		truths:        make([]truthLog, len(m.Inhibits)),
	}
	r.requests = newConditions(m, m.Requests, r.streams)
	r.inhibits = newConditions(m, m.Inhibits, r.streams)
	r.engine.run = crossing{threshold: set.RunningSpeed, half: r.halfStep(decode.EngineSpeed), atIsAbove: true}
	r.engine.rest = crossing{threshold: set.RestSpeed, half: r.halfStep(decode.EngineSpeed)}
	r.standX = crossing{threshold: set.StandstillSpeed, half: r.halfStep(decode.VehicleSpeed)}
	r.stop = r.newSwitch(decode.StopCommand)
	r.starter = r.newSwitch(decode.StarterCommand)
	r.ignition = r.newSwitch(decode.Ignition)
	r.code.delay, r.code.streams, r.code.signal = r.eventDelay(decode.InhibitCode), r.streams, m.Role[decode.InhibitCode]
	for _, signal := range m.Conditions {
		r.watched[signal] = &track{}
	}
	for i := range m.Inhibits {
		m.Inhibits[i].Expr.Walk(func(e *decode.Expr) {
			if len(e.Children) == 0 {
				r.watched[e.Signal] = &track{}
			}
		})
	}
	for i := range r.uses {
		r.uses[i] = use{
			signal: &m.Signals[i], role: m.Signals[i].Role, watched: r.watched[i],
			converts: m.Signals[i].ToRole != decode.Conversion{},
			track:    &r.tracks[m.Signals[i].Role], tested: &r.plausible.roles[m.Signals[i].Role],
			request: r.requests.uses(i), inhibit: r.inhibits.uses(i),
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

// eventDelay is how far an event on the role's signal may lie before the frame
// that shows it, negative where the frame is cyclic.
func (r *Run) eventDelay(role decode.Role) int64 {
	s := r.m.RoleSignal(role)
	if s == nil || !r.m.Entries[s.Entry].OnChange {
		return -1
	}
	return int64(r.m.Settings.EventDelay)
}

// newSwitch follows a switch role's signal.
func (r *Run) newSwitch(role decode.Role) switched {
	s := switched{delay: r.eventDelay(role), streams: r.streams, signal: r.m.Role[role]}
	s.events = s.delay >= 0 && r.m.Entries[r.m.RoleSignal(role).Entry].Period == 0
	return s
}

// jumpBack is how far time may run back before what is open cannot be measured
// any more: interfaces that are written in turn run back by less.
const jumpBack = 100 * millisecond

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
	if !r.streams.usual(f, now, matched) {
		if silence, ended := r.streams.seen(f, now, matched); ended {
			r.silent(silence)
		}
	}
	r.requests.advance(now)
	r.inhibits.advance(now)
	for i := range samples {
		s := &samples[i]
		s.Time = now
		r.sample(s)
	}
	if !r.requests.idle() || !r.inhibits.idle() {
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
		r.streams.pass(last)
	}
}

// clock takes the time of the next frame of any kind.
func (r *Run) clock(time, line int64) {
	if now := time - r.zero; r.started && now >= r.now && r.streams.next(now) {
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
	if gap, ended := r.streams.tick(now); ended {
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
	u.seen = true
	signal := u.signal
	switch u.role {
	case decode.NoRole:
	case decode.StopCommand:
		if edge, when := r.stop.add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.stopCommand(edge > 0, when)
		}
	case decode.StarterCommand:
		if edge, when := r.starter.add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.starterCommand(edge > 0, when)
		}
	case decode.Ignition:
		if edge, when := r.ignition.add(s.Time, signal.On(s.Raw)); edge != 0 {
			r.ignitionChanged(edge > 0, when)
		}
	case decode.StarterCount:
		r.counter.add(stamp{r.part, s.Time}, s.Value, signal)
	case decode.InhibitCode:
		r.code.add(s.Time, s.Raw, signal, r.staleAfter(decode.InhibitCode))
	default:
		value := s.Value
		if u.converts {
			if value = signal.ToRole.Apply(value); value-value != 0 {
				break // no number in the role's unit
			}
		}
		u.track.add(s.Time, value)
		u.tested.add(value)
		switch u.role {
		case decode.EngineSpeed:
			r.plausible.command(s.Time, &r.stop, &r.ignition, &r.engine)
			r.hours.run(r, point{s.Time, value})
			r.engineSpeed(s.Time, value)
		case decode.VehicleSpeed:
			r.way.drive(r, point{s.Time, value})
			r.vehicleSpeed(s.Time, value)
		case decode.BatteryVoltage:
			if r.starter.seen && r.stop.seen {
				break // nothing is read from dips
			}
			r.dips.add(r.tracks[decode.BatteryVoltage].all())
		case decode.FuelRate:
			if r.stand != nil && r.engine.run.side > 0 {
				r.stand.fuel.add(point{s.Time, value})
			}
		}
	}
}

// condition hands a value to what concerns the map's conditions.
func (r *Run) condition(u *use, s *decode.Sample) {
	if u.request {
		r.requests.take(s)
	}
	if u.inhibit {
		r.inhibits.take(s)
	}
	if !s.Valid {
		return
	}
	if u.extent != nil && !s.Again {
		u.extent.add(s.Value)
	}
	if u.watched != nil {
		u.watched.add(s.Time, s.Value)
		if u.tally != nil {
			u.tally.add(point{s.Time, s.Value})
		}
	}
}

// drain takes what the conditions found: requests go to the log of requests,
// inhibits to their history of truth.
func (r *Run) drain() {
	for _, t := range r.requests.drain() {
		if t.to == True && t.known == False {
			r.requestLog = append(r.requestLog, Request{t.at, t.condition})
		}
	}
	for _, t := range r.inhibits.drain() {
		from := t.at.T
		if t.from == Unknown {
			// Its instant reaches back to the last sample before, into time of which
			// nothing is known.
			from = t.at.High
		}
		r.truths[t.condition].add(from, t.to)
	}
}

// has tells whether a role is mapped and was ever seen.
func (r *Run) has(role decode.Role) bool {
	i := r.m.Role[role]
	return i >= 0 && r.uses[i].seen
}

// back handles a time stamp that lies before the one of the frame before it.
func (r *Run) back(line, now int64) {
	r.backward.note(line, now, now-r.streams.latest)
	if r.streams.latest-now <= jumpBack {
		return
	}
	r.jumps.note(line, now, now-r.streams.latest)
	r.cut(InGap)
	r.forget(now)
}

// cut ends all that is open where the log, or what can be measured of it in one
// piece, ends.
func (r *Run) cut(outcome Outcome) {
	end := r.streams.latest
	for _, c := range []*conditions{r.requests, r.inhibits} {
		c.advance(end)
		c.finish(end)
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
func (r *Run) silent(s Silence) {
	r.result.Silences = append(r.result.Silences, s)
	r.silentIn = append(r.silentIn, r.part)
}

// forget starts anew after time ran back: no sample before bounds one after.
func (r *Run) forget(now int64) {
	for i := range r.tracks {
		r.tracks[i].reset()
	}
	for _, k := range r.watched {
		k.reset()
	}
	r.stop.reset()
	r.starter.reset()
	r.ignition.reset()
	r.ignitionFall, r.leave = nil, nil
	r.hours.seen, r.way.seen = false, false
	r.code.reset()
	r.engine.reset()
	r.standX.reset()
	r.dips.reset()
	r.requestLog = r.requestLog[:0]
	r.cranks = r.cranks[:0]
	r.streams.reset(now)
	r.requests.reset(now)
	r.inhibits.reset(now)
	r.drain()
	for i := range r.truths {
		r.truths[i] = truthLog{}
	}
	r.due, r.trimDue = now, now
	r.part++
}

// gap notes a time without any frame.
func (r *Run) gap(line int64, gap Gap) {
	r.jumps.note(line, r.now, gap.End-gap.Start)
	r.result.Gaps = append(r.result.Gaps, gap)
	if r.open != nil {
		r.open.gapInside = true
	}
	if r.stand != nil && gap.End-gap.Start >= r.minStandstill {
		// The vehicle may have been elsewhere meanwhile.
		r.endStandstill(bounds.At(gap.Start), true)
		r.standX.reset()
	}
}

// inGap tells whether an instant may lie in a gap of the recording.
func (r *Run) inGap(when bounds.Instant) bool {
	return r.streams.gaps.between(when.Low, when.High)
}

func abs(v float64) float64 { return max(v, -v) }
