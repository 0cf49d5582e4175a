package analyze

import (
	"strconv"

	"lull/decode"
	"lull/pkg/bounds"
)

// Result is everything found in one log, as plain data. Instants are nanoseconds from the
// first frame of any kind. Nothing in it is rounded.
type Result struct {
	Info    decode.Info // what the reader counted; its Remarks include the analysis' own
	Frames  int64
	HasTime bool
	Start   int64 // time of the first frame, as decode.Frame.Time
	Span    int64 // ns from the first frame to the last

	Trust Trust
	// IdleSpeed is the median speed, in rpm, at which the engine ran while the vehicle
	// stood; 0 if it did not.
	IdleSpeed float64

	// EngineSpeedSeen reports whether the log ever showed the engine speed; without
	// it there is nothing to find.
	EngineSpeedSeen bool

	Episodes    []Episode
	Standstills []Standstill
	Starts      []Start
	Silences    []Silence
	Gaps        []Gap
	Findings    []Finding

	// HiddenStarts are the times, in ns, at which the engine came to run outside of any
	// episode, by a start that was not seen.
	HiddenStarts []int64

	Starter   Starter
	Summary   Summary
	Exercised Exercised

	EngineHours Total // h in which the engine ran
	Distance    Total // km, from the vehicle speed
}

// Outcome is how an episode ended.
type Outcome string

const (
	LogEnd       Outcome = "log_end"
	InGap        Outcome = "gap"
	IgnitionOff  Outcome = "ignition_off"
	NoStart      Outcome = "no_start"
	Aborted      Outcome = "aborted"
	Stalled      Outcome = "stalled"
	ChangeOfMind Outcome = "change_of_mind"
	Restarted    Outcome = "restarted"
)

// Outcomes lists all outcomes in the order in which they are tried.
var Outcomes = []Outcome{LogEnd, InGap, IgnitionOff, NoStart, Aborted, Stalled, ChangeOfMind, Restarted}

// Event is an instant that was or was not reached, and the role that told it.
type Event struct {
	bounds.Instant
	From decode.Role
}

// Request is a restart request of the map that became true.
type Request struct {
	bounds.Instant
	Condition int // index into Map.Requests
}

// Episode is one stop of the engine and its outcome.
type Episode struct {
	N int // from 1
	// Part numbers the stretches of a log from 0. A new one begins where time runs back by
	// more than it does between interfaces that are written in turn.
	Part    int
	Outcome Outcome
	Stop    Event
	// Rest, Request, Decision and Running are nil if they were not reached.
	Rest     *bounds.Instant
	Request  *Request
	Also     []Request // further requests that may have asked for this restart
	Decision *Event
	Cranks   []Event // never nil
	Running  *bounds.Instant

	Metrics []MetricValue // in the order of Metrics
	Limits  []LimitVerdict
	Notes   []EpisodeNote

	// Moving reports whether the engine came to rest and the vehicle never stood until the
	// episode ended.
	Moving bool

	// AtStop holds, for each of Map.Circumstances, the signal's value at the stop
	// onset.
	AtStop []Reading
}

// Reading is a value that may not have been seen.
type Reading struct {
	Value float64
	Seen  bool
}

// MetricValue is a metric's value, or the reason why there is none.
type MetricValue struct {
	Key    string
	Unit   string
	Absent Reason // nil if there is a value
	bounds.Value
	// Sampling, in seconds, is given for medians and extremes: the longest time
	// between two samples of the window. 0 where it does not apply.
	Sampling float64
	// StandardError is given for fits; 0 if it does not apply.
	StandardError    float64
	HasSampling      bool
	HasStandardError bool
	// Unseen is for how many seconds of its window the signal was not seen, because the
	// recording has a gap there or the signal's frame was silent.
	Unseen float64
	// OpenBelow and OpenAbove say that the true value may lie further below Low, or above
	// High, by an unknown amount, because part of its window was not seen or has too few
	// samples. Such a value keeps no limit.
	OpenBelow, OpenAbove bool
}

// Told returns the metric as people are told it. As the two ends of a time follow each
// other, it is never below 0, though the difference of two wide instants may be. Documents
// and verdicts keep that difference.
func (v MetricValue) Told() MetricValue {
	if v.Unit == "s" && v.Key != "stop_delay" {
		v.Low, v.Best, v.High = max(v.Low, 0), max(v.Best, 0), max(v.High, 0)
	}
	return v
}

// Verdict is how a metric compares with its limit.
type Verdict string

const (
	Inside     Verdict = "inside"
	Outside    Verdict = "outside"
	Borderline Verdict = "borderline"
	// Unseen says that what was seen does not break the limit, and that not enough was seen
	// to say that it is kept.
	Unseen Verdict = "unseen"
)

// LimitVerdict is one limit of the map, judged for one episode.
type LimitVerdict struct {
	Limit   decode.Limit
	Verdict Verdict
}

