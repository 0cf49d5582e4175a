package draft

import "lull/decode"

// Quantity is what a drafted signal means: a role of the map, or what conditions compare.
type Quantity uint8

const (
	EngineSpeed Quantity = iota
	VehicleSpeed
	BatteryVoltage
	BatteryCurrent
	BatteryCharge
	ModuleSupply
	HoldPressure
	FuelRate
	Acceleration
	Coolant
	StopCommand
	StarterCommand
	Ignition
	StarterCount
	InhibitCode
	Brake
	TurnLamp
	Steering
	Marked // named by a mark
	quantityCount
)

// quantities describes each Quantity: its name in the map, its role, its unit.
var quantities = [quantityCount]struct {
	name string
	role decode.Role
	unit string
}{
	EngineSpeed:    {"engine_speed", decode.EngineSpeed, "rpm"},
	VehicleSpeed:   {"vehicle_speed", decode.VehicleSpeed, "km/h"},
	BatteryVoltage: {"battery_voltage", decode.BatteryVoltage, "V"},
	BatteryCurrent: {"battery_current", decode.BatteryCurrent, "A"},
	BatteryCharge:  {"battery_charge", decode.BatteryCharge, "%"},
	ModuleSupply:   {"module_supply", decode.ModuleSupply, "V"},
	HoldPressure:   {"hold_pressure", decode.HoldPressure, "kPa"},
	FuelRate:       {"fuel_rate", decode.FuelRate, "L/h"},
	Acceleration:   {"acceleration", decode.Acceleration, "m/s2"},
	Coolant:        {"coolant", decode.NoRole, "degC"},
	StopCommand:    {"stop_command", decode.StopCommand, ""},
	StarterCommand: {"starter_command", decode.StarterCommand, ""},
	Ignition:       {"ignition", decode.Ignition, ""},
	StarterCount:   {"starter_operations", decode.StarterCount, ""},
	InhibitCode:    {"inhibit_code", decode.InhibitCode, ""},
	Brake:          {"brake", decode.NoRole, ""},
	TurnLamp:       {"turn", decode.NoRole, ""},
	Steering:       {"steering", decode.NoRole, "deg"},
	Marked:         {"marked", decode.NoRole, ""},
}

// Name is the signal's name in the map.
func (q Quantity) Name() string { return quantities[q].name }

// Role is the role that the signal has in the map, or decode.NoRole.
func (q Quantity) Role() decode.Role { return quantities[q].role }

// Unit is the unit in which the quantity is drafted, or "".
func (q Quantity) Unit() string { return quantities[q].unit }

// Switch reports whether the quantity is on or off.
func (q Quantity) Switch() bool {
	switch q {
	case StopCommand, StarterCommand, Ignition, Brake, TurnLamp, Marked:
		return true
	}
	return false
}

// Sureness says how far a proposal can be relied on.
type Sureness uint8

const (
	Guess Sureness = iota
	Likely
	Sure
)

func (s Sureness) String() string { return [...]string{"guess", "likely", "sure"}[s] }

// Signal is one proposed signal of the map.
type Signal struct {
	What Quantity
	Name string // that of What, or the mark's

	// Entry and Field are as a map has them; Field.Entry and Entry.Signals are not set.
	// Field.Scale is not set either, but by Factor and Offset: as decimals.
	Entry          decode.Entry
	Field          decode.Signal
	Factor, Offset float64
	// Page, if not nil, is the field of the same frame that selects the page, and
	// PageValue what it must be.
	Page      *decode.Signal
	PageValue int64

	FieldIs, ScaleIs Sureness // ScaleIs means nothing for switches and counters
	Evidence         []Evidence
	// Alike is how many other bits or fields do the same; it is said, never passed over.
	Alike  int
	Rivals []Rival

	// Written says that the signal belongs into the map; else it stays a comment there.
	Written bool
}

// HasFactor reports whether the signal is a number that a factor scales.
func (s *Signal) HasFactor() bool {
	return !s.What.Switch() && s.What != StarterCount && s.What != InhibitCode
}

// Complete reports whether the map can have the signal: a number needs a unit, which one
// without a factor does not have.
func (s *Signal) Complete() bool { return !s.HasFactor() || s.Field.Unit != "" }

// Rival is another field that may be meant.
type Rival struct {
	Entry          decode.Entry
	Field          decode.Signal
	Factor, Offset float64
	Page           *decode.Signal
	PageValue      int64
}

// Evidence is why a field is proposed, as data. It is one of the types below.
type Evidence interface{ evidence() }

