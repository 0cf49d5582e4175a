package onelog_test

import (
	"encoding/binary"
	"runtime"
	"testing"
	"time"

	"lull/analyze/onelog"
	"lull/decode"
	"lull/pkg/oracle"
)

// everything is a map of every role and of every kind of condition.
const everything = `
restart_requests:
  - {name: brake, when: {signal: brake, is: released}}
  - {name: turn lamp, bridge: 800ms, when: {signal: turn, is_not: off}}
  - {name: steering, when: {signal: steer, moves: 15}}
  - {name: battery, by: system, for: 200ms, when: {any: [{signal: charge, below: 65}, {signal: volt, below: 11}]}}
inhibits:
  - {name: cold, when: {signal: coolant, below: 40}}
  - {name: cabin, bridge: 1s, when: {all: [{signal: ac, is: on}, {not: {signal: coolant, between: [60, 90]}}]}}
  - {name: turned, when: {signal: steer, moves: 90}}
conditions: [coolant, charge, volt]
limits:
  restart_latency: {max: 0.6}
  voltage_min: {min: 8.5}
  hold_pressure_min: {min: 300}
`

// steady makes frames of a state that lasts, without end.
type steady struct {
	frames []decode.Frame // one of each identifier, mapped and not
	now    int64
	step   int64 // ns between two frames of one identifier
	n      int
}

// newSteady takes the first frame of each of the drive's signals and two
// identifiers that no map names.
func newSteady(d *drive) *steady {
	s := &steady{step: 10e6}
	seen := map[uint32]bool{}
	for _, f := range d.frames {
		if !seen[f.ID] {
			seen[f.ID] = true
			s.frames = append(s.frames, f)
		}
	}
	for _, id := range []uint32{0x7A0, 0x18FEE500} {
		f := decode.Frame{Bus: "can0", ID: id, Len: 8}
		if id > 0x7FF {
			f.Flags = decode.Extended
		}
		s.frames = append(s.frames, f)
	}
	return s
}

// set changes the raw value of one of the signals.
func (s *steady) set(name string, raw uint16) {
	for i := range signals {
		if signals[i].name == name {
			for k := range s.frames {
				if s.frames[k].ID == 0x100+uint32(i) {
					binary.LittleEndian.PutUint16(s.frames[k].Data[:], raw)
				}
			}
		}
	}
}

// push returns all frames once every step for so long.
func (s *steady) push(r *onelog.Run, length time.Duration) {
	for end := s.now + int64(length); s.now < end; s.now += s.step {
		for i := range s.frames {
			s.frames[i].Time = epoch + s.now + int64(i)*1000
			r.Push(&s.frames[i])
			s.n++
		}
	}
}

const everySignal = `
	rpm: 0s=800
	speed: 0s=0
	volt: 0s=12.6
	amp: 0s=-5
	fuel: 0s=0.8
	hold: 0s=500
	stop: 0s=0
	starter: 0s=0
	key: 0s=1
	count: 0s=7
	code: 0s=4
	brake: 0s=pressed
	turn: 0s=off
	steer: 0s=0
	charge: 0s=80
	coolant: 0s=70
	ac: 0s=on
	body: 0s=1
	end: 10ms`

