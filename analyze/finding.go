package analyze

import (
	"slices"
	"strconv"

	"lull/decode"
)

// Severity of a finding.
type Severity string

const (
	Attention Severity = "attention"
	Note      Severity = "note"
)

// Weight orders severities: attention before notes.
func (s Severity) Weight() int {
	if s == Attention {
		return 0
	}
	return 1
}

// Finding is one thing that the reader should look at, as data: whoever shows it puts
// the sentence together.
type Finding struct {
	Code     string
	Severity Severity
	Evidence []string // such as "episode 3"; of several logs, their names
	About    About
}

// About is what a finding says: one of the types below.
type About interface {
	// Names are what it refers to: metrics, signals, conditions, identifiers, logs; and
	// what else of it is no figure. Findings of one code and of the same names differ in
	// their figures only.
	Names() []string
}

// BrokenLimits are limits that one cause broke.
type BrokenLimits []Judged

// Judged is a metric's value and the limit that it is held against.
type Judged struct {
	Value MetricValue
	Limit decode.Limit
}

// StraddledLimit is a limit that lies within a value's bounds, and what would decide.
type StraddledLimit struct {
	Judged
	By    Decider
	Role  decode.Role // ByCommand: the signal that an instant is read off
	Least float64     // ByPeriod: s; ByMore: how many times as often; ByError: below which standard error
}

// Decider is what would tell on which side of a limit a value lies.
type Decider string

const (
	ByNothing Decider = "nothing" // it lies too near for any sampling
	ByError   Decider = "standard error"
	ByCommand Decider = "command"
	ByPeriod  Decider = "period"
	ByMore    Decider = "more samples"
)

// FailedStart is an engine that did not start at the first try, or stalled.
type FailedStart struct {
	Tries int
	Ended Outcome // how the episode ended without a start; empty if the engine ran again
	Late  BrokenLimits
}

// RetriedStart is a start by the key that was not the first try.
type RetriedStart struct{ At int64 }

// UnaskedRestart is a restart that no request explains.
type UnaskedRestart struct{}

// UndecidedRestart is one of which the decision was not seen.
type UndecidedRestart struct{}

// DoubtedRequests may have asked for a restart.
type DoubtedRequests struct {
	Conditions []string
	Why        NotSeen
}

// DoubtedInhibits may have kept the engine running in a standstill.
type DoubtedInhibits struct {
	Start      int64    // ns, of the standstill
	Conditions []string // the car's own code too, by its signal
	Why        NotSeen
}

// NotSeen is why something cannot be told: a gap of the recording, else signals.
type NotSeen struct {
	Gap     int64 // ns
	Signals []string
	Never   bool // they were never seen, else not for too long
}

// HiddenStart is when the engine came to run by a start that was not seen.
type HiddenStart struct{ At int64 }

// HiddenStop is a standstill in which it was not seen for how long, in ns, whether the
// engine was stopped.
type HiddenStop struct{ Start, Length int64 }

// SilentModules fell silent together.
type SilentModules struct {
	Silences []Silence
	Dip      MetricValue // the voltage's low of that start; no Key: none was seen
	When     Order       // the silence against it
}

// Order is how one thing lies to another in time.
type Order string

const (
	Before Order = "before"
	During Order = "during"
	After  Order = "after"
)

// UnexplainedStandstill is one in which the engine ran on.
type UnexplainedStandstill struct {
	Start, Length int64 // ns, of the time in which it could have been stopped
	KeyOff        bool  // the ignition ended that
	NoInhibits    bool  // the map names none
	Measured      []HeldAgainst
	Covered       float64 // the share in which inhibits were true
	SilentCode    string  // the signal of the car's own code, which named nothing
}

// HeldAgainst is what a condition's signal was.
type HeldAgainst struct {
	Condition, Against string
	Signal, Unit       string
	Value              Reading
	Label              string // of the value; empty if it has none
}

// ImplausibleSignal reads what its role cannot have.
type ImplausibleSignal struct {
	Signal        string
	Role          decode.Role
	Reads         float64 // the farthest beyond what it can be
	Throughout    bool    // or Reads always, which cannot be
	SystemVoltage float64
	Slip          Slip
}

