package analyze

import "lull/decode"

// Reason is why a figure is absent, as data: whoever shows it puts the sentence
// together. It is one of the types below, or nil where there is a figure. Two are
// compared by reflect.DeepEqual, as one of them holds a list, at which == panics.
type Reason interface{ reason() }

// PlainReason is a reason of which there is nothing to be told but itself.
type PlainReason string

const (
	NotMeasuredYet     PlainReason = "not_measured_yet"
	TooLarge           PlainReason = "too_large"   // the samples, to be measured by
	NoRest             PlainReason = "no_rest"     // of the engine
	NoDecision         PlainReason = "no_decision" // to restart was seen
	NoCrank            PlainReason = "no_crank"    // was seen
	CrankBeforeRest    PlainReason = "crank_before_rest"
	NoRunning          PlainReason = "no_running" // after a start, taken by itself
	NoRequestsMapped   PlainReason = "no_requests_mapped"
	NoRequest          PlainReason = "no_request"           // of those mapped became true before the decision
	NoVoltageFall      PlainReason = "no_voltage_fall"      // that it could come back from
	NotStanding        PlainReason = "not_standing"         // when the restart was asked for
	StoppedBeforeMoved PlainReason = "stopped_before_moved" // the engine, again
	EndedBeforeMoved   PlainReason = "ended_before_moved"   // the recording
	NoReading          PlainReason = "no_reading"           // of the counter, in any log
	NoOperation        PlainReason = "no_operation"         // of the starter
	NeverRan           PlainReason = "never_ran"            // the engine, in any log
	NeverMoved         PlainReason = "never_moved"          // the vehicle, in any log
	TooManyOperations  PlainReason = "too_many_operations"  // for an interval
	NoStarterLimit     PlainReason = "no_starter_limit"     // in the map
	RisesUnderLoad     PlainReason = "rises_under_load"     // the voltage, by the current that the map says
	StallSavesNothing  PlainReason = "stall_saves_nothing"  // an engine that stalled was not to be stopped
)

// NoSignal is a role that the map gives to no signal.
type NoSignal struct{ Role decode.Role }

// NeverSeen is a signal that the log never shows.
type NeverSeen struct {
	Signal string
	Role   decode.Role
}

// UnseenRequests are restart requests of which none was seen, and not all could be.
type UnseenRequests struct{ Why NotSeen }

// RoleUnseen is a role's signal that was not seen where it was needed.
type RoleUnseen struct {
	Role   decode.Role
	Where  Part
	Unseen int64 // ns; of AroundMoment, InFall and InWindow
	Whole  int64 // ns of what had to be seen; of InWindow and AfterDeparture
}

// Part is which part of what would show a figure was not seen.
type Part string

const (
	BeforeMoment   Part = "before" // the moment that the figure is of
	AfterMoment    Part = "after"
	AroundMoment   Part = "around"
	InFall         Part = "fall"      // of the voltage
	InWindow       Part = "window"    // more than half of it
	AfterDeparture Part = "departure" // of the vehicle from its standstill
)

// AsFarAsSeen is a reason, and what the figure is as far as it was seen.
type AsFarAsSeen struct {
	Why  Reason
	Best float64
	Unit string
}

// NoSample is a window in which no sample of a role lies. At most one of Gap, Away and
// Period says why.
type NoSample struct {
	Role   decode.Role
	Window int64 // ns
	Gap    int64 // ns of the window in which the recording has a gap
	Away   int64 // ns for which the signal was not seen
	Period int64 // ns between its samples
	Polled bool  // it comes with Period as it is polled so
}

// TooSeldom is a role whose samples come less often than a figure needs.
type TooSeldom struct {
	Role   decode.Role
	Period int64 // ns
	Window int64 // ns
	Fit    bool  // the samples in Window are fitted; else it is a polled signal's window
}

// ShortCrank is a crank too short for the speed at which the starter turns the engine.
type ShortCrank struct {
	Length int64 // ns
	LetGo  bool  // the starter was let go then; else the engine ran
}

// NoRecovery is a voltage that did not come back.
type NoRecovery struct {
	To            float64 // V
	Ended         Reason  // why the engine did not run; nil if it did
	Holds, Within int64   // ns that it has to stay there, and after running
}

// TooLittleDriven are logs that hold less driving, in km, than tells of everyday driving.
type TooLittleDriven struct{ Km, Least float64 }

// FewPairs counts the pairs of voltage and current that make no slope.
type FewPairs int

func (PlainReason) reason()     {}
func (NoSignal) reason()        {}
func (NeverSeen) reason()       {}
func (UnseenRequests) reason()  {}
func (RoleUnseen) reason()      {}
func (AsFarAsSeen) reason()     {}
func (NoSample) reason()        {}
func (TooSeldom) reason()       {}
func (ShortCrank) reason()      {}
func (NoRecovery) reason()      {}
func (TooLittleDriven) reason() {}
func (FewPairs) reason()        {}

// An outcome is why its episode has no restart.
func (Outcome) reason() {}
