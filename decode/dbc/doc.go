// Package dbc reads databases of a bus in the DBC format: which messages there are and
// which signals lie in them. Damaged files are read as far as they are sound; what is not
// is a Mistake with its line. Definitions are parsed by go.einride.tech/can/pkg/dbc, one
// at a time, so that one that is damaged costs no other. Start with Load.
package dbc

import "lull/decode"

// Database is what a file says.
type Database struct {
	Messages []Message
	// Protocol is what the file says of the bus as a whole, such as J1939; "" if nothing.
	Protocol string
	Mistakes []Mistake // by line
	// Further is how many mistakes there were beyond those in Mistakes.
	Further int
}

// Message is one frame.
type Message struct {
	Name     string
	Sender   string // "" if the file does not say
	ID       uint32 // without the mark of 29 bits
	Extended bool
	// Group says that the file calls this a parameter group of J1939.
	Group   bool
	Length  int // payload bytes, as the file says; a frame has at most 64
	Line    int
	Comment string // on one line
	Signals []Signal
}

// Signal is one field of a message. Field holds Name, Start, Length, BigEndian, Signed,
// Float, Labels and Line; bits are numbered as in a map, which is as the format does: the
// least significant bit of little endian, the most significant one of big endian.
type Signal struct {
	Field          decode.Signal
	Factor, Offset float64
	Min, Max       float64 // both 0 if the file gives no range
	Unit           string
	Comment        string // on one line

	// Selector says that the signal selects which others the frame has. Of a signal that
	// is there only for some of its values, SelectedBy is the selector's name and When
	// its values.
	Selector   bool
	SelectedBy string
	When       []int64

	// Shares is the name of an earlier signal of the same frame that has some of the same
	// bits at the same time, so that one of the two must be wrong; "" if there is none.
	Shares string
	// Past says that the field reaches past the end that the file gives the frame.
	Past bool
}

// HasRange reports whether the file gives a range.
func (s *Signal) HasRange() bool { return s.Min != 0 || s.Max != 0 }

// Find returns the signal of the message with this name, or nil.
func (m *Message) Find(name string) *Signal {
	for i := range m.Signals {
		if m.Signals[i].Field.Name == name {
			return &m.Signals[i]
		}
	}
	return nil
}

// Mistake is a place that could not be read, or is not sound.
type Mistake struct {
	Line int // from 1
	What string
}

// Bounds on what is kept of a file: many times what the largest databases of cars hold.
const (
	mostMistakes  = 200
	mostMessages  = 1 << 16
	mostSignals   = 1 << 17 // of the file
	mostOfMessage = 1 << 12 // signals of one message
	mostLabels    = 1 << 12 // of one signal
	mostSelected  = 256     // values of a selector for which one signal is there
	longestLine   = 1 << 20 // bytes; also of a statement of several lines
	longestNote   = 240     // letters of a comment
)

func (d *Database) mistake(line int, what string) {
	if len(d.Mistakes) == mostMistakes {
		d.Further++
		return
	}
	d.Mistakes = append(d.Mistakes, Mistake{line, what})
}
