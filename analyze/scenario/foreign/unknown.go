package foreign

import (
	"fmt"
	"slices"
	"sync"

	"lull/analyze/scenario"
	"lull/decode"
)

// Kind is what sort of unknown car is wanted.
type Kind uint8

const (
	Plain      Kind = iota // nothing but what the car's modules send
	Miles                  // road speeds are told in miles
	TwoBit                 // flags of two bits, codes for "not available"
	Polled                 // a scan tool asks beside what the modules send
	PolledOnly             // nothing but a scan tool's questions and the answers
	Pages                  // some identifiers carry several layouts, told apart by a byte
	NeverStops             // the engine runs from the log's first frame to its last
	Marks                  // the drive begins with what a driver shows, and is marked by hand
	Database               // a database of the bus exists
	J1939                  // a truck
	KindCount
)

var kindNames = [KindCount]string{"plain", "miles", "two-bit", "polled", "polled-only", "pages", "never-stops", "marks", "database", "j1939"}

func (k Kind) String() string { return kindNames[k] }

// Unknown is a car that nobody has a map of, in one drive, and the truth about both.
type Unknown struct {
	Name   string
	Traits Traits
	Map    []byte         // the true signal map
	Marks  []byte         // what a person marked during the drive; nil but for Marks
	DBC    []byte         // a database of the bus; nil but for Database
	Truth  scenario.Truth // of what lies within the log

	seed     int64
	layout   *layout
	drive    scenario.Drive
	from, to int64 // of the recording
	observed sync.Once
}

// NewUnknown draws a car and its drive.
func NewUnknown(seed int64, kind Kind) *Unknown {
	own := seed*int64(KindCount) + int64(kind)
	u := &Unknown{Name: fmt.Sprintf("%s-%d", kind, seed), seed: own}
	d := newDice(own, 21)
	manner := scenario.Manner{Waits: d.between(3, 8), Truck: kind == J1939, Steady: kind == NeverStops, Shows: kind == Marks}
	if d.chance(0.1) && !manner.Shows {
		manner.Waits = d.between(0.5, 1)
	}
	u.drive = scenario.Journey(own, manner)
	u.layout = draw(own, kind, u.drive.Manual())
	u.Traits = Traits{Kind: kind, TwoBuses: u.layout.twoBuses, Miles: kind == Miles}
	for role := range u.layout.lacks {
		u.Traits.Lacks = append(u.Traits.Lacks, role)
	}
	slices.Sort(u.Traits.Lacks)
	u.Traits.BeginsRunning = kind == NeverStops || kind != Marks && d.chance(0.08)
	u.Traits.EndsDriving = d.chance(0.2)
	readings := u.window(d, manner)
	u.Map = u.layout.mapText(u.Name)
	switch kind {
	case Marks:
		u.Marks = u.marksText(u.Truth.Shown, readings)
	case Database:
		u.DBC = u.layout.database()
	}
	return u
}

// window settles what of the drive is recorded, and gives a few moments at which the
// instruments can be read.
func (u *Unknown) window(d dice, m scenario.Manner) []reading {
	var moving []int64
	var readings []reading
	steady, idles := int64(0), 0
	u.Truth = u.drive.Steps(func(s *scenario.Step) bool {
		if u.from == 0 {
			u.from = s.Time
		}
		u.to = s.Time
		if s.RoadSpeed > 15 && !s.StopCommand && s.Time%(100*ms) == 0 {
			moving = append(moving, s.Time)
		}
		if s.Acceleration > 0.05 || s.Acceleration < -0.05 || !s.Running {
			steady = s.Time
		}
		if s.Time == steady+1500*ms && len(readings) < 5 {
			switch {
			case s.RoadSpeed > 20:
				readings = append(readings, reading{at: s.Time - 1000*ms, speed: s.RoadSpeed})
			case s.RoadSpeed == 0 && idles == 0:
				idles++
				readings = append(readings, reading{at: s.Time - 1000*ms, turns: s.EngineSpeed})
			}
		}
		return true
	})
	u.from += seconds(d.between(0, 1))
	if u.Traits.BeginsRunning {
		u.from += seconds(m.Waits + 1.2 + d.between(3, 6))
	}
	if u.Traits.EndsDriving && len(moving) > 10 {
		u.to = moving[len(moving)-1-d.IntN(len(moving)/5)]
	}
	t := &u.Truth
	t.Start, t.End = u.from, u.to
	t.Episodes = slices.DeleteFunc(t.Episodes, func(e scenario.TrueEpisode) bool { return e.Stop < u.from || e.Stop > u.to })
	t.Starts = slices.DeleteFunc(t.Starts, func(s scenario.TrueStart) bool { return s.Crank < u.from || s.Crank > u.to })
	t.Standstills = slices.DeleteFunc(t.Standstills, func(s scenario.TrueStandstill) bool { return s.End < u.from || s.Start > u.to })
	t.Gaps, t.Silences = nil, nil
	for i := range t.Episodes {
		if e := &t.Episodes[i]; e.TakeOff != nil && *e.TakeOff > u.to {
			e.TakeOff = nil
		}
	}
	return readings
}

// Play hands out the log's frames in order of time until yield says no. A frame
// belongs to the player until the next one.
func (u *Unknown) Play(yield func(*decode.Frame) bool) {
	p := newPlayer(u, draw(u.seed, u.Traits.Kind, u.drive.Manual()))
	p.play(yield)
}

// observe plays the drive once, for what the log shows of every field.
func (u *Unknown) observe() {
	u.observed.Do(func() {
		p := newPlayer(u, u.layout)
		p.notes = true
		p.play(func(*decode.Frame) bool { return true })
	})
}
