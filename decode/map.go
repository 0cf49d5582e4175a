package decode

import (
	"fmt"
	"slices"
	"time"

	"lull/pkg/units"
)

// Map is a signal map, compiled and checked. It is immutable and may be shared by
// goroutines.
type Map struct {
	Name    string // base name of the file
	SHA256  string // of the file, lower-case hex
	Vehicle string
	Notes   string

	Entries []Entry
	Signals []Signal // of all entries, in file order

	// Role is the index into Signals of the signal with each role, or -1.
	Role [RoleCount]int

	Requests      []Condition
	Inhibits      []Condition
	Limits        []Limit
	Circumstances []int // signals that a comparison compares between its sides; `conditions` in the map file
	Settings      Settings
}

// RoleSignal returns the signal with the role, or nil.
func (m *Map) RoleSignal(r Role) *Signal {
	if i := m.Role[r]; i >= 0 {
		return &m.Signals[i]
	}
	return nil
}

// NamesInhibits reports whether the map has anything that may explain an engine that is kept
// running: an inhibit, or the car's own code.
func (m *Map) NamesInhibits() bool { return len(m.Inhibits) > 0 || m.Role[InhibitCode] >= 0 }

// Kind is how an Entry finds its frames.
type Kind uint8

const (
	ByID  Kind = iota // by CAN identifier
	ByPGN             // by J1939 parameter group
	ByOBD             // answers to a polled request of a service and PID (SAE J1979)
	ByDID             // answers to read-data-by-identifier (ISO 14229-1)
)

// Entry is one item of the map's `frames`.
type Entry struct {
	Kind Kind
	Line int // in the map file

	ID       uint32 // ByID
	Extended bool   // ByID: 29-bit

	PGN    uint32 // ByPGN
	Source int    // ByPGN: the only sender, or -1 for any

	Mode     uint8  // ByOBD: service
	PID      uint8  // ByOBD
	DID      uint16 // ByDID
	Response uint32 // ByOBD, ByDID: identifier of the answers
	// ResponseExtended reports whether Response is a 29-bit identifier.
	ResponseExtended bool
	Address          int // ByOBD, ByDID: first payload byte with extended addressing, or -1

	Bus      string        // the only interface, or "" for any
	Period   time.Duration // expected period, or 0 to learn it from the log
	OnChange bool          // sent on change; Period, if any, is that of the slow repeat
	Module   string        // the sender; may be empty

	Signals []int // indices into Map.Signals
}

// Polled reports whether the entry's frames are answers to a tester's requests.
func (e *Entry) Polled() bool { return e.Kind == ByOBD || e.Kind == ByDID }

// Label returns the short name of the entry that `lull samples` prints.
func (e *Entry) Label() string {
	switch e.Kind {
	case ByPGN:
		return fmt.Sprintf("pgn %d", e.PGN)
	case ByOBD:
		return fmt.Sprintf("obd %02X %02X", e.Mode, e.PID)
	case ByDID:
		return fmt.Sprintf("did %04X", e.DID)
	}
	return FormatID(e.ID, e.Extended)
}

// FormatID formats an identifier as 0x and three or eight upper-case hexadecimal digits.
func FormatID(id uint32, extended bool) string {
	if extended {
		return fmt.Sprintf("0x%08X", id)
	}
	return fmt.Sprintf("0x%03X", id)
}

// PGN returns the parameter group number in a 29-bit identifier: bits 25 to 8. The low
// byte is 0 if the PDU format (bits 23 to 16) is below 0xF0, since it is a destination
// address then (SAE J1939-21).
func PGN(id uint32) uint32 {
	pgn := id >> 8 & 0x3FFFF
	if pgn>>8&0xFF < 0xF0 {
		pgn &^= 0xFF
	}
	return pgn
}

// Signal is one field of an entry's payload and how to read it.
type Signal struct {
	Name  string
	Entry int // index into Map.Entries
	Line  int // in the map file

	// Start is the number of the field's least significant bit for little endian, and
	// of its most significant bit for big endian. A bit's number is 8 x byte + bit in
	// the byte, where bit 0 is the least significant. Length is 1 to 64.
	Start, Length int
	BigEndian     bool
	Signed        bool
	Float         bool // IEEE 754 of length 32 or 64

	Scale Scale
	Unit  string

	HasMin, HasMax bool
	Min, Max       float64 // physical, inclusive

	// Invalid holds raw values that stand for no value. For signed signals, bit
	// patterns in the map have already been converted to two's complement.
	Invalid []int64
	// Labels holds labels of raw values, sorted by raw value. Two raw values may share
	// a label.
	Labels []Label

	When []Selector // all must hold

	Role Role
	// ToRole converts the physical value to the role's unit.
	ToRole Conversion
	// Active holds the raw values for which a switch role is on. If HasActive is
	// false, it is on for every raw value but 0.
	HasActive bool
	Active    []int64
	// Clear holds, for an inhibit code, the raw values that mean that nothing
	// inhibits the stop. Unless the map gives others, that is 0 alone.
	Clear []int64
}

// Label names one raw value.
type Label struct {
	Raw  int64
	Text string
}

// LabelOf returns the label of a raw value, or "".
func (s *Signal) LabelOf(raw int64) string {
	for i := range s.Labels {
		if s.Labels[i].Raw == raw {
			return s.Labels[i].Text
		}
	}
	return ""
}

