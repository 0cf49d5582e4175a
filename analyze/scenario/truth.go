package scenario

// Moment is a moment that may not exist: nil where it was not reached.
type Moment = *int64

// moment is a moment that was reached.
func moment(at int64) Moment { return &at }

// TrueRequest is what asked for a restart.
type TrueRequest struct {
	Name string // as the map calls it
	At   int64
}

// TrueEpisode is one stop of the engine as it was. All moments are on the log's
// own clock, ns since the epoch as decode.Frame.Time: when an output changed on
// the sending side, or when the continuous curve crossed a threshold.
type TrueEpisode struct {
	Outcome  string
	Stop     int64
	Rest     Moment // at or below 30 rpm
	Request  *TrueRequest
	Decision Moment  // stop command withdrawn or starter turned on, whichever was first
	Cranks   []int64 // starter command on
	Running  Moment  // last passage of 500 rpm after the crank
	TakeOff  Moment  // road speed leaves 0.5 km/h

	VoltageMin                   float64 // V, of the continuous curve from 50 ms before the first crank to 500 ms after running
	SpeedAtRequest, SpeedAtCrank float64 // rpm
}

// TrueStandstill is one time in which the car stood.
type TrueStandstill struct {
	Start, End  int64 // passages of 0.5 km/h; the log's first and last moment where they are not in it
	Opportunity bool  // at least 3 s, and it began with the engine running
	Stopped     bool
	Reason      string // what kept the engine running for at least half of the stoppable time; empty: nothing
	Unexplained bool

	calledOff bool // the stop was called off, or the engine died
}

// TrueStart is one starter operation.
type TrueStart struct {
	Kind  string // key, restart, retry
	Crank int64  // starter command on
}

// TrueSilence is one time in which a module sent nothing while others did.
type TrueSilence struct {
	Module     string
	Start, End int64
	Period     int64 // ns, of the frame that stayed away
}

// Truth is what happened in a drive.
type Truth struct {
	Start, End  int64 // of the drive; frames lie within
	Episodes    []TrueEpisode
	Standstills []TrueStandstill
	Starts      []TrueStart
	Silences    []TrueSilence
	Gaps        [][2]int64 // times in which the recorder wrote nothing
	Shown       []Shown    // on purpose, before setting off

	SourceResistance float64 // mohm, of the battery and its connections
}
