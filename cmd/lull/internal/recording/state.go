package recording

import (
	"fmt"
	"time"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// silentAfter is how long no frame may come before that is shown.
const silentAfter = 2 * time.Second

// state returns the state of the recording.
func (r *Recorder) state(now time.Time) words.LiveState {
	s := words.LiveState{Episodes: len(r.found.Episodes), Standstills: r.stood, Attention: r.attended}
	for _, text := range r.away {
		s.Lacks = append(s.Lacks, words.Visible(text))
	}
	if text := r.watch.Lack(now, r.whole); text != "" {
		s.Lacks = append(s.Lacks, words.Visible(text))
	}
	silence := r.watch.Silent(now)
	for _, b := range r.watch.Buses() {
		rate, load := b.PerSecond, b.Load
		if silence > silentAfter {
			rate, load = 0, 0
		}
		bus := words.LiveBus{Name: words.Visible(b.Name), Rate: fmt.Sprintf("%d frames/s", rate)}
		if b.Bitrate > 0 {
			bus.Load = fmt.Sprintf("load %.0f %%", 100*load)
		}
		if b.Errors > 0 {
			bus.Errors = decode.Counted(b.Errors, "error frame", "error frames")
		}
		s.Buses = append(s.Buses, bus)
	}
	if len(s.Buses) > 0 && silence > silentAfter {
		s.Silent = fmt.Sprintf("no frame for %.0f s", silence.Seconds())
	}
	if r.episodes != nil {
		s.Car = words.CarText(r.episodes.Status())
	}
	s.File = bytesText(r.info.Bytes) + " recorded"
	if r.folder != "" && r.room > 0 {
		s.File += ", " + bytesText(r.room) + " free"
	}
	if r.marks != nil {
		s.Marks = r.marks.state()
		if r.keyboard != nil && !r.whole {
			r.keyboard.show(s.Marks)
		}
	}
	for i := range r.watch.Signals() {
		signal, seen := &r.Map.Signals[i], &r.watch.Signals()[i]
		one := words.LiveSignal{Name: words.Visible(signal.Name), Value: words.NotSeen}
		if seen.Seen {
			one.Value = words.ValueText(signal, &seen.Sample)
			one.Age = fmt.Sprintf("%.1f s", r.watch.Age(seen, now).Seconds())
		}
		s.Signals = append(s.Signals, one)
	}
	return s
}
