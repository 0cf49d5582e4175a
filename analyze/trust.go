package analyze

import "lull/decode"

// Credence says how far a Result can be believed.
type Credence string

const (
	Sound    Credence = "sound"
	Doubtful Credence = "doubtful" // some figures are not to be used; the reasons say which
	Unusable Credence = "unusable" // none is
)

// Weight orders credences: what is unusable first.
func (c Credence) Weight() int {
	switch c {
	case Unusable:
		return 0
	case Doubtful:
		return 1
	}
	return 2
}

// Trust says whether what was found of a log can be believed, and why not.
type Trust struct {
	Credence
	Doubts []Doubt // the gravest first; empty if it is sound
}

// Telling returns the doubts that are worth telling: where some are grave, those alone.
func (t *Trust) Telling() []Doubt {
	for i := range t.Doubts {
		if t.Credence == Unusable && !t.Doubts[i].Grave {
			return t.Doubts[:i]
		}
	}
	return t.Doubts
}

// Usable reports whether what was found in the log can be used.
func (r *Result) Usable() bool { return r.EngineSpeedSeen && r.Trust.Credence != Unusable }

// Doubt is one reason not to believe a Result, as data: whoever shows it puts the
// sentence together.
type Doubt struct {
	Code   string
	Grave  bool   // it makes the Result unusable
	Signal string // of the map; empty if it is none's
	Cause  Cause
}

// Codes of doubts.
const (
	DoubtBeyond       = "beyond_quantity"  // it reads what its role cannot have
	DoubtJumps        = "jumps"            // it changes faster than its role can
	DoubtStuck        = "stuck"            // it stays the same although it should not
	DoubtNeverSeen    = "never_seen"       // the log has no value of it
	DoubtBeyondFrame  = "beyond_frame"     // its bits reach past the end of its frames
	DoubtEngineOff    = "engine_never_ran" // nothing tells that the engine ran
	DoubtIdleSpeed    = "idle_speed"       // no engine idles so
	DoubtNeverOn      = "command_never_on" // something happened that it must have commanded
	DoubtAgainst      = "command_against"  // the engine does not follow it
	DoubtIgnition     = "ignition_off"     // the engine ran without it
	DoubtLinesLost    = "lines_lost"       // much of the log could not be read
	DoubtRecordingGap = "recording_gaps"   // much of the drive was not recorded
)

// JumpingSignal changes faster than its role can.
type JumpingSignal struct {
	Signal  string
	Role    decode.Role
	From    float64 // the widest of the jumps, in the role's unit
	To      float64
	Jumps   int64
	Changes int64 // of which the jumps are some
	Slip    Slip
}

// StillEngine is an engine speed that never reached running_speed while the vehicle moved.
type StillEngine struct {
	Signal    string
	Low, High float64 // rpm, all that it read
	Km        float64 // that the vehicle went
	Slip      Slip
}

// EngineOff is an engine that never ran in a log in which the vehicle did not move either.
type EngineOff struct{ Signal string }

// OddIdle is the speed, in rpm, at which the engine ran while the vehicle stood.
type OddIdle struct {
	Signal string
	Idle   float64
}

// SilentCommand is a switch that never came on, although the engine did what it commands
// that many times.
type SilentCommand struct {
	Signal string
	Role   decode.Role
	Times  int
}

// UnseenSignal is a signal of the map that the log never shows.
type UnseenSignal struct {
	Signal string
	Role   decode.Role
	Frame  string // the identifier of its frame
	Frames bool   // the frame was there
}

// ShortFrame is a frame that ends before a signal in it does.
type ShortFrame struct {
	Signal       string
	Role         decode.Role
	Frame        string // its identifier
	Needs, Bytes int    // how long it would have to be, and is
}

// DeadIgnition is an ignition that is off while the engine runs, for so long in ns.
type DeadIgnition struct {
	Signal string
	Ran    int64
}

// LostShare is how much of a log is missing: lines that could not be read, or ns without a
// frame, of all.
type LostShare struct{ Lost, Of int64 }

// Cause is the evidence for a Doubt: one of the types above, or what is implausible.
type Cause interface{ cause() }

func (JumpingSignal) cause()      {}
func (StillEngine) cause()        {}
func (EngineOff) cause()          {}
func (OddIdle) cause()            {}
func (SilentCommand) cause()      {}
func (UnseenSignal) cause()       {}
func (ShortFrame) cause()         {}
func (DeadIgnition) cause()       {}
func (LostShare) cause()          {}
func (ImplausibleSignal) cause()  {}
func (ImplausibleCommand) cause() {}