// states are what may last for hours, and how the engine gets there.
var states = []struct {
	name  string
	enter func(s *steady, r *onelog.Run)
}{
	{"idling at a standstill", func(s *steady, r *onelog.Run) {}},
	{"driving", func(s *steady, r *onelog.Run) { s.set("speed", 5000); s.set("rpm", 8000) }},
	{"resting after a stop", func(s *steady, r *onelog.Run) {
		s.set("stop", 1)
		s.push(r, 100*time.Millisecond)
		s.set("rpm", 0)
	}},
	{"stop command without effect", func(s *steady, r *onelog.Run) { s.set("stop", 1) }},
	{"turning below running_speed", func(s *steady, r *onelog.Run) { s.set("rpm", 1600) }},
	{"resting without ignition", func(s *steady, r *onelog.Run) {
		s.set("key", 0)
		s.push(r, 100*time.Millisecond)
		s.set("rpm", 0)
	}},
	{"restarted, and standing on", func(s *steady, r *onelog.Run) {
		s.set("stop", 1)
		s.push(r, 100*time.Millisecond)
		s.set("rpm", 0)
		s.push(r, 10*time.Second)
		s.set("brake", 0)
		s.set("stop", 0)
		s.set("starter", 1)
		s.push(r, 300*time.Millisecond)
		s.set("rpm", 3200)
		s.set("starter", 0)
	}},
	{"cranking without end", func(s *steady, r *onelog.Run) { s.set("rpm", 800); s.set("starter", 1) }},
	{"cranking without end after a stop", func(s *steady, r *onelog.Run) {
		s.set("stop", 1)
		s.push(r, 100*time.Millisecond)
		s.set("rpm", 0)
		s.push(r, 10*time.Second)
		s.set("rpm", 800)
		s.set("starter", 1)
	}},
}

func TestFramesAllocateNothingWhileNothingHappens(t *testing.T) {
	if oracle.RaceDetector {
		t.Skip("the race detector allocates")
	}
	for _, without := range []string{"", "stop", "starter", "speed"} {
		for _, state := range states {
			d := parseDrive(t, everySignal, everything)
			s := newSteady(&d)
			for i := range signals {
				if signals[i].name == without {
					for k := range s.frames {
						if s.frames[k].ID == 0x100+uint32(i) {
							s.frames[k].ID = 0x7A1 // mapped, and never there
						}
					}
				}
			}
			r := onelog.NewRun(d.m)
			s.push(r, 5*time.Second)
			state.enter(s, r)
			// All tracks have their size, and what was open is settled.
			s.push(r, 200*time.Second)
			if n := testing.AllocsPerRun(3, func() { s.push(r, 10*time.Second) }); n != 0 {
				t.Errorf("%s, never seen: %q: %v allocations in 10 s of frames", state.name, without, n)
			}
		}
	}
}

// busy makes the driver play with the turn lamp, the wheel and the air
// conditioning for so long.
func (s *steady) busy(r *onelog.Run, length time.Duration) {
	for step, end := uint16(0), s.now+int64(length); s.now < end; step++ {
		s.set("turn", step/2%2)
		s.set("steer", step/8%4*80)
		s.set("ac", step/32%2)
		s.push(r, 500*time.Millisecond)
	}
}

func heap() int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// A drive of ten hours, in which each state lasts for more than an hour, takes
// hardly more memory than its first minutes, and no more time for a frame at the
// end of a state than at its beginning.
func TestMemoryAndTimeStayBoundedOverTenHours(t *testing.T) {
	if testing.Short() || oracle.RaceDetector {
		t.Skip("takes some seconds")
	}
	for _, state := range states {
		t.Run(state.name, func(t *testing.T) {
			d := parseDrive(t, everySignal, everything)
			s := newSteady(&d)
			s.step = 200e6
			r := onelog.NewRun(d.m)
			s.busy(r, 5*time.Second)
			state.enter(s, r)
			s.busy(r, 5*time.Minute)
			before := heap()
			fastest := func() time.Duration {
				best := time.Duration(1 << 62)
				for range 20 {
					start, frames := time.Now(), s.n
					s.busy(r, 30*time.Second)
					best = min(best, time.Since(start)/time.Duration(s.n-frames))
				}
				return best
			}
			first := fastest()
			s.busy(r, 10*time.Hour-20*time.Minute)
			last, most := fastest(), 3*first+50
			for try := 0; last > most && try < 50; try++ { // the machine may be busy
				time.Sleep(20 * time.Millisecond)
				last = min(last, fastest())
			}
			if grown := heap() - before; grown > 3<<20 {
				t.Errorf("the heap grew by %d bytes", grown)
			}
			if last > most {
				t.Errorf("a frame took %v at first, %v after ten hours", first, last)
			}
			r.Finish(decode.Info{})
		})
	}
}