type (
	// Follows: the field follows answers to a scan tool.
	Follows struct {
		PID      uint8
		Answers  int
		Distinct int     // different values among them
		Within   float64 // root mean square of what is left, in the unit
		Part     float64 // the same, of the spread of the answers
		Lag      float64 // s
	}
	// Answers: the answers themselves are used, as no field follows them.
	Answers struct {
		PID   uint8
		Every float64 // s
	}
	// Standard: a parameter of SAE J1939.
	Standard struct {
		PGN       uint32
		Low, High float64
	}
	// Database: a database of the bus names it.
	Database struct {
		Message, Signal string
		Low, High       float64 // seen, in the unit
		Line            int
	}
	// Shape: it comes up and goes down as an engine does.
	Shape struct {
		Starts, Stops int
		Crank         float64 // rpm, or 0 if none was seen
		Idle          float64 // rpm
	}
	// NeverRested: the engine ran all the time, so that only a level is known.
	NeverRested struct{ Idle float64 }
	// SeveralModules: so many other frames tell the same.
	SeveralModules struct{ Others int }
	// Dips: a voltage falls at each crank and rises when the engine runs.
	Dips struct {
		In, Of                 int
		By, Resting, Generated float64 // V
	}
	// Road: it stands still while the engine rests and moves with the engine.
	Road struct {
		Drives      int
		Correlation float64
		Top         float64 // km/h
	}
	// OnInCranks: on while the engine is cranked and at no other time.
	OnInCranks struct{ In, Of int }
	// OnInStops: on before the engine rests, off before it is cranked.
	OnInStops struct {
		In, Of    int
		Lead, Lag float64 // s
	}
	// KeyOn: comes on so long before the first crank, or is on from the beginning (0);
	// with Ends it goes off when the engine is stopped for the last time, and not before.
	KeyOn struct {
		Before float64 // s
		Ends   bool
	}
	// StepsAtCranks: a number goes up by one with each crank.
	StepsAtCranks struct{ Steps int }
	// IntoStandstills: on before each standstill, off before the car moves.
	IntoStandstills struct{ Standstills int }
	// Blinks: on and off as a turn lamp.
	Blinks struct {
		Times int
		Rate  float64 // per minute
	}
	// InMarks: on in the marked times and off around them.
	InMarks struct {
		Times int
		Lag   float64 // s of the hand
	}
	// CrankCurrent: it falls deeply at each crank and is positive while charging.
	CrankCurrent struct {
		In, Of int
		Lowest float64 // A
	}
	// DashValue: a value of the dashboard settles the factor.
	DashValue struct {
		At, Value float64
		Unit      string
		Fit       int // usual factors by which the field can have been shown as that
	}
	// ByHand: a person chose it, InPlace of another field that was proposed.
	ByHand struct{ InPlace bool }
)

func (Follows) evidence()         {}
func (Answers) evidence()         {}
func (Standard) evidence()        {}
func (Database) evidence()        {}
func (Shape) evidence()           {}
func (NeverRested) evidence()     {}
func (SeveralModules) evidence()  {}
func (Dips) evidence()            {}
func (Road) evidence()            {}
func (OnInCranks) evidence()      {}
func (OnInStops) evidence()       {}
func (KeyOn) evidence()           {}
func (StepsAtCranks) evidence()   {}
func (IntoStandstills) evidence() {}
func (Blinks) evidence()          {}
func (InMarks) evidence()         {}
func (CrankCurrent) evidence()    {}
func (DashValue) evidence()       {}
func (ByHand) evidence()          {}

// Draft is what was found and what was not.
type Draft struct {
	Signals []Signal  // in the order of Quantity; at most one each, but for Marked
	Missing []Missing // what a map should have and no field was found for
	Out     []Signal  // what a person left out
	Frames  int64     // that were seen
	Left    int64     // of these, those beyond the bound of memory
	Untimed bool      // the logs have no time stamps
	// Unfollowed are the names of marks that no switch follows, but for those of what was found
	// in another way.
	Unfollowed []string
	Drive      DriveFacts // what the engine did, by the drafted speed
}

// Missing is a quantity that was not found, and what is known of why.
type Missing struct {
	What Quantity
	Why  Why
}

// Why is a reason why a quantity could not be found.
type Why uint8

const (
	NothingAlike Why = iota // no field behaves like it
	NoTimes                 // the log has no time stamps
	NoEngine                // it is dated by the engine's starts, and no engine speed was found
	NeverStarted            // the log has no start of the engine
	NeverStopped            // the engine ran all the time
	TooFewStarts            // one start tells too little
	NeverStood              // the car never came to a standstill, or never moved
)

// DriveFacts is what the drafted engine speed shows.
type DriveFacts struct {
	Known         bool
	Starts, Stops int
	Ran           bool
	Rested        bool
}

// Signal returns the proposal for a quantity, or nil.
func (d *Draft) Signal(q Quantity) *Signal {
	for i := range d.Signals {
		if d.Signals[i].What == q {
			return &d.Signals[i]
		}
	}
	return nil
}
