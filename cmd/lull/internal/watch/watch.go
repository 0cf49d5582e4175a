// Package watch looks at frames as they come, for the person beside the car: what is on
// each bus, the last value of every mapped signal, and whether the recording will be worth
// anything. It measures no episode and writes nothing. Start with New.
package watch

import (
	"time"

	"lull/decode"
	"lull/decode/wire"
)

// Watch follows one recording. It is not safe for use by several goroutines.
type Watch struct {
	m       *decode.Map // nil: none
	decoder *decode.Decoder
	bitrate func(bus string) int64
	// Played says that the frames come from played logs only, not from a bus.
	Played bool

	began  time.Time
	first  int64 // time of the first data frame
	latest int64 // of the newest frame
	came   time.Time
	any    bool // a frame of any kind came
	data   bool // a data frame came

	buses   []*Bus
	signals []Signal
	entries []entry

	checks
}

// Bus describes what one interface received.
type Bus struct {
	Name    string
	Frames  int64 // of every kind
	Errors  int64 // error frames among them
	Bitrate int64 // bit/s; 0: not known
	// PerSecond and Load are those of the last whole second of frame time; Load is
	// the share of it in which the bus was busy, 0 where Bitrate is not known.
	PerSecond int64
	Load      float64

	second     int64 // that is being counted
	count, len int64
	last       int64
}

// Signal is what a mapped signal said last.
type Signal struct {
	Seen   bool
	Sample decode.Sample
	Valid  bool // it was ever valid
}

// entry is what came for one of the map's frames.
type entry struct {
	seen bool
	need int // payload bytes that its fields need
}

// New returns a Watch. m may be nil. bitrate returns an interface's bit rate, 0 if it is
// not known.
func New(m *decode.Map, bitrate func(bus string) int64, now time.Time) *Watch {
	w := &Watch{m: m, bitrate: bitrate, began: now}
	if m == nil {
		return w
	}
	w.decoder = decode.NewDecoder(m)
	w.signals = make([]Signal, len(m.Signals))
	w.entries = make([]entry, len(m.Entries))
	for i := range m.Signals {
		s := &m.Signals[i]
		if len(s.When) == 0 {
			w.entries[s.Entry].need = max(w.entries[s.Entry].need, s.LastByte()+1)
		}
	}
	return w
}

// Push takes the next frame, which came at now by this computer's clock.
func (w *Watch) Push(f *decode.Frame, now time.Time) {
	if w.any && f.Time < w.latest {
		w.ranBack(w.latest - f.Time)
	}
	w.any, w.latest, w.came = true, f.Time, now
	w.bus(f.Bus).count1(f)
	if f.Flags.Has(decode.Error) {
		w.failed(f)
		return
	}
	if !w.data {
		w.data, w.first = true, f.Time
	}
	if w.m == nil || f.Flags.Has(decode.Remote) {
		return
	}
	samples := w.decoder.Decode(f)
	for _, e := range w.decoder.Matched() {
		entry := &w.entries[e]
		entry.seen = true
		if !w.m.Entries[e].Polled() && int(f.Len) < entry.need {
			w.short(e, f)
		}
	}
	for i := range samples {
		s := &w.signals[samples[i].Signal]
		s.Seen, s.Sample, s.Valid = true, samples[i], s.Valid || samples[i].Valid
	}
}

func (w *Watch) bus(name string) *Bus {
	for _, b := range w.buses {
		if b.Name == name {
			return b
		}
	}
	const most = 64 // a stream of noise has many
	if len(w.buses) == most {
		return w.buses[most-1]
	}
	b := &Bus{Name: name, Bitrate: w.bitrate(name)}
	w.buses = append(w.buses, b)
	return b
}

func (b *Bus) count1(f *decode.Frame) {
	if second := f.Time / 1e9; second != b.second {
		b.PerSecond, b.Load = 0, 0
		if second == b.second+1 {
			b.PerSecond = b.count
			if b.Bitrate > 0 {
				b.Load = float64(b.len) / float64(b.Bitrate)
			}
		}
		b.second, b.count, b.len = second, 0, 0
	}
	b.Frames++
	b.count++
	b.len += int64(wire.Bits(f))
	b.last = f.Time
	if f.Flags.Has(decode.Error) {
		b.Errors++
	}
}

// Buses returns the interfaces in the order of their first frames.
func (w *Watch) Buses() []*Bus { return w.buses }

// Signals returns the last sample of each of the map's signals. The slice belongs to the
// Watch.
func (w *Watch) Signals() []Signal { return w.signals }

// clock returns the frame time at now: that of the newest frame plus what has passed since.
func (w *Watch) clock(now time.Time) int64 { return w.latest + int64(now.Sub(w.came)) }

// Age returns how long ago, at now, a signal was seen.
func (w *Watch) Age(s *Signal, now time.Time) time.Duration {
	return max(0, time.Duration(w.clock(now)-s.Sample.Time))
}

// Silent returns for how long no frame of any kind has come.
func (w *Watch) Silent(now time.Time) time.Duration {
	if !w.any {
		return now.Sub(w.began)
	}
	return now.Sub(w.came)
}
