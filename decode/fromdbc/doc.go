// Package fromdbc makes a signal map of a database of the bus: the same bits, factors, units
// and words, written for a person to go on with. It guesses nothing that a figure depends
// on. Start with Map.
package fromdbc

import (
	"lull/decode"
	"lull/decode/sigmap"
)

// Order says what is wanted of a database.
type Order struct {
	File string // named in the map
	// Signals are names of signals, or MESSAGE.SIGNAL; * and ? stand for any letters and
	// one. Upper and lower case are the same. None: all signals.
	Signals []string
	Roles   []RoleOf
}

// RoleOf gives a signal a role. Unit, if not empty, stands in place of the database's.
type RoleOf struct {
	Role         decode.Role
	Signal, Unit string
}

// Conversion is a map made of a database.
type Conversion struct {
	Text *sigmap.Text
	YAML []byte // Text, written
	// Whole says that the map can be used: it has the role engine_speed.
	Whole bool
	// Signals is how many signals the map has, Of how many the database has, and Out how
	// many of those wanted stand in the map as comments, with the reason.
	Signals, Of, Out int
	Frames           int
	// Speeds are names of signals that may be the engine's speed, by unit and name alone,
	// likeliest first. They are given where no signal has that role.
	Speeds []string
}
