// Package dbc reads databases of a bus in the DBC format: which messages there are and
// which signals lie in them. Damaged files are read as far as they are sound; what is not
// is a Mistake with its line. Definitions are parsed by go.einride.tech/can/pkg/dbc, one
// at a time, so that one that is damaged costs no other. Start with Load.
package dbc

import "lull/decode"

// Database is what a file says.
type Database struct {
	Messages []Message
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
	Length   int // payload bytes, 0 to 64
	Line     int
	Signals  []Signal
}

// Signal is one field of a message. Field holds Name, Start, Length, BigEndian, Signed,
// Float, Labels and Line; bits are numbered as in a map, which is as the format does.
type Signal struct {
	Field          decode.Signal
	Factor, Offset float64
	Min, Max       float64 // both 0 if the file gives no range
	Unit           string

	// Selector says that the signal selects which others the frame has. Of a signal that
	// is there only for some of its values, SelectedBy is the selector's name and When
	// its values.
	Selector   bool
	SelectedBy string
	When       []int64
}

// Mistake is a place that could not be read, or is not sound.
type Mistake struct {
	Line int // from 1
	What string
}

// mostMistakes is how many mistakes are kept.
const mostMistakes = 200

func (d *Database) mistake(line int, what string) {
	if len(d.Mistakes) == mostMistakes {
		d.Further++
		return
	}
	d.Mistakes = append(d.Mistakes, Mistake{line, what})
}