// TextOf formats a value of the signal for a person: its label if it has one, else the
// number with four significant digits and the unit.
func (s *Signal) TextOf(v float64) string {
	if label := s.LabelAt(v); label != "" {
		return label
	}
	text := units.Round(v, v, v)
	if s.Unit != "" {
		text += " " + s.Unit
	}
	return text
}

// LabelAt returns the label of a physical value of the signal, or "".
func (s *Signal) LabelAt(v float64) string {
	if len(s.Labels) == 0 || s.Scale != Identity || v != float64(int64(v)) {
		return ""
	}
	return s.LabelOf(int64(v))
}

// IsSwitch reports whether the signal changes between states rather than continuously: it
// has labels, is one bit long, or has a switch role. Its changes are taken to lie midway
// between two samples.
func (s *Signal) IsSwitch() bool {
	return len(s.Labels) > 0 || s.Length == 1 || Roles[s.Role].Switch
}

// On reports whether a raw value of a switch role means on.
func (s *Signal) On(raw int64) bool {
	if !s.HasActive {
		return raw != 0
	}
	return containsRaw(s.Active, raw)
}

// IsClear reports whether a raw value of an inhibit code means that nothing inhibits the
// stop.
func (s *Signal) IsClear(raw int64) bool { return containsRaw(s.Clear, raw) }

func containsRaw(list []int64, raw int64) bool {
	for _, r := range list {
		if r == raw {
			return true
		}
	}
	return false
}

// Selector is one key of a signal's `when`: the given signal of the same entry must have
// one of the raw values.
type Selector struct {
	Signal int // index into Map.Signals
	Raws   []int64
}

// Conversion converts a value to another unit.
type Conversion = units.Conversion

// By is who requests a restart.
type By uint8

const (
	ByDriver By = iota
	BySystem
)

func (b By) String() string {
	if b == BySystem {
		return "system"
	}
	return "driver"
}

// Condition is a restart request or an inhibit.
type Condition struct {
	Name   string
	By     By            // restart requests only
	Bridge time.Duration // shorter times in which it is false do not count
	For    time.Duration // after bridging: it counts only once it has been true this long
	Expr   *Expr
	Line   int // in the map file
}

// Op is the operation of an Expr.
type Op uint8

const (
	OpIs      Op = iota // value is one of Numbers, or raw value one of Raws
	OpIsNot             // neither of these
	OpAbove             // value > A
	OpBelow             // value < A
	OpAtLeast           // value >= A
	OpAtMost            // value <= A
	OpBetween           // A <= value <= B
	OpOutside           // value < A or value > B
	OpMoves             // value differs by at least A from that at the reference moment
	OpAll               // all Children are true
	OpAny               // any of Children is true
	OpNot               // Children[0] is false
)

// Expr is a comparison or a combination of several. Numbers are physical values in the
// signal's own unit.
type Expr struct {
	Op       Op
	Children []*Expr // OpAll, OpAny, OpNot

	Signal  int // index into Map.Signals; comparisons only
	A, B    float64
	Numbers []float64 // OpIs, OpIsNot
	Raws    []int64   // OpIs, OpIsNot: raw values of the labels given
	// Text is the comparison in words without the signal's name, such as "below 40".
	Text string
}

// Walk calls fn for the expression and everything below it.
func (e *Expr) Walk(fn func(*Expr)) {
	fn(e)
	for _, c := range e.Children {
		c.Walk(fn)
	}
}

// Signals returns the signals that the expression compares, each once, in the order in
// which they occur.
func (e *Expr) Signals() []int {
	var list []int
	e.Walk(func(e *Expr) {
		if len(e.Children) == 0 && !slices.Contains(list, e.Signal) {
			list = append(list, e.Signal)
		}
	})
	return list
}

// Limit is the range that a metric may have, both ends inclusive.
type Limit struct {
	Metric         string
	HasMin, HasMax bool
	Min, Max       float64
}

// Settings are the thresholds of the analysis.
type Settings struct {
	RunningSpeed    float64 // rpm
	RunningHold     time.Duration
	RestSpeed       float64 // rpm
	StandstillSpeed float64 // km/h
	MinStandstill   time.Duration
	RequestWindow   time.Duration
	NoStartAfter    time.Duration
	StaleAfter      time.Duration
	SilenceFactor   float64
	IdleFuelRate    float64 // L/h
	RestartFuel     float64 // mL
	LowVoltage      float64 // V
	EventDelay      time.Duration
	SystemVoltage   float64 // V
	StarterLimit    float64 // operations, or 0 if it is not known
}

// DefaultSettings returns the settings of a map that does not set any.
func DefaultSettings() Settings {
	return Settings{
		RunningSpeed:    500,
		RunningHold:     300 * time.Millisecond,
		RestSpeed:       30,
		StandstillSpeed: 0.5,
		MinStandstill:   3 * time.Second,
		RequestWindow:   500 * time.Millisecond,
		NoStartAfter:    5 * time.Second,
		StaleAfter:      2 * time.Second,
		SilenceFactor:   5,
		IdleFuelRate:    0.6,
		LowVoltage:      9.6,
		EventDelay:      10 * time.Millisecond,
		SystemVoltage:   12,
	}
}

// Sample is one decoded value of one signal. If Valid is false, Value and Raw are
// meaningless.
type Sample struct {
	Time   int64 // of the frame, as Frame.Time
	Signal int   // index into Map.Signals
	Value  float64
	// Raw is the field's raw value, sign-extended if the field is signed. Unsigned
	// fields of 64 bits wrap; for floats it is the bit pattern.
	Raw   int64
	Valid bool
}