// Truth is three-valued.
type Truth uint8

const (
	Unknown Truth = iota
	False
	True
)

// Standstill is one period in which the vehicle stood.
type Standstill struct {
	N           int
	Part        int // as Episode.Part
	Start       bounds.Instant
	End         bounds.Instant // where Open: the last moment of the log
	Until       int64          // end of the time in which the engine could have been stopped: stop onset, key-off or End
	Opportunity bool
	NotCounted  Exclusion // why it is no opportunity; empty if it is one
	Open        bool
	Stopped     bool
	Episode     int // 0: none
	StopDelay   *MetricValue
	Inhibits    []InhibitShare // one for each of Map.Inhibits
	Codes       []CodeShare    // values of the car's own inhibit code, by share
	Covered     float64
	Reason      string // empty: none
	Unexplained bool
	CannotTell  []string
	// Hidden is how long, in ns, the engine may have been stopped without being seen:
	// 0 if that makes no difference.
	Hidden int64
}

// RanOn reports whether the engine could have been stopped in a standstill that was seen to
// its end, and was not.
func (s *Standstill) RanOn() bool { return s.Opportunity && !s.Stopped && !s.Open }

// Holds reports whether an episode's stop onset lies in the standstill, or is the one by
// which the engine was stopped in it.
func (s *Standstill) Holds(e *Episode) bool {
	return e.Part == s.Part && (e.N == s.Episode || e.Stop.T >= s.Start.T && e.Stop.T <= s.End.T)
}

// Exclusion is why a standstill does not count as an opportunity to stop the engine.
type Exclusion string

const (
	TooShort       Exclusion = "too_short"       // shorter than min_standstill
	RecordingEnded Exclusion = "recording_ended" // in it, or paused, before it was long enough
	EngineWasOff   Exclusion = "engine_off"      // already when it began
	EngineNotSeen  Exclusion = "engine_not_seen" // when it began, as at the start of a log
	KeyTurnedOff   Exclusion = "key_off"         // before it was long enough
)

// Exclusions lists all of them.
var Exclusions = []Exclusion{TooShort, RecordingEnded, EngineWasOff, EngineNotSeen, KeyTurnedOff}

// InhibitShare is how an inhibit stood over the stoppable time.
type InhibitShare struct {
	Condition int // index into Map.Inhibits
	Share     float64
	Intervals [][2]int64 // ns from the first frame
	State     string     // true, false, mixed, unknown
	Measured  []Measured
}

// CodeShare is for how long a value of the car's own code prevented a stop.
type CodeShare struct {
	Name      string
	Share     float64
	Intervals [][2]int64 // ns from the first frame
}

// Measured is the value of a condition's signal, and what it is compared with.
type Measured struct {
	Signal  int // index into Map.Signals
	Value   Reading
	Against string
}

// StartKind is what a starter operation belonged to.
type StartKind string

const (
	KeyStart     StartKind = "key"
	RestartStart StartKind = "restart"
	RetryStart   StartKind = "retry"
)

// Start is one starter operation.
type Start struct {
	N       int
	Part    int // as Episode.Part
	Kind    StartKind
	Episode int // 0: none
	Crank   Event
	Running *bounds.Instant
	Metrics []MetricValue
}

// Silence is a period in which a module sent nothing while others did.
type Silence struct {
	ID       string
	Bus      string
	Module   string
	Start    int64
	Duration int64
	Period   int64
	Episode  int // 0: none
}

// Gap is a period without any frame.
type Gap struct{ Start, End int64 }

// Starter is the account of starter operations.
type Starter struct {
	Key, Restart, Retry int
	// Absent says why there are no counter readings; nil if there are.
	Absent      Reason
	First, Last float64
	Step        float64
	Agrees      bool
	// After counts the operations that the last reading does not show: those seen
	// after it, and where the counter agrees those shortly before it that it has yet
	// to count.
	After  int
	Resets []CounterReset
}

// CounterReset is a reading lower than the one before it, within a log.
type CounterReset struct {
	From, To float64
	Time     int64 // ns from the first frame
}

// Summary counts a log.
type Summary struct {
	Standstills, Opportunities, Stops, Episodes, StarterOperations int
	EngineOff                                                      float64 // s
	FuelSaved                                                      float64 // mL
}

// Total is a sum over a log, or the reason why it is not known.
type Total struct {
	Value  float64
	Absent Reason // nil if there is a value
}

// CodeName returns a value of the car's own inhibit code in words: its label, else its
// number.
func CodeName(s *decode.Signal, raw int64) string {
	if label := s.LabelOf(raw); label != "" {
		return label
	}
	return "code " + strconv.FormatInt(raw, 10)
}

func (s *Starter) Operations() int { return s.Key + s.Restart + s.Retry }