// Slip is another reading of a signal that would do, and so the likely mistake of the
// map: one of a start, an order and a factor. Of several Factors nothing tells which;
// nothing at all is where none was found.
type Slip struct {
	Order     string
	HasStart  bool
	Start     int
	Factors   []float64
	Low, High float64 // what it would read
}

// ImplausibleCommand is a stop command that the engine does not follow.
type ImplausibleCommand struct {
	Signal                string
	RanWhileOn, RestedOff int64 // ns
	// Rises is how often it came on while the engine ran, and Rests how often the engine came
	// to rest; both 0 where that is not what speaks against it.
	Rises, Rests int
}

// CounterFell is a counter of starter operations that was reset.
type CounterFell CounterReset

// CounterDisagrees is a counter that did not step with the operations seen, and where
// more of them may lie.
type CounterDisagrees struct {
	From, To, Step float64
	Seen           int
	Gaps           int
	GapsLength     int64 // ns
	Pauses         int   // of the starter command
	Silences       int
	Lines          int64 // that could not be read
}

// SeldomVoltage is how often, in ns, a voltage comes that is to show a dip.
type SeldomVoltage struct{ Period int64 }

// LinesLost counts lines that could not be read.
type LinesLost int64

// Remarked is what the reader of a log said.
type Remarked struct{ Text string }

// FurtherGaps counts the gaps that are not told one by one; each of those is a Gap.
type FurtherGaps int

// CounterBetween is a counter from the last reading of one log to the first of the next.
type CounterBetween struct {
	Last, Next     string // logs
	From, To, Step float64
	Seen           int // operations between
}

// AmongLogs is what is odd about logs beside others.
type AmongLogs struct {
	Logs, Others []string
	Overlap      int64 // ns
	Seen         int   // operations, in logs without a reading of the counter
}

// OfLog is a finding of one log among those of several.
type OfLog struct {
	Log     string
	Finding Finding
}

func (l BrokenLimits) Names() []string {
	var keys []string
	for _, j := range l {
		keys = append(keys, j.Value.Key)
	}
	return keys
}

func (l StraddledLimit) Names() []string { return []string{l.Value.Key, string(l.By)} }

func (s FailedStart) Names() []string {
	how := string(s.Ended)
	if s.Ended == NoStart && s.Tries == 0 {
		how += " untried"
	}
	return append(s.Late.Names(), how)
}

func (RetriedStart) Names() []string      { return nil }
func (UnaskedRestart) Names() []string    { return nil }
func (UndecidedRestart) Names() []string  { return nil }
func (d DoubtedRequests) Names() []string { return slices.Concat(d.Conditions, d.Why.Signals) }
func (d DoubtedInhibits) Names() []string { return slices.Concat(d.Conditions, d.Why.Signals) }
func (HiddenStart) Names() []string       { return nil }
func (HiddenStop) Names() []string        { return nil }

func (s SilentModules) Names() []string {
	names := []string{string(s.When)}
	for _, silence := range s.Silences {
		names = append(names, silence.Bus, silence.ID)
	}
	return names
}

func (s UnexplainedStandstill) Names() []string {
	names := []string{s.SilentCode, strconv.FormatBool(s.KeyOff), strconv.FormatBool(s.Covered > 0)}
	for _, h := range s.Measured {
		names = append(names, h.Signal, h.Condition, h.Against, h.Label)
	}
	return names
}

func (s ImplausibleSignal) Names() []string  { return []string{s.Signal} }
func (s ImplausibleCommand) Names() []string { return []string{s.Signal} }
func (CounterFell) Names() []string          { return nil }
func (CounterDisagrees) Names() []string     { return nil }
func (SeldomVoltage) Names() []string        { return nil }
func (LinesLost) Names() []string            { return nil }
func (r Remarked) Names() []string           { return []string{r.Text} }
func (Gap) Names() []string                  { return nil }
func (FurtherGaps) Names() []string          { return nil }
func (c CounterBetween) Names() []string     { return []string{c.Last, c.Next} }
func (a AmongLogs) Names() []string          { return slices.Concat(a.Logs, a.Others) }
func (o OfLog) Names() []string              { return append([]string{o.Log}, o.Finding.About.Names()...) }
