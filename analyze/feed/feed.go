package feed

import (
	"lull/analyze"
	"lull/analyze/conditions"
	"lull/analyze/streams"
	"lull/decode"
)

// Feed turns the frames of one log, in the log's order, into samples and into changes of
// the map's conditions. It keeps the log's clock: times are ns from the first frame, and
// Part counts up where time runs back.
type Feed struct {
	M        *decode.Map // what the log is read by
	Now      int64       // time of the newest frame
	Latest   int64       // the greatest time so far
	Zero     int64       // time of the first frame, as decode.Frame.Time
	Part     int         // of the log: how often time ran back by more than a little
	Frames   int64       // so far
	Streams  *streams.Streams
	Requests *conditions.Set
	Inhibits *conditions.Set

	to       Listener
	decoder  *decode.Decoder
	started  bool
	backward leaps
	jumps    leaps
}

// Listener is told by a Feed what is rare in a log.
type Listener interface {
	// Gap takes a stretch of time without any frame, which ends now.
	Gap(analyze.Gap)
	// Silent takes the silence of a stream that ended.
	Silent(analyze.Silence)
	// Cut ends all that is open at the moment end: there the log ends (last), or time
	// runs back. The conditions were led up to it.
	Cut(end int64, last bool)
	// Restart begins again at the moment now, where time ran back to: no sample before
	// bounds one after.
	Restart(now int64)
}

// New returns the Feed of a log that has told nothing yet, read by m, which follows these
// conditions of it.
func New(m *decode.Map, requests, inhibits []decode.Condition, to Listener) *Feed {
	f := &Feed{M: m, to: to, decoder: decode.NewDecoder(m), Streams: streams.New(m)}
	f.Requests = conditions.New(m, requests, f.Streams)
	f.Inhibits = conditions.New(m, inhibits, f.Streams)
	f.backward.Code, f.jumps.Code = decode.RemarkTimeBackwards, decode.RemarkTimeJump
	return f
}

// Only names the signals of the map that samples are wanted of; else it is all.
func (f *Feed) Only(wanted func(signal int) bool) { f.decoder.Only(wanted) }

// Push takes the next frame, which it does not keep, and returns its samples until the next
// call. On the log's clock their time is Now, whatever Sample.Time says; the conditions are
// at Now then. named reports whether the map names the frame at all.
func (f *Feed) Push(frame *decode.Frame) (samples []decode.Sample, named bool) {
	f.clock(frame.Time, frame.Line)
	f.Frames += 1 + int64(frame.Skipped)
	now := f.Now
	samples = f.decoder.Decode(frame)
	entries := f.decoder.Matched()
	if len(entries) == 0 {
		return nil, false // as if passed over
	}
	if silence, ended := f.Streams.Seen(frame, now, entries); ended {
		f.to.Silent(silence)
	}
	f.Requests.Advance(now)
	f.Inhibits.Advance(now)
	return samples, true
}

// Columns returns what decode.Decoder.Columns does, of the signals that are wanted.
func (f *Feed) Columns(entry int) ([]decode.Column, bool) { return f.decoder.Columns(entry) }

// Next takes only the time of a frame that the map names. It is false, and has done
// nothing, unless the frame comes after all others and without a gap. What the frame says
// is to be led on with Streams.Lead and with Hold and Lead of the conditions.
func (f *Feed) Next(frame *decode.Frame) bool {
	now := frame.Time - f.Zero
	if now < f.Now || !f.Streams.Next(now) {
		return false
	}
	f.Now, f.Latest = now, max(f.Latest, now)
	f.Frames += 1 + int64(frame.Skipped)
	return true
}

// Follows reports whether a frame of this time comes after all others and without a gap.
func (f *Feed) Follows(time int64) bool { return f.started && f.Streams.Follows(time-f.Zero) }

// Entries returns which of the map's entries named the frame of the last Push.
func (f *Feed) Entries() []int { return f.decoder.Matched() }

// Pass takes a run of frames that the map does not name: all that counts of them
// is that they were there. Pushing them one by one comes to the same.
func (f *Feed) Pass(p decode.Passed) {
	if p.Count == 0 {
		return
	}
	f.clock(p.First, p.Line)
	f.Frames += p.Count
	if last := p.Last - f.Zero; last != f.Now {
		f.Now = last
		f.Latest = max(f.Latest, last)
		f.Streams.Pass(last)
	}
}

// Finish ends the log.
func (f *Feed) Finish() {
	f.cut(true)
	for _, s := range f.Streams.Finish(f.Now) {
		f.to.Silent(s)
	}
}

// clock takes the time of the next frame of any kind.
func (f *Feed) clock(time, line int64) {
	if now := time - f.Zero; f.started && now >= f.Now && f.Streams.Next(now) {
		f.Now, f.Latest = now, max(f.Latest, now)
		return
	}
	f.jump(time, line)
}

// jump is clock for the first frame, and for one that comes before, or long after,
// the one before it.
func (f *Feed) jump(time, line int64) {
	if !f.started {
		f.started, f.Zero = true, time
	}
	now := time - f.Zero
	if now < f.Now {
		f.back(line, now)
	}
	f.Now = now
	f.Latest = max(f.Latest, now)
	if gap, ended := f.Streams.Tick(now); ended {
		f.jumps.note(line, now, gap.End-gap.Start)
		f.to.Gap(gap)
	}
}

// back handles a time stamp that lies before the one of the frame before it.
func (f *Feed) back(line, now int64) {
	ahead := f.Streams.Latest - now
	f.backward.note(line, now, -ahead)
	if ahead <= streams.JumpBack {
		return
	}
	f.jumps.note(line, now, -ahead)
	f.cut(false)
	f.Streams.Reset(now)
	f.Requests.Reset(now)
	f.Inhibits.Reset(now)
	f.Part++
	f.to.Restart(now)
}

// cut leads the conditions to the end of the log, or of what can be measured of it in
// one piece.
func (f *Feed) cut(last bool) {
	end := f.Streams.Latest
	for _, c := range []*conditions.Set{f.Requests, f.Inhibits} {
		c.Advance(end)
		c.Finish(end)
	}
	f.to.Cut(end, last)
}
